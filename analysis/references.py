"""Reference sets and sharing on an analysis: pinning traces, and what a selection has in common."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.errors import CallError
from analysis.facts import attribute_values
from analysis.settings import Settings
from analysis.shift.population import Usual, usual_of
from analysis.shift.reference import ReferenceSet, build_reference
from analysis.shift.sharing import Shared, find_shared
from analysis.traces import TraceSet
from analysis.verdict.decision import DecisionsLike
from analysis.verdict.features import FEATURE_NAMES, SCALES
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.rise_signs import RISE_POINTS, RISE_SPAN, joint_medians

if TYPE_CHECKING:
    from analysis.analysed import Analysis


#: Half the width of the 5 to 95 % envelope in standard deviations of a normal distribution.
ENVELOPE_SIGMAS = 1.645
#: Share of the rise along which a curve must leave the widened envelope to lie outside: less is a tooth or a
#: tick of the tool (common practice, no source).
OUTSIDE_SHARE = 0.05


def usual_by_reference(
    reference: Mapping[str, ReferenceSet] | None,
    decisions: DecisionsLike | None,
    traces: TraceSet,
    compared: FloatArray,
    settings: Settings,
) -> dict[str, Usual]:
    """What pinned references say is usual, by joint: sets given as such, then members that a person pinned.

    Members count where enough of them are among the traces; a set of its own goes first.
    """
    usual: dict[str, Usual] = {}
    row_of = {trace_id: row for row, trace_id in enumerate(traces.trace_ids)} if decisions is not None else {}
    for joint, pinned in getattr(decisions, "references", {}).items():
        members = np.array([row_of[one] for one in pinned.trace_ids if one in row_of], np.int64)
        if len(members) >= settings.population.smallest_population:
            name = pinned.name or joint
            words = f"the reference {name!r} ({len(members)} traces, pinned on {pinned.pinned_at})"
            usual[joint] = usual_of(compared[members], words)
    return usual | {joint: pinned.usual() for joint, pinned in (reference or {}).items()}


def rise_spans(
    climb_deg: FloatArray, rows: JointRows, reference: Mapping[str, ReferenceSet] | None
) -> FloatArray:
    """Degrees that the resampled rises of each trace's joint reach back; a reference brings its own."""
    span_deg = RISE_SPAN * joint_medians(climb_deg, rows.codes)
    for code, name in enumerate(rows.names):
        if reference and name in reference:
            span_deg[rows.codes == code] = -reference[name].angle_deg[0]
    return span_deg


def pin_reference(analysis: Analysis, chosen: Sequence[int], name: str, pinned_on: str) -> ReferenceSet:
    """Pin traces of one joint as what is usual from now on.

    Parameters
    ----------
    chosen : sequence of int
        Rows of the analysis.
    name : str
        For people ("week 12, good ones").
    pinned_on : str
        Date, ISO 8601.

    Raises
    ------
    CallError
        Where the rows belong to several joints or to none, or are fewer than the smallest population.
    """
    picked = np.asarray(chosen, np.int64)
    joints = {analysis.joint_rows.name_of(int(row)) for row in picked}
    if len(joints) != 1 or None in joints:
        raise CallError("a reference set is pinned from traces of one joint")
    return build_reference(
        joint=str(joints.pop()),
        name=name,
        pinned_on=pinned_on,
        trace_ids=[analysis.traces.trace_ids[row] for row in picked],
        feature_names=FEATURE_NAMES,
        features=analysis.evidence.compared[picked],
        rises=analysis.rises[picked],
        span_deg=float(analysis.span_deg[picked[0]]),
        smallest=analysis.settings.population.smallest_population,
    )


def is_usable(reference: ReferenceSet) -> bool:
    """Whether its figures are those that this version of the program compares."""
    return reference.feature_names == FEATURE_NAMES and len(reference.angle_deg) == RISE_POINTS


def find_what_is_shared(
    analysis: Analysis, chosen: NDArray[np.bool_], within: NDArray[np.bool_] | None = None
) -> list[Shared]:
    """Attribute values that the chosen traces share and the others do not; see `analysis.shift.sharing`."""
    return find_shared(attribute_values(analysis.traces), chosen, within)


def outside_references(analysis: Analysis) -> NDArray[np.bool_]:
    """Traces that lie outside the pinned reference of their joint; shape (n,), False where none is pinned.

    Outside is what has a scored figure beyond the limit at which `analysis.shift.outliers` calls it odd, in
    standard deviations of the reference; or a curve that leaves the reference's envelope, widened from
    `ENVELOPE_SIGMAS` to that same limit, along more than `OUTSIDE_SHARE` of its rise; or what lacks a figure
    that the reference has: nothing shows that it belongs.

    Parameters
    ----------
    analysis : Analysis
        Judged with the references.
    """
    outside = np.zeros(len(analysis), np.bool_)
    for joint, pinned in analysis.reference.items():
        if joint not in analysis.joint_rows.names:
            continue
        rows = np.flatnonzero(analysis.joint_rows.codes == analysis.joint_rows.names.index(joint))
        limit = analysis.outliers.limit[rows, None]
        z = analysis.outliers.z[rows][:, SCALES.scored]
        lacking = np.isnan(z) & np.isfinite(pinned.centre[SCALES.scored])
        odd = ((np.abs(z) > limit) | lacking).any(axis=1)
        widened = float(np.nan_to_num(limit.max(initial=0.0)) / ENVELOPE_SIGMAS)
        left = pinned.outside(analysis.rises[rows], widened) > OUTSIDE_SHARE
        outside[rows] = odd | left
    return outside
