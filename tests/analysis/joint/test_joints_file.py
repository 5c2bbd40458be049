"""The joints file: what is read, what is refused, and that a refusal names the place."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.errors import JointDefinitionError
from analysis.joint import joints_from_text, load_joints
from analysis.joint.definition_keys import KEYS

FULL = """
[joints.hub]
title = "Wheel hub bolt"
thread = "M10x1.5"
property_class = "10.9"
head = "hex"                    # hex | flange | socket
hole = "medium"
friction = [0.10, 0.16]
clamp_length_mm = 30.0
stop = "torque"
target_torque_nm = 65.0
torque_limits_nm = [58.0, 72.0]
angle_limits_deg = [20.0, 70.0] # snug to final
prevailing_limits_nm = [0.0, 2.0]
may_yield = false
parts_diameter_mm = 40
parts_modulus_gpa = 205

[joints.hub.attributes]
drawing = "A-17"

[joints.mast]
target_torque_nm = 20
"""


def test_every_key_arrives_where_it_belongs() -> None:
    joints = joints_from_text(FULL)
    hub = joints["hub"]
    assert list(joints) == ["hub", "mast"]
    assert (hub.title, hub.thread, hub.property_class, hub.head, hub.hole) == (
        "Wheel hub bolt",
        "M10x1.5",
        "10.9",
        "hex",
        "medium",
    )
    assert hub.friction == (0.10, 0.16)
    assert hub.torque_limits_nm == (58.0, 72.0)
    assert hub.angle_limits_deg == (20.0, 70.0)
    assert hub.prevailing_limits_nm == (0.0, 2.0)
    assert (hub.clamp_length_mm, hub.target_torque_nm, hub.stop, hub.may_yield) == (
        30.0,
        65.0,
        "torque",
        False,
    )
    assert hub.parts == {"parts_diameter_mm": 40.0, "parts_modulus_gpa": 205.0}
    assert hub.extra == {"attributes": {"drawing": "A-17"}}


def test_a_joint_with_only_a_target_is_complete() -> None:
    mast = joints_from_text(FULL)["mast"]
    assert (mast.target_torque_nm, mast.title, mast.thread, mast.torque_limits_nm) == (
        20.0,
        "mast",
        None,
        None,
    )


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("angle_limit_deg", "[20, 70]", "is not known; angle_limits_deg is; own keys go into [joints.hub."),
        ("colour", '"red"', "is not known; own keys go into [joints.hub.attributes]"),
        ("attributes", '"red"', "expected a table"),
        ("attributes.sizes", "[1, 2]", "expected text, a number, a date, true or false"),
        ("friction", "[0.1, 3]", "at most 1"),
        ("friction", "3", "two numbers"),
        ("friction", "[0.0, 0.1]", "above 0"),
        ("friction", "[0.2, 0.1]", "is above the highest"),
        ("friction_thread", "[-0.1, 0.1]", "above 0"),
        ("friction", "[nan, 0.1]", "finite"),
        ("friction", '["low", "high"]', "expected a number"),
        ("clamp_length_mm", "-30.0", "above 0 mm"),
        ("clamp_length_mm", '"30"', "expected a number in mm"),
        ("thread", '"M10x9"', "a pitch of 9 mm cannot belong to M10"),
        ("thread", '"M10x0.05"', "cannot belong to M10"),
        ("thread", '"M500x6"', "outside 1 to 150 mm"),
        ("thread", '"G3/8"', "no metric thread"),
        ("thread", "10", "put it in quotes"),
        ("property_class", '"11.9"', "expected one of 4.6"),
        ("property_class", "10.9", "put it in quotes"),
        ("head", '"round"', "expected one of hex, flange, socket"),
        ("hole", '"wide"', "expected one of fine, medium, coarse"),
        ("stop", '"clock"', "expected one of torque, angle, yield"),
        ("torque_limits_nm", "[72.0, 58.0]", "is above the highest"),
        ("torque_limits_nm", "[58.0]", "a list of 1"),
        ("friction", "[0.10, inf]", "finite"),
        ("passes", "inf", "expected a number"),
        ("passes", "nan", "expected a number"),
        ("passes", "1.5", "expected a number"),
        ("angle_limits_deg", "[70, 20]", "is above the highest"),
        ("angle_limits_deg", "[-5, 20]", "at least 0"),
        ("prevailing_limits_nm", "[2, 1]", "is above the highest"),
        ("target_torque_nm", "0", "above 0"),
        ("target_torque_nm", "true", "the flag true"),
        ("may_yield", '"no"', "true or false"),
        ("may_yield", "0", "true or false"),
        ("title", "17", "expected text"),
        ("parts_modulus_gpa", "210000", "at most 700 GPa"),
        ("shank_length_mm", "31", "longer than the clamp length"),
        ("hole_diameter_mm", "9.5", "smaller than the thread"),
        ("bearing_diameter_mm", "10.9", "leaves no bearing face"),
        ("inner_interfaces", "1.5", "a whole number"),
        ("surface", '"polished"', "expected one of below 10"),
    ],
)
def test_absurd_data_is_refused_by_file_joint_and_key(key: str, value: str, words: str) -> None:
    lines = {"target_torque_nm": "65.0", "thread": '"M10"', "hole": '"medium"', "head": '"hex"'}
    lines |= {"clamp_length_mm": "30.0", key: value}
    text = "[joints.hub]\n" + "\n".join(f"{name} = {entry}" for name, entry in lines.items())
    with pytest.raises(JointDefinitionError) as caught:
        joints_from_text(text, path="plant.toml")
    error = caught.value
    assert (error.path, error.joint, error.key) == ("plant.toml", "hub", key)
    assert words in str(error)
    assert all(part in str(error) for part in ("plant.toml", "hub", key))


def test_a_missing_target_is_named() -> None:
    with pytest.raises(JointDefinitionError, match=r"hub.*target_torque_nm.*missing"):
        joints_from_text("[joints.hub]\ntitle = 'x'")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "no joint"),
        ("joints = 3", "expected tables"),
        ("[joints]\nhub = 3", "expected a table"),
        ("[joints.hub\n", "no valid TOML"),
        ("[joints.hub]\ntarget_torque_nm = 1\ntarget_torque_nm = 2", "no valid TOML"),
    ],
)
def test_a_text_that_is_no_joints_file_is_refused(text: str, words: str) -> None:
    with pytest.raises(JointDefinitionError, match=words):
        joints_from_text(text)


def test_files_that_cannot_be_read_are_named(tmp_path) -> None:
    with pytest.raises(JointDefinitionError, match=r"nowhere\.toml.*cannot be read"):
        load_joints(tmp_path / "nowhere.toml")
    wrong = tmp_path / "latin.toml"
    wrong.write_bytes('[joints.hub]\ntitle = "Schräg"\n'.encode("latin-1"))
    with pytest.raises(JointDefinitionError, match=r"latin\.toml.*UTF-8.*line 2"):
        load_joints(wrong)


def test_a_byte_order_mark_and_windows_line_ends_are_read(tmp_path) -> None:
    path = tmp_path / "joints.toml"
    path.write_bytes(b"\xef\xbb\xbf" + FULL.replace("\n", "\r\n").encode())
    assert load_joints(path) == joints_from_text(FULL)


@given(st.text(max_size=200))
def test_any_text_is_read_or_refused(text: str) -> None:
    try:
        joints_from_text(text)
    except JointDefinitionError:
        return


_VALUES = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**20), 10**20),
    st.floats(),
    st.text(max_size=8),
    st.lists(st.floats(), max_size=3),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)


def test_a_limit_may_stand_on_one_side_alone():
    text = "[joints.hub]\ntarget_torque_nm = 65.0\n"
    joint = joints_from_text(text + "torque_limits_nm = [58.0, inf]\nangle_limits_deg = [-inf, 70.0]\n")[
        "hub"
    ]
    assert joint.torque_limits_nm == (58.0, math.inf)
    assert joint.angle_limits_deg == (-math.inf, 70.0)
    for wrong in ("torque_limits_nm = [-inf, inf]", "torque_limits_nm = [inf, 70.0]", "friction = [0.1, inf]",
                  "torque_limits_nm = [nan, 70.0]", "torque_limits_nm = [58.0, -inf]"):  # fmt: skip
        with pytest.raises(JointDefinitionError):
            joints_from_text(text + wrong)


@given(st.dictionaries(st.sampled_from([*KEYS, "unknown"]), _VALUES, max_size=6))
def test_any_values_are_read_or_refused(values: dict[str, object]) -> None:
    from analysis.joint.joints_file import definitions

    try:
        joint = definitions({"joints": {"hub": values}})["hub"]
    except JointDefinitionError as error:
        named = error.joint
    else:
        named = joint.name
        assert joint.target_torque_nm > 0
    assert named == "hub"
