"""The first pages: the answer, the verdicts, the figures against limits, the plots, the flagged traces."""

from __future__ import annotations

from analysis.catalogue.causes import CAUSE_OF
from analysis.catalogue.cautions import JUDGEMENT, NOT_MEASURED, PREVAIL
from analysis.catalogue.figures import ELASTIC_SLOPE, FINAL_TORQUE, JOINT_RATE, PREVAILING_TORQUE
from analysis.catalogue.findings import in_words
from analysis.catalogue.verdicts import WORST_FIRST
from analysis.figure_text import ABSENT, plural
from analysis.report.answer import answer_of, leading_causes
from analysis.report.cells import known_cell
from analysis.report.content import (
    Beside,
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
from analysis.report.figures import figures_table, further_figures_table, sound_table
from analysis.report.histogram_plot import histogram_plot
from analysis.report.order_plot import order_plot
from analysis.report.overlay_plot import overlay_plot
from analysis.report.plot_spec import PlotSpec
from analysis.report.population import basis_sentences, drift_sentences, shared_by, shared_or_none
from analysis.report.reference import JointBand
from analysis.report.reported import JointData
from analysis.report.template import ReportTemplate
from analysis.report.words import interval_text, share_text

#: Share of the width for the counts, and causes that the first page has room for (own choices).
_COUNTS_SHARE = 0.40
_MOST_CAUSES = 4
#: Flagged traces up to which their list needs no page of its own (own choice).
_FEW_FLAGGED = 30

SHORT_CAUTION = f"{JUDGEMENT} {PREVAIL} {NOT_MEASURED}"


def summary_section(data: JointData, anchor: str, reference: JointBand, template: ReportTemplate) -> Section:
    """The first page."""
    answer = answer_of(data)
    blocks: list[Block] = []
    if template.opening:
        blocks.append(Paragraph(template.opening))
    if template.order:
        blocks.append(NamedValues(template.order))
    overlay = overlay_plot(data, anchor, reference)
    blocks.append(Paragraph(identity(data), "small"))
    blocks.append(Paragraph(answer.all_right, "lead"))
    if data.diagnosis is not None and data.diagnosis.foremost:
        blocks.append(Bullets(tuple(one.text(data.units) for one in data.diagnosis.foremost)))
    blocks += [*_counts_and_curves(data, answer.wrong, overlay)]
    causes = causes_table(data)
    blocks += [causes] if causes.rows else [Heading(causes.title)]
    if answer.to_do:
        blocks.append(Bullets(answer.to_do))
    together = (*shared_or_none(data), *drift_sentences(data))
    blocks += [Heading("What the flagged share, and drift"), Bullets(together), figures_table(data)]
    blocks.append(Paragraph(SHORT_CAUTION, "caution"))
    return Section(f"{data.title}: summary", f"{anchor}-summary", tuple(blocks))


def identity(data: JointData) -> str:
    """Which joint it is, in one line: its name, fastener, target, class, and the library it is taken from."""
    joint = data.definition
    if joint is None:
        return f"Joint {data.name or 'not named'}: not in the joints file."
    units = data.units
    fastener = " ".join(part for part in (joint.thread, joint.property_class) if part)
    target = joint.target_torque_nm
    parts = (
        f"Joint {data.name}",
        fastener,
        f"target {units.given(target, 'N·m')} {units.symbol('N·m')}" if target else "",
        f"tightened to {joint.stop}" if joint.stop else "",
        f"class {joint.parts['risk_class']}" if joint.parts.get("risk_class") else "",
        f"from {joint.parts['library']}" if joint.parts.get("library") else "",
    )
    return " · ".join(part for part in parts if part)


def _counts_and_curves(data: JointData, wrong: tuple[str, ...], overlay: PlotSpec | None) -> list[Block]:
    """The counts and what they are about, and beside them the curves."""
    words = wrong or ("Nothing, as far as torque and angle tell." if len(data) else "Not known.",)
    left = (verdict_table(data), Heading("What is wrong"), Bullets(words))
    return list(left) if overlay is None else [Beside(left, (Plots((overlay,)),), _COUNTS_SHARE)]


def causes_table(data: JointData) -> Table:
    """Likeliest causes with the number of traces, what these share, and the check that decides."""
    causes = leading_causes(data)
    columns = (
        ReportColumn("Likeliest cause", weight=1.5),
        ReportColumn("Traces", weight=0.6, align="right"),
        ReportColumn("What these share that the others do not", weight=2.6),
        ReportColumn("Next check", weight=4.3),
    )
    rows = tuple(
        (
            Cell(in_words(cause), cause),
            Cell(str(count), count),
            Cell(shared_by(data, cause) or ABSENT),
            Cell(CAUSE_OF[cause].next_check),
        )
        for cause, count in causes[:_MOST_CAUSES]
    )
    rest = ", ".join(f"{in_words(cause)} ({count})" for cause, count in causes[_MOST_CAUSES:])
    notes = (*([f"Also: {rest}."] if rest else []), *basis_sentences(data))
    return Table("Causes", columns, rows, "Causes, and what should be done", " ".join(notes))


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
        for plot in (histogram_plot(data, q, anchor) for q in (PREVAILING_TORQUE, ELASTIC_SLOPE))
        if plot is not None
    )
    blocks += [Plots(plots) for plots in (pair, second) if plots]
    for quantity in (JOINT_RATE, FINAL_TORQUE):
        plot = order_plot(data, quantity, anchor)
        if plot is not None:
            blocks.append(Plots((plot,)))
    if 0 < data.counts["ok"] < len(data):
        blocks.append(sound_table(data))
    further = further_figures_table(data)
    if blocks and further.rows:
        blocks.append(further)
    if not blocks:
        blocks.append(
            Paragraph("No trace of this joint has an angle from snug to final or a final torque to show.")
        )
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
        ReportColumn("Verdict", weight=2.0),
        ReportColumn("Traces", align="right"),
        ReportColumn("Share", align="right"),
        ReportColumn("95 % interval", weight=1.6, align="right"),
    )
    return Table("Verdicts", columns, tuple(rows), "Verdicts")


