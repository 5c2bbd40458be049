"""What the joint's engineering says, in the report: of one trace on its page, and of tests with a load
cell."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from analysis.catalogue.figures import CLAMP_FORCE, ELASTIC_SLOPE, FINAL_TORQUE
from analysis.catalogue.sentences import Amount
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import ABSENT, number_text
from analysis.joint.calculation import CAUTION
from analysis.joint.clamp_story import TraceEngineering
from analysis.joint.clamp_words import torque_budget
from analysis.joint.definition import JointDefinition
from analysis.joint.expected import expected_fan
from analysis.joint.force_axis import force_axis
from analysis.joint.laboratory import SCOPE
from analysis.joint.laboratory_table import LaboratoryRow
from analysis.joint.laboratory_words import prevailing_or_none
from analysis.joint.loosening_pairs import LooseningPair
from analysis.joint.remaining import estimate_remaining
from analysis.report.back_off_blocks import back_off_blocks
from analysis.report.content import Block, Cell, NamedValues, Paragraph, Plots, ReportColumn, Section, Table
from analysis.report.force_plot import force_plot, route_plot
from analysis.report.reported import JointData
from analysis.spread import spread_of

if TYPE_CHECKING:
    from analysis.analysed import Analysis


#: Decimals of a coefficient of friction and of K, and of an angle.
_SHARE_DECIMALS, _ANGLE_DECIMALS = 3, 1


def engineering_facts(data: JointData, row: int) -> tuple[tuple[str, str], ...]:
    """Torque budget, expectation, what is left and what was measured of one trace, in few words.

    What could not be evaluated is left out here: the reason stands beside the clamp force, and the window
    tells all.
    """
    definition = data.definition
    if definition is None:
        return ()
    found = [
        ("Torque split", _budget(data, row, definition)),
        ("Expected slope", _expected(data, row, definition)),
        ("Left after embedding", _left(data, row, definition)),
        ("Load cell", _measured(data, row)),
    ]
    return tuple((title, text) for title, text in found if text)


def route_blocks(data: JointData, row: int, anchor: str) -> list[Block]:
    """Every route to the clamp force of one trace on one axis; nothing where there is no figure: the reason
    stands beside the clamp force."""
    shown = force_axis(data.analysis.clamp, row, data.definition, data.units)
    plot = route_plot(shown, f"{anchor}-routes")
    return [] if plot is None else [Plots((plot,)), Paragraph(CAUTION, "caution")]


def _budget(data: JointData, row: int, definition: JointDefinition) -> str:
    final = float(data.analysis.curves.final_torque_nm[row])
    clamp = data.analysis.clamp
    taken, force = float(clamp.prevailing_taken_nm[row]), float(clamp.clamp_force_kn[row])
    if not (math.isfinite(final) and math.isfinite(force)):
        return ""
    budget = torque_budget(definition, final, taken, force)
    if isinstance(budget, str):
        return ""
    shares = [
        f"{words} {100.0 * part / budget.total_nm:.0f}"
        for words, part in (
            ("prevailing", budget.prevailing_nm),
            ("bolt", budget.pitch_nm),
            ("thread", budget.thread_nm),
            ("head", budget.bearing_nm),
        )
    ]
    return f"{', '.join(shares)} %"


def _expected(data: JointData, row: int, definition: JointDefinition) -> str:
    slope = float(data.analysis.curves.elastic_slope_nm_per_deg[row])
    fan = expected_fan(definition, prevailing_nm=prevailing_or_none(data.analysis.curves, row))
    if isinstance(fan, str) or not math.isfinite(slope):
        return ""
    low, high = fan.slope_range_nm_per_deg
    where = "flatter" if slope < low else "steeper" if slope > high else "as expected"
    least, most = (
        Amount(x, ELASTIC_SLOPE.unit, bare=k == 0).text(data.units) for k, x in enumerate((low, high))
    )
    return f"{least} to {most}: {where}"


def _left(data: JointData, row: int, definition: JointDefinition) -> str:
    left = estimate_remaining(data.analysis.clamp, row, definition, data.analysis.operations.stages)
    if left.left_low_kn is None or left.left_high_kn is None:
        return ""
    ends = f"{number_text(left.left_low_kn, 1)} to {number_text(left.left_high_kn, 1)}"
    return (
        f"{ends} kN, estimated"
        if left.left_kn is None
        else f"{number_text(left.left_kn, 1)} kN ({ends}), estimated"
    )


def _measured(data: JointData, row: int) -> str:
    zones = engineering(data.analysis).zones(row, data.name or None)
    if isinstance(zones, str) or zones.final_force_kn is None:
        return ""
    text = f"{number_text(zones.final_force_kn, 1)} kN measured"
    if zones.straight.angle_deg is not None:
        text += f"; straight from {number_text(zones.straight.angle_deg, 1)} deg"
    if zones.leaves.angle_deg is not None:
        text += f", leaves its line at {number_text(zones.leaves.angle_deg, 1)} deg"
    return text


def engineering(analysis: Analysis) -> TraceEngineering:
    """What the stories of an analysis are told from."""
    return TraceEngineering(
        analysis.traces,
        analysis.curves,
        analysis.clamp,
        analysis.joints,
        analysis.settings.curve,
        analysis.operations,
    )


def laboratory_section(data: JointData, anchor: str) -> Section | None:
    """Tests with a load cell, pairs of tightening and loosening, back-offs; None where there are none."""
    tests, pairs, backed = _tests(data), _pairs(data), back_off_blocks(data)
    if not tests and not pairs and not backed:
        return None
    blocks: list[Block] = []
    if tests:
        plot = force_plot(data.analysis.traces, tests, f"{anchor}-forces")
        blocks += [_test_table(data, tests), _spread_facts(tests)]
        blocks += [] if plot is None else [Plots((plot,))]
    if pairs:
        blocks.append(_pair_table(data, pairs))
    blocks += backed
    blocks += [Paragraph(SCOPE, "small"), Paragraph(CAUTION, "caution")]
    return Section("Measured clamp force", f"{anchor}-laboratory", tuple(blocks))


def _tests(data: JointData) -> list[LaboratoryRow]:
    """Of this joint alone, with zones by force."""
    return [] if data.definition is None else engineering(data.analysis).tests(_own_names(data))


def _pairs(data: JointData) -> list[LooseningPair]:
    own = set(data.rows.tolist())
    return [pair for pair in engineering(data.analysis).pairs(_own_names(data)) if pair.tightening_row in own]


def _own_names(data: JointData) -> list[str | None]:
    """The joint's name at its own traces, none at the others."""
    own = set(data.rows.tolist())
    return [data.name if row in own else None for row in range(len(data.analysis.traces))]


