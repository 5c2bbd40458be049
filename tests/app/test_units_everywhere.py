"""One joint in four torque units: axis, table, reasons, limits, calculator, clamp force, report, export."""

from __future__ import annotations

import csv
import datetime
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from PySide6.QtWidgets import QTextBrowser
from pytestqt.qtbot import QtBot

from analysis.report.html import to_html
from analysis.traces.units import UNITS as KNOWN
from app.main_window import MainWindow
from app.session.report_work import ReportRequest, make_reports
from app.views.joints.calculator_window import CalculatorWindow
from app.views.joints.clamp_window import ClampWindow
from app.views.joints.joint_form import JointForm
from tests.helpers.laboratory_files import write_laboratory

OTHERS = ("ft·lbf", "in·lbf", "kgf·cm")
TRACE = "locknut-lab-0001"
NOW = datetime.datetime(2026, 3, 2, 6, 0, tzinfo=datetime.UTC)
#: What is computed is shown with four digits: half a unit in the fourth, twice.
TOLERANCE = 1.5e-3
#: What is measured is shown with the digits that its uncertainty allows, two of an uncertainty at the
#: fewest: half a unit
#: in the second of "0.10", in both units.
OF_A_DOUBT = 0.1
#: A torque with its unit; "N·m/kN" and "N·m/deg" are other quantities.
_TORQUE = r"([−-]?[\d.]+) {unit}(?!/)"


@pytest.fixture
def window_on_locknut(window: MainWindow, judged: Callable[[MainWindow], None], tmp_path: Path) -> MainWindow:
    traces, joints = write_laboratory(tmp_path)
    window.menus.files.open([str(traces)], joints=str(joints))
    judged(window)
    window.session.select([window.session.traces.row_of(TRACE)])
    return window


def _torques(text: str, unit: str) -> list[float]:
    """All torques that a text states in a unit, in N·m."""
    found = re.findall(_TORQUE.format(unit=re.escape(unit)), text)
    return [float(number.replace("−", "-")) * KNOWN[unit].to_internal for number in found]


def _rows_with(page: QTextBrowser, words: str) -> str:
    return "\n".join(line for line in page.toPlainText().splitlines() if words in line)


def _switch(window: MainWindow, unit: str, qtbot: QtBot) -> None:
    window.session.set_view(torque_unit=unit)
    qtbot.waitUntil(lambda: f" {unit}" in window.why.reasons.toPlainText())


def _same(found: list[float], expected: list[float]) -> None:
    assert found
    assert found == pytest.approx(expected, rel=TOLERANCE, abs=TOLERANCE)


def test_reasons_table_axis_and_points(window_on_locknut: MainWindow, qtbot: QtBot) -> None:
    window = window_on_locknut

    def read(unit: str) -> dict[str, list[float]]:
        row = window.session.current_row
        marks = " ".join(point.text for point in window.curves.plot.marks.points)
        return {
            "reasons": _torques(window.why.reasons.toPlainText(), unit),
            "table": _torques(" ".join(window.table.table.texts([row])[1]), unit),
            "points": _torques(marks, unit),
        }

    _switch(window, "N·m", qtbot)
    qtbot.waitUntil(lambda: len(read("N·m")["reasons"]) > 1)  # the rest of the reasons follows the first line
    plain = read("N·m")
    assert len(plain["points"]) >= 3
    for unit in OTHERS:
        _switch(window, unit, qtbot)
        shown = read(unit)
        for place, torques in plain.items():
            assert shown[place] == pytest.approx(torques, rel=OF_A_DOUBT)
        for text in (
            window.why.reasons.toPlainText(),
            " ".join(p.text for p in window.curves.plot.marks.points),
        ):
            assert not _torques(text, "N·m")
        axis = window.curves.plot.getAxis("left")
        assert axis.labelText == f"Torque ({unit})" or unit in axis.labelText + axis.labelUnits
        # What the axis writes at 48.29 N·m is that torque in the unit.
        assert axis.scale == pytest.approx(1.0 / KNOWN[unit].to_internal, rel=1e-9)


def test_limits_of_the_histogram(window_on_locknut: MainWindow, qtbot: QtBot) -> None:
    window = window_on_locknut
    window.session.set_view(quantity="final_torque_nm")
    window.session.add_condition("joint = locknut")
    histogram = window.distribution.histogram
    qtbot.waitUntil(lambda: histogram.limits.limits()[0] is not None)
    assert histogram.limits.limits() == (45.0, 51.0)
    for unit in OTHERS:
        _switch(window, unit, qtbot)
        # Limits stay the same torque: inside in N·m, the axis in the unit.
        assert histogram.limits.limits() == (45.0, 51.0)
        axis = (
            histogram.getAxis("bottom") if hasattr(histogram, "getAxis") else histogram.plot.getAxis("bottom")
        )
        assert unit in axis.labelText
        assert axis.scale == pytest.approx(1.0 / KNOWN[unit].to_internal, rel=1e-9)


