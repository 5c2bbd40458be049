"""What the cells of the table of verdicts say of a trace: texts, tips, margin."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS
from analysis.figure_text import SIGNIFICANT_DIGITS, UNKNOWN, Uncertainty, difference_text
from app.display.columns import ColumnSet
from app.display.messages import tr
from app.display.shown_axis import ShownAxis, is_place

if TYPE_CHECKING:
    from app.display.figure_uncertainties import FigureUncertainties
    from app.display.margins import Margins


@dataclass(frozen=True, eq=False)
class VerdictCells:
    """Columns, margins, verdicts and uncertainties of the traces, and in which units they are shown.

    Without uncertainties, figures have four digits.
    """

    columns: ColumnSet
    units: DisplayUnits
    axis: ShownAxis
    margins: Margins | None = None
    verdicts: NDArray[np.int8] | None = None
    uncertainties: FigureUncertainties | None = None

    def text(self, name: str, row: int) -> str:
        """What the column of this name says of a trace."""
        special = _SPECIAL.get(name)
        return self.plain(name, row) if special is None else special(self, row)

    def plain(self, name: str, row: int) -> str:
        """A column of the results as it is; empty where there is none."""
        column = self.columns.get(name)
        return column.words(row) if column is not None else ""

    def share(self, row: int) -> float | None:
        """Margin as a share; None where there is none."""
        if self.margins is None or np.isnan(self.margins.share[row]):
            return None
        return float(self.margins.share[row])

    def tip(self, name: str, row: int) -> str:
        """What is told of a cell beside its text."""
        if name == "verdict":
            return self.plain("findings", row) or self.plain("not_evaluated_reason", row)
        if name == "disposition":
            return self.plain("note", row)
        if name == "trace_id" and (moved := self.plain("by_hand", row)):
            return f"{self.text(name, row)}\n{tr('moved by hand: {0}', moved)}"
        if name == "value":
            return self._value_tip(row)
        return self.text(name, row)

    def _verdict_word(self, row: int) -> str:
        return VERDICTS[self.verdicts[row]] if self.verdicts is not None else ""

    def _cause_text(self, row: int) -> str:
        return self.plain("cause", row).replace("-", " ")

    def _time_text(self, row: int) -> str:
        column = self.columns.get("started_at")
        if column is None or bool(column.missing[row]):
            return ""
        return self.units.clock(float(column.values[row]))

    def _quantity_text(self, row: int) -> str:
        return str(self.margins.title[row]) if self.margins is not None else ""

    def _unit(self, row: int) -> str:
        """Internal unit of the deciding figure."""
        assert self.margins is not None
        column = self.columns.get(str(self.margins.quantity[row]))
        return column.unit if column is not None else ""

    def _value_text(self, row: int) -> str:
        if self.margins is None or not self.margins.quantity[row]:
            return ""
        unit, value = self._unit(row), self._value(row)
        return self.units.value(
            value, unit, self._uncertainty(row), with_symbol=True, most=SIGNIFICANT_DIGITS
        )

    def _value(self, row: int) -> float:
        """The deciding figure, a place on the axis that is shown."""
        assert self.margins is not None
        value = float(self.margins.value[row])
        return self.axis.value(row, value) if is_place(str(self.margins.quantity[row])) else value

    def _uncertainty(self, row: int) -> Uncertainty:
        """How well the deciding figure is known."""
        assert self.margins is not None
        if self.uncertainties is None:
            return UNKNOWN
        return self.uncertainties.of(str(self.margins.quantity[row]), self._unit(row), row)

    def _value_tip(self, row: int) -> str:
        """The deciding figure with its uncertainty, for which the column has no room."""
        if self.margins is None or not self.margins.quantity[row]:
            return ""
        unit, value = self._unit(row), self._value(row)
        return f"{self._quantity_text(row)}: {self.units.measured(value, unit, self._uncertainty(row))}"

    def _margin_text(self, row: int) -> str:
        """In the figure's unit, as the list of rules has it; of a sign, how many times its threshold."""
        share = self.share(row)
        if share is None or self.margins is None:
            return ""
        margin = float(self.margins.margin[row])
        if not np.isfinite(margin):
            return f"{1.0 - share:.1f} ×"
        unit, limit, known = self._unit(row), float(self.margins.limit[row]), self._uncertainty(row)
        if np.isnan(limit) or margin == 0.0:
            return self.units.value(
                margin, unit, known, with_symbol=True, signed=True, most=SIGNIFICANT_DIGITS
            )
        value = float(self.margins.value[row])
        side = 1.0 if (value - limit) * margin >= 0.0 else -1.0
        factor = self.units.factor(unit)
        words = difference_text(side * value, side * limit, known, factor, signed=True)
        return f"{words} {self.units.symbol(unit)}".rstrip()


#: Columns that say something else than the results do.
_SPECIAL: dict[str, Callable[[VerdictCells, int], str]] = {
    "verdict": VerdictCells._verdict_word,
    "started_at": VerdictCells._time_text,
    "quantity": VerdictCells._quantity_text,
    "value": VerdictCells._value_text,
    "margin": VerdictCells._margin_text,
    "cause": VerdictCells._cause_text,
}
