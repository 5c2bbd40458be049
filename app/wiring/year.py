"""An archive, and the window of its year: looked at away from the thread of the window; curves on demand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QObject, QSignalBlocker, Signal

from analysis.catalogue.verdicts import VERDICTS
from app.display.messages import count_words, tr
from app.session.session import Session
from app.views.studies.year_window import YearWindow
from app.wiring.follow import Follow

if TYPE_CHECKING:
    import pyarrow as pa
    from numpy.typing import NDArray

    from analysis.plant.calibration import Standing
    from analysis.plant.tool_care import ToolCare
    from analysis.plant.year import Event, Year
    from analysis.plant.year_plots import Course
    from analysis.report.plot_spec import PlotSpec

YEAR, BEHIND = "year", "curves of a week"


@dataclass(frozen=True, eq=False)
class Opened:
    """An archive as it is looked at."""

    folder: str
    days: pa.Table
    events: list[Event]
    year: Year
    care: list[ToolCare]
    calibrations: list[Standing]


@dataclass(frozen=True)
class Week:
    """The week of one joint, or of one of its spindles, whose curves are wanted."""

    folder: str
    joint: str
    spindle: str
    since: datetime


def open_archive(folder: str, _progress: Any, _cancelled: Any) -> Opened:
    """Look at an archive by its day rows: their number does not grow with that of the traces."""
    from analysis.plant.calibration import standings
    from analysis.plant.day_rows import count_name
    from analysis.plant.reading_back import read_days, read_events
    from analysis.plant.tool_care import care_of_tools
    from analysis.plant.weekly import OF_DAYS, weeks_of_days
    from analysis.plant.weekly_capability import PARTS, STUDIED
    from analysis.plant.year import events_of, look_at_year, lots_of

    merging = [f"{name}_{part}" for name in STUDIED for part in PARTS]
    columns = dict.fromkeys((*OF_DAYS, "lot", *map(count_name, VERDICTS), *merging))
    days = read_days(Path(folder), list(columns))
    written = read_events(Path(folder))
    events, lots = events_of(written), lots_of(days)
    year = look_at_year(weeks_of_days(days), events, lots)
    calibrations = standings(written.to_pylist(), year.weeks.spindles, year.weeks.end)
    return Opened(folder, days, [*events, *lots], year, care_of_tools(year), calibrations)


def recordings_behind(week: Week, _progress: Any, _cancelled: Any) -> list[str]:
    """The files that hold the curves of a week, those that are still there."""
    import pyarrow.compute as pc

    from analysis.plant.archive import inputs_of
    from analysis.plant.look_back import Touched
    from analysis.plant.reading_back import read_rows

    touched = Touched(joint=week.joint, since=week.since, until=week.since + timedelta(weeks=1))
    rows = read_rows(Path(week.folder), ["spindle", "tool", "source_digest"], touched.filter())
    if week.spindle:
        own: Any = pc.coalesce(rows.column("spindle"), rows.column("tool"))
        rows = rows.filter(pc.is_in(own, pa_array([week.spindle])))
    held = inputs_of(Path(week.folder))
    paths = [held[one]["path"] for one in set(rows.column("source_digest").to_pylist()) if one in held]
    return sorted(path for path in paths if Path(path).is_file())


def pa_array(values: list[str]) -> Any:
    """A column of these values."""
    import pyarrow as pa

    return pa.array(values)


def _told_calibrations(calibrations: Sequence[Standing]) -> list[tuple[str, str]]:
    """Standing and words of each; where nothing can be told of any, that alone."""
    from analysis.plant.calibration import untold_words

    if all(one.plan is None for one in calibrations):
        return [("–", f"{untold_words(calibrations)}.")]
    return [(one.word, one.words) for one in calibrations]


def _ends(course: Course, row: int, week: int) -> tuple[str, str, str]:
    """Mean of a week and its interval, as texts: to two digits of how far the interval reaches."""
    from analysis.figure_text import ABSENT, number_text

    values = [float(one[row, week]) for one in (course.mean, course.low, course.high)]
    if not np.isfinite(values).all() or values[2] <= values[1]:
        return ABSENT, ABSENT, ABSENT
    places = max(0, 1 - int(np.floor(np.log10((values[2] - values[1]) / 2.0))))
    mean, low, high = (number_text(one, places) for one in values)
    return mean, low, high


class YearLink(QObject):
    """Has an archive looked at, shows it, and brings the curves behind a week to the main window."""

    pages_wanted = Signal(object)  #: (opened)

    def __init__(self, session: Session, window: YearWindow, folder: str) -> None:
        super().__init__(window)
        self.session = session
        self.window = window
        self.opened: Opened | None = None
        self.units = session.units
        session.jobs.answered.connect(self._receive)
        session.jobs.failed.connect(self._fail)
        window.shown_changed.connect(self._show)
        window.change_chosen.connect(self._choose)
        window.tool_chosen.connect(self._choose_tool)
        window.calibration_chosen.connect(self._choose_calibration)
        window.point_chosen.connect(self._choose_point)
        window.point_opened.connect(self._open_point)
        window.week_chosen.connect(self._choose_week)
        window.week_opened.connect(self._open_week)
        window.pages_wanted.connect(lambda: self.pages_wanted.emit(self.opened))
        Follow(window, self._show_units, session.view_changed)
        window.set_pending(tr("Opening {0} …", folder))
        session.jobs.submit(YEAR, folder, open_archive)

    def _fail(self, kind: str, *_told: Any) -> None:
        if kind == YEAR:
            self.window.set_pending(
                tr("This folder is not an archive that can be opened; the message below says why.")
            )

    def _receive(self, kind: str, _number: int, answer: Any) -> None:
        if kind == YEAR:
            self._take(answer)
        elif kind == BEHIND and answer:
            self.session.open_paths(answer, joints=self.session.joints_path)
        elif kind == BEHIND:
            self.window.hint.setText(tr("The recordings of this week are no longer where they were."))

    def _take(self, opened: Opened) -> None:
        self.opened = opened
        year = opened.year
        n, weeks = int(np.sum(opened.days.column("n").to_numpy())), year.weeks.of[0].mean.shape[1]
        if not year.weeks.joints:
            self.window.set_pending(tr("No trace says its joint, its spindle and when it started."))
            return
        words = tr(
            "{0} of {1} and {2} in {3} from {4}; {5}.",
            count_words(n, "trace", "traces"), count_words(len(year.weeks.joints), "joint", "joints"),
            count_words(len(year.weeks.spindles), "spindle", "spindles"),
            count_words(weeks, "week", "weeks"),
            str(year.weeks.first), count_words(len(year.changes), "change", "changes"),
        )  # fmt: skip
        self.window.set_year(
            words,
            year.control_sentence() if year.charts else tr("Too few weeks to tell a step or a drift."),
            [(one.whose, one.sentence(self.session.units)) for one in year.changes],
            [one.sentence() for one in opened.care],
            _told_calibrations(opened.calibrations),
            figures=[(one.followed.figure.title, k) for k, one in enumerate(year.weeks.of)],
            joints=year.weeks.joints,
        )
        self._show()

    def _show_units(self) -> None:
        """All of it anew, where another unit was chosen."""
        if self.opened is not None and self.units != self.session.units:
            self.units = self.session.units
            self._take(self.opened)

    def _show(self) -> None:
        from analysis.plant.year_charts import year_chart_plots
        from analysis.plant.year_plots import course_of, shares_plot, streams_of, verdict_counts

        opened, joint = self.opened, self.window.joint.currentData()
        if opened is None or not joint:
            return
        year, weekly = opened.year, opened.year.weeks.of[0]
        names = sorted({year.weeks.spindles[weekly.spindle[row]] for row in streams_of(year, joint).tolist()})
        spindle = self.window.spindle.currentData() or ""
        spindle = spindle if spindle in names else ""
        self.window.set_spindles(names, spindle)
        figure = int(self.window.figure.currentData() or 0)
        course = course_of(year, figure, joint, spindle, events=opened.events, units=self.session.units)
        charts = year_chart_plots(year, figure, joint, spindle)
        counts = verdict_counts(year, opened.days, joint, spindle)
        capable = self._capability(opened, figure, joint, spindle)
        plots = [charts, capable, (shares_plot(year, counts),)]
        self.window.set_course(course, year.weeks.first, plots, self._weeks(year, course, counts))
        if not np.isfinite(course.mean).any():
            self.window.look_at(tr("No week has enough values of this figure."), None)

    def _capability(self, opened: Opened, figure: int, joint: str, spindle: str) -> tuple[PlotSpec, ...]:
        """The weekly index, where the joints that are open give limits for the figure."""
        from analysis.capability.studied import STUDIED, limits_of
        from analysis.plant.weekly_capability import capability_plot

        definition, column = self.session.joints.get(joint), opened.year.weeks.of[figure].followed.figure.name
        studied = next((one for one in STUDIED if one.column == column), None)
        if definition is None or studied is None:
            return ()
        limits = limits_of(studied, definition)
        plot = capability_plot(opened.year, opened.days, column, joint, spindle, limits=limits)
        return () if plot is None else (plot,)

    def _weeks(self, year: Year, course: Course, counts: NDArray[np.int64]) -> list[tuple[str, ...]]:
        from analysis.figure_text import ABSENT

        one = len(course.spindles) == 1
        told: list[tuple[str, ...]] = []
        for week in range(course.mean.shape[1]):
            ends = _ends(course, 0, week) if one else (ABSENT,) * 3
            monday = str(year.weeks.monday(week))
            told.append((monday, str(int(counts[:, week].sum())), *ends, str(int(counts[2, week]))))
        return told

    def _choose_point(self, row: int, week: int) -> None:
        """Say what a point of the course is."""
        course = self.window.course.course
        if course is None or self.opened is None:
            return
        mean, low, high = _ends(course, row, week)
        unit, monday = course.unit, self.opened.year.weeks.monday(week)
        words = tr(
            "{0}, week from {1}: {2} {3} (95 %: {4} to {5}), {6} traces.",
            course.spindles[row], str(monday), mean, unit, low, high, str(int(course.count[row, week])),
        )  # fmt: skip
        written = dict(course.lines).get(week)
        if written is not None:
            words = tr("{0} In this week: {1}.", words, written)
        self.window.look_at(words, (row, week))

    def _choose_week(self, week: int) -> None:
        """The point of a week of the table, where a single spindle is looked at."""
        course = self.window.course.course
        if course is not None and len(course.spindles) == 1 and np.isfinite(course.mean[0, week]):
            self._choose_point(0, week)

    def _choose(self, row: int) -> None:
        opened = self.opened
        if opened is None or not 0 <= row < len(opened.year.changes):
            return
        change, year = opened.year.changes[row], opened.year
        from analysis.plant.year_plots import place_of

        joint, spindle = place_of(year, change)
        window = self.window
        with QSignalBlocker(window.figure), QSignalBlocker(window.joint):
            window.figure.setCurrentIndex([one.followed for one in year.weeks.of].index(change.followed))
            window.joint.setCurrentIndex(window.joint.findData(joint))
        window.set_spindles([spindle] if spindle else [], spindle)
        self._show()
        window.look_at(f"{change.sentence(self.session.units)}.", None)

    def _choose_tool(self, row: int) -> None:
        """A tool of the list that needs care."""
        if self.opened is not None and 0 <= row < len(self.opened.care):
            self._look_at_tool(self.opened.care[row].name, self.opened.care[row].sentence())

    def _choose_calibration(self, row: int) -> None:
        """A tool of the list of calibrations; it may have tightened nothing."""
        if self.opened is None or not 0 <= row < len(self.opened.calibrations):
            return
        one = self.opened.calibrations[row]
        if one.tool in self.opened.year.weeks.spindles:
            self._look_at_tool(one.tool, one.words)

    def _look_at_tool(self, name: str, words: str) -> None:
        """The torque of a tool, on its first joint."""
        from analysis.plant.year_plots import first_joint

        assert self.opened is not None
        window = self.window
        with QSignalBlocker(window.figure), QSignalBlocker(window.joint):
            window.figure.setCurrentIndex(0)
            window.joint.setCurrentIndex(window.joint.findData(first_joint(self.opened.year, name)))
        window.set_spindles([name], name)
        self._show()
        window.look_at(f"{words}.", None)

    def _open_point(self) -> None:
        course, chosen = self.window.course.course, self.window.course.chosen
        if course is not None and chosen is not None:
            self._open(course.spindles[chosen[0]], chosen[1])

    def _open_week(self, row: int) -> None:
        self._open(self.window.spindle.currentData() or "", row)

    def _open(self, spindle: str, week: int) -> None:
        """Bring the curves of a week to the main window."""
        if self.opened is None:
            return
        monday = datetime.combine(self.opened.year.weeks.monday(week), time(), UTC)
        wanted = Week(self.opened.folder, self.window.joint.currentData(), spindle, monday)
        self.window.hint.setText(tr("Looking for the recordings of this week …"))
        self.session.jobs.submit(BEHIND, wanted, recordings_behind)
