"""The joints form as an engineer uses it: live figures, refusals beside their field, units, library,
limits."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFileDialog, QInputDialog, QLineEdit, QPushButton
from pytestqt.qtbot import QtBot

from analysis.catalogue.units import DisplayUnits
from analysis.joint import JointsDocument
from analysis.joint.definition_keys import KEYS
from analysis.joint.plastic_screw import plastic_screw
from app.display.look import LIGHT
from app.views.joints.joint_fields import NumberField
from app.views.joints.joint_form import JointForm
from app.views.joints.joint_sections import SECTIONS

TEXT = """# Joints of station 4
[joints.hub]  # front axle
title = "Wheel hub bolt"
thread = "M10x1.5"
property_class = "10.9"   # from the drawing
head = "hex"
hole = "medium"
friction = [0.10, 0.16]   # oiled
clamp_length_mm = 30.0
target_torque_nm = 65.0   # confirmed in March
torque_limits_nm = [58.0, 72.0]
attributes.drawing = "A-17"

[joints.bare]
target_torque_nm = 5.0
"""
PLAIN = "[joints.lid]\ntarget_torque_nm = 2.0\n"
UNITS = ("N·m", "ft·lbf", "in·lbf", "kgf·cm")


@pytest.fixture
def form(qtbot: QtBot, tmp_path: Path) -> Iterator[JointForm]:
    path = tmp_path / "joints.toml"
    path.write_text(TEXT, encoding="utf-8")
    form = JointForm(JointsDocument.load(path), "hub", DisplayUnits(), LIGHT)
    qtbot.addWidget(form)
    form.show()
    yield form
    form.hide()


def _type(form: JointForm, key: str, *texts: str) -> None:
    """Put texts into a field's entries as a person types them."""
    edits = form.fields[key].findChildren(QLineEdit)
    for edit, text in zip(edits, texts, strict=True):
        edit.setText(text)
    edits[-1].textEdited.emit(texts[-1])


def test_every_key_stands_in_one_section() -> None:
    names = [name for _heading, keys in SECTIONS for name in keys]
    assert sorted(names) == sorted(KEYS)


def test_figures_are_live_and_carry_the_caution(form: JointForm) -> None:
    before = form.figures.toPlainText()
    assert "Clamp force at target" in before
    assert "Estimated, not measured" in before
    assert "local codes" in before
    assert "10 x 100 = 1000 MPa nominal strength, 0.9 of it yield" in form.marking.text()
    assert "% of the minimum yield strength" in form.gauge.words()
    _type(form, "target_torque_nm", "70")
    assert form.document["hub"].target_torque_nm == 70.0
    assert form.figures.toPlainText() != before
    assert "Not applied yet" in form.note.text()


@pytest.mark.parametrize(
    ("key", "texts", "words"),
    [
        ("friction", ("0.1", "3"), "Friction in thread and under head: "),
        ("clamp_length_mm", ("-30",), "Clamp length: "),
        ("thread", ("M10x9",), "a pitch of 9 mm cannot belong to M10"),
        ("clamp_length_mm", ("thirty",), "'thirty' is not a number"),
        ("torque_limits_nm", ("58", ""), "both ends of the range are needed"),
        ("target_torque_nm", ("",), "every joint needs it"),
    ],
)
def test_absurd_data_is_refused_beside_its_field(
    form: JointForm, key: str, texts: tuple[str, ...], words: str
) -> None:
    before = form.document.text()
    _type(form, key, *texts)
    assert words in form.problem.text()
    assert KEYS[key].title.split(" ")[0] in form.problem.text()
    assert form.fields[key].findChildren(QLineEdit)[0].property("refused") == "true"
    assert not any(field.findChildren(QLineEdit)[0].property("refused") == "true"
                   for name, field in form.fields.items()
                   if name != key and field.findChildren(QLineEdit))  # fmt: skip
    assert form.document.text() == before
    assert not form.apply.isEnabled()
    assert not form.save.isEnabled()
    form._show_joint()
    assert not form.problem.isVisible()
    assert form.apply.isEnabled()


