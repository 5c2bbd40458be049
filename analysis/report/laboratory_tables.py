"""Tests with a load cell, and pairs of tightening and loosening, as tables for pages and for the window."""

from __future__ import annotations

from collections.abc import Sequence

from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import ABSENT, Uncertainty, bounded_texts, number_text, with_uncertainty
from analysis.joint.laboratory_table import LaboratoryRow
from analysis.joint.loosening_pairs import LooseningPair
from analysis.report.cells import number_cell
from analysis.report.content import Cell, ReportColumn, Table
from analysis.spread import spread_of

#: Decimals of a coefficient of friction and of K, and of an angle.
_SHARE_DECIMALS, _ANGLE_DECIMALS = 3, 1
#: Columns that a page has no room for, or whose figure is the page's own.
_NOT_ON_PAGES = ("Joint", "Stiffness")


def load_cell_table(tests: Sequence[LaboratoryRow], units: DisplayUnits, *, on_page: bool = True) -> Table:
    """A line for each test with a load cell."""
    columns = (
        ReportColumn("Trace", weight=2.0),
        ReportColumn("Joint"),
        ReportColumn("At force", "kN", align="right", tip="75 % of the proof load (ISO 16047)"),
        ReportColumn("Torque", units.torque, align="right", tip="there, less prevailing torque"),
        ReportColumn("K", align="right", tip="T/(F d)"),
        ReportColumn("Friction", align="right", tip="one coefficient for thread and head"),
        ReportColumn("Stiffness", "N/deg", align="right", tip="measured, in the straight stretch"),
        ReportColumn("Measured", "kN", align="right", tip="clamp force at the final point"),
        ReportColumn("Estimate off", "%", align="right", tip="estimated over measured clamp force, less 1"),
        ReportColumn("Within bounds", tip="whether the measured force lies within the estimate's bounds"),
        ReportColumn("Rises", "deg", 1.5, "right", "where the measured force begins to rise (by torque)"),
        ReportColumn("Straight", "deg", 1.5, "right", "where it becomes straight (snug point by torque)"),
        ReportColumn("Leaves", "deg", 1.5, "right", "where it leaves its line (yield onset by torque)"),
        ReportColumn("Remark", weight=2.6),
    )
    note = (
        "At force: 75 % of the proof load; torque there less prevailing torque. Rises, straight, leaves: by "
        "the measured force, by the rules for torque; in brackets by torque."
    )
    rows = [_test_row(test, units) for test in tests]
    return _table("Laboratory", columns, rows, ("Tests with a load cell", note), on_page)


def _test_row(test: LaboratoryRow, units: DisplayUnits) -> tuple[Cell, ...]:
    result, zones = test.result, test.zones
    places = (
        [(None, None)] * 3 if zones is None else [(p.angle_deg, p.torque_angle_deg) for p in zones.places]
    )
    return (
        Cell(test.trace_id, test.trace_id),
        Cell(test.joint, test.joint),
        _figure(result.reference_force_kn, "kN", units),
        _figure(result.torque_nm, "N·m", units),
        number_cell(result.torque_coefficient, _SHARE_DECIMALS),
        number_cell(result.mu_total, _SHARE_DECIMALS),
        _figure(None if zones is None else zones.force_per_degree_n, "N/deg", units),
        _figure(result.final_force_kn if zones is None else zones.final_force_kn, "kN", units),
        number_cell(None if test.estimate_error is None else 100.0 * test.estimate_error, _ANGLE_DECIMALS),
        _yes_or_no(test.inside),
        *(_place(*place) for place in places),
        Cell("; ".join(part for part in (result.reason, test.remark) if part)),
    )


def pairs_table(
    pairs: Sequence[LooseningPair], trace_ids: Sequence[str], units: DisplayUnits, *, on_page: bool = True
) -> Table:
    """A line for each tightening with its loosening."""
    columns = (
        ReportColumn("Tightening", weight=2.0),
        ReportColumn("Loosening", weight=2.0),
        ReportColumn("Joint"),
        ReportColumn("T_on", units.torque, align="right", tip="final torque less prevailing torque"),
        ReportColumn("T_off", units.torque, align="right", tip="breakaway in loosening less free running"),
        ReportColumn("Clamp force", "kN", align="right", tip="π (T_on − T_off)/P, whatever the friction"),
        ReportColumn("±", "kN", align="right", tip="standard uncertainty, 1 % of each torque"),
        ReportColumn("By torque", "kN", 1.6, tip="what the final torque alone gives over the friction range"),
        ReportColumn("Agree"),
        ReportColumn("Remark", weight=2.6),
    )
    rows = [_pair_row(pair, trace_ids, units) for pair in pairs]
    note = "T_on - T_off = F P/π, prevailing torque taken off both: estimated, not measured."
    return _table("Pairs", columns, rows, ("Tightened and loosened", note), on_page)


def _pair_row(pair: LooseningPair, trace_ids: Sequence[str], units: DisplayUnits) -> tuple[Cell, ...]:
    estimate, bounds = pair.estimate, pair.from_torque_kn
    force, uncertainty = estimate.force_kn, estimate.uncertainty_kn
    texts = (ABSENT, "") if force is None else with_uncertainty(force, Uncertainty(uncertainty))
    return (
        *(Cell(trace_ids[row], trace_ids[row]) for row in (pair.tightening_row, pair.loosening_row)),
        Cell(pair.joint, pair.joint),
        _figure(estimate.tightening_nm, "N·m", units),
        _figure(estimate.loosening_nm, "N·m", units),
        Cell(texts[0], force),
        Cell(texts[1] or ABSENT, uncertainty),
        Cell(ABSENT if bounds is None else " … ".join(bounded_texts(*bounds))),
        _yes_or_no(pair.agrees),
        Cell(estimate.reason or pair.note),
    )


def _table(
    name: str,
    columns: Sequence[ReportColumn],
    rows: Sequence[tuple[Cell, ...]],
    words: tuple[str, str],
    on_page: bool,
) -> Table:
    """On a page without what it has no room for; `words` are title and note."""
    kept = [k for k, one in enumerate(columns) if not (on_page and one.title in _NOT_ON_PAGES)]
    short = tuple(tuple(row[k] for k in kept) for row in rows)
    return Table(name, tuple(columns[k] for k in kept), short, *words)


def spread_facts(tests: Sequence[LaboratoryRow]) -> tuple[tuple[str, str], ...]:
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
    if known:
        pairs.append(("Measured force within the estimate's bounds", f"{sum(known)} of {len(known)}"))
    return tuple(pairs)


def _figure(value: float | None, unit: str, units: DisplayUnits) -> Cell:
    return Cell(units.text(value, unit), None if value is None else units.shown(value, unit))


def _yes_or_no(known: bool | None) -> Cell:
    return Cell(ABSENT) if known is None else Cell(*("yes", "yes") if known else ("no", "no"))


def _place(by_force: float | None, by_torque: float | None) -> Cell:
    first, second = (number_cell(at, _ANGLE_DECIMALS).text for at in (by_force, by_torque))
    return Cell(ABSENT if first == second == ABSENT else f"{first} ({second})", by_force)
