"""The top line and the session: the sentence that is always true, conditions, colours, units."""

from __future__ import annotations

import html
from pathlib import Path

from PySide6.QtCore import QObject, Signal

from analysis.catalogue.verdicts import VERDICT_OF, WORST_FIRST
from app.display.messages import count_words, grouped, tr
from app.filtering.text import equals
from app.session.counting import LONGEST_IN_SENTENCE, condition_words, count
from app.session.offered import offered_groups
from app.session.session import JUDGING, READING, Session
from app.views.frame.top_line import TopLine


class TopLineLink(QObject):
    """Says what is open and shown, and hands choices to the session."""

    selected_wanted = Signal()  #: Only the selected are to be shown.
    filtered = Signal()  #: A condition was typed and taken.

    def __init__(self, session: Session, top: TopLine) -> None:
        super().__init__(top)
        self.session = session
        self.top = top
        for signal in (
            session.traces_changed,
            session.results_changed,
            session.visible_changed,
            session.selection_changed,
            session.sources_changed,
        ):
            signal.connect(self.refresh)
        session.jobs.running_changed.connect(self._show_work)
        for signal in (session.view_changed, session.results_changed, session.traces_changed):
            signal.connect(self._show_choices)
        top.link_followed.connect(self._follow_link)
        top.condition_removed.connect(session.remove_condition)
        top.unit_chosen.connect(lambda unit: session.set_view(torque_unit=unit))
        top.colour_chosen.connect(lambda name: session.set_view(colour_by=name))
        top.filter.condition_wanted.connect(self._add_condition)
        self.refresh()
        self._show_choices()

    def refresh(self) -> None:
        """Say what is true now."""
        session = self.session
        paths = session.paths
        if paths:
            more = tr(" and {0} more", len(paths) - 1) if len(paths) > 1 else ""
            self.top.set_source(Path(paths[0]).name + more, "\n".join((*paths, session.joints_path)).strip())
        else:
            self.top.set_source(tr("Nothing open"), "")
        self.top.set_sentence(self._sentence())
        self.top.set_conditions([(one.words or one.text, one.text) for one in session.view.conditions])
        self.top.filter.set_columns(session.columns, session.units)

    def _show_work(self) -> None:
        """Work that began or ended changes the sentence only where there are no verdicts."""
        if self.session.analysis is None and not self.session.is_empty:
            self.top.set_sentence(self._sentence())

    def _sentence(self) -> str:
        session = self.session
        if session.is_empty and session.paths:
            return tr(
                "No trace was read from it. Open others, or drop files and folders anywhere in this window."
            )
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
            found = counts.by_verdict
            parts += [_verdict_link(word, found[word]) for word in WORST_FIRST if found[word]]
        text = ", ".join(parts)
        if session.view.conditions:
            about = html.escape(condition_words(session.view.conditions, LONGEST_IN_SENTENCE))
            text += f"; {tr('showing')} {grouped(counts.shown)}"
            text += f" ({about})" if counts.selected <= 1 else ""  # one line: the chips name the conditions
        if counts.selected > 1:  # one is selected as a rule
            text += f'; <a href="selected:">{grouped(counts.selected)} {tr("selected")}</a>'
        return text + "."

    def _follow_link(self, kind: str, value: str) -> None:
        if kind == "all":
            self.session.set_conditions([])
        elif kind == "verdict":
            self.session.add_condition(equals("verdict", value), tr(value), instead_of="verdict")
        elif kind == "selected":
            self.selected_wanted.emit()

    def _add_condition(self, text: str) -> None:
        self.session.add_condition(text)
        self.filtered.emit()

    def _show_choices(self) -> None:
        session = self.session
        self.top.set_choices(
            session.view.torque_unit, offered_groups(session.columns), session.view.colour_by
        )
        self.top.filter.set_columns(session.columns, session.units)


def _verdict_link(word: str, n: int) -> str:
    """Mark, count and word, kept on one line."""
    words = f"{grouped(n)} {tr(word)}"
    for space in (" ", "\N{NARROW NO-BREAK SPACE}"):  # at which a rich text breaks all the same
        words = words.replace(space, "\N{NO-BREAK SPACE}")
    return f'{VERDICT_OF[word].symbol}\N{NO-BREAK SPACE}<a href="verdict:{word}">{words}</a>'