def test_a_limit_on_one_side_alone_is_typed_as_such(form: JointForm) -> None:
    _type(form, "torque_limits_nm", "58", "inf")
    assert form.problem.text() == ""
    assert "torque_limits_nm = [58.0, inf]" in form.document.text()
    form._show_joint()
    assert [edit.text() for edit in form.fields["torque_limits_nm"].findChildren(QLineEdit)] == ["58", "inf"]


def test_what_is_missing_is_not_guessed(form: JointForm) -> None:
    form.joint.setCurrentIndex(form.joint.findData("bare"))
    form.joint.activated.emit(form.joint.currentIndex())
    assert "not evaluated: no thread given" in form.figures.toPlainText()
    assert form.gauge.words().startswith("not evaluated: ")
    assert form.marking.text() == ""


def test_comments_and_unknown_keys_survive_a_change_and_a_save(form: JointForm, qtbot: QtBot) -> None:
    _type(form, "torque_limits_nm", "60", "70")
    with qtbot.waitSignal(form.applied) as applied:
        form.save.click()
    assert applied.args[0]["hub"].torque_limits_nm == (60.0, 70.0)
    written = Path(str(form.document.path)).read_text(encoding="utf-8")
    assert written == TEXT.replace("[58.0, 72.0]", "[60.0, 70.0]")
    assert form.note.text() == ""


def test_the_audit_table_is_written_and_goes_when_it_is_empty(form: JointForm) -> None:
    box = form.fields["audit.definition"].box
    box.setCurrentIndex(box.findData("return-to-mark"))
    box.activated.emit(box.currentIndex())
    _type(form, "audit.limits_nm", "54", "68")
    _type(form, "audit.sample", "5 per shift")
    assert not form.problem.text()
    audit = form.document["hub"].parts["audit"]
    assert audit == {"definition": "return-to-mark", "limits_nm": (54.0, 68.0), "sample": "5 per shift"}
    text = form.document.text()
    assert text.index("[joints.hub.audit]") < text.index("[joints.bare]")
    assert "# oiled" in text
    _type(form, "audit.limits_nm", "70", "68")
    assert form.problem.text().startswith("Residual limits: ")
    _type(form, "audit.limits_nm", "", "")
    _type(form, "audit.sample", "")
    box.setCurrentIndex(0)
    box.activated.emit(0)
    assert "audit" not in form.document["hub"].parts
    assert form.document.text() == TEXT


@pytest.mark.parametrize(
    ("key", "typed", "kept", "shown"),
    [
        ("layout", "circle", "circle", "circle"),
        (
            "layout", "0 0; 40 0; 40,5 40; 0 -40",
            ((0.0, 0.0), (40.0, 0.0), (40.5, 40.0), (0.0, -40.0)), "0 0; 40 0; 40.5 40; 0 \N{MINUS SIGN}40",
        ),
        ("interaction", "0.10, 0.04", ((0.10, 0.04),), "0.1 0.04"),
        ("interaction", "0,1 0,04", ((0.10, 0.04),), "0.1 0.04"),
        (
            "interaction", "0 .1 0 .1; .1 0 .1 0; 0 .1 0 .1; .1 0 .1 0",
            ((0.0, 0.1, 0.0, 0.1), (0.1, 0.0, 0.1, 0.0)) * 2, "0 0.1 0 0.1; 0.1 0 0.1 0; " * 2,
        ),
        ("group_window_s", "600", 600.0, "600"),
        ("final_spread_s", "0,5", 0.5, "0.5"),
        ("reuse_limit", "3", 3, "3"),
    ],
)  # fmt: skip
def test_what_a_part_s_bolts_do_together_is_typed(
    form: JointForm, key: str, typed: str, kept: object, shown: str
) -> None:
    _type(form, "positions", "1 … 4")
    _type(form, "layout", "circle")
    _type(form, key, typed)
    assert form.document["hub"].parts[key] == kept, form.problem.text()
    form.set_units(form.units)
    edit = form.fields[key].findChildren(QLineEdit)[0]
    assert edit.text() == shown.removesuffix("; ")
    _type(form, key, "")
    assert key not in form.document["hub"].parts


