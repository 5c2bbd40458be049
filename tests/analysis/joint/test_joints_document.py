"""A joints file edited in place: values change, comments and order stay, what cannot be used is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

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
attributes.drawing = "A-17"  # not ours
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
    assert again["hub"].extra == {"attributes": {"drawing": "A-17"}}
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


LAYOUTS = {
    "dotted": 'joints.hub.target_torque_nm = 65 # x\njoints.hub.thread = "M8"\n',
    "inline": 'joints = {hub = {target_torque_nm = 65, thread = "M8"}} # x\n',
    "inline joint": '[joints]\nhub = {target_torque_nm = 65, thread = "M8"} # x\n',
    "apart": "[joints.hub]\ntarget_torque_nm = 65 # x\n[plant] # y\n[joints.mast]\ntarget_torque_nm = 5 #z\n",
    "headed": "[joints] # all\n\n[joints.hub] # h\ntarget_torque_nm = 65 # x\n",
    "nested": "[joints.hub]\ntarget_torque_nm = 65 # x\n[joints.hub.attributes]\na = 1 # q\n",
    "no last line end": "[joints.hub]\ntarget_torque_nm = 65",
    "windows": "[joints.hub]\r\ntarget_torque_nm = 65 # x\r\n\r\n[joints.mast]\r\ntarget_torque_nm = 5\r\n",
}


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS)
def test_every_layout_that_toml_allows_can_be_edited(text: str) -> None:
    document = JointsDocument.from_text(text)
    comments = [part for part in ("# x", "# y", "#z", "# q", "# h", "# all") if part in text]
    document.set("hub", "target_torque_nm", 66.5)
    document.set("hub", "torque_limits_nm", (60.0, 70.0))
    document.add("fork arm", {"target_torque_nm": 7.0, "friction": (0.1, 0.2)})
    document.copy("hub", "hub.2")
    assert joints_from_text(document.text()) == document.joints
    assert document["hub"].target_torque_nm == document["hub.2"].target_torque_nm == 66.5
    assert document["fork arm"].friction == (0.1, 0.2)
    assert all(comment in document.text() for comment in comments)
    assert ("\r\n" in document.text()) == ("\r\n" in text)
    assert document.text().replace("\r\n", "").count("\r") == 0
    document.remove("fork arm")
    document.remove("hub.2")
    document.set("hub", "torque_limits_nm", None)
    document.set("hub", "target_torque_nm", 65)
    # Blank lines and the blanks within inline tables may differ, nothing else.
    assert "".join(document.text().split()) == "".join(text.split())


def test_comments_within_a_list_stay() -> None:
    document = JointsDocument.from_text(TEXT)
    document.set("hub", "torque_limits_nm", (59.0, 72.0))
    assert document.text() == TEXT.replace("58.0", "59.0")


_EDITS = st.lists(
    st.tuples(
        st.sampled_from(["mast", "hub"]),
        st.sampled_from(
            [
                ("target_torque_nm", 50.0),
                ("target_torque_nm", 51.5),
                ("thread", "M12"),
                ("thread", None),
                ("friction", (0.1, 0.2)),
                ("friction", (0.3, 0.2)),
                ("title", 'quoted "title" # no comment'),
                ("torque_limits_nm", (1.0, 2.0)),
                ("may_yield", True),
                ("parts_diameter_mm", 12.0),
                ("clamp_length_mm", -1.0),
            ]
        ),
    ),
    max_size=8,
)


@given(_EDITS)
def test_any_edits_leave_a_file_that_reads_as_the_document_says(edits) -> None:
    document = JointsDocument.from_text(TEXT)
    for joint, (key, value) in edits:
        before = document.text()
        try:
            document.set(joint, key, value)
        except JointDefinitionError:
            assert document.text() == before
    assert joints_from_text(document.text()) == document.joints
    # Comments of lines that no edit took out.
    for comment in ("# Plant 2", "# checked by", "# upper mast", "# dry, zinc", "# hub: see", "# not ours"):
        assert comment in document.text()
