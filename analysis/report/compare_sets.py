"""A report that holds two sets of traces against each other: verdicts, figures, curves."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.account.holding import tail_sentences
from analysis.catalogue.figures import (
    CLAMP_FORCE,
    CLAMP_HIGH,
    CLAMP_LOW,
    FINAL_TORQUE,
    JOINT_RATE,
    UTILISATION,
    Figure,
    figures_for,
)
from analysis.catalogue.findings import in_words
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import WORST_FIRST
from analysis.errors import CallError
from analysis.figure_text import number_text
from analysis.report.answer import leading_causes
from analysis.report.cells import number_cell
from analysis.report.content import (
    Block,
    Bullets,
    Cell,
    JointReport,
    Paragraph,
    Plots,
    ReportColumn,
    Section,
    Table,
)
from analysis.report.head import anchor_of, head_of
from analysis.report.method import basis_section, origin_section, quality_section
from analysis.report.overview import SHORT_CAUTION
from analysis.report.plot_spec import Area, Axis, Curve, PlotSpec
from analysis.report.reference import FEWEST, JointBand, band_of
from analysis.report.reported import JointData
from analysis.report.template import ReportTemplate, load_template
from analysis.report.ticks import padded_range
from analysis.report.words import interval_text, share_text
from analysis.shift.comparison import Comparison, compare
from analysis.spread import wilson_interval

if TYPE_CHECKING:
    from analysis.analysed import Analysis


#: Worked out from final torque: they differ where it does, and are in the table only.
_DERIVED = (CLAMP_FORCE, CLAMP_LOW, CLAMP_HIGH, UTILISATION)
#: Causes that are listed (own choice).
_MOST_CAUSES = 5
_ROLES = ("first set", "second set")


def build_comparison(
    analysis: Analysis,
    first_rows: Sequence[int],
    second_rows: Sequence[int],
    labels: tuple[str, str] = ("first set", "second set"),
    *,
    now: datetime.datetime | None = None,
    template: ReportTemplate | None = None,
    torque_unit: str | None = None,
) -> JointReport:
    """Compare two sets of traces of one joint.

    Parameters
    ----------
    first_rows, second_rows : sequence of int
        Rows of the analysis, no row in both.
    labels : (str, str)
        What the sets are called ("last week", "lot B").
    now, template, torque_unit
        As in `build_reports`.

    Raises
    ------
    CallError
        Where a set is empty, a row is in both sets, or the sets belong to more than one joint.
    """
    template = template or load_template()
    units = DisplayUnits(torque_unit or template.torque_unit)
    results = analysis.results()
    sets = [np.asarray(rows, np.int64) for rows in (first_rows, second_rows)]
    if not all(len(rows) for rows in sets) or set(sets[0].tolist()) & set(sets[1].tolist()):
        raise CallError("two sets without a common trace are compared, each with at least one trace")
    names = {name or "" for rows in sets for name in results.column("joint").take(rows).to_pylist()}
    if len(names) != 1:
        raise CallError(
            f"the traces belong to several joints ({', '.join(sorted(names))}); compare one at a time"
        )
    (name,) = names
    one, other = (JointData(analysis, name, rows, results.take(rows), {}, units) for rows in sets)
    both = replace(one, rows=np.concatenate(sets), records=results.take(np.concatenate(sets)))
    anchor = f"compare-{anchor_of(name)}"
    sections = (
        _summary(one, other, labels, anchor),
        quality_section(both, anchor),
        origin_section(both, anchor),
        basis_section(both, anchor, template),
    )
    head = head_of(
        template, f"{both.title}: {labels[0]} and {labels[1]}", now or datetime.datetime.now(datetime.UTC)
    )
    return JointReport(name, head, sections, both.records, anchor, units.torque)


def _summary(one: JointData, other: JointData, labels: tuple[str, str], anchor: str) -> Section:
    compared = [
        (quantity, _compared(one, other, quantity, labels))
        for quantity in figures_for("report") + figures_for("further")
    ]
    compared = [(q, c) for q, c in compared if q in (FINAL_TORQUE, JOINT_RATE) or min(c.n)]
    independent = [(q, c) for q, c in compared if q not in _DERIVED]
    differing = [c.sentence() for _, c in independent if min(c.n) >= 2 and c.differs]
    blocks: list[Block] = [Paragraph(_lead(one, other, labels, len(differing), len(independent)), "lead")]
    if differing:
        blocks.append(Bullets(tuple(f"{sentence}." for sentence in differing)))
    tails = tail_sentences(one.analysis, one.name, (one.rows, other.rows), labels)
    if tails:
        blocks.append(Bullets(tuple(sentence.text(one.units) for sentence in tails)))
    blocks += [_verdicts(one, other, labels), _figures(compared, one.units, labels)]
    causes = _causes(one, other, labels)
    if causes.rows:
        blocks.append(causes)
    plot = _bands(one, other, labels, anchor)
    if plot is None:
        words = f"Curves are not compared: each set needs at least {FEWEST} with a snug point."
        blocks.append(Paragraph(words, "small"))
    else:
        blocks.append(Plots((plot,)))
    blocks.append(Paragraph(SHORT_CAUTION, "caution"))
    return Section(f"{one.title}: comparison", f"{anchor}-summary", tuple(blocks))


def _lead(one: JointData, other: JointData, labels: tuple[str, str], differing: int, compared: int) -> str:
    """The share not ok of both sets and whether it differs, then how many quantities do."""
    shares = [
        f"{share_text(data.counts['not ok'], len(data))} of {label} (n = {len(data)})"
        for data, label in zip((one, other), labels, strict=True)
    ]
    apart = (
        "the 95 % intervals do not overlap" if _apart(one, other, "not ok") else "the 95 % intervals overlap"
    )
    return (
        f"Not ok: {shares[0]} and {shares[1]}; {apart}. {differing} of {compared} quantities "
        f"{'differs' if differing == 1 else 'differ'}."
    )


def _causes(one: JointData, other: JointData, labels: tuple[str, str]) -> Table:
    """Likeliest causes of the flagged traces in both sets, most frequent first."""
    counts = [dict(leading_causes(data)) for data in (one, other)]
    names = sorted({*counts[0], *counts[1]}, key=lambda name: (-sum(c.get(name, 0) for c in counts), name))
    columns = (
        ReportColumn("Likeliest cause", weight=2.0),
        *(ReportColumn(label, "traces", 1.0, "right") for label in labels),
    )
    rows = tuple(
        (Cell(in_words(name), name), *(Cell(str(c.get(name, 0)), c.get(name, 0)) for c in counts))
        for name in names[:_MOST_CAUSES]
    )
    rest = ", ".join(in_words(name) for name in names[_MOST_CAUSES:])
    return Table("Causes", columns, rows, "Causes", f"Also: {rest}." if rest else "")


def _compared(one: JointData, other: JointData, quantity: Figure, labels: tuple[str, str]) -> Comparison:
    first, second = (data.values(quantity.name) * quantity.factor(data.units) for data in (one, other))
    return compare(first, second, quantity.title, quantity.symbol(one.units), labels)


def _verdicts(one: JointData, other: JointData, labels: tuple[str, str]) -> Table:
    rows = []
    for name in WORST_FIRST:
        cells = [Cell(name, name, verdict=name)]
        for data in (one, other):
            count, n = data.counts[name], len(data)
            cells += [
                Cell(str(count), count),
                Cell(share_text(count, n), count / n),
                Cell(interval_text(count, n)),
            ]
        rows.append(tuple(cells))
    columns = [ReportColumn("Verdict", weight=1.4)]
    for label in labels:
        columns += [
            ReportColumn(label, "traces", 1.2, "right"),
            ReportColumn("Share", align="right"),
            ReportColumn("95 % interval", weight=1.3, align="right"),
        ]
    apart = [name for name in WORST_FIRST if _apart(one, other, name)]
    note = (
        f"The intervals do not overlap for: {', '.join(map(in_words, apart))}."
        if apart
        else "All intervals overlap."
    )
    return Table("Verdicts", tuple(columns), tuple(rows), "Verdicts", note)


def _apart(one: JointData, other: JointData, verdict: str) -> bool:
    low, high = wilson_interval(one.counts[verdict], len(one))
    other_low, other_high = wilson_interval(other.counts[verdict], len(other))
    return high < other_low or other_high < low


def _figures(
    compared: list[tuple[Figure, Comparison]], units: DisplayUnits, labels: tuple[str, str]
) -> Table:
    columns = (
        ReportColumn("Quantity", weight=2.6),
        ReportColumn("Unit", weight=1.1),
        ReportColumn("n", labels[0], 1.1, "right"),
        ReportColumn("n", labels[1], 1.1, "right"),
        ReportColumn("Median", labels[0], 1.2, "right"),
        ReportColumn("Median", labels[1], 1.2, "right"),
        ReportColumn("Robust s", labels[0], 1.2, "right"),
        ReportColumn("Robust s", labels[1], 1.2, "right"),
        ReportColumn("Median of pairwise differences", weight=1.6, align="right"),
        ReportColumn("95 % interval", weight=2.0, align="right"),
    )
    rows = []
    for quantity, one in compared:
        digits = quantity.digits(units)
        numbers = (*one.medians, *one.spreads, one.difference)
        interval = (
            f"{number_text(one.low, digits)} to {number_text(one.high, digits)}"
            if np.isfinite(one.low)
            else "–"
        )
        cells = [Cell(quantity.title, quantity.title), Cell(quantity.symbol(units))]
        cells += [Cell(str(n), n) for n in one.n]
        cells += [number_cell(v, digits) for v in numbers]
        rows.append((*cells, Cell(interval)))
    note = (
        "Median of pairwise differences: second less first (Hodges and Lehmann), with the interval of the "
        "Mann-Whitney test; it is not the difference of the two medians. Robust s: standard deviation from "
        "the median absolute deviation."
    )
    return Table("Figures", columns, tuple(rows), "Figures", note)


def _bands(one: JointData, other: JointData, labels: tuple[str, str], anchor: str) -> PlotSpec | None:
    bands = [band_of(data, data.rows, label) for data, label in zip((one, other), labels, strict=True)]
    if not all(bands):
        return None
    low = min(float(band.from_snug_deg[0]) for band in bands)
    high = max(float(band.from_snug_deg[-1]) for band in bands)
    laid = [_in_role(band, role) for band, role in zip(bands, _ROLES, strict=True)]
    top = max(float(band.high.max()) for band in bands)
    return PlotSpec(
        name=f"{anchor}-bands",
        title="Curves of both sets, aligned at the snug point",
        caption="Line: median; band: 5–95 % of all curves of the set with a snug point, up to the final "
        "point.",
        x=Axis("Angle from snug", "deg", low, high),
        y=Axis("Torque", one.torque_unit, 0.0, padded_range(0.0, max(top, 1e-6))[1]),
        height_pt=230.0,
        bands=tuple(band for band, _ in laid),
        curves=tuple(curve for _, curve in laid),
        key=tuple((role, "line", label) for role, label in zip(_ROLES, labels, strict=True)),
        flexible=True,
    )


def _in_role(band: JointBand, role: str) -> tuple[Area, Curve]:
    x = band.from_snug_deg
    return Area(x, band.low, band.high, role), Curve(x, band.median, role, 1.4)