@pytest.mark.parametrize(
    ("key", "typed", "words"),
    [
        ("layout", "0 0; 40", "expected two numbers"),
        ("layout", "ring", "is not a number"),
        ("layout", "0 0; 40 0", "has 2 places for 4 positions"),
        ("interaction", "0.1 2", "expected above -1, below 1"),
        ("reuse_limit", "2.5", "whole number"),
        ("group_window_s", "-3", "expected above 0"),
    ],
)
def test_what_makes_no_sense_of_a_part_is_refused_beside_its_field(
    form: JointForm, key: str, typed: str, words: str
) -> None:
    _type(form, "positions", "1 … 4")
    _type(form, key, typed)
    assert words in form.problem.text()
    assert not form.apply.isEnabled()


@pytest.mark.parametrize(
    ("typed", "names"),
    [("1-3", ("1", "2", "3")), ("left, right", ("left", "right")), ("1, 3 … 5", ("1", "3", "4", "5"))],
)
def test_positions_are_typed_one_by_one_or_from_to(
    form: JointForm, typed: str, names: tuple[str, ...]
) -> None:
    _type(form, "positions", typed)
    assert form.document["hub"].parts["positions"] == names
    _type(form, "positions", "")
    assert form.document.text() == TEXT


def test_a_lubricant_puts_in_its_range_and_nothing_else_does(form: JointForm) -> None:
    # MIL-HDBK-60, Table II: machine oil 0.15, 20 % either way.
    index = next(i for i in range(form.lubricant.count()) if "machine oil" in form.lubricant.itemText(i))
    form.lubricant.activated.emit(index)
    assert form.document["hub"].friction == (0.12, 0.18)
    assert [edit.text() for edit in form.fields["friction"].findChildren(QLineEdit)] == ["0.12", "0.18"]
    assert form.lubricant.currentIndex() == 0
    form.lubricant.activated.emit(0)
    assert form.document["hub"].friction == (0.12, 0.18)


@pytest.mark.parametrize("unit", UNITS)
def test_the_joint_is_the_same_in_every_unit(form: JointForm, unit: str) -> None:
    from analysis.traces.units import UNITS as KNOWN

    form.document.set("hub", "tightening_method", "torque wrench")
    before = form.document.text()
    form.set_units(DisplayUnits(unit))
    # Figures and notes: the tolerance of 7 N·m among them.
    assert re.search(r"tolerance [\d.]+ " + re.escape(unit), form.figures.toPlainText())
    assert unit == "N·m" or not re.search(r"\d N·m(?!/)", form.figures.toPlainText())
    field = form.fields["torque_limits_nm"]
    assert isinstance(field, NumberField)
    assert field.unit is not None
    assert field.unit.text() == unit
    assert [float(edit.text()) * KNOWN[unit].to_internal for edit in field.edits] == pytest.approx(
        [58.0, 72.0], rel=2e-5
    )
    assert field.value() == (58.0, 72.0)
    assert form.document.text() == before
    # Typed in this unit, kept in N·m.
    _type(form, "target_torque_nm", f"{60.0 / KNOWN[unit].to_internal:.9g}")
    assert form.document["hub"].target_torque_nm == pytest.approx(60.0, rel=1e-8)
    assert f"{unit}" in form.figures.toPlainText()
    _type(form, "target_torque_nm", "0")
    assert f"expected above 0 {unit}" in form.problem.text()


