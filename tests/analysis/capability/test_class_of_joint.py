"""What a class asks: each missing item named once, and nothing claimed where no class is given."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from analysis.capability.class_check import check_class, since_last_sound
from analysis.capability.sensors import Calibrated
from analysis.capability.study import make_study
from analysis.errors import JointDefinitionError
from analysis.joint.definition import JointDefinition
from analysis.joint.joint_class import (
    ITEMS,
    RECALLED,
    ClassTableError,
    class_order,
    default_classes,
    load_classes,
)
from analysis.joint.joints_file import joints_from_text
from analysis.plant.calibration import Calibration, calibrated_until
from analysis.report.class_pages import class_section
from tests.helpers.studied_results import results_of

BARE = JointDefinition("hub", 65.0, torque_limits_nm=(61.0, 69.0), parts={"risk_class": "A"})
WHOLE = JointDefinition(
    "hub", 65.0, torque_limits_nm=(61.0, 69.0), angle_limits_deg=(20.0, 60.0),
    parts={"risk_class": "A", "class_reason": "steering", "class_decided_by": "design",
           "class_date": "2024-01-05", "control": "torque", "monitor": ("angle",), "retention_years": 15.0,
           "capability": {"quantity": ("final_torque",)}},
)  # fmt: skip


def test_each_item_once_and_what_is_missing_is_not_met() -> None:
    results = results_of(np.random.default_rng(1).normal(65, 1.5, 60))
    study = make_study(results, results, {"hub": BARE}).joints["hub"]
    items = check_class(BARE, results, study)
    assert [one.item for one in items] == list(ITEMS)
    standing = {one.item: one.standing for one in items}
    for item in ("decision", "monitor", "record", "capability"):
        assert standing[item] == "not met"
    for item in ("sensor", "limits", "audit"):
        assert standing[item] == "cannot be told"
    assert all(one.note == RECALLED and one.why for one in items)


def test_what_is_given_is_met() -> None:
    results = results_of(np.random.default_rng(2).normal(65, 0.4, 80))
    study = make_study(results, results, {"hub": WHOLE}).joints["hub"]
    standing = {one.item: one.standing for one in check_class(WHOLE, results, study)}
    for item in ("decision", "control", "monitor", "capability", "rework"):
        assert standing[item] == "met", item
    assert "not met" not in standing.values()


def test_nothing_is_claimed_without_a_class() -> None:
    plain = JointDefinition("hub", 65.0)
    assert check_class(plain) == ()
    assert class_section(plain, (), ["p1"], "a") is None


def test_class_comes_first_in_every_order() -> None:
    joints = [JointDefinition(n, 1.0, parts={} if c is None else {"risk_class": c}) for n, c in
              (("w", None), ("x", "C"), ("y", "A"), ("z", "B"))]  # fmt: skip
    assert [one.name for one in sorted(joints, key=class_order)] == ["y", "z", "x", "w"]


def test_parts_to_contain_are_those_since_the_last_sound_one() -> None:
    results = results_of(
        [65.0] * 5,
        verdict=["not ok", "ok", "not ok", "suspect", "not ok"],
        part=["p1", "p2", "p3", "p4", "p3"],
    )
    assert since_last_sound(results) == ["p3", "p4"]
    assert since_last_sound(results.slice(0, 2)) == []


def test_a_plants_own_table(tmp_path: Path) -> None:
    path = tmp_path / "classes.toml"
    path.write_text(
        'confirmed = ["A.capability"]\n[A]\ncapability = 2\ncontrol = "torque transducer"\n', "utf-8"
    )
    table = load_classes(path)
    items = check_class(BARE, table=table)
    assert [(one.item, one.note) for one in items] == [("control", RECALLED), ("capability", "")]
    path.write_text('[D]\ncontrol = "x"\n', "utf-8")
    with pytest.raises(ClassTableError, match="expected tables A, B, C"):
        load_classes(path)
    path.write_text('[A]\ncapability = "high"\n', "utf-8")
    with pytest.raises(ClassTableError, match="capability"):
        load_classes(path)


def test_every_line_of_the_programs_own_table_is_recalled() -> None:
    table = default_classes()
    assert not table.confirmed
    assert {item for asks in table.asks.values() for item in asks} == set(ITEMS)


@pytest.mark.parametrize(
    ("line", "words"),
    [('risk_class = "D"', "expected one of A, B, C"), ("monitor = [1]", "expected some of"),
     ("retention_years = -1", "expected above 0"), ("capability = 3", "expected a table"),
     ("capability.wanted_cpk = 99", "wanted_cpk")],
)  # fmt: skip
def test_keys_that_cannot_be_used(line: str, words: str) -> None:
    with pytest.raises(JointDefinitionError, match=words):
        joints_from_text(f"[joints.hub]\ntarget_torque_nm = 65\n{line}\n")


def sensor_line(definition: JointDefinition, calibrated: Calibrated | None = None, **attributes: object):
    """The standing of the line about sensors, and why, of 40 traces made on 1 June 2026."""
    results = results_of(np.random.default_rng(2).normal(65, 0.4, 40), tool=["T1"] * 20 + ["T2"] * 20)
    given = results.set_column(
        results.column_names.index("started_at"), "started_at",
        pa.array([datetime(2026, 6, 1, tzinfo=UTC)] * 40, pa.timestamp("us", "UTC")),
    )  # fmt: skip
    for name, values in attributes.items():
        given = given.append_column(name, pa.array(values))
    study = make_study(given, given, {"hub": definition}, calibrated=calibrated).joints["hub"]
    line = next(one for one in check_class(definition, given, study) if one.item == "sensor")
    return line.standing, line.why


def test_a_second_sensor_is_told_where_recordings_name_one() -> None:
    assert sensor_line(WHOLE)[0] == "cannot be told"
    assert sensor_line(WHOLE, second_sensor=["S9"] * 40)[0] == "met"
    assert sensor_line(WHOLE, second_sensor=["S9"] * 38 + ["none", None]) == (
        "not met", "2 of 40 traces name no second sensor",
    )  # fmt: skip


def test_an_overdue_calibration_is_told_by_tool_and_since_when() -> None:
    done = Calibration(date(2026, 5, 1), "T1", 1.0)
    early = calibrated_until([done, Calibration(date(2025, 5, 1), "T2", 1.0)])
    standing, why = sensor_line(WHOLE, early, second_sensor=["S9"] * 40)
    assert standing == "not met"
    assert why == "calibration was overdue: T2 since 2026-05-01, 20 traces"
    useful = replace(WHOLE, parts=WHOLE.parts | {"risk_class": "B"})
    both = calibrated_until([done, Calibration(date(2026, 1, 1), "T2", 1.0)])
    assert sensor_line(useful, both)[0] == "met"
    assert sensor_line(useful, calibrated_until([done])) == (
        "cannot be told", "the tools of 20 of 40 traces are known to have been calibrated in time",
    )  # fmt: skip
    # A day that the recordings state goes before events; a later calibration says nothing of earlier traces.
    assert sensor_line(useful, both, calibration_due=["2026-05-30"] * 40)[0] == "not met"
    later = calibrated_until([done, Calibration(date(2026, 6, 2), "T2", 1.0)])
    assert sensor_line(useful, later)[0] == "cannot be told"
