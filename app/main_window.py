"""The window: puts the areas, the actions and the session together, and does nothing else."""

from __future__ import annotations

import datetime
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import NoReturn

from PySide6.QtCore import QByteArray, QMimeData, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent, QIcon
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QApplication,
    QGraphicsView,
    QLineEdit,
    QMainWindow,
    QPlainTextEdit,
    QSplitter,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from app.display.messages import install_excepthook, tr
from app.display.preferences import Preferences
from app.menus.actions import ActionBook
from app.menus.compare import Comparing
from app.menus.decide import Deciding
from app.menus.export import Exporting
from app.menus.file import Filing
from app.menus.go import Going
from app.menus.tools import Tools
from app.menus.view import Viewing
from app.session.loading import warm_up
from app.session.recognising import Recognised
from app.session.session import READING, Session
from app.session.tidying import Tidying
from app.views.curves.view import CurveView
from app.views.frame.area import Area
from app.views.frame.bottom_line import BottomLine
from app.views.frame.theme import apply_look, choose_look, load_fonts
from app.views.frame.top_line import TopLine
from app.views.opening.arrival_strip import ArrivalStrip
from app.views.opening.first_screen import FirstScreen
from app.views.reasons.insight_tabs import InsightTabs
from app.views.reasons.reference_strip import ReferenceStrip
from app.views.reasons.why_view import WhyView
from app.views.shift.distribution_view import DistributionView
from app.views.table.verdict_view import VerdictView
from app.wiring.compared_with import ComparisonLink
from app.wiring.curves import CurveLink
from app.wiring.kept_places import KeptPlaces, cursors, open_tab, table_order
from app.workspace.autosave import Autosave

#: Smallest screen that everything must fit on.
_START_SIZE_PX = (1366, 768)
#: After the first screen has come up.
_PREPARE_AFTER_MS = 200
_COLUMNS_PX = (930, 430)
_LEFT_PX = (430, 250)
_RIGHT_PX = (400, 280)


