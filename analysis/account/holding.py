"""How a joint's clamp force stands over its tightenings: what surely holds, scatter, chances, tails."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.sentences import Amount, Said, Sentence, joined, plain, said
from analysis.errors import CallError
from analysis.facts import Facts
from analysis.figure_text import Uncertainty
from analysis.joint.bearing_strength import stripping_load_kn
from analysis.joint.clamp_basis import bolt_thread, joint_ring
from analysis.joint.clamp_columns import embedding_kn
from analysis.joint.company import LEAST_COMPANY
from analysis.joint.definition import JointDefinition
from analysis.joint.force_population import (
    Chance,
    Holding,
    force_population,
    holding,
    stress_population,
)
from analysis.joint.property_class import proof_load_n
from analysis.joint.routes import COVERAGE
from analysis.joint.thread import parse_thread

Rows = NDArray[np.integer]

#: Chance below which, and above one less it, no figure is told: no normal model is believed so far out (own
#: choice).
LEAST_CHANCE = 0.001
MODEL = (
    "Normal model of ln F, from the scatter of the best values and the uncertainty of each; the interval "
    "allows for the uncertainty common to all of them, and for the number of tightenings."
)


def holding_sentences(facts: Facts, joint: str, rows: Rows | None = None) -> tuple[Sentence, ...]:
    """Which tightenings surely hold the wanted clamp force, scatter, chances; empty where none is known.

    Parameters
    ----------
    rows : ndarray, optional
        Some of the joint's traces; all of them where not given.
    """
    if rows is None:
        rows = np.flatnonzero(facts.joint_rows.codes == facts.joint_rows.names.index(joint))
    rows = _tightenings(facts, rows)
    definition = facts.joints.get(joint)
    if definition is None or not len(rows):
        return ()
    return (
        *_held(facts, definition, rows),
        *_chances(facts, definition, rows),
        *_parts(facts, definition, rows),
    )


def tail_sentences(
    facts: Facts, joint: str, sets: Sequence[Rows], labels: Sequence[str]
) -> tuple[Sentence, ...]:
    """How many of each set stand above the proof load, and how many below the wanted clamp force."""
    definition = facts.joints.get(joint)
    own = [_tightenings(facts, rows) for rows in sets]
    force = [facts.clamp.clamp_force_kn[rows] for rows in own]
    if definition is None or not any(np.isfinite(one).any() for one in force):
        return ()
    lines = []
    proof = _proof_kn(definition)
    if proof is not None:
        counts = [int(np.sum(one > proof)) for one in force]
        lines.append(_tail(counts, force, labels, "Above proof load", proof))
    wanted = definition.parts.get("wanted_clamp_force_kn")
    if wanted is not None:
        loss = [_loss(facts, rows) for rows in own]
        counts = [int(np.sum(one - lost < wanted)) for one, lost in zip(force, loss, strict=True)]
        lines.append(_tail(counts, force, labels, "Below the wanted clamp force after embedding", wanted))
    return tuple(lines)


def _tail(
    counts: Sequence[int],
    force: Sequence[NDArray[np.float64]],
    labels: Sequence[str],
    where: str,
    limit: float,
) -> Sentence:
    parts: list[Said] = []
    for count, one, label in zip(counts, force, labels, strict=True):
        absent = int(np.sum(~np.isfinite(one)))
        without = f" ({absent} more without one)" if absent else ""
        parts.append(f"{count} of {len(one) - absent} of {label}{without}")
    return said(
        "{where} ({limit}), by best value: {sets}.",
        where=where,
        limit=Amount(limit, "kN"),
        sets=joined(parts, ", "),
    )


def _tightenings(facts: Facts, rows: Rows) -> Rows:
    return rows[~facts.operations.loosenings.is_loosening[rows] & ~facts.operations.audited[rows]]


def _loss(facts: Facts, rows: Rows) -> NDArray[np.float64]:
    found = embedding_kn(facts.joint_rows.codes[rows], facts.joint_rows.definitions)
    return np.asarray(np.nan_to_num(found))


def held(facts: Facts, definition: JointDefinition, rows: Rows) -> Holding | None:
    """How many of these tightenings surely hold the wanted clamp force; None where none is wanted."""
    wanted, rows = definition.parts.get("wanted_clamp_force_kn"), _tightenings(facts, rows)
    if wanted is None or not len(rows):
        return None
    loss, clamp = _loss(facts, rows), facts.clamp
    low, high = clamp.clamp_force_low_kn[rows] - loss, clamp.clamp_force_high_kn[rows] - loss
    return holding(np.maximum(low, 0.0), np.maximum(high, 0.0), wanted)


def _held(facts: Facts, definition: JointDefinition, rows: Rows) -> Iterator[Sentence]:
    wanted, found = definition.parts.get("wanted_clamp_force_kn"), held(facts, definition, rows)
    if found is None or wanted is None:
        return
    if found.surely == found.n > 1:
        yield said("All {n} surely hold {wanted}.", n=str(found.n), wanted=Amount(wanted, "kN", given=True))
        return
    yield said(
        "{surely} of {n} surely {hold} {wanted}, {surely_not} surely {do} not; {rest}.",
        surely=str(found.surely),
        n=str(found.n),
        hold="holds" if found.surely == 1 else "hold",
        do="does" if found.surely_not == 1 else "do",
        wanted=Amount(wanted, "kN", given=True),
        surely_not=str(found.surely_not),
        rest=_rest(found),
    )


def _rest(found: Holding) -> str:
    """Those of which neither is sure."""
    if found.without == found.untold > 0:
        return f"for the other {found.untold} no clamp force is known"
    without = f"; {found.without} of them have no clamp force" if found.without else ""
    return f"the other {found.untold} cannot be told from torque and angle{without}"


def _chances(facts: Facts, definition: JointDefinition, rows: Rows) -> Iterator[Sentence]:
    forces, stresses = force_population(facts.clamp, rows), stress_population(facts.clamp, rows)
    if forces is None:
        yield said(
            "No probability is stated: fewer than {least} tightenings have a best value of the clamp force.",
            least=str(LEAST_COMPANY),
        )
        return
    scatter = 100.0 * forces.scatter_share
    parts: list[Said] = [
        said(
            "Clamp force over {n} tightenings with a best value: median {middle}, scatter (s/mean) {scatter}",
            n=str(forces.n),
            middle=Amount(forces.middle, "kN", Uncertainty(forces.middle * forces.common), alone=True),
            scatter=Amount(scatter, "%", Uncertainty(scatter / math.sqrt(2.0 * forces.n)), alone=True),
        )
    ]
    wanted = definition.parts.get("wanted_clamp_force_kn")
    if wanted is not None:
        lost = _loss(facts, rows)
        limit = said("F < {wanted} after embedding", wanted=Amount(wanted, "kN", given=True))
        count = int(np.sum(facts.clamp.clamp_force_kn[rows] - lost < wanted))
        parts.append(_chance(limit, forces.below(wanted + float(lost[0])), count, forces.n))
    if stresses is not None:
        count = int(np.sum(facts.clamp.utilisation[rows] > 1.0))
        parts.append(_chance("F > yield", stresses.below(1.0).opposite, count, stresses.n))
    yield joined((joined(parts, "; "), "."), "")
    yield plain(MODEL)


def _parts(facts: Facts, definition: JointDefinition, rows: Rows) -> Iterator[Sentence]:
    """Whether head and inner thread bear the highest clamp force, where their strength is given."""
    clamp = facts.clamp
    highest = np.where(np.isfinite(clamp.clamp_force_kn[rows]), clamp.clamp_force_high_kn[rows], np.nan)
    ring, limit = joint_ring(definition), definition.parts.get("pressure_limit_mpa")
    if not np.isfinite(highest).any():
        return
    force = float(np.nanmax(highest))
    if limit is not None and not isinstance(ring, str):
        pressure = 1000.0 * force / ring.area_mm2
        yield said(
            "The highest clamp force within the bounds of a best value, {force}, presses with {pressure} "
            "under the head: {share} % of the given limit, {limit}.{beyond}",
            force=Amount(force, "kN"),
            pressure=f"{pressure:.0f} MPa",
            share=f"{100.0 * pressure / limit:.0f}",
            limit=f"{limit:g} MPa",
            beyond=" The parts give way there." if pressure > limit else "",
        )
    engaged, shear = definition.parts.get("engaged_length_mm"), definition.parts.get("counterpart_shear_mpa")
    if engaged is not None and shear is not None and definition.thread is not None:
        load = stripping_load_kn(parse_thread(definition.thread), engaged, shear)
        yield said(
            "The inner thread strips at {load} at most; the highest clamp force is {share} % of that.",
            load=Amount(load, "kN"),
            share=f"{100.0 * force / load:.0f}",
        )


def _chance(what: Said, chance: Chance, count: int, n: int) -> Sentence:
    """By the model, with what is counted beside it; where that is far more, the model does not hold there."""
    value, low, high = (_percent(one) for one in (chance.value, chance.low, chance.high))
    # Two standard deviations of a count beyond the most that the model expects.
    most = n * chance.high
    return said(
        "P({what}) {value}{interval}, counted {count} of {n}{more}",
        what=what,
        value=value,
        interval="" if str(low) == str(high) else said(" ({low} to {high})", low=low, high=high),
        count=str(count),
        n=str(n),
        more=" (more than this model allows; the count is what holds)"
        if count > most + COVERAGE * math.sqrt(most)
        else "",
    )


def _percent(share: float) -> Said:
    if share < LEAST_CHANCE:
        return joined(("below", Amount(100.0 * LEAST_CHANCE, "%", given=True)))
    if share > 1.0 - LEAST_CHANCE:
        return joined(("above", Amount(100.0 * (1.0 - LEAST_CHANCE), "%", given=True)))
    return Amount(100.0 * share, "%", Uncertainty(width=25.0 * min(share, 1.0 - share)))


def _proof_kn(definition: JointDefinition) -> float | None:
    """By class and thread; None without them, or where the strength is a stated one."""
    if definition.property_class is None or definition.thread is None:
        return None
    try:
        return proof_load_n(bolt_thread(definition), definition.property_class) / 1000.0
    except CallError:
        return None
