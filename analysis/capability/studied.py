"""Which traces of a joint a study looks at, in order, and the subgroups and streams they form."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pyarrow as pa

from analysis.arrays import FloatArray, IntArray
from analysis.catalogue.figures import JOINT_RATE
from analysis.joint.definition import JointDefinition, finite_ends
from analysis.joint.key_tables import STUDIED_TRACES

#: Operations that a tightening's quantities are read of.
_TIGHTENED = ("tightening", "impulse tightening", None)
_AUDITED = ("audit",)
#: Group of the traces that do not say to which they belong.
NOT_GIVEN = "not given"


@dataclass(frozen=True)
class Studied:
    """One quantity that a study knows."""

    column: str  #: Name in the results table.
    word: str  #: Name in the files that ask for it.
    title: str
    unit: str
    operations: tuple[str | None, ...]  #: Operations that have it.
    judges: str  #: What an index of it is about.


STUDIED = (
    Studied(
        "final_torque_nm", "final_torque", "Final torque", "N·m", _TIGHTENED,
        "A shut-off tool makes its torque itself: this judges the tool, not the joint.",
    ),
    Studied(
        "joint_rate_deg", "angle", JOINT_RATE.title, "deg", _TIGHTENED,
        "The angle holds friction, stiffness and torque together.",
    ),
    Studied(
        "clamp_force_kn", "clamp_force", "Clamp force, estimated", "kN", _TIGHTENED,
        "Estimated, not measured: an error of friction or stiffness common to all traces does not show here.",
    ),
    Studied(
        "residual_torque_nm", "residual_torque", "Residual torque", "N·m", _AUDITED,
        "What the product received, as the audit reads it.",
    ),
)  # fmt: skip


def limits_of(studied: Studied, definition: JointDefinition) -> tuple[float | None, float | None]:
    """Low and high limit of a quantity in a joint's definition; None where there is none."""
    parts = definition.parts
    audit = parts.get("audit")
    pairs = {
        "final_torque_nm": finite_ends(definition.torque_limits_nm),
        "joint_rate_deg": finite_ends(definition.angle_limits_deg),
        "clamp_force_kn": (parts.get("wanted_clamp_force_kn"), None),
        "residual_torque_nm": audit.get("limits_nm") if isinstance(audit, dict) else None,
    }
    low, high = pairs[studied.column] or (None, None)
    return low, high


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows of one joint in order of time."""

    rows: IntArray  #: Rows of the results table.
    words: str  #: Which traces these are.
    left_out: int  #: Traces of the joint that the choice leaves out.
    in_time: bool  #: Whether the order is that of the starts; else that of reading.


def choose_rows(results: pa.Table, rows: IntArray, traces: str, operations: tuple[str | None, ...]) -> Rows:
    """The traces of one joint that are studied.

    A position is known by part and position together: where either is missing, or all traces share one, each
    trace counts as a position of its own.

    Parameters
    ----------
    rows : ndarray of int64
        Rows of the joint.
    traces : one of `STUDIED_TRACES`
    """
    done = _taken(results, "operation", rows)
    rows = rows[np.array([one in operations for one in done], bool)] if len(rows) else rows
    started = results.column("started_at").take(rows).cast(pa.int64()).combine_chunks()
    in_time = bool(len(rows)) and not started.null_count
    if in_time:
        rows = rows[np.argsort(started.to_numpy(), kind="stable")]
    n = len(rows)
    if traces == "sound":
        kept = rows[np.array([verdict == "ok" for verdict in _taken(results, "verdict", rows)], bool)]
        words = f"{STUDIED_TRACES[traces]}: rejects left out, which flatters every index"
        return Rows(kept, words, n - len(kept), in_time)
    if traces == "all":
        return Rows(rows, STUDIED_TRACES[traces], 0, in_time)
    kept = rows[_one_of_each(_positions(results, rows), last=traces == "last")]
    return Rows(kept, STUDIED_TRACES[traces], n - len(kept), in_time)


def _positions(results: pa.Table, rows: IntArray) -> list[object]:
    pairs = list(zip(_taken(results, "part", rows), _taken(results, "position", rows), strict=True))
    if len(set(pairs)) < 2:
        return list(range(len(rows)))
    return [pair if None not in pair else k for k, pair in enumerate(pairs)]


def _one_of_each(keys: list[object], *, last: bool) -> IntArray:
    """Index of the first (last) of each key, in order."""
    counted = enumerate(keys) if last else reversed(list(enumerate(keys)))
    return np.array(sorted({key: k for k, key in counted}.values()), np.int64)


def _taken(table: pa.Table, name: str, rows: IntArray) -> list[object]:
    if name not in table.column_names:
        return [None] * len(rows)
    return table.column(name).take(rows).to_pylist()


def column_of(results: pa.Table, name: str, rows: IntArray) -> FloatArray:
    """Values of one column, NaN where there is none."""
    return np.array([np.nan if v is None else v for v in _taken(results, name, rows)], np.float64)


def groups_by(
    results: pa.Table, attributes: pa.Table, rows: IntArray, name: str
) -> tuple[IntArray, tuple[str, ...]]:
    """Codes and names of the values of an attribute; no names where nothing has it."""
    table = results if name in results.column_names else attributes
    values = _taken(table, name, rows)
    if all(value is None for value in values):
        return np.zeros(len(rows), np.int64), ()
    return coded([NOT_GIVEN if value is None else str(value) for value in values])


def coded(texts: list[str]) -> tuple[IntArray, tuple[str, ...]]:
    """Code of each text, and the texts in order: 2 before 10."""
    names = sorted(set(texts), key=lambda text: (len(text), text))
    codes = {text: k for k, text in enumerate(names)}
    return np.array([codes[text] for text in texts], np.int64), tuple(names)
