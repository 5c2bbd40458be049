"""The first pages: the answer, the verdicts, the figures against limits, the plots, the flagged traces."""

from __future__ import annotations

from analysis.report.answer import answer_of
from analysis.report.content import (
    Block,
    Bullets,
    Cell,
    Column,
    Facts,
    Heading,
    Paragraph,
    Plots,
    Section,
    Table,
)
from analysis.report.histogram_plot import histogram_plot
from analysis.report.order_plot import order_plot
from analysis.report.overlay_plot import overlay_plot
from analysis.report.population import drift_sentences, shared_or_none
from analysis.report.quantity import (
    ABSENT,
    CLAMP_FORCE,
    ELASTIC_SLOPE,
    FIGURES,
    FINAL_TORQUE,
    JOINT_RATE,
    PREVAILING,
    UTILISATION,
    Quantity,
)
from analysis.report.reference import ReferenceBand
from analysis.report.reported import JointData
from analysis.report.statistics import spread_of
from analysis.report.template import ReportTemplate
from analysis.report.words import in_torque_unit, in_words, interval_text, share_text
from analysis.verdict.finding import WORST_FIRST

SHORT_CAUTION = (
    "Results support, and never replace, the judgement of a qualified engineer; local codes, the product's "
    "specification and licensed practice prevail. Clamp force is estimated from torque and friction, not measured."
)


def summary_section(
    data: JointData, anchor: str, reference: ReferenceBand, template: ReportTemplate
) -> Section:
    """The first page."""
    answer = answer_of(data)
    blocks: list[Block] = []
    if template.opening:
        blocks.append(Paragraph(template.opening))
    if template.order:
        blocks.append(Facts(template.order))
    blocks.append(Paragraph(answer.all_right, "lead"))
    if answer.wrong:
        blocks += [Heading("What is wrong"), Bullets(answer.wrong)]
    shared = shared_or_none(data)
    if shared:
        blocks += [Heading("What they share, and drift"), Bullets((*shared, *drift_sentences(data)))]
    else:
        blocks += [Heading("Drift"), Bullets(drift_sentences(data))]
    if answer.to_do:
        blocks += [Heading("What should be done"), Bullets(answer.to_do)]
    blocks += [verdict_table(data), figures_table(data)]
    overlay = overlay_plot(data, anchor, reference)
    if overlay is not None:
        blocks.append(Plots((overlay,)))
    blocks.append(Paragraph(SHORT_CAUTION, "caution"))
    return Section(f"{data.title}: summary", f"{anchor}-summary", tuple(blocks))


def distribution_section(data: JointData, anchor: str) -> Section:
    """Histograms against limits, and the same quantities in order."""
    blocks: list[Block] = []
    pair = tuple(
        plot
        for plot in (histogram_plot(data, q, anchor) for q in (JOINT_RATE, FINAL_TORQUE))
        if plot is not None
    )
    second = tuple(
        plot
        for plot in (histogram_plot(data, q, anchor) for q in (PREVAILING, ELASTIC_SLOPE))
        if plot is not None
    )
    blocks += [Plots(plots) for plots in (pair, second) if plots]
    for quantity in (JOINT_RATE, FINAL_TORQUE):
        plot = order_plot(data, quantity, anchor)
        if plot is not None:
            blocks.append(Plots((plot,)))
    if not blocks:
        blocks.append(Paragraph("No trace of this joint has a joint rate or a final torque to show."))
    return Section(f"{data.title}: distribution and order", f"{anchor}-distribution", tuple(blocks))


def verdict_table(data: JointData) -> Table:
    """Counts and shares with their intervals, worst first."""
    n = len(data)
    rows = [
        (
            Cell(name, name, verdict=name),
            Cell(str(data.counts[name]), data.counts[name]),
            Cell(share_text(data.counts[name], n), data.counts[name] / n if n else None),
            Cell(interval_text(data.counts[name], n) if n else ABSENT),
        )
        for name in WORST_FIRST
    ]
    rows.append((Cell("all", "all"), Cell(str(n), n), Cell(share_text(n, n), 1.0 if n else None), Cell("")))
    columns = (
        Column("Verdict", weight=2.0),
        Column("Traces", align="right"),
        Column("Share", align="right"),
        Column("95 % interval of the share", weight=2.0, align="right"),
    )
    return Table("Verdicts", columns, tuple(rows), "Verdicts")


