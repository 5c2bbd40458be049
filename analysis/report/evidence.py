"""A page for one trace: the curve, every rule as measured against limit, findings, causes, and what was
decided."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from analysis.catalogue.figures import ELASTIC_SLOPE
from analysis.catalogue.findings import in_words
from analysis.catalogue.sentences import Sentence
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS
from analysis.curve.reasons import REASONS
from analysis.figure_text import (
    ABSENT,
    Uncertainty,
    given_text,
    measured_text,
    number_text,
    with_uncertainty,
)
from analysis.joint.clamp_words import clamp_summary
from analysis.report.audit_section import definitions_table
from analysis.report.content import (
    Block,
    Bullets,
    Cell,
    Heading,
    NamedValues,
    Paragraph,
    Plots,
    ReportColumn,
    Section,
    Table,
)
from analysis.report.decided import history_of, moved_words
from analysis.report.evidence_plot import rise_plot, whole_curve_plot
from analysis.report.joint_engineering import engineering_facts, route_blocks
from analysis.report.operation_blocks import operation_blocks
from analysis.report.reference import JointBand
from analysis.report.reported import JointData
from analysis.verdict.finding import Cause, RuleCheck

#: Causes that a page has room for; the rest is named (own choice).
_MOST_CAUSES = 3
#: Pieces of evidence for, and against, each cause on paper; the window lists all (own choice).
_MOST_EVIDENCE = 3
#: The rise, where everything happens, has two thirds of the width.
_RISE_WIDER = (1.0, 2.0)
_MARKS = {"met": "ok", "broken": "not ok", "not evaluated": "not evaluated"}


def evidence_section(data: JointData, row: int, anchor: str, reference: JointBand) -> Section:
    """The page of one trace; `reference` is drawn behind the rise."""
    verdict = VERDICTS[data.analysis.verdict[row]]
    blocks: list[Block] = [Paragraph(data.analysis.sentence(row).text(data.units), "strong")]
    facts = _attributes(data.analysis.traces[row].attributes)
    if facts:
        blocks.append(NamedValues(facts))
    whole, rise = whole_curve_plot(data, row, anchor), rise_plot(data, row, anchor, reference)
    blocks.append(Plots((whole,)) if rise is None else Plots((whole, rise), _RISE_WIDER))
    blocks.append(rules_table(data, row))
    blocks += _findings(data, row)
    blocks += _causes(data, row)
    blocks += operation_blocks(data, row)
    definitions = definitions_table(data.analysis, row, data.units)
    if definitions is None:
        blocks += [Heading("Points of the curve"), points_facts(data, row)]
    else:
        blocks.append(definitions)
    blocks += route_blocks(data, row, anchor)
    blocks += _decision(data, row)
    return Section(data.trace_id(row), anchor, tuple(blocks), level=2, verdict=verdict)


def rules_table(data: JointData, row: int) -> Table:
    """Every rule: measured, limits, margin, place, outcome."""
    columns = (
        ReportColumn("Rule", weight=2.4),
        ReportColumn("Unit", weight=1.0),
        ReportColumn("Measured", weight=1.7, align="right"),
        ReportColumn("Low", align="right"),
        ReportColumn("High", align="right"),
        ReportColumn("Margin", align="right"),
        ReportColumn("At angle", "deg", align="right"),
        ReportColumn("Outcome", weight=3.0),
    )
    rows = tuple(_rule_row(data, check, row) for check in data.analysis.checks(row))
    note = "Margin: to the nearer limit; negative where the limit is broken."
    return Table("Rules", columns, rows, "Rules of the joint", note)


def _rule_row(data: JointData, check: RuleCheck, row: int) -> tuple[Cell, ...]:
    figure, units = check.rule.figure, data.units
    factor = figure.factor(units)
    known = data.analysis.known(row, figure)
    place_known = known if figure.is_place else data.analysis.known(row, None, "deg")

    def cell(value: float | None, write: Callable[[float], str]) -> Cell:
        return Cell(ABSENT) if value is None else Cell(write(value * factor), value * factor)

    def limit(value: float | None) -> Cell:
        if value is None or check.rule.kind == "flag":  # the final point, which is no limit that was given
            return Cell(ABSENT, value)
        return Cell(given_text(value, factor), value * factor)

    outcome = f"{check.status}: {check.reason}" if check.reason else check.status
    place = "" if check.place_deg is None else with_uncertainty(check.place_deg, place_known)[0]
    return (
        Cell(figure.title, check.rule.name),
        Cell(figure.symbol(units)),
        cell(check.measured, lambda shown: measured_text(shown, known.times(factor))),
        limit(check.low),
        limit(check.high),
        cell(check.margin, lambda _: check.margin_text(known, factor)),
        Cell(place or ABSENT, check.place_deg),
        Cell(outcome, check.status, verdict=_MARKS.get(check.status, "")),
    )


def points_facts(data: JointData, row: int) -> NamedValues:
    """Points and figures of the curve with standard uncertainty, or why one is absent."""
    c, unit = data.analysis.curves, data.torque_unit
    slope_unit = ELASTIC_SLOPE.symbol(data.units)
    steps, factor = data.analysis.steps, data.units.factor("N·m")
    by_sample = Uncertainty(step=steps.torque_nm(row))

    def shown(value: float, uncertainty: Uncertainty, symbol: str) -> str:
        return measured_text(value * factor, uncertainty.times(factor), symbol)

    def point(
        angle: float, sigma: float, torque_nm: float, reason: int, torque: Uncertainty = by_sample
    ) -> str:
        if not np.isfinite(angle):
            return f"absent: {REASONS.get(int(reason), '') or 'no reason known'}"
        known = Uncertainty(sigma if sigma <= recorded else None, steps.angle_deg(row))
        place = measured_text(angle, known, "deg")
        if sigma > recorded:
            place += " (uncertainty larger than the recording)"
        return f"{place}, {shown(torque_nm, torque, unit)}" if np.isfinite(torque_nm) else place

    angle = data.analysis.traces[row].angle_deg
    recorded = float(np.nanmax(angle) - np.nanmin(angle)) if np.isfinite(angle).any() else 0.0
    level = float(c.prevailing_torque_nm[row])
    steep = float(c.elastic_slope_nm_per_deg[row])
    known_level = Uncertainty(float(c.prevailing_uncertainty_nm[row]), by_sample.step)
    level_text = shown(level, known_level, unit)
    steep_text = shown(steep, Uncertainty(float(c.elastic_slope_uncertainty_nm_per_deg[row])), slope_unit)
    if not np.isfinite(level):
        level_text = f"absent: {REASONS.get(int(c.prevailing_reason[row]), '')}"
    if not np.isfinite(steep):
        steep_text = f"absent: {REASONS.get(int(c.slope_reason[row]), '')}"
    nan = float("nan")
    drawdown = point(
        c.drawdown_angle_deg[row],
        c.drawdown_angle_uncertainty_deg[row],
        level,
        c.drawdown_reason[row],
        known_level,
    )
    return NamedValues(
        (
            ("Drawdown start", drawdown),
            ("Prevailing torque", level_text),
            ("Snug point", point(c.snug_angle_deg[row], c.snug_angle_uncertainty_deg[row],
                                 c.snug_torque_nm[row], c.snug_reason[row])),
            ("Elastic slope", steep_text),
            ("Yield onset", point(c.yield_angle_deg[row], c.yield_angle_uncertainty_deg[row],
                                  c.yield_torque_nm[row], c.yield_reason[row])),
            ("Elastic origin", point(c.elastic_origin_deg[row], c.elastic_origin_uncertainty_deg[row],
                                     level, c.slope_reason[row] or c.prevailing_reason[row], known_level)),
            ("Final point", point(c.final_angle_deg[row], nan, c.final_torque_nm[row], c.slope_reason[row])),
            ("Clamp force", _clamp_text(data, row)),
            *(() if data.analysis.operations.unsteady[row] else engineering_facts(data, row)),
        ),
        columns=2,
    )  # fmt: skip


def _clamp_text(data: JointData, row: int) -> str:
    clamp = data.analysis.clamp
    if clamp.reason[row]:
        return clamp.reason[row]
    use = float(clamp.utilisation[row])
    text = clamp_summary(clamp, row)
    return text + (f"; {number_text(100 * use, 0)} % of yield" if np.isfinite(use) else "")


def _findings(data: JointData, row: int) -> list[Block]:
    found = [finding.sentence.text(data.units) for finding in data.analysis.findings(row)]
    if not found or (len(found) == 1 and found[0] in data.analysis.sentence(row).text(data.units)):
        return []  # the page's first sentence says it already
    return [Heading("Findings"), Bullets(tuple(found))]


def _causes(data: JointData, row: int) -> list[Block]:
    ranked = data.analysis.causes_of(row)
    if not ranked:
        return []
    columns = (
        ReportColumn("Cause", weight=1.6),
        ReportColumn("Weight", weight=0.6, align="right"),
        ReportColumn("For", weight=3.6),
        ReportColumn("Against", weight=3.1),
        ReportColumn("Next check", weight=2.6),
    )
    rows = tuple(_cause_row(cause, data.units) for cause in ranked[:_MOST_CAUSES])
    rest = ", ".join(in_words(cause.name) for cause in ranked[_MOST_CAUSES:])
    sources = "; ".join(dict.fromkeys(cause.kind.source for cause in ranked[:_MOST_CAUSES]))
    note = "Weight: 0 to 1, for ranking; not a probability."
    note += f" Less likely: {rest}." if rest else ""
    note += f" Rules from: {sources}." if sources else ""
    return [Table("Causes", columns, rows, "Possible causes, likeliest first", note)]


def _cause_row(cause: Cause, units: DisplayUnits) -> tuple[Cell, ...]:
    def text(items: tuple[Sentence, ...]) -> str:
        shown = [item.text(units).rstrip(".") for item in items[:_MOST_EVIDENCE]]
        rest = len(items) - len(shown)
        return "; ".join(shown) + (f"; and {rest} more" if rest else "") or ABSENT

    return (
        Cell(cause.kind.words, cause.name),
        Cell(number_text(cause.weight, 2), cause.weight),
        Cell(text(cause.evidence_for)),
        Cell(text(cause.evidence_against)),
        Cell(cause.kind.next_check),
    )


def _decision(data: JointData, row: int) -> list[Block]:
    decision = data.decisions.get(data.trace_id(row))
    if decision is None:
        return []
    pairs = [("Disposition", decision.disposition or "none")]
    if decision.edges:
        pairs.append(("Moved by hand", moved_words(decision)))
    given = getattr(decision, "joint", "")
    pairs += [("Joint given by hand", given)] if given else []
    pairs += [("Note", decision.note)] if decision.note else []
    blocks: list[Block] = [Heading("Decision of a person"), NamedValues(tuple(pairs))]
    history = history_of(decision)
    return [*blocks, Bullets(history)] if history else blocks


def _attributes(attributes: Mapping[str, Any]) -> tuple[tuple[str, str], ...]:
    """What was recorded with the trace, but its id."""
    pairs = []
    for name, value in attributes.items():
        if name == "trace_id" or value is None:
            continue
        text = value.strftime("%Y-%m-%d %H:%M:%S UTC") if hasattr(value, "strftime") else str(value)
        pairs.append((name.replace("_", " ").capitalize(), text))
    return tuple(pairs)