def _test_table(data: JointData, tests: list[LaboratoryRow]) -> Table:
    unit = data.torque_unit
    columns = (
        ReportColumn("Trace", weight=2.0),
        ReportColumn("At force", "kN", align="right"),
        ReportColumn("Torque", unit, align="right"),
        ReportColumn("K", align="right"),
        ReportColumn("Friction", align="right"),
        ReportColumn("Measured", "kN", align="right"),
        ReportColumn("Estimate off", "%", align="right"),
        ReportColumn("Within bounds"),
        ReportColumn("Rises", "deg", align="right"),
        ReportColumn("Straight", "deg", align="right"),
        ReportColumn("Snug by torque", "deg", align="right"),
        ReportColumn("Remark", weight=2.6),
    )
    note = (
        "At force: 75 % of the proof load; torque there less prevailing torque. Rises and straight: by the "
        "measured force, by the rules for torque."
    )
    rows = tuple(_test_row(data, test) for test in tests)
    return Table("Laboratory", columns, rows, "Tests with a load cell", note)


def _test_row(data: JointData, test: LaboratoryRow) -> tuple[Cell, ...]:
    result, zones = test.result, test.zones
    measured = result.final_force_kn if zones is None else zones.final_force_kn
    places = (None, None, None) if zones is None else (
        zones.rises.angle_deg, zones.straight.angle_deg, zones.straight.torque_angle_deg
    )  # fmt: skip
    error = None if test.estimate_error is None else 100.0 * test.estimate_error
    inside = "" if test.inside is None else "yes" if test.inside else "no"
    return (
        Cell(test.trace_id, test.trace_id),
        _force(result.reference_force_kn),
        _torque(data, result.torque_nm),
        _number(result.torque_coefficient, _SHARE_DECIMALS),
        _number(result.mu_total, _SHARE_DECIMALS),
        _force(measured),
        _number(error, _ANGLE_DECIMALS),
        Cell(inside or ABSENT, inside or None),
        *(_number(place, _ANGLE_DECIMALS) for place in places),
        Cell("; ".join(part for part in (result.reason, test.remark) if part)),
    )


