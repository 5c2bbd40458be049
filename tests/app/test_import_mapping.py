"""Files of an unfamiliar layout: the preview, what must be confirmed, and the mapping that is found again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QComboBox
from pytestqt.qtbot import QtBot

from analysis.traces.units import UNITS
from app.main_window import MainWindow
from app.views.opening.mapping_dialog import MappingDialog

TURNS = np.linspace(0.0, 2.0, 60)
#: Inch-pounds: what a tool without SI units would write.
TORQUE_IN_LBF = np.clip(TURNS - 1.5, 0.0, None) * 400.0


def write_unfamiliar(path: Path) -> None:
    """Columns that only a person can name: turns and in·lbf, decimal comma, words above."""
    rows = [
        f"{a:.4f};{t:.3f};{k}".replace(".", ",")
        for k, (a, t) in enumerate(zip(TURNS, TORQUE_IN_LBF, strict=True))
    ]
    path.write_text("Pruefstand 3\nKanal 1;Kanal 2;Zaehler\n" + "\n".join(rows) + "\n", encoding="utf-8")


def choose(box: QComboBox, data: object) -> None:
    """Choose an entry as a person does: the signal of a choice is sent."""
    index = box.findData(data)
    assert index >= 0, f"{data!r} is not offered"
    box.setCurrentIndex(index)
    box.activated.emit(index)


def offered() -> MappingDialog:
    (dialog,) = [w for w in QApplication.topLevelWidgets() if isinstance(w, MappingDialog) and w.isVisible()]
    return dialog


def say_what_is_what(dialog: MappingDialog) -> None:
    choose(dialog.columns["angle_deg"], "Kanal 1")
    choose(dialog.units["angle_deg"], "turn")
    choose(dialog.columns["torque_nm"], "Kanal 2")
    choose(dialog.units["torque_nm"], "in·lbf")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "shift").mkdir()
    for name in ("bench_1.csv", "bench_2.csv"):
        write_unfamiliar(tmp_path / "shift" / name)
    return tmp_path / "shift"


def test_nothing_is_read_before_columns_and_units_are_confirmed(
    window: MainWindow, folder: Path, qtbot: QtBot
) -> None:
    window.menus.files.open([str(folder)])
    qtbot.waitUntil(lambda: any(isinstance(w, MappingDialog) for w in QApplication.topLevelWidgets()))
    dialog = offered()
    assert window.session.is_empty
    assert len(dialog.paths) == 2
    assert not dialog.read.isEnabled()
    assert dialog.problem.text()
    choose(dialog.columns["angle_deg"], "Kanal 1")
    choose(dialog.columns["torque_nm"], "Kanal 2")
    assert not dialog.read.isEnabled(), "no unit is stated: none may be guessed"
    say_what_is_what(dialog)
    assert dialog.read.isEnabled()
    assert dialog.problem.text() == ""
    assert dialog.trial.isVisible()
    dialog.reject()
    assert window.session.is_empty


def test_a_saved_mapping_reads_the_files_and_is_found_again_by_its_pattern(
    window: MainWindow, folder: Path, tmp_path: Path, judged: Callable[[MainWindow], None], qtbot: QtBot
) -> None:
    session = window.session
    window.menus.files.open([str(folder)])
    qtbot.waitUntil(lambda: any(isinstance(w, MappingDialog) for w in QApplication.topLevelWidgets()))
    dialog = offered()
    say_what_is_what(dialog)
    dialog.name.setText("bench")
    dialog.pattern.setText("bench_*.csv")
    qtbot.mouseClick(dialog.read_and_save, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(session.traces) == 2)
    judged(window)
    trace = session.traces[session.traces.row_of("bench_1")]
    np.testing.assert_allclose(trace.angle_deg, np.round(TURNS, 4) * 360.0)
    np.testing.assert_allclose(trace.torque_nm, np.round(TORQUE_IN_LBF, 3) * UNITS["in·lbf"].to_internal)
    assert not any(problem.fatal for problem in session.problems)

    write_unfamiliar(tmp_path / "bench_77.csv")
    window.menus.files.open([str(tmp_path / "bench_77.csv")])
    qtbot.waitUntil(lambda: session.traces.trace_ids == ("bench_77",))
    assert session.traces.sources[0].layout == "import mapping bench"
    assert not any(isinstance(w, MappingDialog) and w.isVisible() for w in QApplication.topLevelWidgets())


def test_a_file_that_a_mapping_reads_is_no_longer_counted_as_skipped(
    window: MainWindow, folder: Path, judged: Callable[[MainWindow], None], qtbot: QtBot
) -> None:
    (folder / "plain.csv").write_text("angle_deg;torque_nm\n0;1\n10;2\n20;30\n")
    (folder / "bench_2.csv").write_bytes(b"")
    session = window.session
    window.menus.files.open([str(folder)])
    qtbot.waitUntil(lambda: any(isinstance(w, MappingDialog) for w in QApplication.topLevelWidgets()))
    judged(window)
    assert window.bottom.skipped.text().startswith("2")
    dialog = offered()
    say_what_is_what(dialog)
    qtbot.mouseClick(dialog.read, Qt.MouseButton.LeftButton)
    qtbot.waitUntil(lambda: len(session.traces) == 2)
    judged(window)
    assert [Path(problem.path).name for problem in session.problems if problem.fatal] == ["bench_2.csv"]
    assert window.bottom.skipped.text().startswith("1")


def test_titles_of_the_preview_are_whole_and_one_more_file_is_one(
    window: MainWindow, tmp_path: Path, qtbot: QtBot
) -> None:
    folder = tmp_path / "night"
    folder.mkdir()
    title = "Drehmoment am Werkzeug [?]"
    lines = [f"{k};{k * 2};{k}" for k in range(20)]
    for name in ("a.txt", "b.txt"):
        (folder / name).write_text("\n".join([f"Zaehler;Weg;{title}", *lines]) + "\n", encoding="utf-8")
    window.menus.files.open([str(folder / "a.txt"), str(folder / "b.txt")])
    qtbot.waitUntil(lambda: any(isinstance(w, MappingDialog) for w in QApplication.topLevelWidgets()))
    dialog = offered()
    assert "and 1 more file:" in dialog.lead.text()
    header = dialog.rows.horizontalHeader()
    titles = [str(dialog.cells.headerData(k, Qt.Orientation.Horizontal)) for k in range(header.count())]
    assert title in titles
    place = titles.index(title)
    assert header.sectionSize(place) >= header.fontMetrics().horizontalAdvance(title)
    dialog.reject()
    assert "No trace was read from it." in window.top.sentence.text()


def shift_of_a_plant(path: Path, *, cut: bool = True) -> None:
    """Words above, text columns, decimal comma, ft·lbf, several curves, and a last line that is cut."""
    header = "Schraub-Nr;Zeitpunkt;Drehwinkel (°);Moment (ft-lb);Spindel Nr;Charge Schraube;Bediener"
    lines = ["Export Linie 3", header]
    for bolt in range(3):
        for angle in np.linspace(0.0, 900.0 + bolt, 60):
            torque = 1.0 + 0.3 * max(angle - 800.0, 0.0)
            numbers = f"{angle / 400:.3f};{angle:.2f};{torque:.2f}".replace(".", ",")
            lines.append(f"hub-{bolt};{numbers};H3;W-118;k. l.")
    path.write_text("\n".join(lines)[: -20 if cut else None], encoding="cp1252")


def test_a_plants_own_export_is_understood_at_once(window: MainWindow, tmp_path: Path, qtbot: QtBot) -> None:
    shift_of_a_plant(tmp_path / "line3_export.csv")
    window.menus.files.open([str(tmp_path / "line3_export.csv")])
    qtbot.waitUntil(lambda: any(isinstance(w, MappingDialog) for w in QApplication.topLevelWidgets()))
    dialog = offered()
    assert dialog.read.isEnabled(), dialog.problem.text()
    assert dialog.header.value() == 2
    assert [dialog.columns[t].currentData() for t in ("angle_deg", "torque_nm", "trace_id")] == [
        "Drehwinkel (°)",
        "Moment (ft-lb)",
        "Schraub-Nr",
    ]
    assert dialog.columns["time_s"].currentData() is None, "no unit of the time is stated"
    assert "ft·lbf" in dialog.trial.words()
    assert "900.0 deg" in dialog.trial.words()
    dialog.reject()


def test_guesses_follow_the_header_row_and_what_was_chosen_by_hand_stays(
    window: MainWindow, tmp_path: Path, qtbot: QtBot
) -> None:
    shift_of_a_plant(tmp_path / "line3_export.csv")
    window.menus.files.open([str(tmp_path / "line3_export.csv")])
    qtbot.waitUntil(lambda: any(isinstance(w, MappingDialog) for w in QApplication.topLevelWidgets()))
    dialog = offered()
    choose(dialog.columns["time_s"], "Zeitpunkt")
    choose(dialog.units["time_s"], "s")
    dialog.header.setValue(4)
    assert not dialog.read.isEnabled()
    assert "angle" in dialog.problem.text()
    dialog.header.setValue(2)
    assert dialog.read.isEnabled(), dialog.problem.text()
    assert dialog.units["torque_nm"].currentData() == "ft·lbf"
    choose(dialog.columns["time_s"], "Zeitpunkt")
    choose(dialog.units["time_s"], "s")
    choose(dialog.separator, None)
    assert dialog.columns["time_s"].currentData() == "Zeitpunkt"
    assert dialog.units["time_s"].currentData() == "s"
    dialog.reject()


def test_a_few_files_that_cannot_be_mapped_among_many_are_listed_and_not_asked_about(
    window: MainWindow, tmp_path: Path, judged: Callable[[MainWindow], None], qtbot: QtBot
) -> None:
    folder = tmp_path / "shift"
    (folder / "logs").mkdir(parents=True)
    for number in range(60):
        (folder / f"t{number}.csv").write_text("angle_deg;torque_nm\n0;1\n10;2\n20;30\n")
    for number in range(2):
        (folder / "logs" / f"log_{number}.txt").write_text("started\nstopped; nothing\n")
    window.menus.files.open([str(folder)])
    qtbot.waitUntil(lambda: len(window.session.traces) == 60)
    judged(window)
    assert not any(isinstance(w, MappingDialog) and w.isVisible() for w in QApplication.topLevelWidgets())
    window.book["skipped-files"].trigger()
    text = window.menus.beside.open["skipped"].text.toPlainText()
    assert text.splitlines()[2].startswith("2 × Found")
    assert text.splitlines()[3:5] == ["  logs/log_0.txt, line 1", "  logs/log_1.txt, line 1"]
