"""A joints file edited in place: values change, comments and order stay, what cannot be used is refused."""

import pytest

from analysis.errors import CallError, JointDefinitionError
from analysis.joint import JointsDocument, joints_from_text, load_joints

TEXT = """# Plant 2, line 4: lift truck chassis
# checked by the joint engineer

[joints.mast]            # upper mast bracket
target_torque_nm = 48.0  # dry, zinc flake
thread = "M10"
friction = [0.10, 0.16]  # from the supplier

# hub: see the drawing
[joints.hub]
title = "Wheel hub bolt"
target_torque_nm = 65.0
torque_limits_nm = [
    58.0,  # below this the hub creaks
    72.0,
]
drawing = "A-17"         # not ours
"""


def test_an_edit_changes_its_value_and_nothing_else() -> None:
    document = JointsDocument.from_text(TEXT)
    document.set("mast", "target_torque_nm", 50.0)
    document.set("mast", "friction", (0.12, 0.16))
    expected = TEXT.replace("48.0", "50.0").replace("[0.10, 0.16]", "[0.12, 0.16]")
    assert document.text() == expected
    assert document["mast"].friction == (0.12, 0.16)


def test_setting_the_same_value_leaves_the_text_alone() -> None:
    document = JointsDocument.from_text(TEXT)
    document.set("hub", "torque_limits_nm", (58.0, 72.0))
    assert document.text() == TEXT


def test_new_keys_and_joints_go_to_the_end_and_are_read_back() -> None:
    document = JointsDocument.from_text(TEXT)
    document.set("mast", "property_class", "8.8")
    document.add("fork", {"target_torque_nm": 12.0, "thread": "M6", "friction": (0.1, 0.14), "head": None})
    assert document.names == ("mast", "hub", "fork")
    again = joints_from_text(document.text())
    assert again == document.joints
    assert again["mast"].property_class == "8.8"
    assert again["fork"].friction == (0.1, 0.14)
    assert again["hub"].extra == {"drawing": "A-17"}
    assert "# hub: see the drawing" in document.text()


def test_a_key_and_a_joint_can_be_taken_out() -> None:
    document = JointsDocument.from_text(TEXT)
    document.set("mast", "friction", None)
    document.remove("hub")
    assert document["mast"].friction is None
    assert list(joints_from_text(document.text())) == ["mast"]


def test_the_last_joint_can_go_and_a_new_one_come() -> None:
    document = JointsDocument.from_text("[joints.a]\ntarget_torque_nm = 1\n")
    document.remove("a")
    assert document.names == ()
    document.add("b", {"target_torque_nm": 2.0})
    assert joints_from_text(document.text())["b"].target_torque_nm == 2.0
    fresh = JointsDocument.new()
    fresh.add("c d", {"target_torque_nm": 3})
    assert joints_from_text(fresh.text())["c d"].target_torque_nm == 3.0


@pytest.mark.parametrize(("key", "value"), [("friction", (0.1, 3.0)), ("thread", "M10x9"), ("title", 3)])
def test_a_refused_edit_changes_nothing(key: str, value: object) -> None:
    document = JointsDocument.from_text(TEXT)
    with pytest.raises(JointDefinitionError, match=rf"mast.*{key}"):
        document.update("mast", {"target_torque_nm": 1.0, key: value})
    assert document.text() == TEXT
    assert document["mast"].target_torque_nm == 48.0


def test_wrong_names_are_the_callers_error() -> None:
    document = JointsDocument.from_text(TEXT)
    with pytest.raises(CallError, match="no joint 'axle'"):
        document.set("axle", "title", "x")
    with pytest.raises(CallError, match="already"):
        document.add("hub", {"target_torque_nm": 1.0})
    with pytest.raises(CallError, match="no path"):
        document.save()


def test_saving_keeps_line_ends_and_leaves_no_part_behind(tmp_path) -> None:
    path = tmp_path / "joints.toml"
    path.write_bytes(TEXT.replace("\n", "\r\n").encode())
    document = JointsDocument.load(path)
    document.set("hub", "target_torque_nm", 66.0)
    assert document.save() == path
    assert path.read_bytes() == TEXT.replace("65.0", "66.0").replace("\n", "\r\n").encode()
    assert [p.name for p in tmp_path.iterdir()] == ["joints.toml"]
    assert load_joints(path)["hub"].target_torque_nm == 66.0
