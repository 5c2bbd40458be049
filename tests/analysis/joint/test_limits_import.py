"""Limits from a table into a joints document: compared first, applied after, bad rows listed."""

import pytest

from analysis.errors import ReadError
from analysis.joint import JointsDocument, joints_from_text
from analysis.joint.limits_import import read_limits

TEXT = """[joints.hub]
target_torque_nm = 65.0  # dry
torque_limits_nm = [58.0, 72.0]

[joints.mast]
target_torque_nm = 20.0
"""


def document() -> JointsDocument:
    return JointsDocument.from_text(TEXT)


def test_a_table_is_compared_first_and_then_applied(tmp_path) -> None:
    path = tmp_path / "limits.csv"
    path.write_text(
        "joint,target_torque_nm,torque_low_nm,torque_high_nm,angle_low_deg,angle_high_deg,comment\n"
        "hub,65.0,60,70,20,70,tighter\n"
        "fork,12,11,13,,,new\n"
    )
    joints = document()
    found = read_limits(path, joints)
    assert joints.text() == TEXT
    assert [change.sentence() for change in found.changes] == [
        "hub: torque_limits_nm from 58, 72 to 60, 70",
        "hub: angle_limits_deg to 20, 70",
        "fork: target_torque_nm to 12",
        "fork: torque_limits_nm to 11, 13",
    ]
    assert (found.unchanged, found.problems) == (1, ())
    found.apply(joints)
    assert "target_torque_nm = 65.0  # dry" in joints.text()
    again = joints_from_text(joints.text())
    assert again["hub"].torque_limits_nm == (60.0, 70.0)
    assert again["hub"].angle_limits_deg == (20.0, 70.0)
    assert again["fork"].torque_limits_nm == (11.0, 13.0)
    assert read_limits(path, joints).changes == ()


def test_semicolons_decimal_commas_and_other_units(tmp_path) -> None:
    path = tmp_path / "limits.csv"
    path.write_bytes(
        "joint;torque_low [ft·lbf];torque_high [ft·lbf]\r\nmast;14,5;15,5\r\n".encode("utf-8-sig")
    )
    found = read_limits(path, document())
    (change,) = found.changes
    # NIST SP 811: 1 ft·lbf is 1.3558179483 N·m.
    assert change.new == pytest.approx((14.5 * 1.3558179483, 15.5 * 1.3558179483), rel=1e-9)


def test_a_toml_table_gives_its_limits_only(tmp_path) -> None:
    path = tmp_path / "limits.toml"
    path.write_text('[joints.mast]\ntarget_torque_nm = 21\nthread = "M8"\nprevailing_limits_nm = [0, 1]\n')
    joints = document()
    read_limits(path, joints).apply(joints)
    assert joints["mast"].target_torque_nm == 21.0
    assert joints["mast"].prevailing_limits_nm == (0.0, 1.0)
    assert joints["mast"].thread is None


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("hub,70,60", "is above the highest"),
        ("hub,sixty,70", "sixty"),
        ("hub,60,", "only one end"),
        ("axle,60,70", "target_torque_nm"),
        (",60,70", "no joint name"),
        ("mast,1,2", "again"),
    ],
)
def test_a_bad_row_is_listed_with_its_line_and_the_rest_is_taken(tmp_path, row: str, words: str) -> None:
    path = tmp_path / "limits.csv"
    path.write_text(f"joint,torque_low_nm,torque_high_nm\nmast,18,22\n{row}\n")
    found = read_limits(path, document())
    assert [change.joint for change in found.changes] == ["mast"]
    (problem,) = found.problems
    assert problem.line == 3
    assert words in problem.sentence()
    assert str(path) in problem.sentence()


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "empty"),
        ("name,low\nx,1\n", "a column joint"),
        ("joint,torque_low,torque_high\nhub,1,2\n", "unit"),
        ("joint,torque_low_deg,torque_high_deg\nhub,1,2\n", "unit of torque"),
        ("joint,torque_low [furlong],torque_high\nhub,1,2\n", "unit"),
    ],
)
def test_a_file_that_is_no_table_of_limits_is_refused(tmp_path, text: str, words: str) -> None:
    path = tmp_path / "limits.csv"
    path.write_text(text)
    with pytest.raises(ReadError, match=words):
        read_limits(path, document())


def test_a_broken_toml_or_missing_file_is_refused(tmp_path) -> None:
    path = tmp_path / "limits.toml"
    path.write_text("[joints.hub]\ntarget_torque_nm = -1\n")
    with pytest.raises(ReadError, match="target_torque_nm"):
        read_limits(path, document())
    with pytest.raises(ReadError, match="nowhere"):
        read_limits(tmp_path / "nowhere.csv", document())
