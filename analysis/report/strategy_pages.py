"""The strategies for one joint as a page: on one force axis, what to set, what fails, what was published."""

from __future__ import annotations

import datetime

import numpy as np
import pyarrow as pa

from analysis.catalogue.cautions import JUDGEMENT
from analysis.catalogue.sentences import INTERNAL, as_text
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import ABSENT
from analysis.joint.definition import JointDefinition
from analysis.joint.derived import derive
from analysis.report.cells import number_cell
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
from analysis.report.plot_spec import Area, Axis, Curve, LimitLine, Mark, PlotSpec
from analysis.report.template import ReportTemplate, load_template
from analysis.report.ticks import padded_range
from analysis.strategy.advice import Advice, StrategyFigures
from analysis.strategy.words import (
    FEW_DIGITS,
    PUBLISHED,
    SMALL_KN,
    cautions,
    choice,
    failing,
    share_words,
    what_carries,
)

CAUTION = (
    "Clamp force is computed from friction, stiffness and strength as stated, not measured; what is stated "
    "wrong is computed wrong. Scatter of tool and bolts' lot are own choices until a study or certificates "
    f"say better. {JUDGEMENT}"
)
_HALF_HEIGHT = 0.42


def strategy_report(
    advice: Advice,
    definition: JointDefinition,
    source: str = "",
    *,
    now: datetime.datetime | None = None,
    template: ReportTemplate | None = None,
    units: DisplayUnits = INTERNAL,
) -> JointReport:
    """The advice as a report of one page.

    Parameters
    ----------
    source : str
        What was taken from the joint's own traces.
    """
    template = template or load_template()
    anchor = f"strategy-{anchor_of(definition.name)}"
    head = head_of(template, f"Strategies for {definition.title}", now or datetime.datetime.now(datetime.UTC))
    blocks = strategy_blocks(advice, definition, anchor, source, units)
    section = Section(f"{definition.title}: ways of tightening", anchor, blocks)
    return JointReport(definition.name, head, (section,), pa.table({}), anchor)


def strategy_blocks(
    advice: Advice,
    definition: JointDefinition,
    anchor: str,
    source: str = "",
    units: DisplayUnits = INTERNAL,
) -> tuple[Block, ...]:
    """What the page shows."""
    known = [one for one in advice.strategies if one.mean_kn is not None]
    blocks: list[Block] = [Paragraph(choice(advice, definition), "lead")]
    if known:
        blocks.append(Plots((force_axis_plot(advice, anchor),)))
    blocks.append(figures_table(advice, definition, units))
    blocks.append(Bullets(tuple(as_text(words, units) for words in cautions(advice, definition))))
    if advice.joint.stripping_kn is None:
        blocks.append(published_table(advice))
    else:
        blocks.append(plastic_table(definition, units))
    blocks += [inputs_facts(advice, source, units), Paragraph(CAUTION, "caution")]
    return tuple(blocks)


def plastic_table(definition: JointDefinition, units: DisplayUnits) -> Table:
    """Expected torques of a screw in plastic."""
    columns = (
        ReportColumn("Expected", weight=2.4), ReportColumn("Value", align="right"),
        ReportColumn("Formula", weight=2.2), ReportColumn("Source", weight=2.6),
    )  # fmt: skip
    rows = tuple(
        (
            Cell(one.name, one.name),
            Cell(units.text(one.value, one.unit, with_symbol=True), units.shown(one.value, one.unit)),
            Cell(one.formula), Cell(one.source),
        )
        for one in derive(definition) if one.value is not None
    )  # fmt: skip
    note = (
        "h depth of the thread, m its mean diameter, α its flank angle, A the engaged flanks, q the pressure "
        "on them: 0.3 to 1 of the plastic's yield strength σ."
    )
    return Table("Plastic", columns, rows, "Screw in plastic: what is to be expected", note)


def figures_table(advice: Advice, definition: JointDefinition, units: DisplayUnits = INTERNAL) -> Table:
    """One row a strategy."""
    columns = (
        ReportColumn("Strategy", weight=2.0),
        ReportColumn("Set", weight=2.2),
        ReportColumn("Mean", "kN", align="right", weight=0.8),
        ReportColumn("s", "%", align="right", weight=0.9),
        ReportColumn("P0.135", "kN", align="right", weight=0.9),
        ReportColumn("P99.865", "kN", align="right", weight=0.9),
        ReportColumn("Factor", align="right", weight=0.8),
        ReportColumn("Below wanted", weight=1.5),
        ReportColumn("Yielded", weight=1.5),
        ReportColumn("What carries the scatter", weight=3.4),
        ReportColumn("What speaks against it", weight=2.4),
    )
    rows = tuple(_row(one, advice, definition, units) for one in advice.strategies)
    note = (
        "Forces as tightened; factor: P99.865 over P0.135. An angle window rejects "
        "the twentieth of the joints that turn least or most."
    )
    return Table("Strategies", columns, rows, "Strategies", note)


