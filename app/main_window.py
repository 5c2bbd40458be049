"""The window: puts the areas, the actions and the session together, and does nothing else."""

from __future__ import annotations

from pathlib import Path

from PySide6.QtCore import QByteArray, QMimeData, QSize, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import (
    QAbstractScrollArea,
    QApplication,
    QFrame,
    QGraphicsView,
    QLineEdit,
    QMainWindow,
    QPlainTextEdit,
    QScrollArea,
    QSizePolicy,
    QSplitter,
    QStackedWidget,
    QStyle,
    QTextBrowser,
    QVBoxLayout,
    QWidget,
)

from analysis.shown_text import one_line
from app.display.messages import tr
from app.display.preferences import Preferences
from app.display.spacing import NO_MARGINS
from app.menus.menus import Menus
from app.session.loading import warm_up
from app.session.recognising import Recognised, recognised_words
from app.session.session import READING, Session
from app.session.state import DISPOSITIONS
from app.views.curves.view import CurveView
from app.views.frame.area import Area
from app.views.frame.bottom_line import BottomLine
from app.views.frame.theme import apply_look, choose_look
from app.views.frame.top_line import TopLine
from app.views.opening.arrival_strip import ArrivalStrip
from app.views.opening.first_screen import FirstScreen
from app.views.overview.overview import Overview
from app.views.parts.buttons import PushButton
from app.views.parts.plain_label import PlainLabel
from app.views.reasons.insight_tabs import InsightTabs
from app.views.reasons.reference_strip import ReferenceStrip
from app.views.shift.distribution_view import DistributionView
from app.views.table.verdict_view import VerdictView
from app.wiring.kept_places import KeptPlaces, attributes, cursors, open_page, open_tab, table_order
from app.wiring.links import Links, Views
from app.wiring.pages import CURVES, OVERVIEW

#: Smallest screen that everything must fit on.
_START_SIZE_PX = (1366, 768)
#: Of a larger screen (own choice: nearly all, so that it is still seen to be a window).
_START_SHARE = 0.9
_COLUMNS_PX = (930, 430)
_SIDE_PX = (430, 250)