class MainWindow(QMainWindow):
    """The main window.

    Parameters
    ----------
    session : Session
    preferences : Preferences
    """

    def __init__(self, session: Session, preferences: Preferences) -> None:
        super().__init__()
        self.session = session
        self.preferences = preferences
        self._prepared = False
        self.setWindowTitle("Tautograph")
        self.setAcceptDrops(True)
        session.view = type(session.view)(torque_unit=preferences.torque_unit)
        self._make_views()
        self._lay_out()
        self._make_menus()
        self._connect()
        self._welcome_files_everywhere()
        self.set_look(preferences.look)
        self.first.show_last_work(self.autosave.last_work())
        self._show_filled()
        self.session.view_changed.emit()

    def _make_views(self) -> None:
        session = self.session
        self.top = TopLine(session)
        self.table = VerdictView(session)
        self.curves = CurveView()
        self.distribution = DistributionView(session)
        self.why = WhyView(session)
        self.insight = InsightTabs(session, self.why)
        self.bottom = BottomLine(session)
        self.first = FirstScreen(self.preferences)
        self.strip = ArrivalStrip()
        self.curve_link = CurveLink(session, self.curves, self)
        self.comparison = ComparisonLink(session, self.curves, self)
        self.curve_area = Area(tr("Curves"), "", self.curves)
        self.curve_area.replace_sentence(self.first)
        self.reference = ReferenceStrip(session)
        self.curve_area.add_to_head(self.reference, stretch=20)
        self.table_area = Area(
            tr("Verdicts"),
            tr("One line for each trace will stand here, the worst first, with what decided it."),
            self.table,
        )
        self.why_area = Area(
            tr("Why"),
            tr(
                "The reasons for a verdict will stand here: each rule with its limit and margin, likely "
                "causes, what to check next."
            ),
            self.insight,
        )
        self.distribution_area = Area(
            tr("Where it sits"),
            tr("One figure of all traces will be drawn here, as a histogram and in order of time."),
            self.distribution,
        )
        self.areas: tuple[QWidget, ...] = (
            self.top, self.curve_area, self.table_area, self.why_area, self.distribution_area, self.bottom,
        )  # fmt: skip

    def _lay_out(self) -> None:
        self.left = QSplitter(Qt.Orientation.Vertical)
        self.right = QSplitter(Qt.Orientation.Vertical)
        self.columns = QSplitter(Qt.Orientation.Horizontal)
        for splitter, parts in (
            (self.left, (self.curve_area, self.table_area)),
            (self.right, (self.why_area, self.distribution_area)),
            (self.columns, (self.left, self.right)),
        ):
            splitter.setChildrenCollapsible(False)
            for part in parts:
                splitter.addWidget(part)
        body = QWidget()
        layout = QVBoxLayout(body)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addWidget(self.top)
        layout.addWidget(self.strip)
        layout.addWidget(self.columns, 1)
        layout.addWidget(self.bottom)
        self.setCentralWidget(body)
        self.reset_layout()
        for name, splitter in self._splitters().items():
            kept = self.preferences.layout(name)
            if kept is not None:
                splitter.restoreState(kept)
        geometry = self.preferences.layout("window")
        if geometry is not None:
            self.restoreGeometry(geometry)

    def _splitters(self) -> dict[str, QSplitter]:
        return {"columns": self.columns, "left": self.left, "right": self.right}

    def reset_layout(self) -> None:
        """Areas as they came."""
        size = QSize(*_START_SIZE_PX)
        if QApplication.platformName() != "offscreen":  # whose screen is made up, and small
            size = size.boundedTo(self.screen().availableSize())
        self.resize(size)
        self.columns.setSizes(list(_COLUMNS_PX))
        self.left.setSizes(list(_LEFT_PX))
        self.right.setSizes(list(_RIGHT_PX))
        self.columns.setStretchFactor(0, 1)
        self.left.setStretchFactor(0, 1)

    def _make_menus(self) -> None:
        session = self.session
        self.filing = Filing(session, self.preferences, self)
        self.going = Going(session, self.table, self.top, self.distribution, self._give_up)
        self.deciding = Deciding(session, self.why, self)
        self.exporting = Exporting(session, self.table, self.curves, self)
        self.viewing = Viewing(session, self.preferences, self.curves, self.areas, self.comparison, self)
        self.tools = Tools(session, self.preferences, self.filing, self.curves, self)
        self.comparing = Comparing(session, self.insight, self.distribution, self.tools, self)
        parts = (
            self.filing,
            self.going,
            self.deciding,
            self.exporting,
            self.viewing,
            self.tools,
            self.comparing,
        )
        handlers: dict[str, Callable[[], object]] = {}
        for part in parts:
            handlers |= part.handlers()
        self.book = ActionBook(session, handlers, self)
        self.menus = self.book.fill_menus(self.menuBar())
        self.recent_menu = self.menus["File"].addMenu(tr("Open lately"))
        before = self.book["add-files"]
        self.menus["File"].insertMenu(before, self.recent_menu)
        self.recent_menu.aboutToShow.connect(self._fill_recent)
        self.kept_menu = self.menus["File"].addMenu(tr("Work not saved under a name"))
        self.menus["File"].insertMenu(self.book["save-workspace"], self.kept_menu)
        self.kept_menu.aboutToShow.connect(self._fill_kept)
        self.tools.book = self.book
        self.autosave = Autosave(session, self.preferences.data, self.filing, self)

    def _connect(self) -> None:
        session = self.session
        self.first.files_wanted.connect(self.filing.ask_files)
        self.first.folder_wanted.connect(self.filing.ask_folder)
        self.first.sample_wanted.connect(self.filing.open_sample)
        self.first.recent_wanted.connect(self.filing.open)
        self.filing.opened.connect(self.first.refresh)
        self.filing.recognised.connect(self._show_recognised)
        self.strip.open_wanted.connect(lambda paths, add: self.filing.open(paths, add=add))
        self.filing.workspace_changed.connect(self._show_title)
        self.viewing.look_chosen.connect(self.set_look)
        self.viewing.layout_reset.connect(self._forget_layout)
        self.tools.connect_views(self.why, self.bottom, self.top)
        self.insight.joint.help_wanted.connect(self.tools.show_help)
        self.insight.joint.joint_wanted.connect(self.tools.show_joints)
        self.reference.outside_wanted.connect(self.deciding.select_outside)
        self.why.evidence_wanted.connect(self.comparison.explain)
        self.why.place_wanted.connect(self.comparison.show_place)
        self.autosave.state_changed.connect(self.bottom.set_saved)
        self.autosave.recovery_offered.connect(self.bottom.offer_recovery)
        self.bottom.recovery_wanted.connect(self.autosave.recover)
        self.first.last_work_wanted.connect(self.autosave.open_last_work)
        self.autosave.kept_changed.connect(lambda: self.first.show_last_work(self.autosave.last_work()))
        self.places = KeptPlaces(
            session,
            {
                "order": table_order(self.table),
                "cursors": cursors(self.curves),
                "reasons": open_tab(self.insight),
                "distribution": open_tab(self.distribution.tabs),
            },
            self,
        )
        session.traces_changed.connect(self._show_filled)
        session.jobs.running_changed.connect(self._prepare_while_reading)
        session.view_changed.connect(self._remember_unit)
        session.mapping_wanted.connect(self.tools.offer_mapping)
        self.curves.drawing_failed.connect(session.messages.problem)
        self.curves.tool_changed.connect(lambda tool: self.book[f"tool-{tool}"].setChecked(True))
        self.book["tool-move"].setChecked(True)
        self.curves.cursors_shown.connect(self.book["cursors"].setChecked)
        QApplication.styleHints().colorSchemeChanged.connect(self._follow_system_look)

    def _welcome_files_everywhere(self) -> None:
        """Plots and entries would take what is dropped on them for themselves, or swallow it."""
        for kind in (QGraphicsView, QLineEdit, QPlainTextEdit, QTextBrowser):
            for inner in self.findChildren(kind):
                inner.setAcceptDrops(False)
                if isinstance(inner, QAbstractScrollArea):
                    inner.viewport().setAcceptDrops(False)

    def _give_up(self) -> bool:
        """What Esc abandons before it clears the selection; True where there was something."""
        if self.strip.isVisible():
            self.strip.put_away()
            return True
        return self.curves.give_up() or self.distribution.give_up()

    def _show_recognised(self, found: Recognised, add: bool) -> None:
        self.strip.show_found(found, anything_open=not self.session.is_empty, add=add)
        self.activateWindow()

    def _fill_recent(self) -> None:
        self.recent_menu.clear()
        for paths in self.preferences.recent:
            action = self.recent_menu.addAction(paths[0])
            action.triggered.connect(lambda _checked=False, entry=paths: self.filing.open(entry))
        self.recent_menu.setEnabled(True)
        if self.recent_menu.isEmpty():
            self.recent_menu.addAction(tr("nothing yet")).setEnabled(False)

    def _fill_kept(self) -> None:
        self.kept_menu.clear()
        for file in self.autosave.kept():
            moment = datetime.datetime.fromtimestamp(file.stat().st_mtime, datetime.UTC)
            words = self.autosave.words_of(file)
            if words:
                action = self.kept_menu.addAction(f"{moment:%Y-%m-%d %H:%M} UTC: {words}")
                action.triggered.connect(lambda _checked=False, f=str(file): self.autosave.recover(f))
        if self.kept_menu.isEmpty():
            self.kept_menu.addAction(tr("nothing")).setEnabled(False)

    def _show_filled(self) -> None:
        filled = not self.session.is_empty
        focus = self.focusWidget()
        left, entered = (self.first, self.table) if filled else (self.columns, self.first)
        moves = focus is None or left.isAncestorOf(focus)
        for area in self.areas:
            if isinstance(area, Area):
                area.set_filled(filled)
        if moves:  # the keyboard goes on where there is something to do
            entered.setFocus(Qt.FocusReason.OtherFocusReason)

    def _remember_unit(self) -> None:
        self.preferences.torque_unit = self.session.view.torque_unit

    def _show_title(self, file: str) -> None:
        self.setWindowTitle(f"{Path(file).name} – Tautograph" if file else "Tautograph")

    def _follow_system_look(self) -> None:
        # A method, not a lambda: the style hints outlive the window and would keep it.
        self.set_look(self.preferences.look)

    def set_look(self, wanted: str) -> None:
        """Light, dark, or as the system has it."""
        app = QApplication.instance()
        if not isinstance(app, QApplication):
            return
        look = choose_look(wanted, app)
        apply_look(app, look)
        for view in (self.table, self.curve_link, self.distribution, self.insight):
            view.set_look(look)
        self.comparing.set_look()
        self.tools.follow_look()
        self.book[f"look-{wanted}"].setChecked(True)

    def _forget_layout(self) -> None:
        self.preferences.forget_layout()
        self.reset_layout()

    def prepare(self) -> None:
        """While the first screen is read, or the first file: load what judging and drawing need, once."""
        if not self._prepared:
            self._prepared = True
            self.curves.warm_up()
            self.session.jobs.prepare(warm_up)

    def _prepare_while_reading(self) -> None:
        if READING in self.session.jobs.running:
            self.prepare()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Files and folders are welcome anywhere."""
        if dropped_paths(event.mimeData()):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Look at what was dropped; with Shift it is meant to be added to what is open."""
        paths = dropped_paths(event.mimeData())
        if paths:
            add = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
            self.filing.drop(paths, add=add)
            event.acceptProposedAction()

    def closeEvent(self, event: QCloseEvent) -> None:
        """A clean exit: the layout is kept, work is saved, threads have ended."""
        for name, splitter in self._splitters().items():
            self.preferences.remember_layout(name, QByteArray(splitter.saveState().data()))
        self.preferences.remember_layout("window", QByteArray(self.saveGeometry().data()))
        self.preferences.flush()
        self.tools.close()
        self.autosave.end_cleanly()
        self.hide()
        self.curves.plot.crowd.shut_down()
        self.session.close()
        event.accept()