def figures_table(data: JointData) -> Table:
    """Each quantity with centre, spread and extremes beside its limits."""
    shown = [q for q in FIGURES if q in (FINAL_TORQUE, JOINT_RATE) or spread_of(data.values(q.column)).n]
    columns = (
        Column("Quantity", weight=3.0),
        Column("Unit", weight=1.2),
        *(
            Column(title, align="right")
            for title in ("n", "Median", "Mean", "s", "5 %", "95 %", "Lowest", "Highest")
        ),
        Column("Limits", weight=1.7, align="right"),
        Column("Outside", align="right"),
    )
    note = "s: standard deviation of the sample. 5 %, 95 %: percentiles. Outside: traces beyond a limit."
    if CLAMP_FORCE in shown or UTILISATION in shown:
        note += (
            " Clamp force and utilisation are estimated at the middle of the friction range; "
            "the lines below give the bounds of that range."
        )
    elif data.definition is not None:
        reasons = dict.fromkeys(data.analysis.clamp.reason[row] for row in data.rows.tolist())
        reason = next((text for text in reasons if text), "")
        note += (
            f" Clamp force {reason}."
            if reason.startswith("not ")
            else f" Clamp force not evaluated: {reason}."
        )
        note = note.replace(" Clamp force not evaluated: .", "")
    return Table("Figures", columns, tuple(_figure_row(data, q) for q in shown), "Figures", note)


def _figure_row(data: JointData, quantity: Quantity) -> tuple[Cell, ...]:
    values = data.values(quantity.column)
    spread = spread_of(values)
    limits = data.limits(quantity)
    unit = data.torque_unit

    def cell(value: float | None) -> Cell:
        return Cell(quantity.text(value, unit), None if value is None else quantity.shown(value, unit))

    if limits is None:
        limit_cell, outside = Cell("none given" if quantity.limits else ""), Cell("")
    else:
        internal = quantity.limits(data.definition) if quantity.limits and data.definition else None
        low, high = internal if internal else (float("nan"), float("nan"))
        count = int(((values < low) | (values > high)).sum())
        limit_cell = Cell(f"{quantity.text(low, unit)}–{quantity.text(high, unit)}")
        outside = Cell(str(count), count)
    return (
        Cell(quantity.title, quantity.title),
        Cell(quantity.unit(unit)),
        Cell(str(spread.n), spread.n),
        *map(
            cell,
            (
                spread.median,
                spread.mean,
                spread.standard_deviation,
                spread.low_5,
                spread.high_95,
                spread.lowest,
                spread.highest,
            ),
        ),
        limit_cell,
        outside,
    )


def flagged_section(data: JointData, anchor: str, template: ReportTemplate, pages: dict[int, str]) -> Section:
    """The table of the traces not ok and suspect with their reasons; `pages` gives the anchor of each with a page."""
    rows = data.flagged_rows().tolist()
    listed = rows[: template.most_listed]
    columns = (
        Column("Trace", weight=1.8),
        Column("Verdict", weight=1.2),
        Column("Final torque", data.torque_unit, 1.0, "right"),
        Column("Joint rate", "deg", 1.0, "right"),
        Column("Likeliest cause", weight=1.6),
        Column("Reason", weight=6.6),
    )
    position = {int(row): k for k, row in enumerate(data.rows.tolist())}
    torque, rate = data.values(FINAL_TORQUE.column), data.values(JOINT_RATE.column)
    verdicts, causes = data.texts("verdict"), data.texts("cause")
    table_rows = []
    for row in listed:
        k = position[row]
        table_rows.append(
            (
                Cell(data.trace_id(row), data.trace_id(row), link=pages.get(row, "")),
                Cell(verdicts[k], verdicts[k], verdict=verdicts[k]),
                _value_cell(FINAL_TORQUE, torque[k], data.torque_unit),
                _value_cell(JOINT_RATE, rate[k], data.torque_unit),
                Cell(in_words(causes[k]) if causes[k] else ABSENT, causes[k]),
                Cell(in_torque_unit(_reason(data.analysis.sentence(row), verdicts[k]), data.torque_unit)),
            )
        )
    notes = []
    if len(listed) < len(rows):
        notes.append(f"{len(listed)} of {len(rows)} flagged traces are listed; the results table has all.")
    if len(pages) < len(rows):
        notes.append(f"{sum(row in pages for row in rows)} of {len(rows)} have a page of their own.")
    blocks: tuple[Block, ...] = (
        (Table("Flagged", columns, tuple(table_rows), note=" ".join(notes)),)
        if rows
        else (Paragraph("No trace of this joint is not ok or suspect."),)
    )
    return Section(f"{data.title}: traces not ok and suspect", f"{anchor}-flagged", blocks)


def _reason(sentence: str, verdict: str) -> str:
    """The sentence without the verdict that the column beside it gives."""
    start = f"{verdict}: "
    return sentence[len(start) :] if sentence.lower().startswith(start) else sentence


def _value_cell(quantity: Quantity, value: float, unit: str) -> Cell:
    text = quantity.text(value, unit)
    return Cell(text, None if text == ABSENT else quantity.shown(float(value), unit))
