"""Hostile names in lists, headings, titles, charts and the clipboard: one line, as they are, nothing run."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtWidgets import QComboBox, QFileDialog, QInputDialog, QLabel
from pytestqt.qtbot import QtBot

from analysis.plant.weekly import weeks_of
from analysis.plant.year import Event, look_at_year
from analysis.plant.year_plots import course_of
from analysis.shown_text import MOST_LETTERS
from app.display.columns import text_column
from app.main_window import MainWindow
from app.models.row_groups import RowGroups
from app.models.text_table import TextColumn, TextRow, TextTableModel
from app.views.joints.shared_library import SharedLibrary
from app.views.parts.choices import named_choices
from app.views.parts.plain_label import PlainLabel
from app.views.studies.course_view import CourseView
from app.views.studies.year_window import YearWindow
from tests.helpers.hostile_texts import HOSTILE, LONG, STEERING
from tests.world.plant_year import FIRST, YearPlan, make_year, write_archive

NAMES = (HOSTILE, LONG, f"={HOSTILE}", f"@{HOSTILE}")


def _may_stand_on_a_line(text: str) -> bool:
    return not set(STEERING + "\n") & set(text) and len(text) <= MOST_LETTERS + 40


def test_lists_and_headings_of_groups_hold_names_in_one_line(qtbot: QtBot) -> None:
    box = named_choices("Joint", [(name, name) for name in NAMES])
    qtbot.addWidget(box)
    assert [box.itemData(k) for k in range(box.count())] == list(NAMES), "what is chosen is the name itself"
    assert all(_may_stand_on_a_line(box.itemText(k)) for k in range(box.count()))
    groups = RowGroups(text_column("lot", list(NAMES)), coloured=False)
    heads = groups.lines(np.arange(len(NAMES)), None, frozenset())[2]
    assert {head.name for head in heads} == set(NAMES)
    assert all(_may_stand_on_a_line(head.title) for head in heads)


@pytest.mark.parametrize("words", ["{0.x} {y", "{value:99}", *NAMES])
def test_an_event_beside_its_line_is_no_form_that_is_filled_in(qtbot: QtBot, words: str) -> None:
    made = make_year(1, YearPlan(joints=1, spindles_each=3, weeks=8, a_week=10, seeded=False))
    year = look_at_year(weeks_of(made), [])
    course = course_of(year, 0, made.joints[0], "", events=[Event(FIRST + timedelta(weeks=4), "", "", words)])
    view = CourseView()
    qtbot.addWidget(view)
    view.show()
    view.set_course(course, FIRST)
    (line,) = view._events
    shown = line.label.toPlainText()
    assert shown[:10] == words[:10]
    assert _may_stand_on_a_line(shown)
    assert view.grab().width() > 100


def test_the_window_of_a_year_stays_as_wide_as_a_screen(
    window: MainWindow, qtbot: QtBot, tmp_path: Path
) -> None:
    made = make_year(1, YearPlan(joints=2, spindles_each=3, weeks=10, a_week=10, seeded=False))
    made = replace(made, joints=("a" * 150, "b" * 150), spindles=tuple(f"={k}{HOSTILE}" for k in range(6)))
    write_archive(made, tmp_path)
    (tmp_path / "_events.csv").write_text('time,tool,kind,text\n2026-02-04T06:00:00Z,,=k,"{x.y} {"\n')
    window.menus.studies.show_year(str(tmp_path))
    shown = window.menus.beside.open["year"]
    assert isinstance(shown, YearWindow)
    qtbot.waitUntil(lambda: bool(shown.weeks.table.rows))
    assert shown.course.course is not None
    shown.spindle.setCurrentIndex(1)
    shown.course.point_chosen.emit(0, 3)
    assert shown.minimumSizeHint().width() < 1920
    for label in shown.findChildren(QLabel):
        assert not set(STEERING) & set(label.text())
    for box in shown.findChildren(QComboBox):
        assert all(_may_stand_on_a_line(box.itemText(k)) for k in range(box.count()))


def test_cells_are_shown_and_copied_as_texts_of_one_cell() -> None:
    table = TextTableModel([TextColumn("A"), TextColumn("B")])
    table.set_rows([TextRow((name, "a\tb\r\nc")) for name in NAMES])
    assert not set(STEERING) & set("".join(table.index(row, 0).data() for row in range(4)))
    lines = table.as_tabbed().split("\n")
    assert len(lines) == 1 + len(NAMES)
    for line in lines[1:]:
        assert len(line.split("\t")) == 2
        assert not line.startswith(("=", "@"))


def test_a_label_shows_nothing_that_steers_what_follows(qtbot: QtBot) -> None:
    label = PlainLabel(HOSTILE)
    qtbot.addWidget(label)
    assert not set(STEERING) & set(label.text())
    assert "<img" in label.text()


def test_the_title_of_the_window_is_the_file_s_name(window: MainWindow) -> None:
    window._show_title("/x/a[*]\u202eb\nc.tg")
    assert window.windowTitle().replace("[*][*]", "[*]") == "a[*]\ufffdb c.tg \N{EM DASH} Tautograph"
    window._show_title(f"/x/{'y' * 5000}")
    assert _may_stand_on_a_line(window.windowTitle())


def test_a_library_s_hostile_titles_are_offered_in_lines_and_the_right_joint_is_taken(
    qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    names = [f"{'n' * 200}{k}{'m' * 200}" for k in range(3)]
    joints = "".join(f'[joints."{name}"]\ntitle = "<b>\\n\\u202e"\n' for name in names)
    file = tmp_path / "library.toml"
    file.write_text(f'[library]\ntitle = "<i>\\n\\u202e{"t" * 999}"\nrevision = "1"\n{joints}', "utf-8")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(file), ""))
    offered: list[tuple[str, list[str]]] = []

    def item(_over: object, title: str, _lead: str, items: list[str], *_rest: object) -> tuple[str, bool]:
        offered.append((title, items))
        return items[1], True

    monkeypatch.setattr(QInputDialog, "getItem", item)
    label = PlainLabel()
    qtbot.addWidget(label)
    library = SharedLibrary(label)
    with qtbot.waitSignal(library.taken) as told:
        library.actions()[0].trigger()
    assert told.args[1] == names[1]
    ((title, items),) = offered
    assert all(_may_stand_on_a_line(one) for one in (title, *items))
