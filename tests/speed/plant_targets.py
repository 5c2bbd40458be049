"""Files of an archive, of shared joints, and words of the command line: sound ones, and what reads them."""

from __future__ import annotations

import io
import shutil
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq

from analysis.checked_text import UnusableTextError, decoded
from analysis.errors import TautographError
from analysis.joint import joints_from_text, load_joints
from analysis.joint.library import read_library
from analysis.joint.library_entries import taken_entries, with_taken
from analysis.plant.archive import finish_interrupted
from analysis.plant.look_back import Touched
from analysis.plant.names import DAYS, UNFINISHED
from analysis.plant.reading_back import read_events, read_rows
from analysis.plant.weekly import weeks_of
from analysis.plant.year import events_of, look_at_year
from analysis.plant.year_traces import NEEDED, traces_of
from app.commands.arguments import analyse_parser, report_parser
from app.commands.in_pieces import _usual
from app.commands.inputs import moment
from app.commands.library_arguments import library_parser
from app.commands.parsing import BatchArguments
from app.commands.record_arguments import (
    LookBackArguments,
    YearArguments,
    look_back_parser,
    parts_parser,
    year_parser,
)
from app.commands.report import torque_unit_of
from app.commands.run import read_settings_of
from app.commands.study_arguments import strategy_parser, study_parser
from app.wiring.year import open_archive
from tests.world.plant_year import YearPlan, make_year, write_archive

_ROWS = Path("year=2026", "month=03", "joint=hub", "a.parquet")
LIBRARY = """[library]
title = "Joints of the plant"
revision = "7"
[joints.clip]
target_torque_nm = 1.8
torque_limits_nm = [1.5, 2.1]
[joints.clip.plastic]
screw_diameter_mm = 4.0
pitch_mm = 1.5
core_hole_mm = 3.2
engaged_mm = 8.0
head_mm = 7.5
flank_angle_deg = 30.0
yield_strength_mpa = 45.0
friction_thread = [0.2, 0.3]
[joints.hub]
target_torque_nm = 65.0
thread = "M10"
positions = [1, 2, 3]
layout = [[0, 0], [120, 0], [120, 80]]
interaction = [[0.0, 0.1, 0.02], [0.1, 0.0, 0.1], [0.02, 0.1, 0.0]]
passes = 2
"""
#: Words of the command line, one a line.
_WORDS = """analyse
shift.parquet
--joints
joints.toml
--results
OUT
--since
2026-03-02T06:00+01:00
--snug-threshold-nm
12.5
--yield-offset-deg
1e-1
--shift-starts
06:00,14:00,22:00
--time-zone
Europe/Vienna
--workers
2
"""
_PARSERS: dict[str, Callable[[], object]] = {
    "analyse": analyse_parser, "report": report_parser, "study": study_parser, "strategy": strategy_parser,
    "parts": parts_parser,
}  # fmt: skip