def _answer(monkeypatch: pytest.MonkeyPatch, wanted: str, name: str) -> list[list[str]]:
    """Answers the questions for an item and a name; gives the lists that were offered."""
    offered: list[list[str]] = []

    def item(_parent: object, _title: str, _lead: str, items: list[str], *_rest: object) -> tuple[str, bool]:
        offered.append(items)
        return next(one for one in items if one.startswith(wanted)), True

    monkeypatch.setattr(QInputDialog, "getItem", item)
    monkeypatch.setattr(QInputDialog, "getText", lambda *_: (name, True))
    return offered


def test_a_joint_of_another_file_is_taken_over(
    form: JointForm, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    other = tmp_path / "plant.toml"
    other.write_text('[joints.mast]\ntarget_torque_nm = 23.0\nattributes.drawing = "B-4"\n', encoding="utf-8")
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(other), ""))
    _answer(monkeypatch, "mast", "mast-left")
    form.new.menu().actions()[2].trigger()
    assert form.name == "mast-left"
    assert form.document["mast-left"].target_torque_nm == 23.0
    assert form.document["mast-left"].extra == {"attributes": {"drawing": "B-4"}}
    other.write_text("[joints.mast]\ntarget_torque_nm = -1\n", encoding="utf-8")
    form.new.menu().actions()[2].trigger()
    assert "plant.toml" in form.problem.text()


def test_a_joint_of_the_library_to_begin_with(form: JointForm, monkeypatch: pytest.MonkeyPatch) -> None:
    offered = _answer(monkeypatch, "hex-M10-8.8", "rack")
    form.new.menu().actions()[1].trigger()
    assert len(offered[0]) >= 14
    assert form.name == "rack"
    assert form.document["rack"].target_torque_nm == 48.0
    assert form.document["rack"].torque_limits_nm is None
    form.add("rack", {"target_torque_nm": 1.0})
    assert "there is a joint 'rack' already" in form.problem.text()
    assert "rack" in form.note.text()


def test_limits_are_shown_before_they_are_taken(form: JointForm, tmp_path: Path) -> None:
    table = tmp_path / "limits.csv"
    table.write_text("joint,torque_low_nm,torque_high_nm\nhub,60,70\nbare,4,\n", encoding="utf-8")
    form.set_units(DisplayUnits("ft·lbf"))
    form.import_limits(table)
    assert form.preview is not None
    text = form.preview.text.toPlainText()
    assert "hub: Torque limits: 42.78 … 53.10 → 44.25 … 51.63 ft·lbf" in text
    assert "line 3" in text
    assert "only one end" in text
    form.preview.reject()
    assert form.document["hub"].torque_limits_nm == (58.0, 72.0)
    form.import_limits(table)
    form.preview.take.click()
    assert form.document["hub"].torque_limits_nm == (60.0, 70.0)
    assert "not applied yet" in form.note.text()
    form.import_limits(tmp_path / "absent.csv")
    assert "absent.csv" in form.problem.text()


def test_the_first_joint_of_a_new_file(qtbot: QtBot, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    form = JointForm(JointsDocument.new(), "", DisplayUnits(), LIGHT)
    qtbot.addWidget(form)
    assert "No joint yet" in form.figures.toPlainText()
    assert not form.save.isEnabled()
    _answer(monkeypatch, "", "mast")
    form.new.menu().actions()[0].trigger()
    assert form.name == "mast"
    _type(form, "thread", "M12")
    target = tmp_path / "new.toml"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(target), ""))
    form.save.click()
    assert JointsDocument.load(target)["mast"].thread == "M12"
    form.remove.click()
    assert form.name == ""
    # That there is no joint any more can be applied; an empty file is not written.
    assert not form.save.isEnabled()
    with qtbot.waitSignal(form.applied) as applied:
        form.apply.click()
    assert applied.args == [{}]