class MainWindow(QMainWindow):
    """The main window."""

    def __init__(self, session: Session, preferences: Preferences) -> None:
        super().__init__()
        self.session = session
        self.preferences = preferences
        self._prepared = False
        self.setWindowTitle("Tautograph")
        self.setAcceptDrops(True)
        session.view = type(session.view)(
            torque_unit=preferences.torque_unit, time_zone=preferences.time_zone
        )
        self._make_views()
        self._make_areas()
        self._lay_out()
        self.menus = Menus(session, preferences, self.links, self, give_up=self._give_up)
        self.menus.go.areas = self.areas
        self.book = self.menus.book
        self._connect()
        self._welcome_files_everywhere()
        self.set_look(preferences.look)
        self.first.show_last_work(self.menus.autosave.last_work())
        self._show_filled()
        self.session.view_changed.emit()

    def _make_views(self) -> None:
        self.top, self.bottom = TopLine(), BottomLine()
        self.table = VerdictView()
        self.curves = CurveView()
        self.distribution = DistributionView()
        self.insight = InsightTabs(DISPOSITIONS)
        self.why = self.insight.why
        self.first, self.strip = FirstScreen(self.preferences), ArrivalStrip()
        self.reference = ReferenceStrip()
        self.overview = Overview()
        self.views = Views(
            self.top,
            self.table,
            self.curves,
            self.distribution,
            self.insight,
            self.reference,
            self.bottom,
            self.overview,
        )
        self.links = Links(self.session, self.views, self)

    def _make_areas(self) -> None:
        self.curve_area = Area(tr("Curves"), "", self.curves)
        self.curve_area.replace_sentence(self.first)
        self.curve_area.add_to_head(self.reference, stretch=20)
        self.table_area = Area(
            tr("Verdicts"),
            tr("One line for each trace will appear here, the worst first, with what decided it."),
            self.table,
        )
        self.table_area.add_to_head(PlainLabel(tr("Group by")))
        self.table_area.add_to_head(self.table.group_by)
        self.why_area = Area(
            tr("Reasons"),
            tr(
                "The reasons for a verdict will appear here: each rule with its limit and margin, likely "
                "causes, what to check next."
            ),
            self.insight,
        )
        self.distribution_area = Area(
            tr("Distribution"),
            tr("One figure of all traces will be drawn here, as a histogram and in order of time."),
            self.distribution,
        )
        # Titles that stand side by side stand on one line.
        self.distribution_area.title.setMinimumHeight(self.table.group_by.sizeHint().height())
        self.overview_area = Area(tr("The shift at a glance"), "", self.overview)
        self.all_curves = PushButton(tr("All curves"), lambda: self.book["all-curves"].trigger())
        self.overview_area.add_to_head(self.all_curves)
        self.areas: tuple[QWidget, ...] = (
            self.top, self.overview_area, self.curve_area, self.table_area, self.why_area,
            self.distribution_area, self.bottom,
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
        layout.setContentsMargins(*NO_MARGINS)
        layout.setSpacing(0)
        layout.addWidget(self.top)
        layout.addWidget(self.strip)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.columns)
        self.pages.addWidget(self.overview_area)
        self._show_page(self.columns)
        # On a screen that is smaller than the areas can be they scroll, and the window fits it.
        self.room = QScrollArea()
        self.room.setWidget(self.pages)
        self.room.setWidgetResizable(True)
        self.room.setFrameShape(QFrame.Shape.NoFrame)
        self.room.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        layout.addWidget(self.room, 1)
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

    def _frame_size(self) -> QSize:
        """What the title bar and the rim take of the screen; a guess before the window has been shown."""
        rim = self.frameGeometry().size() - self.geometry().size()
        if rim.height() > 0:
            return rim
        metric = self.style().pixelMetric
        side = 2 * metric(QStyle.PixelMetric.PM_MdiSubWindowFrameWidth)
        return QSize(side, metric(QStyle.PixelMetric.PM_TitleBarHeight) + side)

    def _splitters(self) -> dict[str, QSplitter]:
        return {"columns": self.columns, "left": self.left, "right": self.right}

    def reset_layout(self) -> None:
        """Areas as they came."""
        screen, frame = self.screen().availableSize(), self._frame_size()
        if QApplication.platformName() == "offscreen":  # whose screen is made up, and small
            screen = QSize(*_START_SIZE_PX)
        large = screen * _START_SHARE
        self.resize(large.expandedTo(QSize(*_START_SIZE_PX)).boundedTo(screen - frame))
        self.columns.setSizes(list(_COLUMNS_PX))
        self.left.setSizes(list(_SIDE_PX))
        self.right.setSizes(list(_SIDE_PX))

    def _connect(self) -> None:
        session, menus = self.session, self.menus
        files, autosave = menus.files, menus.autosave
        self.first.files_wanted.connect(files.ask_files)
        self.first.folder_wanted.connect(files.ask_folder)
        self.first.sample_wanted.connect(files.open_sample)
        self.first.recent_wanted.connect(files.open)
        self.first.last_work_wanted.connect(autosave.open_last_work)
        files.opened.connect(self.first.refresh)
        files.recognised.connect(self._show_recognised)
        files.workspace_changed.connect(self._show_title)
        self.strip.open_wanted.connect(lambda paths, add: files.open(paths, add=add))
        menus.view.look_chosen.connect(self.set_look)
        menus.view.layout_reset.connect(self._forget_layout)
        menus.folder.followed.connect(self.bottom.set_followed)
        self.bottom.skipped_wanted.connect(menus.help.show_skipped)
        self.bottom.story_wanted.connect(menus.help.show_story)
        self.bottom.offer_wanted.connect(menus.joints.show_library_changes)
        self.bottom.recovery_wanted.connect(self._leave_recovery)
        self.bottom.recovery_wanted.connect(autosave.recover)
        self.bottom.dismiss.clicked.connect(self._leave_recovery)
        autosave.state_changed.connect(self.bottom.set_saved)
        autosave.recovery_offered.connect(self.bottom.offer_recovery)
        autosave.recovery_offered.connect(self._lead_to_recovery)
        autosave.kept_changed.connect(lambda: self.first.show_last_work(autosave.last_work()))
        self.places = KeptPlaces(
            session,
            {
                "columns": attributes(self.table),
                "order": table_order(self.table),
                "cursors": cursors(self.curves),
                "reasons": open_tab(self.insight),
                "distribution": open_tab(self.distribution.tabs),
                "page": open_page(self.links.pages),
            },
            self,
        )
        session.traces_changed.connect(self._show_filled)
        session.jobs.running_changed.connect(self._prepare_while_reading)
        session.view_changed.connect(self._remember_unit)
        self.curves.drawing_failed.connect(session.messages.problem)
        self.curves.tool_changed.connect(lambda tool: self.book[f"tool-{tool}"].setChecked(True))
        self.book["tool-move"].setChecked(True)
        self.links.pages.page_changed.connect(self._turn_page)
        self.links.overview.counted.connect(self.overview_area.remark.setText)
        self.top.joints_wanted.connect(self.links.pages.go_back)
        session.traces_changed.connect(self._offer_joints)
        self.curves.cursors_shown.connect(self.book["cursors"].setChecked)
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.focusChanged.connect(self._keep_in_sight)
        QApplication.styleHints().colorSchemeChanged.connect(self._follow_system_look)

    def _keep_in_sight(self, _before: QWidget | None, focus: QWidget | None) -> None:
        """Where the keyboard goes is seen."""
        if focus is not None and self.pages.isAncestorOf(focus):
            half = focus.size().boundedTo(self.room.viewport().size()) / 2
            middle = focus.mapTo(self.pages, focus.rect().center())
            self.room.ensureVisible(middle.x(), middle.y(), half.width(), half.height())

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
        if self.curves.give_up() or self.distribution.give_up():
            return True
        stops = self.bottom.cancel.isVisible() and not self.session.selected.any()
        if stops:
            self.bottom.stop_wanted.emit()
        return stops

    def _show_recognised(self, found: Recognised, add: bool) -> None:
        self.strip.show_found(
            found.paths,
            recognised_words(found),
            useful=found.n_files > 0 or bool(found.joints_path),
            anything_open=not self.session.is_empty,
            add=add,
        )
        self.activateWindow()

    def _show_filled(self) -> None:
        filled = not self.session.is_empty
        focus = self.focusWidget()
        worked_in = self.overview if self.links.pages.page == OVERVIEW else self.table
        left, entered = (self.first, worked_in) if filled else (self.pages, self.first)
        moves = focus is None or left.isAncestorOf(focus)
        for area in self.areas:
            if isinstance(area, Area):
                area.set_filled(filled)
        if moves:  # the keyboard goes on where there is something to do
            entered.setFocus(Qt.FocusReason.OtherFocusReason)

    def _turn_page(self, page: str) -> None:
        """The keyboard goes with the page."""
        focus = self.focusWidget()
        moves = focus is None or self.pages.isAncestorOf(focus)
        joints = page == OVERVIEW
        self._show_page(self.overview_area if joints else self.columns)
        self._offer_joints()
        if moves and not self.session.is_empty:
            (self.overview if joints else self.table).setFocus(Qt.FocusReason.OtherFocusReason)

    def _show_page(self, shown: QWidget) -> None:
        """This page; the other takes no room that would have this one scroll."""
        for page in (self.columns, self.overview_area):
            policy = QSizePolicy.Policy.Preferred if page is shown else QSizePolicy.Policy.Ignored
            page.setSizePolicy(policy, policy)
        self.pages.setCurrentWidget(shown)

    def _lead_to_recovery(self) -> None:
        """Enter recovers, where nothing else is open or about to be."""
        if self.session.is_empty and READING not in self.session.jobs.running:
            self.bottom.recover.setFocus(Qt.FocusReason.OtherFocusReason)

    def _leave_recovery(self) -> None:
        """The offer is gone: the keyboard is where it is without one, and goes on to what is recovered."""
        if self.session.is_empty:
            self.first.setFocus(Qt.FocusReason.OtherFocusReason)

    def _offer_joints(self) -> None:
        """The step back, where there is somewhere to step back to."""
        pages = self.links.pages
        self.top.offer_joints(pages.page == CURVES and pages.has_joints)

    def _remember_unit(self) -> None:
        self.preferences.torque_unit = self.session.view.torque_unit
        self.preferences.time_zone = self.session.view.time_zone

    def _show_title(self, file: str) -> None:
        name = one_line(Path(file).name).replace("[*]", "[*][*]")  # else a place for Qt's own mark
        self.setWindowTitle(f"{name} \N{EM DASH} Tautograph" if file else "Tautograph")

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
        self.links.set_look(look)
        self.menus.beside.set_look(look)
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
            self.menus.files.drop(paths, add=add)
            event.acceptProposedAction()

    def closeEvent(self, event: QCloseEvent) -> None:
        """A clean exit: the layout is kept, work is saved, threads have ended."""
        if not self.menus.may_close():
            event.ignore()
            return
        for name, splitter in self._splitters().items():
            self.preferences.remember_layout(name, QByteArray(splitter.saveState().data()))
        self.preferences.remember_layout("window", QByteArray(self.saveGeometry().data()))
        self.preferences.flush()
        self.menus.close()
        self.hide()
        self.curves.plot.crowd.shut_down()
        self.links.overview.worker.close()
        self.session.close()
        event.accept()


def dropped_paths(data: QMimeData) -> list[str]:
    """Local files and folders of something that is dragged."""
    return [url.toLocalFile() for url in data.urls() if url.isLocalFile()]
