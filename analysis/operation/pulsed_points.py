"""Points of a pulsed trace from the envelope of its pulses, with what the envelope cannot tell left
absent."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import IntArray
from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import FEW_PULSES, PRESENT, PULSED_YIELD, SPARSE_PULSES
from analysis.operation.impulse import FEWEST_HIGH_SAMPLES, Pulses
from analysis.traces import TraceSet

#: Fewest pulses beyond the snug point, and in all, for a point of the envelope to be believed: six heights
#: carry a straight line and say how far they scatter about it (common practice, no source).
FEWEST_BEYOND_SNUG, FEWEST_IN_ALL = 6, 8

#: Columns that hold points of the rise, by the part that their reason belongs to.
_SNUG = (
    "snug_angle_deg",
    "snug_torque_nm",
    "snug_angle_uncertainty_deg",
    "joint_rate_deg",
    "joint_rate_line_deg",
)
_YIELD = ("yield_angle_deg", "yield_torque_nm", "yield_angle_uncertainty_deg")
_SLOPE = (
    "elastic_slope_nm_per_deg",
    "elastic_slope_uncertainty_nm_per_deg",
    "elastic_from_deg",
    "elastic_to_deg",
    "elastic_line_angle_deg",
    "elastic_line_torque_nm",
    "elastic_origin_deg",
    "elastic_origin_uncertainty_deg",
)


def with_pulsed_points(
    curves: CurveTable, pulses: Pulses, find: Callable[[TraceSet, IntArray], CurveTable]
) -> CurveTable:
    """The table with the rows of pulsed traces found anew on their envelopes; the same table where there are
    none.

    Snug and slope are absent where too few pulses lie beyond the snug point or the pulses are sampled too
    sparsely; the snug point's uncertainty holds the even spread over the angle of one pulse. Whether the bolt
    yields is never told. Sample numbers are those of the recorded trace.

    Parameters
    ----------
    find : callable
        From envelopes, and the rows of the traces that they belong to, to points by the settings of the
        analysis.
    """
    rows = pulses.rows
    if not len(rows):
        return curves
    ids = [str(row) for row in rows]
    pieces = [slice(int(a), int(b)) for a, b in zip(pulses.offsets[:-1], pulses.offsets[1:], strict=True)]
    envelopes = TraceSet.from_lists(
        ids, [pulses.angle_deg[p] for p in pieces], [pulses.torque_nm[p] for p in pieces]
    )
    found = _withheld(find(envelopes, rows), pulses, pieces)
    changed: dict[str, NDArray[Any]] = {}
    for field in fields(CurveTable):
        if field.name in (
            "n_samples",
            "final_index",
            "final_angle_deg",
            "final_torque_nm",
            "left_out_samples",
        ):
            continue
        column = getattr(curves, field.name).copy()
        column[rows] = getattr(found, field.name)
        changed[field.name] = column
    for k, (row, piece) in enumerate(zip(rows.tolist(), pieces, strict=True)):
        sample = pulses.sample[piece]
        for name in ("snug_index", "yield_index", "drawdown_index"):
            index = int(getattr(found, name)[k])
            changed[name][row] = sample[index] if index >= 0 else -1
        stop = int(curves.final_index[row]) + 1
        bounds = np.append(sample, stop)[found.zone_bounds[k]]
        bounds[found.zone_bounds[k] == 0] = 0
        bounds[-1] = curves.n_samples[row]
        changed["zone_bounds"][row] = bounds
    left_out = curves.left_out_samples.copy()
    left_out[rows] = curves.final_index[rows] + 1 - np.diff(pulses.offsets)
    return replace(curves, **changed, left_out_samples=left_out)


def _withheld(found: CurveTable, pulses: Pulses, pieces: list[slice]) -> CurveTable:
    """The envelopes' points without those that too few or too sparse pulses carry; uncertainty of snug
    widened."""
    columns: dict[str, NDArray[Any]] = {
        name: getattr(found, name).copy()
        for name in (*_SNUG, *_YIELD, *_SLOPE, "snug_index", "yield_index", "yielded", "zone_bounds")
    }
    why = {name: getattr(found, f"{name}_reason").copy() for name in ("slope", "snug", "yield", "drawdown")}
    for k, piece in enumerate(pieces):
        angle = pulses.angle_deg[piece][pulses.first_pulse[k] :]
        snug = float(columns["snug_angle_deg"][k])
        # Where the envelope has no snug point, the pulses beyond its elastic stretch's start count.
        begin = snug if np.isfinite(snug) else float(columns["elastic_from_deg"][k])
        few = len(angle) < FEWEST_IN_ALL or (
            np.isfinite(begin) and np.sum(angle > begin) < FEWEST_BEYOND_SNUG
        )
        sparse = pulses.high_samples[k] < FEWEST_HIGH_SAMPLES
        if sparse or few:
            _remove(columns, why, k, SPARSE_PULSES if sparse else FEW_PULSES)
        elif np.isfinite(snug):
            step = float(np.interp(snug, angle[1:], np.diff(angle)))
            columns["snug_angle_uncertainty_deg"][k] = np.hypot(
                columns["snug_angle_uncertainty_deg"][k], step / np.sqrt(12.0)
            )
        # Yield is not told: the elastic zone runs to the final point.
        for name in _YIELD:
            columns[name][k] = np.nan
        columns["yielded"][k], columns["yield_index"][k] = -1, -1
        columns["zone_bounds"][k, 4] = columns["zone_bounds"][k, 5]
        why["yield"][k] = PULSED_YIELD
    reasons = {f"{name}_reason": codes for name, codes in why.items()}
    return replace(found, **columns, **reasons)


def _remove(columns: dict[str, NDArray[Any]], why: dict[str, NDArray[np.int8]], k: int, reason: int) -> None:
    """Take snug, slope and zones of the rise from one envelope."""
    for name in (*_SNUG, *_SLOPE):
        columns[name][k] = np.nan
    columns["snug_index"][k] = -1
    bounds = columns["zone_bounds"][k]
    # All up to the final point is undetermined.
    bounds[1:5] = bounds[5]
    for name in ("slope", "snug"):
        if why[name][k] == PRESENT:
            why[name][k] = reason
