"""Further columns of the results table: second estimate, embedding, and what a load cell measured."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.force_zones import force_rows
from analysis.joint.laboratory_table import evaluate_series
from analysis.joint.relaxation import EmbeddingLoss
from analysis.joint.remaining import joint_embedding
from analysis.traces import TraceSet

#: Names of the columns that `clamp_columns` gives.
NAMES = (
    "clamp_force_by_angle_kn",
    "implied_friction",
    "embedding_loss_kn",
    "clamp_force_left_kn",
    "clamp_force_left_low_kn",
    "measured_clamp_force_kn",
    "torque_coefficient",
    "friction_total",
)


def clamp_columns(
    traces: TraceSet,
    curves: CurveTable,
    clamp: ClampTable,
    *,
    codes: NDArray[np.int64],
    definitions: Sequence[JointDefinition | None],
    names: Sequence[str],
) -> dict[str, FloatArray]:
    """One array, shape (n,), for each of `NAMES`; NaN where a trace has none.

    Parameters
    ----------
    codes : ndarray, shape (n,)
        Index into `definitions` and `names`; negative for none.

    Notes
    -----
    K and friction at 75 % of the proof load, prevailing torque taken off; forces in kN.
    """
    loss = embedding_kn(codes, definitions)
    columns = {
        "clamp_force_by_angle_kn": clamp.angle_force_kn,
        "implied_friction": clamp.implied_friction,
        "embedding_loss_kn": loss,
        "clamp_force_left_kn": np.maximum(clamp.clamp_force_kn - loss, 0.0),
        "clamp_force_left_low_kn": np.maximum(clamp.clamp_force_low_kn - loss, 0.0),
    }
    columns |= {name: np.full(len(traces), np.nan) for name in NAMES if name not in columns}
    if force_rows(traces):
        _measured(columns, traces, curves, clamp, codes=codes, definitions=definitions, names=names)
    return columns


def embedding_kn(codes: NDArray[np.int64], definitions: Sequence[JointDefinition | None]) -> FloatArray:
    """Clamp force that embedding takes from each trace's joint, kN; NaN where it is not known."""
    losses = [None if one is None else joint_embedding(one) for one in definitions]
    known = [one.force_kn if isinstance(one, EmbeddingLoss) else np.nan for one in losses]
    return np.array([*known, np.nan])[codes]


def bounds_left(
    clamp: ClampTable, codes: NDArray[np.int64], definitions: Sequence[JointDefinition | None]
) -> tuple[FloatArray, FloatArray]:
    """Lowest and highest clamp force after embedding; as tightened where that is not known."""
    loss = np.nan_to_num(embedding_kn(codes, definitions))
    return np.maximum(clamp.clamp_force_low_kn - loss, 0.0), np.maximum(clamp.clamp_force_high_kn - loss, 0.0)


def _measured(
    columns: dict[str, FloatArray],
    traces: TraceSet,
    curves: CurveTable,
    clamp: ClampTable,
    *,
    codes: NDArray[np.int64],
    definitions: Sequence[JointDefinition | None],
    names: Sequence[str],
) -> None:
    joints = {name: one for name, one in zip(names, definitions, strict=True) if one is not None}
    of_row = [names[code] if code >= 0 else None for code in codes.tolist()]
    for test in evaluate_series(traces, curves, clamp, of_row, joints):
        result = test.result
        for name, value in (
            ("measured_clamp_force_kn", result.final_force_kn),
            ("torque_coefficient", result.torque_coefficient),
            ("friction_total", result.mu_total),
        ):
            columns[name][test.row] = np.nan if value is None else value