def dropped_paths(data: QMimeData) -> list[str]:
    """Local files and folders of something that is dragged."""
    return [url.toLocalFile() for url in data.urls() if url.isLocalFile()]


def run(paths: Sequence[str], *, joints: str | None = None, sample: bool = False) -> int:
    """Open the window on these paths and stay until it is closed; gives the exit code.

    Parameters
    ----------
    paths : sequence of str
        Files and folders; none: the first screen.
    joints : str or None
        Joints file.
    sample : bool
        Open the built-in sample shift.
    """
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("tautograph")
    app.setApplicationDisplayName("Tautograph")
    app.setDesktopFileName("tautograph")
    load_fonts()
    icon = Path(__file__).resolve().parents[1] / "resources" / "icons" / "tautograph.svg"
    if icon.is_file():
        app.setWindowIcon(QIcon(str(icon)))
    preferences = Preferences()
    session = Session(user_name=preferences.user_name)
    window = MainWindow(session, preferences)
    tidying = Tidying(window)
    restore_hook = install_excepthook(session.messages)
    window.show()

    def begin() -> None:
        window.tools.load_mappings()
        if sample:
            window.filing.open_sample()
        elif paths or joints:
            window.filing.open(paths, joints=joints or "")
        else:
            QTimer.singleShot(_PREPARE_AFTER_MS, window.prepare)
        window.autosave.offer_recovery()

    QTimer.singleShot(0, begin)
    try:
        code = int(app.exec())
    finally:
        restore_hook()
        tidying.stop()
    if not session.jobs.close(0):
        end_at_once(code)
    return code


def end_at_once(code: int) -> NoReturn:
    """Leave with what cannot be stopped still running: compiling the kernels takes a minute or two.

    All that a clean exit keeps has been kept by then, and files are only ever put in place whole.
    """
    sys.stdout.flush()
    sys.stderr.flush()
    os._exit(code)
