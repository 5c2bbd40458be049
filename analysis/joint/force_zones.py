"""Zones by the measured clamp force: where it begins to rise, is straight over angle, leaves its line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from analysis.arrays import FloatArray, finite_or_none
from analysis.catalogue.points import MOVABLE_POINTS
from analysis.curve.curve_table import CurveTable
from analysis.curve.estimate import Estimate, Evidence
from analysis.curve.reasons import NOT_YIELDED, REASONS
from analysis.figure_text import Uncertainty, measured_text
from analysis.joint.routes import COVERAGE
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from analysis.traces.recorded_step import FINEST_ANGLE_DEG

NO_FORCE = "the recording has no clamp force"
#: Names of the three places: by force, and the point of the torque curve that should lie there.
RISES, STRAIGHT, LEAVES = "measured force rises", "measured force straight", "measured force leaves its line"
_PLACES = ((RISES, "drawdown"), (STRAIGHT, "snug"), (LEAVES, "yield"))
NO_YIELD = REASONS[NOT_YIELDED]


@dataclass(frozen=True)
class ForcePlace:
    """One place read from the measured force, beside the point that the torque curve gives."""

    name: str
    #: On the trace's own angle axis.
    angle_deg: float | None
    uncertainty_deg: float | None
    force_kn: float | None  #: Measured there.
    reason: str  #: Why there is none; empty where there is one.
    by_torque: str  #: Name of the torque curve's point.
    torque_angle_deg: float | None
    torque_uncertainty_deg: float | None

    @property
    def apart_deg(self) -> float | None:
        """By force less by torque, degrees; None where either is missing."""
        if self.angle_deg is None or self.torque_angle_deg is None:
            return None
        return self.angle_deg - self.torque_angle_deg

    @property
    def agrees(self) -> bool | None:
        """Whether the two lie within their uncertainties; None where that cannot be told."""
        apart = self.apart_deg
        both = self._both_uncertain_deg
        return None if apart is None or both is None else abs(apart) <= COVERAGE * both

    @property
    def _both_uncertain_deg(self) -> float | None:
        """Standard uncertainty of the difference of the two places."""
        if self.uncertainty_deg is None or self.torque_uncertainty_deg is None:
            return None
        return math.hypot(self.uncertainty_deg, self.torque_uncertainty_deg)

    def sentence(self) -> str:
        """Both places in words, such as a colleague would read them off."""
        if self.reason == NO_YIELD:
            return "The measured force does not leave its line before the final point."
        if self.angle_deg is None:
            return f"{self.name[:1].upper()}{self.name[1:]}: not evaluated: {self.reason}."
        at = measured_text(self.angle_deg, Uncertainty(self.uncertainty_deg, FINEST_ANGLE_DEG), "deg")
        text = f"{self.name[:1].upper()}{self.name[1:]} at {at}"
        apart = self.apart_deg
        if apart is None:
            return f"{text}; the torque curve shows no {self.by_torque}."
        assert self.torque_angle_deg is not None
        uncertainty = Uncertainty(self.torque_uncertainty_deg, FINEST_ANGLE_DEG)
        place = f"{self.by_torque} by torque, {measured_text(self.torque_angle_deg, uncertainty, 'deg')}"
        if self.agrees:
            return f"{text}; {place}: within the uncertainty of both."
        words = measured_text(abs(apart), Uncertainty(self._both_uncertain_deg, FINEST_ANGLE_DEG), "deg")
        return f"{text}; {place}: {words} {'later' if apart > 0 else 'earlier'} by force."


@dataclass(frozen=True)
class ForceZones:
    """What the load cell says about one tightening."""

    #: Begin of the rise (drawdown start), of the straight stretch (snug), and of its end (yield onset).
    rises: ForcePlace
    straight: ForcePlace
    leaves: ForcePlace
    #: Slope of the straight stretch.
    force_per_degree_n: float | None
    force_per_degree_uncertainty_n: float | None
    #: Where that slope was read.
    from_deg: float | None
    to_deg: float | None
    final_force_kn: float | None  #: Measured at the final point.

    @property
    def places(self) -> tuple[ForcePlace, ForcePlace, ForcePlace]:
        """In order of angle."""
        return self.rises, self.straight, self.leaves


def force_rows(traces: TraceSet) -> list[int]:
    """Rows whose recording holds a measured clamp force."""
    if traces.clamp_force_kn is None:
        return []
    seen = np.concatenate(([0], np.cumsum(np.isfinite(traces.clamp_force_kn))))
    return np.flatnonzero(np.diff(seen[traces.offsets]) > 0).tolist()


def find_force_points(
    traces: TraceSet,
    curves: CurveTable,
    rows: Sequence[int],
    settings: CurveSettings | None = None,
    *,
    yield_offset_deg: FloatArray | None = None,
) -> CurveTable:
    """The points of the measured force over angle, by the very rules that torque is judged by.

    Parameters
    ----------
    rows : sequence of int
        Rows with a measured force, as `force_rows` gives them.
    yield_offset_deg : ndarray, shape (n_rows,), optional
        For the offset rule, as for `find_points`.

    Returns
    -------
    CurveTable
        One entry for each of `rows`. Its torques are forces in kN and its slopes kN/deg: the rules look at
        shape alone, and a rise in kN has the shape of one in N·m.

    Notes
    -----
    Samples without a force are left out; so is all beyond the final point of the torque.
    """
    from dataclasses import replace

    from analysis.curve import find_points

    settings = settings or CurveSettings()
    if settings.snug_rule == "threshold-torque":
        # A threshold in N·m says nothing about a force.
        settings = replace(settings, snug_rule="slope-ratio")
    angles, forces = [], []
    for row in rows:
        trace = traces[row]
        assert trace.clamp_force_kn is not None
        stop = int(curves.final_index[row]) + 1 or len(trace)
        kept = np.isfinite(trace.clamp_force_kn[:stop])
        angles.append(trace.angle_deg[:stop][kept])
        forces.append(trace.clamp_force_kn[:stop][kept])
    recorded = TraceSet.from_lists([traces.trace_ids[row] for row in rows], angles, forces)
    points: CurveTable = find_points(recorded, settings, yield_offset_deg=yield_offset_deg)
    return points


def zones_by_force(
    traces: TraceSet,
    curves: CurveTable,
    row: int,
    settings: CurveSettings | None = None,
    *,
    yield_offset_deg: float | None = None,
) -> ForceZones | str:
    """Zones of one trace by its measured force, or why there are none."""
    force = traces[row].clamp_force_kn
    if force is None or not np.isfinite(force).any():
        return f"not evaluated: {NO_FORCE}"
    offsets = None if yield_offset_deg is None else np.array([yield_offset_deg])
    points = find_force_points(traces, curves, [row], settings, yield_offset_deg=offsets)
    return read_force_zones(points, 0, curves, row, traces)


def read_force_zones(
    points: CurveTable, entry: int, curves: CurveTable, row: int, traces: TraceSet
) -> ForceZones:
    """One entry of `find_force_points` beside the points of the same trace's torque."""
    rises, straight, leaves = (
        _place(points, entry, name, point, torque=(curves, row)) for name, point in _PLACES
    )
    slope, uncertainty = (
        points.elastic_slope_nm_per_deg[entry],
        points.elastic_slope_uncertainty_nm_per_deg[entry],
    )
    return ForceZones(
        rises,
        straight,
        leaves,
        force_per_degree_n=finite_or_none(1000.0 * slope),
        force_per_degree_uncertainty_n=finite_or_none(1000.0 * uncertainty),
        from_deg=finite_or_none(points.elastic_from_deg[entry]),
        to_deg=finite_or_none(points.elastic_to_deg[entry]),
        final_force_kn=_final_force(traces, curves, row),
    )


