"""The study of a set of traces, joint by joint, and of the tool over its joints."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.capability.indices import Index, counted_share, worst_of
from analysis.capability.intervals import CONFIDENCE
from analysis.capability.quantity import QuantityStudy, Sample
from analysis.capability.quantity_study import study_quantity
from analysis.capability.sensors import Calibrated, SensorFacts, sensor_facts
from analysis.capability.settings import Asked, StudySettings, asked_for
from analysis.capability.studied import (
    NOT_GIVEN,
    STUDIED,
    Rows,
    Studied,
    choose_rows,
    coded,
    column_of,
    groups_by,
    limits_of,
)
from analysis.capability.tool_and_joint import ToolAndJoint, part_tool_and_joint
from analysis.capability.tool_performance import (
    Reading,
    ToolPerformance,
    compare_readings,
    tool_performance,
)
from analysis.figure_text import plural
from analysis.joint.definition import JointDefinition
from analysis.joint.joint_class import class_order

Mask = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class JointStudy:
    """One joint."""

    name: str
    definition: JointDefinition
    asked: Asked
    rows: Rows  #: Tightenings that were studied.
    quantities: Mapping[str, QuantityStudy]  #: By column: those with limits.
    readings: tuple[Reading, ...]  #: Tool, reference and residual torque of the same tightenings.
    repeated: int  #: Tightenings of a position after its first.
    sensors: SensorFacts | None = None  #: What its traces say of sensors and calibrations.

    @property
    def shown(self) -> str | None:
        """The worst judgement of its quantities."""
        return worst_of([one.shown for one in self.quantities.values()])


@dataclass(frozen=True, eq=False)
class Study:
    """All joints that have traces, class A first, and the tool over them."""

    joints: Mapping[str, JointStudy]
    #: The tool over a hard and a soft joint, where the study is of that.
    performance: ToolOverJoints | None = None
    #: What is the tool's and what the joint's, or why it cannot be told; None with a single joint.
    parted: ToolAndJoint | str | None = None

    @property
    def shown(self) -> str | None:
        """The worst judgement of all."""
        return worst_of([one.shown for one in self.joints.values()])

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        found: dict[str, Any] = {
            "joints": {
                name: {"quantities": {column: q.as_dict() for column, q in one.quantities.items()}}
                for name, one in self.joints.items()
            }
        }
        if self.performance is not None:
            found["tool_over_joints"] = self.performance.as_dict()
        if self.parted is not None:
            parted = self.parted
            found["tool_and_joint"] = {"reason": parted} if isinstance(parted, str) else parted.as_dict()
        return found


@dataclass(frozen=True)
class ToolOverJoints:
    """A tool over a hard and a soft joint; (hard, soft) each."""

    n: tuple[int, int]
    mean_nm: tuple[float, float]
    deviation_nm: tuple[float, float]
    joint_rate_deg: tuple[float, float]  #: Median, through 10-100 % of the final torque drawn to zero.
    found: ToolPerformance
    reading: str  #: Whose torque was taken.

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "n": list(self.n), "mean_nm": list(self.mean_nm), "s_nm": list(self.deviation_nm),
            "joint_rate_deg": [None if math.isnan(rate) else rate for rate in self.joint_rate_deg],
            "mean_shift_nm": self.found.mean_shift_nm,
            "combined_scatter_percent": self.found.combined_scatter_percent, "reading": self.reading,
        }  # fmt: skip


def make_study(
    results: pa.Table,
    attributes: pa.Table,
    joints: Mapping[str, JointDefinition],
    settings: StudySettings | None = None,
    *,
    only: Mask | None = None,
    hard: Mask | None = None,
    soft: Mask | None = None,
    calibrated: Calibrated | None = None,
) -> Study:
    """Study every joint that has traces.

    Parameters
    ----------
    results, attributes : pyarrow.Table
        One row a trace each: the results table, and all that the recordings carry.
    only, hard, soft : ndarray of bool, optional
        What the filters of the settings leave of the traces.
    calibrated : mapping, optional
        Calibrations of each tool, where they are known.
    """
    settings = settings or StudySettings()
    n = results.num_rows
    taken = np.ones(n, np.bool_) if only is None else only
    of_trace = np.array(results.column("joint").to_pylist(), object)
    present = set(of_trace[taken].tolist())
    names = sorted((name for name in joints if name in present), key=lambda name: class_order(joints[name]))
    found = {
        name: study_joint(
            results,
            attributes,
            joints[name],
            settings,
            np.flatnonzero(taken & (of_trace == name)),
            calibrated,
        )
        for name in names
    }
    over = None
    if hard is not None and soft is not None:
        over = _over_joints(results, attributes, (taken & hard, taken & soft), settings.reference)
    return Study(found, over, _parted(found, settings))


def _parted(joints: Mapping[str, JointStudy], settings: StudySettings) -> ToolAndJoint | str | None:
    """Tool against joint over all joints that the tool shuts off by torque."""
    streams = settings.streams or "spindle"
    torques = {
        name: (one.quantities["final_torque_nm"], one.definition.target_torque_nm)
        for name, one in joints.items()
        if one.definition.stop in (None, "torque") and one.asked.streams == streams
        and "final_torque_nm" in one.quantities
    }  # fmt: skip
    departures, spindles, of_joint = [np.empty(0)], [], []
    for name, (torque, target) in torques.items():
        if not torque.names:
            continue
        whose = np.array(torque.names, object)[torque.codes]
        known = whose != NOT_GIVEN
        departures.append(100.0 * (torque.values[known] / target - 1.0))
        spindles += whose[known].tolist()
        of_joint += [name] * int(known.sum())
    if len(set(of_joint)) < 2:
        return None
    confidence = CONFIDENCE if settings.confidence is None else settings.confidence
    return part_tool_and_joint(np.concatenate(departures), coded(spindles), coded(of_joint), confidence)


def study_joint(
    results: pa.Table,
    attributes: pa.Table,
    definition: JointDefinition,
    settings: StudySettings,
    own: NDArray[np.int64] | None = None,
    calibrated: Calibrated | None = None,
) -> JointStudy:
    """Study one joint.

    Parameters
    ----------
    own : ndarray of int64, optional
        Its rows; all where None.
    """
    own = np.arange(results.num_rows) if own is None else own
    asked = asked_for(definition, settings)
    quantities: dict[str, QuantityStudy] = {}
    rows: dict[tuple[str | None, ...], Rows] = {}
    for studied in STUDIED:
        limits = limits_of(studied, definition)
        if studied.word not in asked.quantity or limits == (None, None):
            continue
        if studied.column not in results.column_names:
            continue
        if studied.operations not in rows:
            rows[studied.operations] = choose_rows(results, own, asked.traces, studied.operations)
        sample = _sample(results, attributes, rows[studied.operations], studied, asked)
        if len(sample.values) or studied.word != "residual_torque":
            name = (studied.column, studied.title, studied.unit)
            quantities[studied.column] = study_quantity(name, sample, limits, asked)
    tightened = rows.get(STUDIED[0].operations) or choose_rows(
        results, own, asked.traces, STUDIED[0].operations
    )
    repeated = choose_rows(results, own, "first", STUDIED[0].operations).left_out
    readings = _readings(results, attributes, tightened, settings, asked)
    sensors = sensor_facts(attributes, tightened.rows, calibrated)
    return JointStudy(definition.name, definition, asked, tightened, quantities, readings, repeated, sensors)


def _sample(results: pa.Table, attributes: pa.Table, chosen: Rows, studied: Studied, asked: Asked) -> Sample:
    rows = chosen.rows
    values = column_of(results, studied.column, rows)
    present = np.isfinite(values)
    notes = []
    if not present.all():
        notes.append(f"{int((~present).sum())} of {plural(len(rows), 'trace')} without such a value left out")
    if studied.column == "final_torque_nm":
        pulsed = _is(results, rows, "operation", "impulse tightening")
        if pulsed.any():
            notes.append(
                f"{int(pulsed.sum())} impulse tightenings left out: the height of a pulse is what the tool "
                "gave, not what the joint received"
            )
        present &= ~pulsed
    kept = rows[present]
    unseen, yielded = 0.0, None
    if studied.column == "clamp_force_kn":
        unseen = _friction_scatter(results, kept)
        if unseen:
            notes.append(
                "told by torque alone, at one friction: the scatter of friction that the joint states is "
                "added; stiffness, a back-off or a load cell would show it"
            )
        if "utilisation" in results.column_names:
            used = column_of(results, "utilisation", kept)
            past = used[np.isfinite(used)] > 1.0
            yielded = counted_share(int(past.sum()), len(past)) if len(past) else None
            notes += [] if yielded is None else [_past_yield(yielded, len(past))]
    if not chosen.in_time:
        notes.append("in the order read: start times are not given, so that no chart shows stability")
    return Sample(
        values=values[present],
        streams=groups_by(results, attributes, kept, asked.streams),
        subgroups=_subgroups(results, attributes, kept, asked.subgroup),
        sound=_is(results, kept, "verdict", "ok"),
        in_time=chosen.in_time,
        traces=chosen.words,
        notes=tuple(notes),
        unseen=unseen,
        yielded=yielded,
    )


def _friction_scatter(results: pa.Table, rows: NDArray[np.int64]) -> float:
    """Standard deviation, kN, that friction gives clamp forces told by torque alone; their bounds are +-2 s.

    Notes
    -----
    (s_F/F)^2 = (s_T/T)^2 + s_friction^2, s_friction = ln(F_high/F_low)/4 of those traces, 0 of the others.
    """
    if "clamp_force_route" not in results.column_names or not len(rows):
        return 0.0
    force, low, high = (column_of(results, f"clamp_force{end}_kn", rows) for end in ("", "_low", "_high"))
    own = np.where(_is(results, rows, "clamp_force_route", "torque"), np.log(high / low) / 4.0, 0.0)
    return float(np.sqrt(np.mean(np.square(np.nan_to_num(own) * force))))


def _past_yield(share: Index, n: int) -> str:
    """How many stand past the least yield strength by the estimate, and the interval of their share."""
    words = f"past the least yield strength, estimated: {round(share.value * n)} of {n}"
    interval = f"{100 * share.low:.1f} to {100 * share.high:.1f} %"
    return f"{words} ({interval}, {share.sided} {100 * share.confidence:g} %)"


def _is(results: pa.Table, rows: NDArray[np.int64], column: str, word: str) -> Mask:
    taken = results.column(column).take(rows).to_pylist()
    return np.array([value == word for value in taken], np.bool_)


def _subgroups(
    results: pa.Table, attributes: pa.Table, rows: NDArray[np.int64], subgroup: str | int
) -> NDArray[np.int64] | None:
    if isinstance(subgroup, int):
        return np.arange(len(rows)) // subgroup
    if subgroup == "none":
        return None
    codes, names = groups_by(results, attributes, rows, subgroup)
    return codes if names else None


def _readings(
    results: pa.Table, attributes: pa.Table, rows: Rows, settings: StudySettings, asked: Asked
) -> tuple[Reading, ...]:
    """Tool, reference and residual torque: none where the tool's reading stands alone."""
    others = {}
    if settings.reference is not None and settings.reference in attributes.column_names:
        others["reference"] = column_of(attributes, settings.reference, rows.rows)
    if "residual_torque_nm" in results.column_names:
        others["residual torque"] = _residual_of(results, rows)
    tool = column_of(results, "final_torque_nm", rows.rows)
    found = compare_readings(tool, others, asked.confidence, asked.gauge_nm or 0.0)
    return tuple(found) if len(found) > 1 else ()


