"""A shift of many joints with natural scatter and seeded faults."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.faults import (
    FAULTS,
    applies,
    is_locking,
    with_friction,
    with_prevailing,
    with_rundown,
    with_stiffness,
)
from tests.world.model import TraceModel
from tests.world.recording import Recording, record

#: Natural scatter (standard deviation): of friction and stiffness as shares, as `make_shift` states them.
FRICTION_SCATTER, STIFFNESS_SCATTER = 0.05, 0.03
#: Of a locking element's prevailing torque (share), of the drawdown's width (share), of where the thread
#: catches (degrees), of the tool's final torque (share). Common practice, no source.
PREVAILING_SCATTER, WIDTH_SCATTER, CATCH_SCATTER_DEG, STOP_SCATTER = 0.08, 0.05, 18.0, 0.007

#: The faults of an evaluation shift; the others of `FAULTS` can be asked for.
EVALUATION_FAULTS = (
    "low-friction",
    "high-friction",
    "softer-joint",
    "stiffer-joint",
    "seated-early",
    "prevailing-missing",
    "prevailing-high",
    "cross-thread",
    "thread-stripping",
    "yielded",
    "already-tight",
    "galling",
    "incomplete-recording",
)
_FIRST_START = datetime(2024, 3, 12, 6, 0, tzinfo=UTC)


@dataclass(frozen=True)
class ShiftJoint:
    """A joint of a shift: its nominal model and its table of the joints file."""

    name: str
    model: TraceModel  #: Nominal; every trace is a variation of it.
    definition: str  #: TOML text that begins with ``[joints.name]``.


def naturally(
    model: TraceModel,
    rng: np.random.Generator,
    friction_scatter: float = FRICTION_SCATTER,
    stiffness_scatter: float = STIFFNESS_SCATTER,
) -> TraceModel:
    """One good joint as it comes: friction, stiffness, level, width, catch and stop torque vary a little."""
    normal = rng.standard_normal
    model = with_friction(model, float(np.exp(friction_scatter * normal())))
    model = with_stiffness(model, float(np.exp(stiffness_scatter * normal())))
    model = with_prevailing(model, float(np.exp(PREVAILING_SCATTER * normal())))
    catch = float(np.clip(CATCH_SCATTER_DEG * normal(), -60.0, 60.0))
    model = with_rundown(model, min(1.0, model.joint.rundown_deg / 1000.0) * catch)
    prevailing = replace(model.prevailing, wander_choice=int(rng.integers(1_000_000)))
    model = replace(model, prevailing=prevailing)
    drawdown = replace(
        model.joint.drawdown,
        width_deg=model.joint.drawdown.width_deg * float(np.exp(WIDTH_SCATTER * normal())),
    )
    stop = model.tool.stop_torque_nm * (1.0 + STOP_SCATTER * float(np.clip(normal(), -3.0, 3.0)))
    return replace(
        model, joint=replace(model.joint, drawdown=drawdown), tool=replace(model.tool, stop_torque_nm=stop)
    )


def make_shift(
    seed: int,
    joints: Sequence[ShiftJoint] | None = None,
    *,
    good: int = 400,
    each_fault: int = 6,
    faults: Sequence[str] = EVALUATION_FAULTS,
    friction_scatter: float = FRICTION_SCATTER,
    stiffness_scatter: float = STIFFNESS_SCATTER,
) -> tuple[TraceSet, pa.Table]:
    """Good joints and seeded faults of several joints, in random order over a shift.

    Parameters
    ----------
    seed : int
    joints : sequence of ShiftJoint or None
        None: `tests.world.evaluation.EVALUATION_JOINTS` (flange bolt, self-locking nut, gasketed
        cover).
    good, each_fault : int
        Traces per joint; of each fault, where it applies to the joint.
    faults : sequence of str
        Names of `tests.world.faults.FAULTS`.
    friction_scatter, stiffness_scatter : float
        Natural standard deviations, as shares.

    Returns
    -------
    TraceSet
        With `time_s`, `step` and the attributes joint, tool, spindle, program, part, position, lot,
        started_at.
    pyarrow.Table
        ``trace_id``, ``joint``, ``cause`` (null for good ones) and a column for each field of `Truth`.

    Examples
    --------
    >>> traces, truth = make_shift(1, good=5, each_fault=1)
    >>> len(traces) == truth.num_rows, truth["cause"].null_count
    (True, 15)
    """
    if joints is None:
        from tests.world.evaluation import EVALUATION_JOINTS

        joints = EVALUATION_JOINTS
    rng = np.random.default_rng(seed)
    plan = [
        (joint, cause)
        for joint in joints
        for cause in [None] * good + [f for f in faults if applies(f, joint.model) for _ in range(each_fault)]
    ]
    order = rng.permutation(len(plan))
    streams = np.random.SeedSequence([seed, 1]).spawn(len(plan))
    recordings: list[Recording] = []
    rows: list[dict[str, Any]] = []
    for number, index in enumerate(order):
        joint, cause = plan[index]
        own = np.random.default_rng(streams[number])
        model = naturally(joint.model, own, friction_scatter, stiffness_scatter)
        if cause is not None:
            model = FAULTS[cause](model, own)
        recordings.append(record(model, own))
        rows.append({**_evaluation_attributes(joint, number, rng), "cause": cause})
    return assemble(recordings, rows)


def _evaluation_attributes(joint: ShiftJoint, number: int, rng: np.random.Generator) -> dict[str, Any]:
    spindle = f"{joint.name}-{1 + int(rng.integers(4))}"
    return {
        "trace_id": f"e{number:05d}",
        "joint": joint.name,
        "tool": f"{joint.name}-station",
        "spindle": spindle,
        "program": "locking" if is_locking(joint.model) else "plain",
        "part": f"unit-{number // 8:04d}",
        "position": str(1 + number % 8),
        "lot": f"lot-{1 + int(rng.integers(5))}",
        "started_at": _FIRST_START + timedelta(seconds=15 * number),
    }


def assemble(recordings: Sequence[Recording], rows: Sequence[Mapping[str, Any]]) -> tuple[TraceSet, pa.Table]:
    """One trace set, and the truth table beside it; `cause` and `seeded` go to the truth alone."""
    hidden = ("cause", "seeded")
    names = [name for name in rows[0] if name not in hidden]
    attributes = {name: [row[name] for row in rows] for name in names if name != "trace_id"}
    traces = TraceSet.from_lists(
        [str(row["trace_id"]) for row in rows],
        [r.angle_deg for r in recordings],
        [r.torque_nm for r in recordings],
        attributes,
        time_s=[r.time_s for r in recordings],
        step=[r.step for r in recordings],
    )
    truth = {
        "trace_id": pa.array([row["trace_id"] for row in rows], pa.string()),
        "joint": pa.array([row["joint"] for row in rows], pa.string()),
        "cause": pa.array([row["cause"] for row in rows], pa.string()),
    }
    if "seeded" in rows[0]:
        truth["seeded"] = pa.array([row["seeded"] for row in rows], pa.string())
    columns = [asdict(r.truth) for r in recordings]
    truth.update({name: pa.array([c[name] for c in columns]) for name in columns[0]})
    return traces, pa.table(truth)