def _final_force(traces: TraceSet, curves: CurveTable, row: int) -> float | None:
    """The last force that was measured up to the final point, kN."""
    force, final = traces[row].clamp_force_kn, int(curves.final_index[row])
    known = np.empty(0) if force is None or final < 0 else force[: final + 1]
    known = known[np.isfinite(known)]
    return float(known[-1]) if known.size else None


def _place(
    points: CurveTable, entry: int, name: str, point: str, *, torque: tuple[CurveTable, int]
) -> ForcePlace:
    curves, row = torque
    angle = finite_or_none(getattr(points, f"{point}_angle_deg")[entry])
    level = points.prevailing_torque_nm if point == "drawdown" else getattr(points, f"{point}_torque_nm")
    code = int(getattr(points, f"{point}_reason")[entry]) or int(points.slope_reason[entry])
    return ForcePlace(
        name=name,
        angle_deg=angle,
        uncertainty_deg=finite_or_none(getattr(points, f"{point}_angle_uncertainty_deg")[entry]),
        force_kn=None if angle is None else finite_or_none(level[entry]),
        reason="" if angle is not None else _in_force_words(REASONS[code] or "not determined"),
        by_torque=MOVABLE_POINTS[point],
        torque_angle_deg=finite_or_none(getattr(curves, f"{point}_angle_deg")[row]),
        torque_uncertainty_deg=finite_or_none(getattr(curves, f"{point}_angle_uncertainty_deg")[row]),
    )


def _in_force_words(reason: str) -> str:
    return reason.replace("the torque", "the force").replace("prevailing level", "level of the rundown")


def explain_force(zones: ForceZones) -> dict[str, Estimate]:
    """The three places as estimates with evidence, to be drawn on the torque curve."""
    said = {
        RISES: "Here the measured clamp force leaves the level of the rundown.",
        STRAIGHT: "From here on the measured clamp force is nearly as steep as its straight stretch.",
        LEAVES: "From here on the measured clamp force is flatter than an elastic bolt may be by the rule.",
    }
    found = {}
    for place in zones.places:
        evidence = None
        if place.angle_deg is not None:
            uncertainty = place.uncertainty_deg or 0.0
            evidence = Evidence(
                place.angle_deg - uncertainty, place.angle_deg + uncertainty, (), said[place.name]
            )
        found[place.name] = Estimate(
            place.angle_deg, "deg", "measured clamp force over angle, by the rules for torque",
            place.uncertainty_deg, evidence, place.reason,
        )  # fmt: skip
    return found