def test_calculator_form_and_clamp_force(window_on_locknut: MainWindow, qtbot: QtBot) -> None:
    window = window_on_locknut
    for action in ("calculator", "joint-form", "clamp-force"):
        window.book[action].trigger()
    calculator, form, clamp = (window.menus.beside.open[n] for n in ("calculator", "joints", "clamp force"))
    assert isinstance(calculator, CalculatorWindow)
    assert isinstance(form, JointForm)
    assert isinstance(clamp, ClampWindow)
    assert form.name == "locknut"
    force = _rows_with(calculator.page, "Clamp force at")
    target = calculator.value.value()
    budget = _torques(clamp.page.toPlainText(), "N·m")
    derived = _torques(form.figures.toPlainText(), "N·m")
    limits = form.fields["torque_limits_nm"].value()
    for unit in OTHERS:
        _switch(window, unit, qtbot)
        # The calculator: the same torque, the same clamp force.
        assert calculator.value.suffix() == f" {unit}"
        assert calculator.value.value() * KNOWN[unit].to_internal == pytest.approx(target, abs=0.01)
        shown = _rows_with(calculator.page, "Clamp force at")
        assert [float(n) for n in re.findall(r"([\d.]+) kN", shown)] == pytest.approx(
            [float(n) for n in re.findall(r"([\d.]+) kN", force)], rel=TOLERANCE
        )
        # The form: the same limits and figures.
        assert form.fields["torque_limits_nm"].value() == limits
        _same(_torques(form.figures.toPlainText(), unit), derived)
        # The story of the trace.
        qtbot.waitUntil(lambda unit=unit: f" {unit}" in clamp.page.toPlainText())
        _same(_torques(clamp.page.toPlainText(), unit), budget)
        assert not _torques(clamp.page.toPlainText(), "N·m")


def test_the_calculator_begins_with_the_same_force_in_every_unit(
    window_on_locknut: MainWindow, qtbot: QtBot
) -> None:
    window = window_on_locknut
    begun = {}
    for unit in ("N·m", *OTHERS):
        _switch(window, unit, qtbot)
        window.book["calculator"].trigger()
        calculator = window.menus.beside.open["calculator"]
        assert isinstance(calculator, CalculatorWindow)
        # The joint is meant to have prevailing torque, 1.5 to 10.5 N·m: the middle is offered.
        prevailing = calculator.prevailing.value() * KNOWN[unit].to_internal
        assert prevailing == pytest.approx(6.0, abs=0.01)
        calculator.direction.setCurrentIndex(calculator.direction.findData("torque"))
        assert calculator.value.suffix() == " kN"
        begun[unit] = calculator.value.value()
        (torque,) = _torques(_rows_with(calculator.page, "Torque at middle friction"), unit)
        # Back to the target that the force came from.
        assert torque == pytest.approx(window.session.joints["locknut"].target_torque_nm, rel=2e-3)
    assert list(begun.values()) == pytest.approx([begun["N·m"]] * 4, rel=1e-3)


def test_report_and_export(window_on_locknut: MainWindow, qtbot: QtBot, tmp_path: Path) -> None:
    window = window_on_locknut
    session = window.session

    def page(unit: str) -> str:
        request = ReportRequest(session.analysis, session.decisions, (session.current_row,), torque_unit=unit)
        answer = make_reports(request, lambda *_: None, lambda: False)
        report = next(one for one in answer if one.joint == "locknut")
        own = [section for section in report.sections if section.title == TRACE]
        assert own
        html = to_html([report])
        text = html[html.index(f'id="{own[0].anchor}"') :]
        text = re.sub(r"<svg.*?</svg>", "", text[: text.index("</section>")], flags=re.DOTALL)
        return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)).replace("\u202f", "").replace("\xa0", " ")

    def exported(unit: str) -> tuple[str, float]:
        file = tmp_path / "table.csv"
        assert window.menus.exports.export_table(file)
        qtbot.waitUntil(lambda: not session.jobs.running)
        rows = list(csv.DictReader(file.read_text(encoding="utf-8-sig").splitlines()))
        row = next(one for one in rows if TRACE in one.values())
        head = next(name for name in row if name.startswith("Final torque"))
        return head, float(row[head]) * KNOWN[unit].to_internal

    plain, torque = page("N·m"), exported("N·m")[1]
    for unit in OTHERS:
        _switch(window, unit, qtbot)
        text = page(unit)
        assert not _torques(text, "N·m")
        found, expected = _torques(text, unit), _torques(plain, "N·m")
        assert len(found) == len(expected) >= 4
        # Two decimals of N·m in the report: 0.005 N·m either way.
        assert found == pytest.approx(expected, rel=5e-3, abs=0.011)
        head, value = exported(unit)
        assert head == f"Final torque ({unit})"
        assert value == pytest.approx(torque, rel=1e-12)