def _residual_of(results: pa.Table, rows: Rows) -> NDArray[np.float64]:
    """Residual torque of each tightening's position, from its audit; NaN where none was made."""
    names = ("joint", "part", "position")
    keys = list(zip(*(results.column(name).to_pylist() for name in names), strict=True))
    audited = column_of(results, "residual_torque_nm", np.arange(results.num_rows))
    of_key = {
        keys[k]: audited[k] for k in np.flatnonzero(np.isfinite(audited)).tolist() if None not in keys[k]
    }
    return np.array([of_key.get(keys[row], math.nan) for row in rows.rows.tolist()], np.float64)


def _over_joints(
    results: pa.Table, attributes: pa.Table, masks: tuple[Mask, Mask], reference: str | None
) -> ToolOverJoints | None:
    by_reference = reference is not None and reference in attributes.column_names
    table, column = (attributes, str(reference)) if by_reference else (results, "final_torque_nm")
    torques, rates = [], []
    for mask in masks:
        rows = np.flatnonzero(mask)
        values = column_of(table, column, rows)
        torques.append(values[np.isfinite(values)])
        rate = column_of(results, "joint_rate_line_deg", rows)
        rates.append(float(np.nanmedian(rate)) if np.isfinite(rate).any() else math.nan)
    if min(map(len, torques)) < 2:
        return None
    means = (float(torques[0].mean()), float(torques[1].mean()))
    deviations = (float(torques[0].std(ddof=1)), float(torques[1].std(ddof=1)))
    return ToolOverJoints(
        (len(torques[0]), len(torques[1])), means, deviations, (rates[0], rates[1]),
        tool_performance(means, deviations), "reference reading" if by_reference else "tool's own reading",
    )  # fmt: skip
