"""A screw in plastic as the draws need it: forming torque for prevailing torque, stripping for yield."""

from __future__ import annotations

import math

from analysis.joint.definition import JointDefinition, finite_ends
from analysis.joint.plastic_screw import DEFAULT_FLANK_DEG, NO_CLAMP_FORCE, SOURCE, PlasticScrew
from analysis.joint.thread import Thread
from analysis.joint.torque import COS_FLANK
from analysis.strategy.joint_scatter import RANGE_DEVIATIONS, JointScatter
from analysis.strategy.settings import StrategySettings

#: Why a strategy past yield has no figures.
NO_YIELD = "the plastic strips before the screw yields"


def plastic_scatter(
    definition: JointDefinition, screw: PlasticScrew, snug: tuple[float, str], settings: StrategySettings
) -> JointScatter:
    """Middles and standard deviations; the force is that of tightening, before the plastic creeps.

    Parameters
    ----------
    snug : (torque, origin)
    """
    table = definition.parts["plastic"]
    d, hole = table["screw_diameter_mm"], table["core_hole_mm"]
    half = math.radians(table.get("flank_angle_deg", DEFAULT_FLANK_DEG)) / 2.0
    thread = Thread(d, table["pitch_mm"])
    # The lever's formula is that of a thread of 60 degrees on its pitch diameter: friction is stated for it.
    flank = (d + hole) / 2.0 / thread.pitch_diameter_mm * COS_FLANK / math.cos(half)
    rate = definition.parts.get("stiffness_n_per_deg")
    reason = "" if rate else "no force per degree given: in plastic it is measured on the part"
    snug_nm = max(snug[0], screw.forming_nm[1]) if snug[1] != "settings" else snug[0]
    return JointScatter(
        name=definition.name,
        thread=thread,
        friction_diameter_mm=(table["head_mm"] + table.get("clearance_mm", d)) / 2.0,
        mu_thread=_of_range([mu * flank for mu in table["friction_thread"]]),
        mu_bearing=_of_range(table["friction_head"]),
        target_nm=definition.target_torque_nm,
        snug_nm=min(snug_nm, definition.target_torque_nm),
        prevailing_nm=_of_range(_stated_forming(definition) or screw.forming_nm),
        stiffness_kn_per_deg=None if rate is None else rate / 1000.0,
        stiffness_reason=reason,
        least_yield_mpa=None,
        wanted_kn=definition.parts.get("wanted_clamp_force_kn"),
        proof_kn=None,
        embedding_kn=None,
        settings=settings,
        origins={
            "Friction": "stated range, taken for 2 s either way",
            "Forming torque": "prevailing torque limits" if _stated_forming(definition) else SOURCE,
            "Snug torque": snug[1],
            "Clamp force per degree": reason or "given",
            "Lasting force": NO_CLAMP_FORCE,
            "Tool": "settings",
        },
        stripping_kn=screw.stripping_kn,
        yield_reason=NO_YIELD,
    )


def _stated_forming(definition: JointDefinition) -> tuple[float, float] | None:
    """Both limits of the prevailing torque; one alone says nothing of its scatter."""
    return None if None in finite_ends(definition.prevailing_limits_nm) else definition.prevailing_limits_nm


def _of_range(pair: tuple[float, ...] | list[float]) -> tuple[float, float]:
    low, high = pair
    return (low + high) / 2.0, (high - low) / RANGE_DEVIATIONS