def _row(
    one: StrategyFigures, advice: Advice, definition: JointDefinition, units: DisplayUnits
) -> tuple[Cell, ...]:
    against = failing(one, advice.joint, definition)
    figures = (one.mean_kn, one.s_percent, one.p0135_kn, one.p99865_kn, one.tightening_factor)
    digits = FEW_DIGITS if one.mean_kn is not None and one.mean_kn < SMALL_KN else 1
    per_cent = 1 if one.s_percent is not None and one.s_percent >= 10.0 else 2
    return (
        Cell(one.name, one.name),
        Cell(as_text(one.settings_words, units) or ABSENT),
        *(
            number_cell(value, digits)
            for value, digits in zip(figures, (digits, per_cent, digits, digits, 2), strict=True)
        ),
        *(
            Cell(ABSENT if share is None else share_words(share), share)
            for share in (one.share_below_wanted, one.share_yielded)
        ),
        Cell(what_carries(one, advice.joint)),
        Cell(ABSENT if one.mean_kn is None else against or "nothing found"),
    )


def published_table(advice: Advice) -> Table:
    """The tightening factors found, beside published ones."""
    of = {one.name: one.tightening_factor for one in advice.strategies}
    columns = (
        ReportColumn("Strategy", weight=1.6),
        ReportColumn("Factor here", align="right"),
        ReportColumn("Published", weight=1.2),
        ReportColumn("For", weight=1.8),
        ReportColumn("Source", weight=2.6),
    )
    rows = tuple(
        (
            Cell(name, name), number_cell(of[name], 2),
            Cell(f"{one.low:.2f}" if one.low == one.high else f"{one.low:.2f} to {one.high:.2f}"),
            Cell(one.words), Cell(one.source + (", recalled, not confirmed" if one.recalled else "")),
        )
        for name, several in PUBLISHED.items() for one in several
    )  # fmt: skip
    return Table("Published", columns, rows, "Tightening factors beside published ones")


def inputs_facts(advice: Advice, source: str, units: DisplayUnits = INTERNAL) -> NamedValues:
    """Every input with its origin."""
    joint, settings = advice.joint, advice.joint.settings
    target, snug = (f"{units.given(one, 'N·m')} {units.torque}" for one in (joint.target_nm, joint.snug_nm))
    rate = joint.stiffness_kn_per_deg
    pairs = [
        ("Friction in the thread", f"{joint.mu_thread[0]:.3f}, s {joint.mu_thread[1]:.4f}"),
        ("Friction under the head", f"{joint.mu_bearing[0]:.3f}, s {joint.mu_bearing[1]:.4f}"),
        ("Correlation of the two", f"{settings.friction_correlation:g}"),
        ("Target torque", f"{target}, s {settings.torque_scatter_percent:.2f} %"),
        ("Snug torque", f"{snug}, s {settings.snug_torque_scatter_percent:g} %"),
        ("Angle", f"s {settings.angle_scatter_deg:g} deg"),
        (
            "Clamp force per degree",
            ABSENT if rate is None else f"{rate:.3f} kN/deg, s {settings.stiffness_scatter_percent:g} %",
        ),
        *((f"Origin: {name.lower()}", words) for name, words in joint.origins.items()),
    ]
    if source:
        pairs.append(("Own traces", source))
    return NamedValues(tuple(pairs), columns=2)


def force_axis_plot(advice: Advice, anchor: str) -> PlotSpec:
    """Outline of each strategy over one force axis, with what is wanted, proof and yield."""
    known = [one for one in advice.strategies if one.outline is not None]
    joint = advice.joint
    lines = [
        (value, words)
        for value, words in (
            (joint.wanted_kn, "wanted"),
            (joint.proof_kn, "proof load"),
            (joint.yield_kn() if joint.least_yield_mpa else None, "yield"),
            (joint.stripping_kn, "stripping"),
        )
        if value is not None
    ]
    ends = [force for one in known for force in (one.p0135_kn, one.p99865_kn) if force is not None]
    low, high = padded_range(min([*ends, *(v for v, _ in lines)]), max([*ends, *(v for v, _ in lines)]), 0.05)
    places = {one.name: float(len(known) - k) for k, one in enumerate(known)}
    return PlotSpec(
        name=f"{anchor}-force",
        title="Clamp force of each strategy",
        caption="Each from P0.135 to P99.865, higher where more frequent; dots at the median.",
        x=Axis("Clamp force, computed", "kN", low, high),
        y=Axis("Strategy", "", 0.4, len(known) + 1.4, tuple((at, "") for at in places.values())),
        height_pt=170.0,
        bands=tuple(_outline(one, places[one.name]) for one in known),
        curves=tuple(_base(one, places[one.name]) for one in known),
        limits=tuple(LimitLine("x", value, words) for value, words in lines),
        marks=tuple(
            Mark(float(one.p50_kn or 0.0), places[one.name], "circle", "ink", one.name) for one in known
        ),
    )


def _outline(one: StrategyFigures, place: float) -> Area:
    assert one.outline is not None
    force, height = one.outline
    return Area(
        force, place - _HALF_HEIGHT * height, place + _HALF_HEIGHT * height, "reference band", one.name
    )


def _base(one: StrategyFigures, place: float) -> Curve:
    ends = np.array([one.p0135_kn, one.p99865_kn], np.float64)
    return Curve(ends, np.full(2, place), "reference median", 1.0)
