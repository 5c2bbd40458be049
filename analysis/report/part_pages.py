"""Records of parts as pages: one part, one page, with all that its verdict stands on."""

from __future__ import annotations

import datetime
import math
from collections.abc import Sequence

import pyarrow as pa

from analysis.catalogue.cautions import JUDGEMENT, NOT_MEASURED
from analysis.catalogue.units import DisplayUnits
from analysis.facts import Facts
from analysis.figure_text import ABSENT, number_text, plural
from analysis.parts.digests import trace_digest
from analysis.parts.history import Step
from analysis.parts.interaction import advise
from analysis.parts.part import Part
from analysis.report.cells import known_cell
from analysis.report.content import (
    Block,
    Bullets,
    Cell,
    JointReport,
    NamedValues,
    Paragraph,
    Plots,
    ReportColumn,
    Section,
    Table,
)
from analysis.report.head import anchor_of, head_of
from analysis.report.part_plots import curves_plot, forces_plot, layout_plot
from analysis.report.template import ReportTemplate, load_template

CAUTION = f"A record says what was recorded, not what was not. {NOT_MEASURED} {JUDGEMENT}"
HISTORY_NOTE = (
    "Verdict then: on the position after this recording. Of a further pass, or a re-hit, only the torque can "
    "be judged: a bolt that is tight turns little. Digest: sha256 of angles and torques, its beginning."
)
#: Signs of a digest that tell recordings of one part apart at a glance; the whole one stands in the log.
_SHORT = 12
_LINE = "_" * 26


def part_reports(
    parts: Sequence[Part],
    facts: Facts,
    digests: Sequence[str],
    *,
    now: datetime.datetime | None = None,
    template: ReportTemplate | None = None,
    units: DisplayUnits | None = None,
    head_digest: str = "",
) -> list[JointReport]:
    """One report with a page for each part.

    Parameters
    ----------
    digests : sequence of str
        Of each part's record.
    head_digest : str
        Last digest of the log that the records were added to.
    """
    template = template or load_template()
    units = units or DisplayUnits(template.torque_unit)
    title = f"Record of part {parts[0].part}" if len(parts) == 1 else "Records of parts"
    head = head_of(template, title, now or datetime.datetime.now(datetime.UTC))
    sections = tuple(
        part_section(part, facts, digest, units, head_digest)
        for part, digest in zip(parts, digests, strict=True)
    )
    return [JointReport("", head, sections, pa.table({}), "parts", units.torque)]


def part_section(
    part: Part, facts: Facts, digest: str, units: DisplayUnits, head_digest: str = ""
) -> Section:
    """One part on one page."""
    began = "" if part.started_at is None else part.started_at.isoformat()
    anchor = f"part-{anchor_of(f'{part.part} {part.joint} {began}')}"
    forces = forces_plot(part, anchor)
    layout = Plots((layout_plot(part, anchor),))
    curves = curves_plot(part, facts, anchor, units)
    blocks: list[Block] = [
        Paragraph(answer(part), "lead"),
        Plots((*layout.plots, forces)) if forces is not None else layout,
        NamedValues(figures(part), 3),
        Bullets(notes(part)),
    ]
    if curves is not None:
        blocks.append(Plots((curves,)))
    blocks += [
        history_table(part, facts, units),
        NamedValues(signatures(digest, head_digest), 2),
        Paragraph(CAUTION, "caution"),
    ]
    title = f"Record of part {part.part}: {part.plan.title}"
    return Section(title, anchor, tuple(blocks), verdict=part.verdict)


def answer(part: Part) -> str:
    """What the record says, in two sentences."""
    recorded = f"{plural(part.found, 'position')} recorded"
    if part.expected is not None:
        known = part.expected - len(part.missing)
        recorded = f"{known} of {plural(part.expected, 'position')} recorded"
    missing = f"; missing: {', '.join(part.missing)}" if part.missing else ""
    open_ = [one for one in part.histories if one.verdict != "ok"]
    if not open_:
        return f"{recorded}{missing}; all of them sound at the end."
    states = ", ".join(f"{one.position or 'the only one'} {one.state}" for one in open_)
    return f"{recorded}{missing}; not sound without reserve: {states}."


def figures(part: Part) -> tuple[tuple[str, str], ...]:
    """Counts, sum and evenness."""
    total = part.total
    pairs = [
        ("Attempts", f"{part.attempts}"),
        ("Reworked", ", ".join(part.reworked) or "none"),
        ("First pass", {True: "ok", False: "not ok", None: "cannot be told"}[part.first_pass_ok]),
    ]
    if math.isfinite(total.sum_kn):
        low, high = number_text(total.low_kn, 1), number_text(total.high_kn, 1)
        pairs += [
            ("Clamp-force sum", f"{number_text(total.sum_kn, 1)} kN ({low} to {high})"),
            ("Highest over lowest", number_text(total.evenness, 3)),
            (
                "s over mean",
                f"{number_text(100.0 * total.variation, 1)} %" if len(part.histories) > 1 else ABSENT,
            ),
        ]
    else:
        pairs.append(("Clamp-force sum", f"none: {total.reason}"))
    plan = part.plan
    if plan.wanted_sum_kn is not None:
        pairs.append(("Wanted sum", f"{plan.wanted_sum_kn:g} kN"))
    if plan.evenness_limit is not None:
        pairs.append(("Most, highest over lowest", f"{plan.evenness_limit:g}"))
    return tuple(pairs)