class ArchiveFolder:
    """A small archive in which one file at a time is another."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        write_archive(
            make_year(1, YearPlan(joints=2, spindles_each=3, weeks=8, a_week=6, seeded=False)), folder
        )
        shutil.rmtree(folder / "year=2025", ignore_errors=True)
        (self.days,) = (folder / DAYS).glob("*.parquet")
        rows = next(iter(folder.glob("year=*/**/*.parquet")))
        self.sound_days, self.sound_rows = self.days.read_bytes(), rows.read_bytes()
        for place in folder.glob("year=*"):
            shutil.rmtree(place)
        (folder / _ROWS).parent.mkdir(parents=True)

    def targets(self) -> dict[str, tuple[bytes, Callable[[Path], object]]]:
        """Name of each kind: sound bytes, and what reads a file as that of the archive."""
        return {
            "days.parquet": (self.sound_days, partial(self._as, DAYS + "/" + self.days.name, self._open)),
            "year_rows.parquet": (self.sound_rows, partial(self._as, str(_ROWS), self._look)),
            "events.parquet": (_events(), partial(self._as, "_events.parquet", self._events)),
            "ready.json": (_READY.encode(), self._finish),
        }

    def _as(self, name: str, read: Callable[[], object], path: Path) -> None:
        file = self.folder / name
        file.write_bytes(path.read_bytes())
        try:
            read()
        finally:
            self.days.write_bytes(self.sound_days) if file == self.days else file.unlink()

    def _open(self) -> None:
        opened = open_archive(str(self.folder), None, None)
        for told in (*opened.year.changes, *opened.care):
            told.sentence()

    def _look(self) -> None:
        year = look_at_year(weeks_of(traces_of(read_rows(self.folder, NEEDED))))
        for change in year.changes:
            change.sentence()
        read_rows(self.folder, ["spindle"], Touched(spindle="1").filter())

    def _events(self) -> None:
        events_of(read_events(self.folder))

    def _finish(self, path: Path) -> None:
        """An archive whose last run was interrupted when all of it was ready."""
        folder = path.parent / "interrupted"
        stage = folder / UNFINISHED / "a"
        (stage / "ready" / DAYS).mkdir(parents=True)
        (stage / "ready" / DAYS / "a.parquet").write_bytes(b"")
        (stage / "ready.json").write_bytes(path.read_bytes())
        try:
            finish_interrupted(folder)
        finally:
            shutil.rmtree(folder)


_READY = """{"run": "a", "way": {"version": "1"}, "files": ["_days/a.parquet"], "inputs": []}"""


def _events() -> bytes:
    out = io.BytesIO()
    times = pa.array([datetime(2026, 3, 4, tzinfo=UTC)] * 2, pa.timestamp("us", tz="UTC"))
    words = {"tool": ["t", None], "kind": ["bit", "lot"], "text": ["x", ""]}
    pq.write_table(pa.table({"time": times} | words), out)
    return out.getvalue()


def read_shared(path: Path) -> None:
    """A library, as the command lists it and takes all of it."""
    library = read_library(path)
    joints_from_text(decoded(path.read_bytes()), path=str(path))
    new = with_taken("", path.with_name("takes.toml"), library, list(library.tables))
    taken_entries(new, path.with_name("takes.toml"), library)


def taking_text(folder: Path) -> str:
    """A joints file that takes from a library beside it."""
    shared = folder / "shared_library.toml"
    shared.write_text(LIBRARY, "utf-8")
    return with_taken("", folder / "takes.toml", read_library(shared), ["clip", "hub"])


def read_words(path: Path) -> None:
    """The words of a command line, and what each stands for, up to the work itself."""
    try:
        words = decoded(path.read_bytes()).split("\n")
    except UnusableTextError as error:
        raise TautographError(str(error)) from None
    silent = io.StringIO()
    try:
        with redirect_stderr(silent), redirect_stdout(silent):
            _parse([word for word in words if word and "\0" not in word])
    except SystemExit as stop:
        raise TautographError(silent.getvalue()) from stop


def _parse(words: list[str]) -> None:
    match words[:1]:
        case ["library"]:
            library_parser().parse_args(words[1:])
        case ["year"]:
            year_parser().parse_args(words[1:], namespace=YearArguments())
        case ["look-back"]:
            look_back_parser().parse_args(words[1:], namespace=LookBackArguments())
        case [command] if command in _PARSERS:
            arguments = _PARSERS[command]().parse_args(words[1:], namespace=BatchArguments())  # type: ignore[attr-defined]
            if arguments.since is not None:
                moment(arguments.since, datetime.now(UTC))
            torque_unit_of(getattr(arguments, "torque_unit", None))
            read_settings_of(arguments)
            if command == "analyse":
                _usual(arguments)


def shared_targets(folder: Path) -> dict[str, tuple[bytes, Callable[[Path], object]]]:
    """Shared joints, joints that are taken from them, and words of a command line."""
    return {
        "library.toml": (LIBRARY.encode(), read_shared),
        "takes.toml": (taking_text(folder).encode(), load_joints),
        "words.txt": (_WORDS.encode(), read_words),
    }