def test_enter_presses_no_button_and_closing_loses_nothing_unasked(form: JointForm, qtbot: QtBot) -> None:
    assert not any(button.autoDefault() for button in form.findChildren(QPushButton))
    _type(form, "target_torque_nm", "70")
    entry = form.fields["target_torque_nm"].findChildren(QLineEdit)[0]
    qtbot.keyClick(entry, Qt.Key.Key_Return)
    assert form.isVisible()
    qtbot.keyClick(entry, Qt.Key.Key_Escape)
    assert form.isVisible()
    assert "close again to discard" in form.note.text()
    form.close()
    assert not form.isVisible()
    form.show()
    _type(form, "target_torque_nm", "71")
    form.apply.click()
    form.close()
    assert not form.isVisible()


def test_a_screw_in_plastic_is_given_field_by_field(form: JointForm) -> None:
    """What is missing is named until the last field; then its torques follow."""
    form.choose("bare")
    for key, texts in (
        ("screw_diameter_mm", ("4",)), ("pitch_mm", ("1.79",)), ("core_hole_mm", ("3.2",)),
        ("engaged_mm", ("10",)), ("head_mm", ("8",)),
        ("yield_strength_mpa", ("50",)), ("friction_thread", ("0.2", "0.3")),
    ):  # fmt: skip
        _type(form, f"plastic.{key}", *texts)
        assert not form.problem.text()
    assert "plastic: no friction_head given" in form.figures.toPlainText()
    _type(form, "plastic.friction_head", "0.2", "0.3")
    told = form.figures.toPlainText()
    assert "Forming torque, lowest" in told
    assert "stripping" in told.lower()
    assert "the plastic creeps" in form.gauge.words()
    screw = plastic_screw(form.document["bare"])
    assert not isinstance(screw, str)
    assert screw.target_nm == 5.0
    _type(form, "plastic.core_hole_mm", "70")
    assert form.problem.text().startswith("Core hole: ")
    assert form.document["bare"].parts["plastic"]["core_hole_mm"] == 3.2


def test_a_joint_is_put_into_a_plants_library_and_taken_elsewhere(
    form: JointForm, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, qtbot: QtBot
) -> None:
    shared = tmp_path / "plant.toml"
    _take, put = form.library.menu().actions()
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_, **__: (str(shared), ""))
    monkeypatch.setattr(QInputDialog, "getText", lambda *_, text: (text, True))
    put.trigger()
    assert not form.problem.text()
    assert "hub stands in plant.toml, revision 1" in form.note.text()
    assert "From the library: plant.toml, hub, revision 1" in form.figures.toPlainText()
    assert form.document["hub"].torque_limits_nm == (58.0, 72.0)
    form.save.click()
    _type(form, "torque_limits_nm", "", "")
    assert "given by the library" in form.problem.text()

    other = JointForm(JointsDocument.from_text(PLAIN, tmp_path / "other.toml"), "", DisplayUnits(), LIGHT)
    qtbot.addWidget(other)
    monkeypatch.setattr(QFileDialog, "getOpenFileName", lambda *_: (str(shared), ""))
    monkeypatch.setattr(QInputDialog, "getItem", lambda *arguments: (arguments[3][0], True))
    other.library.menu().actions()[0].trigger()
    assert other.name == "hub"
    assert other.document["hub"].torque_limits_nm == (58.0, 72.0)
    shared.write_text("[joints.hub]\ntarget_torque_nm = 1.0\n", encoding="utf-8")
    other.library.menu().actions()[0].trigger()
    assert "is no library" in other.problem.text()


def test_a_minus_is_a_minus_and_a_hyphen_is_taken_for_one(qtbot: QtBot) -> None:
    field = NumberField(next(key for key in KEYS.values() if key.kind == "number"), DisplayUnits())
    qtbot.addWidget(field)
    field.set_value(-5.5)
    assert field.edits[0].text() == "\N{MINUS SIGN}5.5"
    assert field.value() == -5.5
    field.edits[0].setText("-6,5")
    assert field.value() == -6.5
