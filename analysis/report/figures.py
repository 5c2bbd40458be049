"""The tables of figures: centre, spread and extremes of each quantity beside its limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.figures import CLAMP_FORCE, FINAL_TORQUE, JOINT_RATE, UTILISATION, Figure, figures_for
from analysis.catalogue.rules import window_of
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS
from analysis.joint.force_population import force_population
from analysis.report.content import Cell, ReportColumn, Table
from analysis.report.reported import JointData
from analysis.spread import Spread, spread_of


def figures_table(data: JointData) -> Table:
    """The quantities that decide: centre, spread and extremes beside their limits; clamp force with its
    bounds."""
    shown = _shown(data, figures_for("report"))
    note = "s: standard deviation of the sample. 5 %, 95 %: percentiles. Outside: traces beyond a limit."
    rows = tuple(_figure_row(data, q) for q in shown)
    note += _clamp_note(data, shown) + _hand_note(data)
    return Table("Figures", _columns(), rows, "Figures", note)


def further_figures_table(data: JointData) -> Table:
    """The quantities that no limit holds for."""
    rows = tuple(_figure_row(data, q) for q in _shown(data, figures_for("further")))
    return Table("Further figures", _columns(), rows, "Further figures")


def sound_table(data: JointData) -> Table:
    """The deciding quantities of all traces beside those of the traces that are ok."""
    titles = ("n", "Mean", "s", "Lowest", "Highest")
    columns = (
        ReportColumn("Quantity", weight=2.4),
        ReportColumn("Unit", weight=1.2),
        *(ReportColumn(f"all: {title}", align="right") for title in titles),
        *(ReportColumn(f"ok: {title}", align="right") for title in titles),
    )
    ok = data.verdicts == VERDICTS.index("ok")
    rows = []
    for quantity in _shown(data, figures_for("report")):
        values, factor = data.values(quantity.name), quantity.factor(data.units)
        cells = []
        for part in (values, values[ok]):
            spread = spread_of(part)
            cells.append(Cell(str(spread.n), spread.n))
            for one in (spread.mean, spread.standard_deviation, spread.lowest, spread.highest):
                cells.append(Cell(quantity.text(one, data.units), None if one is None else one * factor))
        rows.append((Cell(quantity.title, quantity.title), Cell(quantity.symbol(data.units)), *cells))
    note = "Ok traces alone flatter a study: judge capability by all first tightenings."
    return Table("All and ok", columns, tuple(rows), "All traces beside the ok ones", note)


def _shown(data: JointData, quantities: tuple[Figure, ...]) -> list[Figure]:
    """Those that any trace has; torque and angle in any case."""
    return [q for q in quantities if q in (FINAL_TORQUE, JOINT_RATE) or spread_of(data.values(q.name)).n]


def _columns() -> tuple[ReportColumn, ...]:
    return (
        ReportColumn("Quantity", weight=3.0),
        ReportColumn("Unit", weight=1.2),
        *(
            ReportColumn(title, align="right")
            for title in ("n", "Median", "Mean", "s", "5 %", "95 %", "Lowest", "Highest")
        ),
        ReportColumn("Limits", weight=1.7, align="right"),
        ReportColumn("Outside", align="right"),
    )


def _hand_note(data: JointData) -> str:
    """Which limits are not those of the joints file."""
    names = ", ".join(key.partition("_limits")[0] for key in sorted(data.set_by_hand))
    return f" Limits set by hand, over the joints file: {names}." if names else ""


def _clamp_note(data: JointData, shown: list[Figure]) -> str:
    """What the clamp force rests on, or why there is none."""
    if CLAMP_FORCE in shown or UTILISATION in shown:
        return (
            " Clamp force: best values of all routes together. Its s, 5 % and 95 % are of a normal model of "
            "ln F: scatter of the best values and the uncertainty of each, without what is common to all."
        )
    if data.definition is None:
        return ""
    reasons = (data.analysis.clamp.reason[row] for row in data.rows.tolist())
    reason = next((text for text in reasons if text), "")
    if not reason:
        return ""
    return (
        f" Clamp force {reason}." if reason.startswith("not ") else f" Clamp force not evaluated: {reason}."
    )


def _figure_row(data: JointData, quantity: Figure) -> tuple[Cell, ...]:
    values = data.values(quantity.name)
    spread = _spread(data, quantity, values)
    limits = data.given_limits(quantity)
    units = data.units

    def cell(value: float | None) -> Cell:
        return Cell(quantity.text(value, units), None if value is None else value * quantity.factor(units))

    if limits is None:
        limit_cell, outside = Cell("none given" if window_of(quantity) else ""), Cell("")
    else:
        low, high = limits
        count = int(((values < low) | (values > high)).sum())
        shown = [_limit(quantity, end, units) for end in limits]
        words = "{}–{}" if np.isfinite(limits).all() else "≥ {}" if np.isfinite(low) else "≤ {1}"
        limit_cell = Cell(words.format(*shown))
        outside = Cell(str(count), count)
    return (
        Cell(quantity.title, quantity.title),
        Cell(quantity.symbol(units)),
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


def _spread(data: JointData, quantity: Figure, values: NDArray[np.float64]) -> Spread:
    """Of the values; best clamp forces scatter less than true ones: their own uncertainty comes back in."""
    spread = spread_of(values)
    forces = force_population(data.analysis.clamp, data.rows) if quantity is CLAMP_FORCE else None
    if forces is None or spread.mean is None:
        return spread
    return replace(
        spread,
        standard_deviation=forces.scatter_share * spread.mean,
        low_5=forces.quantile(0.05),
        high_95=forces.quantile(0.95),
    )


def _limit(quantity: Figure, value: float, units: DisplayUnits) -> str:
    """A limit without the zeros behind its decimals that nobody wrote."""
    text = quantity.text(value, units)
    return text.rstrip("0").rstrip(".") if "." in text else text
