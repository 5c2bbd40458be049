"""What traces share, and the session."""

from __future__ import annotations

from PySide6.QtCore import QObject

from analysis.figure_text import chance_words
from analysis.shift.sharing import Shared
from app.display.messages import tr
from app.filtering.text import FilterError
from app.models.text_table import TextRow
from app.session.session import Session, joint_names_in_use
from app.session.sharing_groups import (
    SharingGroup,
    filter_of,
    rows_with,
    shared_by,
    shared_sentence,
    sharing_groups,
    words_of,
)
from app.views.reasons.shared_view import SharedView
from app.wiring.follow import Follow

#: Rows that are listed; what follows is by chance in all practice (own choice).
_MOST_ROWS = 40


class SharedLink(QObject):
    """Works out what a group shares, and shows, selects or colours the traces that have it."""

    def __init__(self, session: Session, view: SharedView) -> None:
        super().__init__(view)
        self.session = session
        self.view = view
        self._groups: list[SharingGroup] = []
        self._place = 0
        self._shared: list[Shared] = []
        self._wanted = "selected"
        self._joint: str | None = None
        self._follow = Follow(
            view,
            self.refresh,
            session.traces_changed,
            session.results_changed,
            session.selection_changed,
            session.current_changed,
            session.decisions_changed,
            session.visible_changed,
        )
        view.asked.connect(self.ask)
        view.row_chosen.connect(self._enable)
        view.show_wanted.connect(self.show_only)
        view.select_wanted.connect(self.select)
        view.colour_wanted.connect(self.colour)

    def ask(self, key: str, joint: str | None = "") -> None:
        """Show what this group shares: "selected", "flagged", "outside", "cause:NAME", "since".

        Among the traces of one joint, or of every joint that the group has; None: of the one joint shown.
        """
        self._wanted, self._joint = key, joint
        self.refresh()

    def refresh(self) -> None:
        """The groups as they are now, and what the chosen one shares."""
        session = self.session
        if len(session.selected) != len(session.traces):
            return
        wanted = session.shown_joint if self._joint is None else self._joint
        among = self.view.set_joints(joint_names_in_use(session), wanted)
        self._groups = list(sharing_groups(session, among))
        self._place = self.view.set_groups([(one.words, one.key) for one in self._groups], self._wanted)
        if not self._groups:
            self._shared = []
            self.view.set_shared(tr("Select several traces to see what they share."), [])
            return
        group = self._group
        self._shared = shared_by(session, group) if group.chosen.any() else []
        self.view.set_shared(
            shared_sentence(group, self._shared), [_row(one) for one in self._shared[:_MOST_ROWS]]
        )
        self._enable(self.view.table.chosen_row)

    @property
    def _group(self) -> SharingGroup:
        return self._groups[max(self._place, 0)]

    def _at(self, row: int) -> Shared | None:
        return self._shared[row] if 0 <= row < len(self._shared) else None

    def _enable(self, row: int) -> None:
        one = self._at(row)
        column = None if one is None else self.session.columns.get(one.attribute)
        self.view.enable(one is not None, column is not None and column in self.session.columns.groupings)

    def show_only(self, row: int) -> None:
        """Show the traces with this value only, as a condition that can be removed."""
        one, session = self._at(row), self.session
        if one is None:
            return
        text = filter_of(one, session.columns, rows_with(session, one, self._group.within))
        if not text:
            self.select(row)
            return
        about = "started_at" if one.attribute == "hour" else one.attribute
        try:
            session.add_condition(text, f"{words_of(one.attribute)} {one.value}", instead_of=about)
        except FilterError as error:
            session.messages.problem(str(error))

    def select(self, row: int) -> None:
        """Select all traces of the joints concerned that have the value."""
        one = self._at(row)
        if one is not None:
            mask = rows_with(self.session, one, self._group.within)
            rows = mask.nonzero()[0]
            self.session.select_mask(mask, int(rows[0]) if len(rows) else -1)

    def colour(self, row: int) -> None:
        """Colour the curves by the attribute."""
        one = self._at(row)
        if one is not None:
            self.session.set_view(colour_by=one.attribute)


def _row(one: Shared) -> TextRow:
    chosen, others = (
        f"{100 * with_it / of:.0f} %  {with_it}/{of}" if of else "–"
        for with_it, of in ((one.chosen_with, one.chosen), (one.others_with, one.others))
    )
    cells = (f"{words_of(one.attribute)} {one.value}", chosen, others, chance_words(one.corrected))
    return TextRow(tuple(cells), strong=one.is_significant, tip=one.sentence())