def _spread_facts(tests: list[LaboratoryRow]) -> NamedValues:
    """Mean, deviation, range of K and friction, and how often the estimate held."""
    pairs = []
    for title, values in (
        ("K", [test.result.torque_coefficient for test in tests]),
        ("Friction", [test.result.mu_total for test in tests]),
    ):
        spread = spread_of(values)
        if spread.mean is None:
            pairs.append((title, "not evaluated: no test reaches the reference force"))
            continue
        s, shown = spread.standard_deviation, (spread.mean, spread.lowest, spread.highest)
        mean, *ends = (number_text(v or 0.0, _SHARE_DECIMALS) for v in shown)
        deviation = "" if s is None else f" ± {number_text(s, 4)}"
        pairs.append((title, f"{mean}{deviation}, {' to '.join(ends)} (n = {spread.n})"))
    known = [test.inside for test in tests if test.inside is not None]
    pairs.append(("Measured force within the estimate's bounds", f"{sum(known)} of {len(known)}"))
    return NamedValues(tuple(pairs), columns=1)


def _pair_table(data: JointData, pairs: list[LooseningPair]) -> Table:
    unit = data.torque_unit
    columns = (
        ReportColumn("Tightening", weight=2.0),
        ReportColumn("Loosening", weight=2.0),
        ReportColumn("T_on", unit, align="right"),
        ReportColumn("T_off", unit, align="right"),
        ReportColumn("Clamp force", "kN", align="right"),
        ReportColumn("±", "kN", align="right"),
        ReportColumn("By torque", "kN", weight=1.6),
        ReportColumn("Agree"),
        ReportColumn("Remark", weight=2.6),
    )
    rows = tuple(_pair_row(data, pair) for pair in pairs)
    note = "T_on - T_off = F P/π, prevailing torque taken off both: estimated, not measured."
    return Table("Pairs", columns, rows, "Tightened and loosened", note)


def _pair_row(data: JointData, pair: LooseningPair) -> tuple[Cell, ...]:
    ids, estimate = data.analysis.traces.trace_ids, pair.estimate
    bounds = ABSENT
    if pair.from_torque_kn is not None:
        bounds = " to ".join(CLAMP_FORCE.text(force, data.units) for force in pair.from_torque_kn)
    agree = "" if pair.agrees is None else "yes" if pair.agrees else "no"
    return (
        Cell(ids[pair.tightening_row], ids[pair.tightening_row]),
        Cell(ids[pair.loosening_row], ids[pair.loosening_row]),
        _torque(data, estimate.tightening_nm),
        _torque(data, estimate.loosening_nm),
        _force(estimate.force_kn),
        _force(estimate.uncertainty_kn),
        Cell(bounds),
        Cell(agree or ABSENT, agree or None),
        Cell(estimate.reason or pair.note),
    )


def _torque(data: JointData, torque_nm: float | None) -> Cell:
    shown = None if torque_nm is None else torque_nm * FINAL_TORQUE.factor(data.units)
    return Cell(FINAL_TORQUE.text(torque_nm, data.units), shown)


def _force(force_kn: float | None) -> Cell:
    return Cell(CLAMP_FORCE.text(force_kn, DisplayUnits()), force_kn)


def _number(value: float | None, decimals: int) -> Cell:
    return Cell(ABSENT if value is None else number_text(value, decimals), value)
