"""Import mapping: what a file looks like, what its columns are, and a first trace as a trial.

Before it is read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from PySide6.QtCore import QSignalBlocker, Signal
from PySide6.QtGui import QStandardItem, QStandardItemModel
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QFormLayout,
    QLineEdit,
    QSpinBox,
    QTableView,
    QWidget,
)

from analysis.errors import ImportMappingError
from analysis.reading import ImportMapping, MappedColumn, MappingLibrary, Preview, preview
from analysis.reading.column_guess import column_key, stated_unit
from analysis.reading.import_mapping import ARRANGEMENTS
from analysis.reading.preview import SEVERAL_CURVES
from analysis.traces.schema import CHANNELS
from analysis.traces.units import UNITS
from app.display.look import Look
from app.display.messages import count_words, tr
from app.display.spacing import PLOT_WINDOW
from app.views.opening.trial_plot import TrialPlot
from app.views.parts.buttons import PushButton
from app.views.parts.layouts import column, row, split
from app.views.parts.plain_label import PlainLabel

#: A column of long texts leaves room for others.
_WIDEST_COLUMN_PX = 260
_SEPARATORS = ((",", "comma"), (";", "semicolon"), ("\t", "tab"), (" ", "space"), ("|", "vertical bar"))
_QUANTITY = {
    "angle_deg": "angle",
    "torque_nm": "torque",
    "time_s": "time",
    "speed_rpm": "speed",
    "clamp_force_kn": "force",
}
_WORDS = {
    "angle_deg": "Angle",
    "torque_nm": "Torque",
    "time_s": "Time",
    "step": "Step",
    "speed_rpm": "Speed",
    "clamp_force_kn": "Clamp force",
    "trace_id": "Trace name",
}
_TARGETS = (*CHANNELS, "trace_id")


class MappingDialog(QDialog):
    """Shows a preview that follows every change; "Import" is possible once a trial trace was read."""

    confirmed = Signal(object, object)  #: (mapping, paths)

    def __init__(
        self, paths: Sequence[str], library: MappingLibrary, look: Look, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.paths = tuple(paths)
        self.library = library
        self.setWindowTitle(tr("Import mapping"))
        self.resize(*PLOT_WINDOW)
        self.shown: Preview = preview(self.paths[0], library.find(self.paths[0]))
        #: Channels whose column was chosen by hand: no guess takes these back.
        self._by_hand: set[str] = set()
        self.columns: dict[str, QComboBox] = {}
        self.units: dict[str, QComboBox] = {}
        self.lead = PlainLabel()
        self.lead.setWordWrap(True)
        self.cells = QStandardItemModel(self)
        self.rows = QTableView()
        self.rows.setModel(self.cells)
        self.rows.setAccessibleName(tr("First rows of the file"))
        self.rows.setEditTriggers(QTableView.EditTrigger.NoEditTriggers)
        self.rows.horizontalHeader().setMaximumSectionSize(_WIDEST_COLUMN_PX)
        self.trial = TrialPlot(look)
        self.problem = PlainLabel()
        self.problem.setObjectName("refusal")
        self.problem.setWordWrap(True)
        self.name, self.pattern = QLineEdit(), QLineEdit()
        self.read, self.read_and_save = (
            PushButton(tr("Import")),
            PushButton(tr("Import and save mapping")),
        )
        self.read.setDefault(True)
        self.cancel = PushButton(tr("Cancel"))
        self._make_choices()
        self._build()
        self._connect()
        self._show_mapping(self.shown.mapping)
        self.refresh()

    def _make_choices(self) -> None:
        self.arrangement, self.separator, self.decimal, self.thousands = (QComboBox() for _ in range(4))
        for words in ARRANGEMENTS:
            self.arrangement.addItem(tr(words.replace("row a ", "row per ")), words)
        for box, choices in (
            (self.separator, _SEPARATORS),
            (self.decimal, ((".", "point"), (",", "comma"))),
            (self.thousands, ((".", "point"), (",", "comma"), ("'", "apostrophe"), (" ", "space"))),
        ):
            box.addItem(tr("automatic"), None)
            for sign, words in choices:
                box.addItem(tr(words), sign)
        self.header, self.first = QSpinBox(), QSpinBox()
        for spin, lowest in ((self.header, -1), (self.first, 0)):
            spin.setRange(lowest, 10_000)
            spin.setSpecialValueText(tr("automatic"))
        for target in _TARGETS:
            self.columns[target] = QComboBox()
            self.columns[target].setAccessibleName(tr("Column of {0}", tr(_WORDS[target])))
            if target in _QUANTITY:
                box = QComboBox()
                box.addItem(tr("stated in the file"), "")
                for unit in UNITS.values():
                    if unit.quantity == _QUANTITY[target]:
                        box.addItem(unit.symbol, unit.symbol)
                box.setAccessibleName(tr("Unit of {0}", tr(_WORDS[target])))
                self.units[target] = box

    def _build(self) -> None:
        form = QFormLayout()
        for words, widget in (
            (tr("Arrangement"), self.arrangement),
            (tr("Separator"), self.separator),
            (tr("Decimal sign"), self.decimal),
            (tr("Thousands sign"), self.thousands),
            (tr("Header in line"), self.header),
            (tr("First row in line"), self.first),
        ):
            widget.setAccessibleName(words)
            form.addRow(words, widget)
        for target, box in self.columns.items():
            entry = row((box, 2), *([(self.units[target], 1)] if target in self.units else ()))
            form.addRow(tr(_WORDS[target]) + (" *" if target in ("angle_deg", "torque_nm") else ""), entry)
        form.addRow(tr("Mapping name"), self.name)
        form.addRow(tr("For files matching"), self.pattern)
        left, right = QWidget(), split(self.rows, self.trial, sizes=(1, 1), vertical=True)
        left.setLayout(form)
        foot = row((self.problem, 1), self.read, self.read_and_save, self.cancel)
        column(self.lead, (split(left, right, sizes=(380, 600)), 1), foot, on=self)

    def _connect(self) -> None:
        for box in (self.arrangement, self.decimal, self.thousands, *self.units.values()):
            box.activated.connect(lambda _index: self.refresh())
        for target, box in self.columns.items():
            box.activated.connect(lambda _index, target=target: self._choose_column(target))
        self.separator.activated.connect(lambda _index: self._look_afresh())
        self.header.valueChanged.connect(lambda _value: self._look_afresh())
        self.first.valueChanged.connect(lambda _value: self.refresh())
        self.read.clicked.connect(self.confirm)
        self.read_and_save.clicked.connect(self.save_and_confirm)
        self.cancel.clicked.connect(self.reject)

    def _show_mapping(self, mapping: ImportMapping) -> None:
        for box, value in (
            (self.arrangement, mapping.arrangement),
            (self.separator, mapping.separator),
            (self.decimal, mapping.decimal),
            (self.thousands, mapping.thousands),
        ):
            box.setCurrentIndex(max(box.findData(value), 0))
        with QSignalBlocker(self.header), QSignalBlocker(self.first):
            self.header.setValue(-1 if mapping.header_line is None else mapping.header_line)
            self.first.setValue(mapping.first_line or 0)
        self._fill_columns()
        self._show_columns(mapping)
        stem = Path(self.paths[0])
        self.name.setText(mapping.name or stem.stem)
        self.pattern.setText(", ".join(mapping.file_patterns) or f"*{stem.suffix}")

    def _show_columns(self, mapping: ImportMapping) -> None:
        """Columns and units of a mapping; those that were chosen by hand stay."""
        for target, box in self.columns.items():
            mapped = mapping.columns.get(target)
            if target not in self._by_hand:
                box.setCurrentIndex(0 if mapped is None else max(box.findData(mapped.column), 0))
                self._show_unit(target, "" if mapped is None else mapped.unit)

    def _show_unit(self, target: str, symbol: str) -> None:
        if target in self.units:
            box = self.units[target]
            box.setCurrentIndex(max(box.findData(symbol), 0))

    def _choose_column(self, target: str) -> None:
        """A column was chosen by hand; the unit that it states goes with it."""
        self._by_hand.add(target)
        place = self.columns[target].currentIndex() - 1
        if place >= 0 and target in self.units:
            headers, units = self.shown.headers, self.shown.units
            unit = stated_unit(target, headers[place], units[place] if place < len(units) else "")
            self._show_unit(target, unit.symbol if unit is not None else "")
        self.refresh()

    def _look_afresh(self) -> None:
        """Another header or separator: the columns are other ones, and are guessed anew."""
        header = self.header.value()
        known = replace(
            ImportMapping(),
            separator=self.separator.currentData(),
            header_line=None if header < 0 else header,
        )
        found = preview(self.paths[0], known)
        suggested = found.suggested
        self.shown = found
        self._fill_columns()
        self._by_hand = {target for target in self._by_hand if self.columns[target].currentIndex() > 0}
        self._show_columns(suggested)
        with QSignalBlocker(self.first):
            self.first.setValue(found.first_line)
        if "trace_id" not in self._by_hand:
            self.arrangement.setCurrentIndex(max(self.arrangement.findData(suggested.arrangement), 0))
        self.decimal.setCurrentIndex(max(self.decimal.findData(suggested.decimal), 0))
        self.refresh()

    def _fill_columns(self) -> None:
        """Offer the columns as they are found now; what was chosen stays chosen."""
        shown = self.shown
        offers: list[tuple[str, Any]] = [
            (f"{n}: {h}" if h else f"{n}", column_key(shown.headers, n - 1))
            for n, h in enumerate(shown.headers, 1)
        ]
        if not offers and shown.rows:
            offers = [(f"{n}", n) for n in range(1, len(shown.rows[0]) + 1)]
        for box in self.columns.values():
            chosen = box.currentData()
            with QSignalBlocker(box):
                box.clear()
                box.addItem(tr("none"), None)
                for words, value in offers:
                    box.addItem(words, value)
                box.setCurrentIndex(max(box.findData(chosen), 0))

    def mapping(self) -> ImportMapping:
        """The mapping as it is chosen now."""
        columns = {
            target: MappedColumn(box.currentData(), self._unit(target))
            for target, box in self.columns.items()
            if box.currentData() is not None
        }
        header = self.header.value()
        return replace(
            self.shown.mapping,
            name=self.name.text().strip(),
            file_patterns=tuple(part.strip() for part in self.pattern.text().split(",") if part.strip()),
            arrangement=self.arrangement.currentData(),
            columns=columns,
            separator=self.separator.currentData(),
            decimal=self.decimal.currentData(),
            thousands=self.thousands.currentData(),
            header_line=None if header < 0 else header,
            first_line=self.first.value() or None,
        )

    def _unit(self, target: str) -> str:
        return str(self.units[target].currentData()) if target in self.units else ""

    def refresh(self) -> None:
        """Look at the file again by what is chosen now."""
        self.shown = preview(self.paths[0], self.mapping())
        self._fill_columns()
        self._show_rows()
        others = count_words(len(self.paths) - 1, "more file", "more files")
        more = tr(" and {0}", others) if len(self.paths) > 1 else ""
        self.lead.setText(
            tr(
                "{0}{1}: check columns and units against the picture; choose what the file does not state.",
                Path(self.paths[0]).name,
                more,
            )
        )
        self.trial.show_trace(self.shown.trace, self._torque_unit())
        self.problem.setText(self._uncertain())
        for target, box in self.units.items():
            missing = self.columns[target].currentData() is not None and not self._stated(target)
            box.setItemText(0, tr("choose the unit") if missing else tr("stated in the file"))
        usable = self.shown.trace is not None
        self.read.setEnabled(usable)
        self.read_and_save.setEnabled(usable)

    def _stated(self, target: str) -> str:
        """The unit that the file states for the column that is chosen; empty where it states none."""
        place, shown = self.columns[target].currentIndex() - 1, self.shown
        if not 0 <= place < len(shown.headers):
            return ""
        unit = stated_unit(
            target, shown.headers[place], shown.units[place] if place < len(shown.units) else ""
        )
        return unit.symbol if unit is not None else ""

    def _torque_unit(self) -> str:
        return self._unit("torque_nm") or self._stated("torque_nm") or "N·m"

    def _uncertain(self) -> str:
        """What stands in the way, or else what to look at; a last line cut short is neither."""
        problems = self.shown.problems
        fatal = [problem for problem in problems if problem.fatal]
        for target in ("angle_deg", "torque_nm"):
            if self.columns[target].currentData() is None:
                return tr("Choose the column of the {0}.", tr(_WORDS[target]).lower())
            if not self._unit(target) and not self._stated(target):
                return tr("The file states no unit of the {0}: choose it.", tr(_WORDS[target]).lower())
        said = [*fatal, *(problem for problem in problems if problem.found == SEVERAL_CURVES[0])]
        return said[0].sentence(Path(self.paths[0]).parent) if said else ""

    def _show_rows(self) -> None:
        shown = self.shown
        width = max([len(shown.headers), *(len(row) for row in shown.rows)], default=0)
        self.cells.setColumnCount(width)
        self.cells.setRowCount(len(shown.rows))
        titles = [shown.headers[i] if i < len(shown.headers) else str(i + 1) for i in range(width)]
        self.cells.setHorizontalHeaderLabels(titles)
        for line, cells in enumerate(shown.rows):
            for place, cell in enumerate(cells):
                self.cells.setItem(line, place, QStandardItem(cell))
        self.rows.resizeColumnsToContents()

    def confirm(self) -> None:
        """Hand the mapping over."""
        self.confirmed.emit(self.mapping(), self.paths)
        self.accept()

    def save_and_confirm(self) -> None:
        """Save it to be found again, then hand it over."""
        try:
            self.library.save(self.mapping())
        except (ImportMappingError, OSError) as error:
            self.problem.setText(str(error))
            return
        self.confirm()
