"""The windows of the joint's engineering: clamp force of the trace, and the laboratory."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import Qt, QUrl
from PySide6.QtGui import QGuiApplication
from PySide6.QtTest import QAbstractItemModelTester
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from analysis.joint.plastic_screw import NO_CLAMP_FORCE
from app.main_window import MainWindow
from app.models.text_table import TextColumn, TextRow, TextTableModel
from app.views.joints.clamp_window import ClampWindow
from app.views.joints.force_plot import ForcePlot
from app.views.joints.laboratory_window import LaboratoryWindow
from tests.helpers.laboratory_files import write_laboratory

UNITS = ("N·m", "ft·lbf", "in·lbf", "kgf·cm")


@pytest.fixture
def laboratory(window: MainWindow, judged: Callable[[MainWindow], None], tmp_path: Path) -> MainWindow:
    """The window on tests with a load cell."""
    traces, joints = write_laboratory(tmp_path)
    window.menus.files.open([str(traces)], joints=str(joints))
    judged(window)
    return window


def _select(window: MainWindow, trace_id: str) -> None:
    window.session.select([window.session.traces.row_of(trace_id)])


def _clamp(window: MainWindow) -> ClampWindow:
    window.book["clamp-force"].trigger()
    shown = window.menus.beside.open["clamp force"]
    assert isinstance(shown, ClampWindow)
    return shown


def _lab(window: MainWindow) -> LaboratoryWindow:
    window.book["laboratory"].trigger()
    shown = window.menus.beside.open["laboratory"]
    assert isinstance(shown, LaboratoryWindow)
    return shown


def _with_friction(shown: LaboratoryWindow) -> int:
    """A test of the locking nut that reached the reference force."""
    return next(
        i for i, row in enumerate(shown.tests.rows) if row.cells[1] == "locknut" and row.cells[4] != "–"
    )


def test_the_clamp_force_of_a_trace_is_told_and_follows_the_trace(
    laboratory: MainWindow, qtbot: QtBot
) -> None:
    _select(laboratory, "locknut-lab-0001")
    shown = _clamp(laboratory)
    text = shown.page.toPlainText()
    for title in ("Estimated clamp force", "Where the torque went", "What is left", "Measured clamp force"):
        assert title in text
    assert "Estimated, not measured" in text
    assert "local codes" in text
    assert "% of the minimum yield strength" in shown.gauge.words()
    _select(laboratory, "flange-lab-0000")
    qtbot.waitUntil(lambda: "flange-lab-0000" in shown.about.text())
    assert shown.page.toPlainText() != text
    _select(laboratory, "locknut-lab-0000")
    qtbot.waitUntil(lambda: "From the loosening torque" in shown.page.toPlainText())
    laboratory.session.clear_selection()


def test_the_measured_force_is_drawn_with_both_kinds_of_places(laboratory: MainWindow, qtbot: QtBot) -> None:
    _select(laboratory, "locknut-lab-0001")
    shown = _clamp(laboratory)
    assert shown.force.isVisible()
    assert "Measured force straight at" in shown.force.accessibleDescription()
    zones = shown.force.zones
    assert zones is not None
    start, end, low, top = shown.force.ranges()
    assert start < float(zones.rises.angle_deg or 0.0) < float(zones.straight.angle_deg or 0.0) < end
    assert low <= 0.0 < float(zones.final_force_kn or 0.0) < top
    colours = _colours(shown.force)
    assert laboratory.links.look.focus.lower() in colours
    assert laboratory.links.look.selected.lower() in colours
    _select(laboratory, "locknut-off")
    qtbot.waitUntil(lambda: "locknut-off" in shown.about.text())
    assert not shown.force.isVisible()


@pytest.mark.parametrize("force", [np.zeros(50), np.linspace(0.0, 20.0, 50), np.full(50, -1.0)])
def test_any_measured_force_can_be_drawn(qtbot: QtBot, force: np.ndarray) -> None:
    from analysis.curve import find_points
    from analysis.joint.force_zones import ForceZones, zones_by_force
    from analysis.traces import TraceSet

    angle = np.linspace(0.0, 100.0, 50)
    traces = TraceSet.from_lists(["t"], [angle], [angle], clamp_force_kn=[force])
    zones = zones_by_force(traces, find_points(traces), 0)
    assert isinstance(zones, ForceZones)
    plot = ForcePlot()
    qtbot.addWidget(plot)
    plot.show_trace(traces[0], 49, zones)
    plot.resize(300, 200)
    assert len(_colours(plot)) > 3


def _colours(widget: QWidget) -> set[str]:
    picture = widget.grab().toImage()
    places = ((x, y) for x in range(0, picture.width()) for y in range(0, picture.height(), 3))
    return {picture.pixelColor(x, y).name() for x, y in places}


def test_places_by_force_are_drawn_on_the_curve(laboratory: MainWindow) -> None:
    _select(laboratory, "locknut-lab-0001")
    shown = _clamp(laboratory)
    assert 'href="evidence:measured force straight"' in shown.page.toHtml()
    shown.page.anchorClicked.emit(QUrl("evidence:measured force straight"))
    (piece,) = laboratory.curves.plot.evidence.pieces
    assert piece.title == "measured force straight"
    assert len(piece.stretch)
    assert "clamp force" in laboratory.session.messages.history[-1].text


def test_every_part_leads_to_its_help(laboratory: MainWindow) -> None:
    from app.views.help.topics import TOPIC_OF

    _select(laboratory, "locknut-lab-0000")
    shown = _clamp(laboratory)
    topics = re.findall(r'href="help:([^"]+)"', shown.page.toHtml())
    assert len(topics) == 8
    assert set(topics) <= set(TOPIC_OF)
    shown.page.anchorClicked.emit(QUrl("help:laboratory"))
    assert "Tests with a load cell" in laboratory.menus.beside.open["help"].page.toPlainText()  # type: ignore[attr-defined]


def test_the_reasons_lead_to_it(laboratory: MainWindow, qtbot: QtBot) -> None:
    _select(laboratory, "locknut-lab-0001")
    qtbot.waitUntil(lambda: "Measured by the load cell" in laboratory.why.reasons.toPlainText())
    assert "Estimated, not measured" in laboratory.why.reasons.toPlainText()
    laboratory.why.reasons.anchorClicked.emit(QUrl("clamp:"))
    assert "locknut-lab-0001" in laboratory.menus.beside.open["clamp force"].about.text()  # type: ignore[attr-defined]


def test_tests_and_pairs_stand_in_tables_and_lead_to_their_traces(laboratory: MainWindow) -> None:
    shown = _lab(laboratory)
    assert (shown.tests.rowCount(), shown.pairs.rowCount()) == (9, 1)
    QAbstractItemModelTester(shown.tests)
    head = [column.title for column in shown.tests.columns]
    at = _with_friction(shown)
    cells = dict(zip(head, shown.tests.rows[at].cells, strict=True))
    assert cells["Joint"] == "locknut"
    assert 0.05 < float(cells["K"]) < 0.3
    assert "outside the scope of ISO 16047" in cells["Remark"]
    assert "locknut: K" in shown.spread.text().replace("</b>", "").replace("<b>", "")
    assert "Estimated, not measured" in shown.spread.text()
    pair = shown.pairs.rows[0]
    assert pair.cells[:2] == ("locknut-lab-0000", "locknut-off")
    shown.test_view.clicked.emit(shown.tests.index(at, 0))
    assert laboratory.session.current_id == cells["Trace"]
    shown.copy()
    copied = QGuiApplication.clipboard().text().splitlines()
    assert copied[0].split("\t") == head
    assert len(copied) == 10


def test_figures_follow_the_unit_and_mean_the_same(laboratory: MainWindow, qtbot: QtBot) -> None:
    from analysis.traces.units import UNITS as KNOWN

    shown = _lab(laboratory)
    at = _with_friction(shown)
    plain = shown.tests.rows[at].cells
    for unit in UNITS:
        laboratory.session.set_view(torque_unit=unit)
        qtbot.waitUntil(lambda unit=unit: shown.tests.columns[3].title == f"Torque ({unit})")
        row = shown.tests.rows[at].cells
        in_nm = float(row[3]) * KNOWN[unit].to_internal
        assert in_nm == pytest.approx(float(plain[3]), rel=2e-3)
        # What is no torque stays.
        assert row[:3] + row[4:] == plain[:3] + plain[4:]


def test_open_windows_follow_look_and_joints(laboratory: MainWindow, qtbot: QtBot) -> None:
    from app.display.look import DARK
    from app.views.joints.calculator_window import CalculatorWindow
    from app.views.joints.joint_form import JointForm

    _select(laboratory, "locknut-lab-0001")
    clamp, lab = _clamp(laboratory), _lab(laboratory)
    for action in ("calculator", "joint-form"):
        laboratory.book[action].trigger()
    calculator, form = (laboratory.menus.beside.open[name] for name in ("calculator", "joints"))
    assert isinstance(calculator, CalculatorWindow)
    assert isinstance(form, JointForm)
    laboratory.set_look("dark")
    assert form.look == clamp.gauge.look == form.gauge.look == DARK
    assert DARK.faint.lower() in clamp.page.toHtml()
    assert DARK.faint in lab.spread.text()
    before, told = calculator.page.toPlainText(), clamp.page.toPlainText()
    form.document.set("locknut", "friction", (0.2, 0.25))
    form.apply.click()
    assert calculator.page.toPlainText() != before
    qtbot.waitUntil(lambda: clamp.page.toPlainText() != told)
    laboratory.set_look("light")


def test_what_was_applied_is_there_when_the_form_is_opened_again(laboratory: MainWindow) -> None:
    from app.views.joints.joint_form import JointForm

    def opened() -> JointForm:
        laboratory.menus.joints.show_form("locknut")
        form = laboratory.menus.beside.open["joints"]
        assert isinstance(form, JointForm)
        return form

    form = opened()
    form.document.set("locknut", "friction", (0.2, 0.25))
    form.apply.click()
    # While it is open the same form goes to the joint that is asked for; nothing typed is lost.
    laboratory.menus.joints.show_form("flange")
    assert laboratory.menus.beside.open["joints"] is form
    assert form.name == "flange"
    form.document.set("locknut", "friction", (0.3, 0.35))
    form.close()
    assert not form.isVisible()
    again = opened()
    assert again is not form
    # Applied and not saved: neither the file's values nor those that were discarded.
    assert again.document["locknut"].friction == (0.2, 0.25)
    assert laboratory.session.joints["locknut"].friction == (0.2, 0.25)
    again.close()
    laboratory.session.set_joints({})
    assert opened().document["locknut"].friction != (0.2, 0.25)


def test_without_a_load_cell_the_laboratory_says_so(sample: MainWindow) -> None:
    shown = _lab(sample)
    assert shown.tests.rowCount() == 0
    assert "No recording of a known joint has a measured clamp force" in shown.spread.text()


def test_a_plain_table_shows_what_it_is_given() -> None:
    table = TextTableModel([TextColumn("A", "first", right=False), TextColumn("B")])
    table.set_rows([TextRow(("x", "1")), TextRow(("y", "2"))])
    QAbstractItemModelTester(table)
    assert table.data(table.index(1, 1)) == "2"
    assert table.headerData(0, Qt.Orientation.Horizontal, Qt.ItemDataRole.ToolTipRole) == "first"
    assert table.as_tabbed() == "A\tB\nx\t1\ny\t2"


def test_routes_of_a_trace_are_drawn_in_both_looks_without_overlap(
    laboratory: MainWindow, qtbot: QtBot
) -> None:
    from analysis.joint.force_axis import RESULT
    from app.display.look import DARK, LIGHT

    _select(laboratory, "locknut-lab-0001")
    shown = _clamp(laboratory)
    plot = shown.routes
    qtbot.waitUntil(plot.isVisible)
    assert plot.shown is not None
    assert plot.shown.rows[-1].name == RESULT
    assert plot.shown.rows[-1].text in plot.accessibleDescription()
    assert plot.shown.marks
    line = plot.fontMetrics().height() + 3
    boxes = [plot.name_box(mark, line * (1 + k)) for k, mark in enumerate(plot.shown.marks)]
    assert not any(a.intersects(b) for k, a in enumerate(boxes) for b in boxes[:k])
    assert all(plot.rect().contains(box.toRect()) for box in boxes)
    for look in (DARK, LIGHT):
        plot.set_look(look)
        assert {look.focus.lower(), look.crowd.lower(), look.background.lower()} <= _colours(plot)


def test_a_trace_without_a_clamp_force_says_why(sample: MainWindow, qtbot: QtBot) -> None:
    _select(sample, "battery-clip-001")
    shown = _clamp(sample)
    qtbot.waitUntil(lambda: "battery-clip-001" in shown.about.text())
    assert shown.routes.accessibleDescription() == f"Clamp force not evaluated: {NO_CLAMP_FORCE}."
    assert shown.routes.height() < 3 * shown.routes.fontMetrics().height()


def test_a_back_off_is_told_with_its_help(sample: MainWindow, qtbot: QtBot) -> None:
    analysis = sample.session.analysis
    assert analysis is not None
    backed = (analysis.operations.back_off_of(row) for row in range(len(analysis.traces)))
    row = next(k for k, one in enumerate(backed) if one is not None and one.back_rows)
    sample.session.select([row])
    shown = _clamp(sample)
    qtbot.waitUntil(lambda: "From the back-off" in shown.page.toPlainText())
    assert 'href="help:back-off"' in shown.page.toHtml()
