"""Audits of a joint in its report: what they show together, each one, and the pictures of both."""

from __future__ import annotations

import math

import numpy as np

from analysis.account.audits import audits_of, joint_pairs, residual_sentences
from analysis.audit.against_dynamic import AgainstDynamic
from analysis.audit.definitions import DEFINITION_OF, side_by_side
from analysis.audit.settings import audit_settings
from analysis.catalogue.figures import RESIDUAL_TORQUE
from analysis.catalogue.reasons import NOT_MOVED, REASONS
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICT_OF, VERDICTS
from analysis.facts import Facts
from analysis.figure_text import ABSENT, Uncertainty, bounded_texts, count_text
from analysis.joint.calculation import CAUTION
from analysis.report.cells import known_cell, number_cell
from analysis.report.content import Block, Bullets, Cell, Paragraph, Plots, ReportColumn, Section, Table
from analysis.report.plot_spec import Axis, Curve, LimitLine, Mark, PlotSpec, limit_lines
from analysis.report.reported import JointData
from analysis.report.ticks import padded_range

#: Audits that get a line in the report (own choice: two pages); marks of a picture; its height, points.
_MOST_LINES, _MOST_MARKS, _HEIGHT_PT = 80, 400, 150.0
#: So many whole numbers stand at an axis (own choice).
_MOST_TICKS = 12
AUDIT_CAUTION = (
    "Clamp force from an audit is the torque of the moving fastener over the lever of the stated friction: "
    "estimated, not measured, and no closer than that friction is known."
)


def audit_section(data: JointData, anchor: str) -> Section | None:
    """All of a joint's audits; None where it has none."""
    if not data.name or not len(data):
        return None
    rows = audits_of(data.analysis, data.name)
    if not len(rows):
        return None
    told = tuple(one.text(data.units) for one in residual_sentences(data.analysis, data.name))
    blocks: list[Block] = [Bullets(told)]
    plots = audit_plots(data.analysis, data.name, data.units, f"{anchor}-audit")
    if plots:
        blocks.append(Plots(plots))
    blocks += [audits_table(data.analysis, data.name, data.units, _MOST_LINES)]
    blocks += [Paragraph(AUDIT_CAUTION, "small"), Paragraph(CAUTION, "caution")]
    return Section(f"{data.title}: residual torque", f"{anchor}-audits", tuple(blocks))


def audits_table(facts: Facts, joint: str, units: DisplayUnits, most: int | None = None) -> Table:
    """A line for each audit: residual torque by the joint's definition, and what goes with it."""
    unit = units.symbol("N·m")
    columns = (
        ReportColumn("Trace", weight=2.2),
        ReportColumn("Verdict", weight=1.7),
        ReportColumn("Part", weight=1.6),
        ReportColumn("Position"),
        ReportColumn("Residual", unit, align="right", weight=1.9),
        ReportColumn("First movement", unit, align="right"),
        ReportColumn("Peak", unit, align="right"),
        ReportColumn("Moved", "deg", align="right"),
        ReportColumn("Ratio", align="right"),
        ReportColumn("After", "min", align="right"),
        ReportColumn("Clamp force, estimated", "kN", align="right", weight=1.7),
        ReportColumn("Remark", weight=2.6),
    )
    rows = audits_of(facts, joint)
    shown = rows if most is None else rows[:most]
    how = DEFINITION_OF[audit_settings(facts.joints.get(joint)).definition].words
    note = (
        f"Residual: {how}. Ratio: residual over final torque of the last sound tightening of the same part "
        "and position."
    )
    if len(shown) < len(rows):
        note += f" The first {len(shown)} of {len(rows)} audits."
    return Table("Audits", columns, tuple(_line(facts, int(row), units) for row in shown), "Audits", note)


def _line(facts: Facts, row: int, units: DisplayUnits) -> tuple[Cell, ...]:
    audits, clamp = facts.audits, facts.clamp
    verdict = VERDICTS[facts.verdict[row]]
    residual = float(audits.residual_torque_nm[row])
    torque, angle = (facts.known(row, None, unit) for unit in ("N·m", "deg"))
    force = ABSENT
    if math.isfinite(clamp.clamp_force_low_kn[row]):
        bounds = float(clamp.clamp_force_low_kn[row]), float(clamp.clamp_force_high_kn[row])
        force = " to ".join(bounded_texts(*bounds))
    own = facts.traces.trace_ids[row]
    still = int(audits.reason[row]) == NOT_MOVED
    peak = known_cell(float(audits.peak_torque_nm[row]), "N·m", torque, units)
    return (
        Cell(own, own),
        Cell(verdict, verdict, verdict=verdict),
        *(_named(facts, name, row) for name in ("part", "position")),
        Cell(f"> {peak.text}")
        if still
        else known_cell(residual, "N·m", facts.known(row, RESIDUAL_TORQUE), units),
        known_cell(float(audits.first_movement_nm[row]), "N·m", torque, units),
        peak,
        known_cell(float(audits.moved_angle_deg[row]), "deg", angle, units),
        number_cell(float(audits.ratio_to_dynamic[row]), 3),
        number_cell(float(audits.minutes_since[row]), 0),
        Cell(force),
        Cell(REASONS[int(audits.reason[row])]),
    )


def _named(facts: Facts, name: str, row: int) -> Cell:
    known = name in facts.traces.attributes.column_names
    value = facts.traces.column(name)[row] if known else None
    return Cell(ABSENT if value is None else str(value))


