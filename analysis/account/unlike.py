"""How a joint as a whole contradicts its definition, in words."""

from __future__ import annotations

from analysis.arrays import IntArray
from analysis.catalogue.sentences import Sentence, said
from analysis.facts import Facts


def unlike_sentence(facts: Facts, rows: IntArray) -> Sentence:
    """How a joint contradicts its definition: its factor, both explanations, what would tell."""
    flatter = float(facts.company.slope_factor[rows[0]]) < 1.0
    friction, stiffness = ("lower", "softer") if flatter else ("higher", "stiffer")
    return said(
        "The joint as a whole is not as its definition says: the elastic slope of its traces is {factor} "
        "times the slope expected from the stated friction and stiffness. Either the friction is {friction} "
        "(another lubricant, coating or lot), and the angle gives the clamp force; or the joint is "
        "{stiffness} (other parts, a gasket, a wrong figure in the definition), and the torque gives it. "
        "Backing off some bolts by 20 deg, a loosening torque or a measured clamp force tells which.",
        factor=facts.company.factor_text(rows),
        friction=friction,
        stiffness=stiffness,
    )
