"""The parts, and the session: put together away from the thread of the window; the chosen one is selected."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, QTimer, Signal

from analysis.catalogue.verdicts import VERDICT_OF, WORST_FIRST
from app.display.messages import tr
from app.session.session import Session
from app.views.studies.parts_window import PartsWindow
from app.wiring.follow import Follow

if TYPE_CHECKING:
    from analysis.parts.part import Part, Parts
    from analysis.pipeline import Analysis

PARTS = "parts"
#: Rest before a part is drawn: the list goes on at once while a key is held (own choice).
_REST_MS = 40


def carry_out(analysis: Analysis, _progress: Any, _cancelled: Any) -> tuple[Analysis, Parts]:
    """All parts of an analysis."""
    from analysis.parts.part import find_parts

    return analysis, find_parts(analysis, analysis.results())


class PartsLink(QObject):
    """Asks for the parts, lists them, and brings the traces of the one looked at to the curves."""

    pages_wanted = Signal(object)  #: (parts)
    joint_wanted = Signal(str, str)  #: (name, key)

    def __init__(self, session: Session, window: PartsWindow) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        self.analysis: Analysis | None = None
        self.parts: tuple[Part, ...] = ()
        self.listed: list[Part] = []
        self.titles: dict[str, str] = {}
        self.looked_at: Part | None = None
        self._soon = QTimer(self, singleShot=True, interval=_REST_MS)
        self._soon.timeout.connect(self._look)
        session.jobs.answered.connect(self._receive)
        window.asked_changed.connect(self._list)
        window.part_chosen.connect(self._choose)
        window.pages_wanted.connect(self._ask_pages)
        window.joint_wanted.connect(lambda name: self.joint_wanted.emit(name, "positions"))
        Follow(window, self.refresh, session.results_changed, session.traces_changed)
        Follow(window, self._show_part, session.view_changed)
        self.refresh()

    def refresh(self) -> None:
        """Put together what is open."""
        analysis = self.session.analysis
        if analysis is None:
            self.analysis, self.parts, self.listed, self.looked_at = None, (), [], None
            self.window.set_lacking([])
            self.window.set_pending(tr("No parts: no traces are judged."))
            return
        self.session.jobs.submit(PARTS, analysis, carry_out)

    def _receive(self, kind: str, _number: int, answer: Any) -> None:
        if kind != PARTS:
            return
        self.analysis, found = answer
        self.parts = tuple(sorted(found.parts, key=lambda one: WORST_FIRST.index(one.verdict)))
        self.titles = {one.joint: one.plan.title for one in self.parts}
        self.window.set_joints([(title, name) for name, title in self.titles.items()])
        self._list()

    def _list(self) -> None:
        joint, verdict = self.window.joint.currentData(), self.window.verdict.currentData()
        self.listed = [one for one in self.parts if joint in ("", one.joint) and verdict in ("", one.verdict)]
        before = self.looked_at
        same = [k for k, one in enumerate(self.listed) if before is not None and _key(one) == _key(before)]
        self.looked_at = None
        rows = [_cells(one) for one in self.listed]
        self.window.set_lacking(self._lacking())
        self.window.set_parts(self._words(), rows, same[0] if same else -1)

    def _words(self) -> str:
        if not self.parts:
            return tr("No parts: no trace names a part.")
        from analysis.parts.shares import shares_of, shares_sentence

        chosen = self.window.joint.currentData()
        of = [one for one in self.parts if chosen in ("", one.joint)]
        counts = Counter(one.verdict for one in of)
        verdicts = ", ".join(f"{counts[name]} {tr(name)}" for name in WORST_FIRST if counts[name])
        missing = sum(len(one.missing) for one in of)
        reworked = sum(len(one.reworked) for one in of)
        words = tr(
            "{0} parts: {1}. Positions missing: {2}, reworked: {3}. Estimated clamp force is not measured.",
            str(len(of)), verdicts, str(missing), str(reworked),
        )  # fmt: skip
        return f"{words}\n{shares_sentence(shares_of(of)[0])}" if chosen and of else words

    def _lacking(self) -> list[tuple[str, str, str]]:
        """What the joints file leaves out without which no part can be whole, and what to write there."""
        from analysis.parts.part import recorded_positions

        chosen = self.window.joint.currentData()
        lines = []
        for name, recorded in recorded_positions(self.parts).items():
            if chosen not in ("", name):
                continue
            listed = ", ".join(one if one.isdigit() else f'"{one}"' for one in recorded) or "1"
            known = self.analysis is not None and name in self.analysis.joints
            words = f"[joints.{name}] positions = [{listed}]"
            lines.append((name, words, tr("open the joint's form …") if known else ""))
        return lines

    def _choose(self, row: int) -> None:
        if not 0 <= row < len(self.listed) or self.listed[row] is self.looked_at:
            return
        self.looked_at = self.listed[row]
        self._soon.start()

    def _look(self) -> None:
        self._show_part()
        if self.looked_at is not None and self.analysis is self.session.analysis:
            self.session.select(self.looked_at.rows)

    def _show_part(self) -> None:
        from analysis.report.part_pages import answer, history_table, notes
        from analysis.report.part_plots import IN_WINDOW, curves_plot, forces_plot, layout_plot

        part, analysis = self.looked_at, self.analysis
        if part is None or analysis is None:
            return
        units = self.session.units
        forces = forces_plot(part, "part")
        first = (layout_plot(part, "part", IN_WINDOW), *(() if forces is None else (forces,)))
        curves = curves_plot(part, analysis, "part", units)
        self.window.set_part(
            f"{part.part}, {part.plan.title}: {part.verdict}",
            [answer(part), *notes(part)],
            history_table(part, analysis, units),
            [first, *(() if curves is None else ((curves,),))],
        )

    def _ask_pages(self, every: bool) -> None:
        wanted = self.listed if every else [] if self.looked_at is None else [self.looked_at]
        if wanted and self.analysis is self.session.analysis:
            self.pages_wanted.emit(tuple(wanted))


def _key(part: Part) -> tuple[object, ...]:
    return part.part, part.joint, part.started_at


def _cells(part: Part) -> tuple[str, ...]:
    verdict, total = VERDICT_OF[part.verdict], part.total
    expected = "" if part.expected is None else f" / {part.expected}"
    known = total.low_kn == total.low_kn
    return (
        f"{verdict.symbol} {tr(part.verdict)}", part.part, f"{part.found}{expected}",
        ", ".join(part.missing), ", ".join(part.reworked), str(part.attempts),
        f"{total.low_kn:.0f} … {total.high_kn:.0f}" if known else "–", part.plan.title,
        "; ".join(one.words for one in part.findings),
    )  # fmt: skip