def flagged_section(data: JointData, anchor: str, template: ReportTemplate, pages: dict[int, str]) -> Section:
    """The traces not evaluated, not ok and suspect with their reasons; `pages` gives the anchors."""
    rows = data.flagged_alone().tolist()
    listed = rows[: template.most_listed]
    columns = (
        ReportColumn("Trace", weight=1.8),
        ReportColumn("Verdict", weight=1.7),
        ReportColumn("Final torque", data.torque_unit, 1.0, "right"),
        ReportColumn(JOINT_RATE.title, "deg", 1.9, "right"),
        ReportColumn("Likeliest cause", weight=1.6),
        ReportColumn("Reason", weight=5.4),
    )
    position = {int(row): k for k, row in enumerate(data.rows.tolist())}
    torque, rate = data.values(FINAL_TORQUE.name), data.values(JOINT_RATE.name)
    verdicts, causes = data.texts("verdict"), data.texts("cause")
    known = data.analysis.known
    table_rows = []
    for row in listed:
        k = position[row]
        table_rows.append(
            (
                Cell(data.trace_id(row), data.trace_id(row), link=pages.get(row, "")),
                Cell(verdicts[k], verdicts[k], verdict=verdicts[k]),
                known_cell(torque[k], FINAL_TORQUE.unit, known(row, FINAL_TORQUE), data.units),
                known_cell(rate[k], JOINT_RATE.unit, known(row, JOINT_RATE), data.units),
                Cell(in_words(causes[k]) if causes[k] else ABSENT, causes[k]),
                Cell(_reason(data.analysis.sentence(row).text(data.units), verdicts[k])),
            )
        )
    notes = []
    if len(listed) < len(rows):
        notes.append(f"{len(listed)} of {len(rows)} flagged traces are listed; the results table has all.")
    if len(pages) < len(rows):
        notes.append(
            f"{sum(row in pages for row in rows)} of {len(rows)} have a page of their own, of each cause the "
            "worst; traces that are chosen have theirs."
        )
    together = len(data.flagged_rows()) - len(rows)
    blocks: list[Block] = []
    if together:
        blocks.append(
            Paragraph(
                f"{plural(together, 'trace is', 'traces are')} suspect only since the joint "
                "as a whole is: see its summary."
            )
        )
    if rows:
        blocks.append(Table("Flagged", columns, tuple(table_rows), note=" ".join(notes)))
    if not blocks:
        blocks.append(Paragraph("Every trace of this joint is ok."))
    return Section(
        f"{data.title}: traces not evaluated, not ok and suspect",
        f"{anchor}-flagged",
        tuple(blocks),
        new_page=len(rows) > _FEW_FLAGGED,
    )


def _reason(sentence: str, verdict: str) -> str:
    """The sentence without the verdict that the column beside it gives."""
    start = f"{verdict}: "
    return sentence[len(start) :] if sentence.lower().startswith(start) else sentence
