"""What the window shows of the sample: figures with their uncertainty, limits as the file writes them."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from PySide6.QtWidgets import QTextBrowser
from pytestqt.qtbot import QtBot

from analysis.catalogue.figures import FIGURES, figures_for
from analysis.traces.units import UNITS
from app.main_window import MainWindow
from app.texts.why_text import why_one
from sample_traces.sample_paths import sample_paths

UNCERTAINTIES = {one.name: one.uncertainty for one in FIGURES if one.uncertainty}

TORQUE_UNITS = ("N·m", "ft·lbf", "in·lbf", "kgf·cm")
_MEASURED = re.compile(r"(−?[\d.]+) ± ([\d.]+) (\S+)")


@pytest.fixture
def judged_sample(window: MainWindow, judged: Callable[[MainWindow], None]) -> MainWindow:
    window.menus.files.open_sample()
    judged(window)
    return window


def _page(window: MainWindow, row: int) -> str:
    browser = QTextBrowser()
    browser.setHtml(why_one(window.session, row, "#888888"))
    return browser.toPlainText()


def _rows(window: MainWindow) -> list[int]:
    """The worst trace and the middle one of each joint."""
    order = window.table.table.order
    joints = window.session.columns["joint"].values[order]
    chosen = []
    for joint in np.unique(joints[joints != ""]):
        rows = order[joints == joint]
        chosen += [int(rows[0]), int(rows[len(rows) // 2])]
    assert chosen
    return chosen


@pytest.mark.parametrize("unit", TORQUE_UNITS)
def test_each_measured_figure_has_its_doubt(judged_sample: MainWindow, unit: str) -> None:
    session = judged_sample.session
    session.set_view(torque_unit=unit, alignment="none")  # places as the columns have them
    checked = 0
    for row in _rows(judged_sample):
        lines = _page(judged_sample, row).splitlines()
        for name in (figure.name for figure in figures_for("reasons")):
            column, uncertainty = session.columns[name], session.columns.get(UNCERTAINTIES.get(name, ""))
            text = lines[lines.index(column.title, lines.index("Figures")) + 1]
            if column.missing[row]:
                assert text.startswith("–")
                continue
            if uncertainty is None or uncertainty.missing[row]:
                assert "±" not in text
                continue
            found = _MEASURED.match(text)
            assert found is not None, f"{name}: {text}"
            factor = 1.0 / UNITS[unit].to_internal if "N·m" in column.unit else 1.0
            value, spread = (float(found[k].replace("−", "-")) for k in (1, 2))
            assert value == pytest.approx(column.values[row] * factor, abs=0.51 * spread)
            assert spread == pytest.approx(uncertainty.values[row] * factor, rel=0.051)
            assert found[3] == column.unit.replace("N·m", unit)
            checked += 1
    assert checked > 30


def test_limits_stand_as_in_the_joints_file(judged_sample: MainWindow) -> None:
    joints: dict[str, Any] = tomllib.loads(sample_paths().joints.read_text(encoding="utf-8"))["joints"]
    columns = judged_sample.session.columns
    names, seen = columns["joint"].values, set()
    for row in _rows(judged_sample):
        page = _page(judged_sample, row)
        for key in ("torque_limits_nm", "angle_limits_deg", "prevailing_limits_nm"):
            if f"{key.partition('_')[0]} not evaluated" in columns["not_evaluated_reason"].words(row):
                continue
            seen.add(key)
            low, high = joints[names[row]][key]
            assert f"{low:g} … {high:g}".replace("-", "−") in page
    assert len(seen) == 3


def test_rules_show_the_uncertainty_of_what_they_judge(judged_sample: MainWindow) -> None:
    session = judged_sample.session
    for row in _rows(judged_sample):
        lines = _page(judged_sample, row).splitlines()
        for rule, name in (("angle", "joint_rate_deg"), ("prevailing", "prevailing_torque_nm")):
            known = not (session.columns[UNCERTAINTIES[name]].missing | session.columns[name].missing)[row]
            at = next(k for k, line in enumerate(lines) if re.fullmatch(rf"\W {rule}", line))
            assert ("±" in lines[at + 1]) == known
        clamp = next(k for k, line in enumerate(lines) if re.fullmatch(r"\W clamp", line))
        assert "kN" not in lines[clamp + 1] or lines[clamp + 1].startswith(("at least", "at most"))


def test_another_unit_and_back_gives_the_same_text(judged_sample: MainWindow) -> None:
    session, row = judged_sample.session, _rows(judged_sample)[0]
    before = _page(judged_sample, row), judged_sample.table.table.texts([row])
    for unit in (*TORQUE_UNITS[1:], "N·m"):
        session.set_view(torque_unit=unit)
    assert (_page(judged_sample, row), judged_sample.table.table.texts([row])) == before


def test_table_shows_no_more_digits_than_the_tip_allows(judged_sample: MainWindow, qtbot: QtBot) -> None:
    model = judged_sample.table.table
    doubted = 0
    for row in _rows(judged_sample):
        cell, tip = model._cells.text("value", row), model._cells.tip("value", row)
        found = _MEASURED.search(tip)
        if found is None:
            assert cell == "" or tip.endswith(f": {cell}")
            continue
        doubted += 1
        digits, symbol = cell.split(" ")
        assert symbol == found[3]
        assert found[1].startswith(digits[:-1])
        assert len(digits) <= len(found[1])
    assert doubted


def test_export_keeps_every_digit(judged_sample: MainWindow) -> None:
    from app.session.table_export import TableExport

    session = judged_sample.session
    rows = np.array(_rows(judged_sample), np.int64)
    export = TableExport(session.columns, rows, session.units)
    at = [column.name for column in session.columns].index("prevailing_torque_nm")
    kept = session.columns["prevailing_torque_nm"].values[rows]
    written = np.array([line[at] for line in export.cells()], np.float64)
    np.testing.assert_array_equal(written, kept)


def test_a_limit_nearer_than_the_uncertainty_is_said_to_be(judged_sample: MainWindow) -> None:
    """The verdict stands; that the curve alone cannot tell is said where it is so, and nowhere else."""
    session = judged_sample.session
    analysis = session.analysis
    assert analysis is not None

    def near(row: int) -> set[str]:
        """Rules of a trace whose limit lies within two standard uncertainties of what was measured."""
        told = [
            (check, session.uncertainties.of(check.quantity, check.unit, row).sigma)
            for check in analysis.checks(row)
            if check.margin is not None and check.status in ("met", "broken")
        ]
        return {
            check.rule.name for check, sigma in told if sigma is not None and abs(check.margin) < 2.0 * sigma
        }

    plain = 0
    for row in range(0, len(session.traces), 40):
        said = "does not say on which side" in _page(judged_sample, row)
        assert said == bool(near(row)), session.traces.trace_ids[row]
        plain += not said
    assert plain > 20
    row, rules = next((row, rules) for row in range(len(session.traces)) if (rules := near(row)))
    for rule in rules:
        assert f"{rule}: within measurement uncertainty of the limit" in _page(judged_sample, row)