def definitions_table(facts: Facts, row: int, units: DisplayUnits) -> Table | None:
    """The torque of one audit by every definition; None for what is no audit."""
    known = side_by_side(facts.audits, row)
    if not known:
        return None
    columns = (
        ReportColumn("Definition", weight=1.6),
        ReportColumn("Torque", units.symbol("N·m"), align="right", weight=1.2),
        ReportColumn("What it takes in", weight=3.0),
    )
    lines = []
    for one, reading, chosen in known:
        cell = Cell(ABSENT)
        if reading is not None:
            cell = known_cell(reading.value, "N·m", Uncertainty(reading.uncertainty), units)
        lines.append((Cell(one.title + (" (the joint's)" if chosen else "")), cell, Cell(one.bias)))
    return Table("Definitions", columns, tuple(lines), "Residual torque by each definition")


def audit_plots(facts: Facts, joint: str, units: DisplayUnits, anchor: str) -> tuple[PlotSpec, ...]:
    """Residual torque against its limits in order, and ratio over the minutes since tightening."""
    pairs = joint_pairs(facts, joint)
    agreed = pairs if isinstance(pairs, AgainstDynamic) else None
    found = (_residuals(facts, joint, units, anchor), _ratios(facts, joint, agreed, anchor))
    return tuple(one for one in found if one is not None)


def _marks(facts: Facts, rows: np.ndarray, x: np.ndarray, y: np.ndarray) -> tuple[Mark, ...]:
    names = [VERDICTS[code] for code in facts.verdict[rows]]
    drawn = zip(x.tolist(), y.tolist(), names, strict=True)
    return tuple(Mark(a, b, VERDICT_OF[name].shape, name) for a, b, name in list(drawn)[:_MOST_MARKS])


def _key(marks: tuple[Mark, ...]) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (name, VERDICT_OF[name].shape, name) for name in VERDICTS if any(one.role == name for one in marks)
    )


def _residuals(facts: Facts, joint: str, units: DisplayUnits, anchor: str) -> PlotSpec | None:
    rows = audits_of(facts, joint)
    values = facts.audits.residual_torque_nm[rows] * units.factor("N·m")
    known = np.isfinite(values)
    if known.sum() < 2:
        return None
    given = audit_settings(facts.joints.get(joint)).limits_nm
    limits = None if given is None else (given[0] * units.factor("N·m"), given[1] * units.factor("N·m"))
    ends = [*values[known].tolist(), *(limits or ())]
    marks = _marks(facts, rows[known], np.flatnonzero(known) + 1.0, values[known])
    return PlotSpec(
        name=f"{anchor}-residual",
        title="Residual torque in the order read",
        caption=f"{int(known.sum())} of {len(rows)} audits.",
        x=Axis("Audit", "", 0.0, len(rows) + 1.0, _whole(len(rows))),
        y=Axis("Residual torque", units.symbol("N·m"), *padded_range(min(ends), max(ends), 0.08)),
        height_pt=_HEIGHT_PT,
        limits=limit_lines("y", limits),
        marks=marks,
        key=_key(marks),
        flexible=True,
    )


def _ratios(facts: Facts, joint: str, pairs: AgainstDynamic | None, anchor: str) -> PlotSpec | None:
    rows = audits_of(facts, joint)
    ratio, minutes = facts.audits.ratio_to_dynamic[rows], facts.audits.minutes_since[rows]
    known = np.isfinite(ratio) & (minutes > 0.0)
    if known.sum() < 2:
        return None
    time = np.log10(minutes[known])
    lines: tuple[LimitLine, ...] = ()
    curves: tuple[Curve, ...] = ()
    ends = [*ratio[known].tolist()]
    if pairs is not None:
        edges = (pairs.low_limit.value, pairs.high_limit.value)
        lines = (LimitLine("y", edges[0], "95 %"), LimitLine("y", edges[1], "95 %"))
        curves = _course_curve(pairs, float(time.min()), float(time.max()))
        ends += edges
    low, high = padded_range(float(time.min()), float(time.max()), 0.08)
    if high - low < 0.2:
        low, high = low - 0.1, high + 0.1
    steps = [step for step in _TIMES if low <= math.log10(step) <= high]
    marks = _marks(facts, rows[known], time, ratio[known])
    return PlotSpec(
        name=f"{anchor}-ratio",
        title="Residual over dynamic torque since tightening",
        caption="Lines: limits of agreement (95 %); the fit over the logarithm of time, where there is one.",
        x=Axis("Minutes since tightening", "", low, high, tuple((math.log10(t), f"{t:g}") for t in steps)),
        y=Axis("Residual / dynamic", "", *padded_range(min(ends), max(ends), 0.08)),
        height_pt=_HEIGHT_PT,
        curves=curves,
        limits=lines,
        marks=marks,
        key=_key(marks),
        flexible=True,
    )


#: Times that are named on the axis, minutes.
_TIMES = (1, 2, 5, 10, 20, 30, 60, 90, 120, 180, 240, 300, 360, 480, 720, 1440, 2880, 10080, 43200)


def _course_curve(pairs: AgainstDynamic, low: float, high: float) -> tuple[Curve, ...]:
    if pairs.course is None:
        return ()
    at = np.linspace(low, high, 40)
    values = np.array([pairs.course.at(10.0**one) for one in at])
    return (Curve(at, values, "elastic line", 1.0, label="course"),)


def _whole(n: int) -> tuple[tuple[float, str], ...]:
    """Ticks at whole numbers up to this one."""
    step = next(one * 10**k for k in range(9) for one in (1, 2, 5) if n <= _MOST_TICKS * one * 10**k)
    return tuple((float(at), count_text(at)) for at in range(step, n + 1, step))
