"""What am I looking at.

Source, the sentence that is always true, conditions as chips, colours, units, find.
"""

from __future__ import annotations

import html
from pathlib import Path

from PySide6.QtCore import QEvent, QSignalBlocker, Qt, Signal
from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QComboBox, QHBoxLayout, QLabel, QLineEdit, QToolButton, QVBoxLayout, QWidget

from analysis.traces.units import TORQUE_UNITS
from app.display.look import VERDICT_MARKS
from app.display.messages import count_words, grouped, tr
from app.filtering.text import equals
from app.session.counting import COUNTED, condition_words, count
from app.session.session import JUDGING, READING, Session
from app.views.frame.filter_edit import FilterEdit

_FIND_WIDTH_PX = 150
_SOURCE_WIDTH_PX = 260
#: What a tip shows of a condition: a list of a thousand traces would cover the screen.
_TIP_LETTERS = 400


class TopLine(QWidget):
    """Two rows: what is open and how it stands; how it is filtered, coloured and measured."""

    find_wanted = Signal(str)
    selected_wanted = Signal()

    def __init__(self, session: Session, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setObjectName("topLine")
        self.setAttribute(Qt.WidgetAttribute.WA_StyledBackground)
        self.setAccessibleName(tr("What is shown"))
        self.session = session
        self.source = QLabel()
        self.source.setMaximumWidth(_SOURCE_WIDTH_PX)
        self.sentence = _Links()
        self.sentence.setAccessibleName(tr("Counts"))
        self.sentence.setTextFormat(Qt.TextFormat.RichText)
        self.sentence.setTextInteractionFlags(
            Qt.TextInteractionFlag.LinksAccessibleByMouse | Qt.TextInteractionFlag.LinksAccessibleByKeyboard
        )
        self.sentence.linkActivated.connect(self._follow_link)
        self.filter = FilterEdit(session)
        self.filter.setWhatsThis("filter")
        self.refusal = QLabel()
        self.refusal.setObjectName("refusal")
        self.colour_by = QComboBox()
        self.units = QComboBox()
        self.find_edit = QLineEdit()
        self._chips = QHBoxLayout()
        self._build()
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.visible_changed,
            session.selection_changed,
            session.decisions_changed,
            session.sources_changed,
        ):
            signal.connect(self.refresh)
        session.jobs.running_changed.connect(self._show_work)
        session.view_changed.connect(self._show_choices)
        session.results_changed.connect(self._show_choices)
        session.traces_changed.connect(self._show_choices)
        self.refresh()
        self._show_choices()

    def _build(self) -> None:
        self.units.addItems(list(TORQUE_UNITS))
        self.units.setAccessibleName(tr("Torque unit"))
        self.units.setToolTip(tr("Torque unit, everywhere at once"))
        self.units.activated.connect(lambda _i: self.session.set_view(torque_unit=self.units.currentText()))
        self.colour_by.setAccessibleName(tr("Colour by"))
        self.colour_by.setToolTip(tr("Colour the curves by an attribute"))
        self.colour_by.activated.connect(self._choose_colour)
        self.find_edit.setAccessibleName(tr("Find a trace"))
        self.find_edit.setPlaceholderText(tr("Find a trace"))
        self.find_edit.setClearButtonEnabled(True)
        self.find_edit.setMaximumWidth(_FIND_WIDTH_PX)
        self.find_edit.returnPressed.connect(lambda: self.find_wanted.emit(self.find_edit.text()))
        self.filter.refused.connect(self._show_refusal)
        first, second = QHBoxLayout(), QHBoxLayout()
        first.addWidget(self.source)
        first.addWidget(self.sentence, 1)
        first.addWidget(QLabel(tr("Colour by")))
        first.addWidget(self.colour_by)
        first.addWidget(self.units)
        first.addWidget(self.find_edit)
        second.addWidget(self.filter, 1)
        second.addWidget(self.refusal)
        second.addLayout(self._chips)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(8, 4, 8, 4)
        layout.setSpacing(4)
        layout.addLayout(first)
        layout.addLayout(second)

    def refresh(self) -> None:
        """Say what is true now."""
        self._show_source()
        self.sentence.setText(self._sentence())
        links = not self.session.is_empty
        self.sentence.setFocusPolicy(Qt.FocusPolicy.StrongFocus if links else Qt.FocusPolicy.NoFocus)
        self._show_chips()

    def _show_work(self) -> None:
        """Work that began or ended changes the sentence only where there are no verdicts."""
        if self.session.analysis is None and not self.session.is_empty:
            self.sentence.setText(self._sentence())

    def _show_source(self) -> None:
        paths = self.session.paths
        if not paths:
            self.source.setText(f"<b>{tr('Nothing open')}</b>")
            self.source.setToolTip("")
            return
        name = Path(paths[0]).name + (tr(" and {0} more", len(paths) - 1) if len(paths) > 1 else "")
        self.source.setText(f"<b>{html.escape(self._elided(name))}</b>")
        self.source.setToolTip("\n".join((*paths, self.session.joints_path)).strip())

    def _elided(self, name: str) -> str:
        width = _SOURCE_WIDTH_PX - 20
        return self.fontMetrics().elidedText(name, Qt.TextElideMode.ElideMiddle, width)

    def _sentence(self) -> str:
        session = self.session
        if session.is_empty and session.paths:
            return tr("No trace was read from it. Open others, or drop files and folders anywhere here.")
        if session.is_empty:
            return tr("Open traces, or drop files and folders anywhere in this window.")
        counts = count(session.verdicts, session.visible, session.selected)
        words = count_words(counts.total, "trace", "traces")
        parts = [f'<a href="all:">{html.escape(words)}</a>']
        if counts.by_verdict is None:
            at_work = {READING, JUDGING} & set(session.jobs.running)
            words = tr("verdicts are being worked out") if at_work else tr("not judged; F5 judges them")
            parts.append(html.escape(words))
        else:
            parts += [
                _verdict_link(word, counts.by_verdict[word]) for word in COUNTED if counts.by_verdict[word]
            ]
        text = ", ".join(parts)
        if session.view.conditions:
            about = html.escape(condition_words(session.view.conditions))
            text += f"; {tr('showing')} {grouped(counts.shown)} ({about})"
        if counts.selected:
            text += f'; <a href="selected:">{grouped(counts.selected)} {tr("selected")}</a>'
        return text + "."

    def _follow_link(self, link: str) -> None:
        kind, _, value = link.partition(":")
        if kind == "all":
            self.session.set_conditions([])
        elif kind == "verdict":
            self.show_verdict(value)
        elif kind == "selected":
            self.selected_wanted.emit()

    def show_verdict(self, verdict: str) -> None:
        """Show the traces with this verdict only."""
        self.session.add_condition(equals("verdict", verdict), tr(verdict), instead_of="verdict")

    def _show_chips(self) -> None:
        while self._chips.count():
            item = self._chips.takeAt(0)
            if item is not None and (widget := item.widget()) is not None:
                widget.deleteLater()
        for index, condition in enumerate(self.session.view.conditions):
            words = condition.words or condition.text
            chip = QToolButton()
            chip.setObjectName("chip")
            chip.setText(self.fontMetrics().elidedText(words, Qt.TextElideMode.ElideRight, 220) + "  ×")
            chip.setToolTip(tr("{0}\nClick to remove it.", _shortened(condition.text)))
            chip.setAccessibleName(tr("Remove condition {0}", words))
            chip.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            chip.clicked.connect(lambda _checked=False, i=index: self.session.remove_condition(i))
            self._chips.addWidget(chip)

    def _show_refusal(self, reason: str) -> None:
        self.refusal.setText(reason)

    def _show_choices(self) -> None:
        view = self.session.view
        with QSignalBlocker(self.units), QSignalBlocker(self.colour_by):
            self.units.setCurrentText(view.torque_unit)
            self.colour_by.clear()
            self.colour_by.addItem(tr("nothing"), "")
            for column in self.session.columns.groupings:
                if column.name not in ("findings", "deciding", "not_evaluated_reason"):
                    self.colour_by.addItem(column.title.lower(), column.name)
            self.colour_by.setCurrentIndex(max(self.colour_by.findData(view.colour_by), 0))

    def _choose_colour(self) -> None:
        self.session.set_view(colour_by=str(self.colour_by.currentData() or ""))

    def changeEvent(self, event: QEvent) -> None:
        """Colour the links anew when the look changes."""
        super().changeEvent(event)
        if event.type() == QEvent.Type.PaletteChange:
            # A text keeps the colour of its links from when it was set.
            text = self.sentence.text()
            self.sentence.clear()
            self.sentence.setText(text)


def _shortened(text: str) -> str:
    return text if len(text) <= _TIP_LETTERS else f"{text[:_TIP_LETTERS]} …"


class _Links(QLabel):
    """A sentence with links; the keyboard marks one as it arrives, so that it can be seen where it stands."""

    def focusInEvent(self, event: QFocusEvent) -> None:
        super().focusInEvent(event)
        by_keys = (Qt.FocusReason.TabFocusReason, Qt.FocusReason.BacktabFocusReason)
        if event.reason() in by_keys and "href" in self.text():
            self.focusNextPrevChild(event.reason() == Qt.FocusReason.TabFocusReason)


def _verdict_link(word: str, n: int) -> str:
    """Mark, count and word, kept on one line."""
    words = f"{grouped(n)} {tr(word)}".replace(" ", "\N{NO-BREAK SPACE}")
    return f'{VERDICT_MARKS[word].symbol}\N{NO-BREAK SPACE}<a href="verdict:{word}">{words}</a>'