def notes(part: Part) -> tuple[str, ...]:
    """Findings; spindles together; what the bolts take from one another and what would end even."""
    found = [f"{one.words[0].upper()}{one.words[1:]}." for one in part.findings]
    for some in part.together:
        order = "-".join(one.position for one in some.arrivals)
        snug = f"at snug {'-'.join(some.snug_order)}, " if len(some.snug_order) == len(some.arrivals) else ""
        waits = [f"{one.position} {one.waited_s:.2f} s" for one in some.arrivals if one.waited_s > 0.0]
        waited = f"; stopped under torque: {', '.join(waits)}" if waits else ""
        found.append(
            f"Spindles together, in order of arrival: {snug}at the final point {order}; "
            f"{some.final_spread_s:.2f} s apart{waited}."
        )
    if part.pauses is not None and part.together:
        found.append(part.pauses.words)
    return tuple(found + list(interaction_notes(part)) or ["Nothing unusual."])


def interaction_notes(part: Part) -> tuple[str, ...]:
    """Coefficients, and what they advise."""
    own = part.interaction
    if own is None:
        return ()
    names = [one.position for one in part.histories]
    if len(own.by_class):
        shares = ", ".join(
            f"{number_text(100.0 * c, 1)} ± {100.0 * u:.1f} %"
            for c, u in zip(own.by_class, own.uncertainty, strict=True)
        )
        words = [f"Share of a bolt's gain that others lose, nearest first: {shares} ({own.origin})."]
    else:
        words = [f"Interaction of the bolts {own.origin}."]
    advice = advise(own.c)
    loads = ", ".join(f"{names[k]}: {advice.loads[k]:.2f}" for k in advice.order)
    words.append(
        f"Best order by evenness alone {'-'.join(names[k] for k in advice.order)}, {advice.passes} "
        f"{'pass' if advice.passes == 1 else 'passes'} for a scatter below 1 %; even in one pass with loads, "
        f"in this order and as multiples of the wanted one: {loads}."
    )
    return tuple(words)


def history_table(part: Part, facts: Facts, units: DisplayUnits) -> Table:
    """Every recording of every position in order."""
    columns = (
        ReportColumn("Position", weight=0.8),
        ReportColumn("Time (UTC)", weight=2.1),
        ReportColumn("What it was", weight=2.4),
        ReportColumn("Verdict then", weight=1.2),
        ReportColumn("Torque", units.symbol("N·m"), 0.8, "right"),
        ReportColumn("State at the end", weight=1.8),
        ReportColumn("Recording", weight=1.8),
        ReportColumn("Digest", weight=1.6),
    )
    rows = []
    for one in part.histories:
        if not one.steps:
            rows.append((Cell(one.position), Cell(ABSENT), Cell("no record"), *[Cell(ABSENT)] * 2,
                         Cell(one.words), *[Cell(ABSENT)] * 2))  # fmt: skip
        for k, step in enumerate(one.steps):
            event, torque = step.event, step.event.torque_nm
            time = ABSENT if event.started_at is None else f"{event.started_at:%Y-%m-%d %H:%M:%S}"
            shown = known_cell(torque, "N·m", facts.known(event.row, None, "N·m"), units)
            rows.append((
                Cell(one.position), Cell(time, event.started_at), Cell(_kind(step)),
                Cell(step.verdict or ABSENT, step.verdict, verdict=step.verdict), shown,
                Cell(one.words if k == len(one.steps) - 1 else ""), Cell(event.trace_id, event.trace_id),
                Cell(trace_digest(facts.traces, event.row).partition(":")[2][:_SHORT]),
            ))  # fmt: skip
    return Table("History", columns, tuple(rows), "History of each position", HISTORY_NOTE)


def _kind(step: Step) -> str:
    """What the recording was; its own verdict where that of the position is another one."""
    own = step.event.verdict
    return step.kind if step.verdict in ("", own) else f"{step.kind} (by itself {own})"


def signatures(digest: str, head_digest: str) -> tuple[tuple[str, str], ...]:
    """Lines to sign on, and the digests that the record can be checked by."""
    pairs = [("Made by, date", _LINE), ("Released by, date", _LINE), ("Digest of this record", digest)]
    if head_digest:
        pairs.append(("Last digest of the log", head_digest))
    return tuple(pairs)
