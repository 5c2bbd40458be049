"""Joints that a plant shares: taken by name, revision and digest; a change of the library is noticed."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from analysis.errors import CallError, JointDefinitionError
from analysis.joint.joints_document import JointsDocument
from analysis.joint.joints_file import joints_from_text, load_joints
from analysis.joint.library import LibraryChangedError, read_library
from analysis.joint.library_entries import taken_entries, with_taken
from analysis.joint.shared_joints import LibraryConflictError, next_revision, put_shared, take_shared

PLANT = """\
[library]
title = "Joints of the plant"
revision = "7"

[joints.hub]
title = "Hub"
target_torque_nm = 65.0
torque_limits_nm = [61.0, 69.0]  # dry

[joints.cover]
target_torque_nm = 12.0
"""
OWN = "# mine\n[joints.own]\ntarget_torque_nm = 5.0  # dry\n"


@pytest.fixture
def plant(tmp_path: Path) -> Path:
    path = tmp_path / "shared" / "plant.toml"
    path.parent.mkdir()
    path.write_text(PLANT)
    return path


@pytest.fixture
def joints(tmp_path: Path, plant: Path) -> Path:
    path = tmp_path / "joints.toml"
    path.write_text(with_taken(OWN, path, read_library(plant), ["hub"]))
    return path


def test_taken_joint_is_that_of_the_library_and_says_so(joints: Path, plant: Path) -> None:
    found = load_joints(joints)
    assert list(found) == ["own", "hub"]
    hub = found["hub"]
    assert (hub.title, hub.target_torque_nm, hub.torque_limits_nm) == ("Hub", 65.0, (61.0, 69.0))
    digest = read_library(plant).digest("hub")
    assert hub.parts["library"] == f"shared/plant.toml, hub, revision 7, digest {digest}"
    assert joints.read_text().startswith(OWN)
    assert "library" not in found["own"].parts


def test_own_values_stand_above_and_are_named(joints: Path) -> None:
    joints.write_text(joints.read_text() + "torque_limits_nm = [63.0, 67.0]\n")
    hub = load_joints(joints)["hub"]
    assert hub.torque_limits_nm == (63.0, 67.0)
    assert hub.parts["library"].endswith("own values of this file: torque_limits_nm")


def test_a_change_of_the_joint_is_noticed_and_taken_anew(joints: Path, plant: Path) -> None:
    plant.write_text(PLANT.replace("69.0", "70.0").replace('"7"', '"8"'))
    with pytest.raises(
        JointDefinitionError, match=r"has changed: hub was taken from revision 7 .* revision 8"
    ):
        load_joints(joints)
    joints.write_text(with_taken(joints.read_text(), joints, read_library(plant), ["hub"]))
    assert load_joints(joints)["hub"].torque_limits_nm == (61.0, 70.0)


def test_what_does_not_touch_the_joint_is_no_change(joints: Path, plant: Path) -> None:
    """Another revision for another joint, comments, and the order of keys."""
    text = PLANT.replace("12.0", "13.0").replace('"7"', '"8"').replace("  # dry", "")
    plant.write_text(
        text.replace('title = "Hub"\ntarget_torque_nm = 65.0', 'target_torque_nm = 65.0\ntitle = "Hub"')
    )
    assert load_joints(joints)["hub"].parts["library"].endswith("; the same in revision 8")


def test_which_joints_are_taken(joints: Path, plant: Path) -> None:
    library = read_library(plant)
    assert taken_entries(joints.read_text(), joints, library) == {
        "hub": library.entry("hub", "shared/plant.toml")
    }


def test_a_joint_of_ones_own_is_not_written_over(joints: Path, plant: Path) -> None:
    plant.write_text(PLANT.replace("joints.cover", "joints.own"))
    with pytest.raises(CallError, match="joint of its own"):
        with_taken(joints.read_text(), joints, read_library(plant), ["own"])
    with pytest.raises(CallError, match="no such joint"):
        with_taken(OWN, joints, read_library(plant), ["lid"])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[joints.hub]\ntarget_torque_nm = 65.0\n", "is no library"),
        ("[library]\nrevision = 7\n[joints.hub]\ntarget_torque_nm = 65.0\n", "is no library"),
        ('[library]\nrevision = "7"\n', "has no joint"),
        ('[library]\nrevision = "7"\n[joints.hub]\nlibrary = {}\n', "takes from another"),
        ("[library\n", "plant.toml"),
    ],
)
def test_no_library(plant: Path, text: str, words: str) -> None:
    plant.write_text(text)
    with pytest.raises(JointDefinitionError, match=words):
        read_library(plant)


@pytest.mark.parametrize("entry", ['"plant.toml"', '{ file = "plant.toml" }', '{ file = 1, joint = "hub", '
                         'revision = "7", digest = "0" }'])  # fmt: skip
def test_entries_that_cannot_be_used(entry: str) -> None:
    with pytest.raises(JointDefinitionError, match=r"\[joints.hub\] library: .*expected texts"):
        joints_from_text(f"[joints.hub]\nlibrary = {entry}\n", path="j.toml")


def test_a_library_that_is_gone(joints: Path, plant: Path) -> None:
    plant.unlink()
    with pytest.raises(JointDefinitionError, match="cannot be read"):
        load_joints(joints)


def test_put_into_a_new_library_and_taken_from_it(tmp_path: Path) -> None:
    """What the file says of the joint moves there with its tables; the definition stays what it was."""
    audit = '[joints.own.audit]\nlimits_nm = [4.0, 6.0]\nsample = "one"\n\n'
    text = f"{OWN}{audit}[joints.lid]\ntarget_torque_nm = 2.0\n"
    (tmp_path / "joints.toml").write_text(text)
    document, shared = JointsDocument.load(tmp_path / "joints.toml"), tmp_path / "shared.toml"
    before = document["own"]
    assert next_revision(shared) == "1"
    put_shared(document, "own", shared, "1")
    after = document["own"]
    assert document.names == ("own", "lid")
    assert (after.target_torque_nm, after.parts["audit"]) == (5.0, before.parts["audit"])
    assert after.parts["library"].startswith("shared.toml, own, revision 1, digest ")
    assert document.text().startswith("# mine\n[joints.own]\nlibrary = ")
    assert (tmp_path / "joints.toml").read_text() == text
    assert load_joints(shared)["own"].parts["audit"] == before.parts["audit"]
    document.save()
    assert load_joints(tmp_path / "joints.toml") == document.joints


def test_put_over_a_joint_of_the_library_with_its_own_values_above(joints: Path, plant: Path) -> None:
    document = JointsDocument.load(joints)
    document.update("hub", {"torque_limits_nm": (62.0, 68.0), "audit.limits_nm": (50.0, 60.0)})
    assert next_revision(plant) == "8"
    put_shared(document, "hub", plant, "8")
    assert list(read_library(plant).tables) == ["cover", "hub"]
    hub = document["hub"]
    assert (hub.torque_limits_nm, hub.parts["audit"]["limits_nm"]) == ((62.0, 68.0), (50.0, 60.0))
    assert "own values" not in hub.parts["library"]
    with pytest.raises(JointDefinitionError, match="has changed: hub was taken from revision 7"):
        load_joints(joints)
    take_shared(document, read_library(plant), ["cover"])
    assert document["cover"].target_torque_nm == 12.0


def test_a_key_of_a_table_stands_above_the_librarys_table(joints: Path, plant: Path) -> None:
    plant.write_text(PLANT + '[joints.hub.audit]\nlimits_nm = [50.0, 60.0]\nsample = "two"\n')
    take = with_taken(joints.read_text(), joints, read_library(plant), ["hub"])
    document = JointsDocument.from_text(take, joints)
    document.set("hub", "audit.sample", "five")
    assert document["hub"].parts["audit"] == {"limits_nm": (50.0, 60.0), "sample": "five"}
    for key in ("audit.limits_nm", "torque_limits_nm"):
        with pytest.raises(JointDefinitionError, match="given by the library"):
            document.set("hub", key, None)
    document.set("hub", "audit.sample", None)
    assert document["hub"].parts["audit"]["sample"] == "two"


def test_what_cannot_be_put(joints: Path, tmp_path: Path) -> None:
    document = JointsDocument.load(joints)
    with pytest.raises(CallError, match="a file of its own"):
        put_shared(document, "own", joints, "1")
    with pytest.raises(CallError, match="needs a revision"):
        put_shared(document, "own", tmp_path / "new.toml", " ")
    (tmp_path / "no.toml").write_text(OWN)
    with pytest.raises(JointDefinitionError, match="is no library"):
        put_shared(document, "own", tmp_path / "no.toml", "1")
    with pytest.raises(CallError, match="save the joints first"):
        put_shared(JointsDocument.from_text(OWN), "own", tmp_path / "new.toml", "1")
    assert not (tmp_path / "new.toml").exists()


def owned(folder: Path, name: str, target_nm: float = 5.0) -> JointsDocument:
    """A user's own joints file with one joint."""
    folder.mkdir(exist_ok=True)
    path = folder / "joints.toml"
    path.write_text(f"[joints.{name}]\ntarget_torque_nm = {target_nm}\n")
    return JointsDocument.load(path)


def test_what_several_people_put_at_once_is_all_there(tmp_path: Path, plant: Path) -> None:
    users = [owned(tmp_path / f"user-{k}", f"joint-{k}") for k in range(8)]
    proposed = next_revision(plant)
    with ThreadPoolExecutor(len(users)) as pool:
        put = pool.map(lambda k: put_shared(users[k], f"joint-{k}", plant, proposed), range(len(users)))
        revisions = {library.revision for library in put}
    assert set(read_library(plant).tables) == {"hub", "cover", *(f"joint-{k}" for k in range(8))}
    assert revisions == {str(8 + k) for k in range(8)}
    assert read_library(plant).revision == "15"
    assert [path.name for path in plant.parent.iterdir()] == ["plant.toml"]
    for document in users:
        document.save()
        assert document.path is not None
        assert len(load_joints(document.path)) == 1


def test_a_joint_of_somebody_else_is_not_written_over_unasked(tmp_path: Path, plant: Path) -> None:
    document, before = owned(tmp_path / "user", "hub", 66.0), plant.read_bytes()
    with pytest.raises(LibraryConflictError, match=r"revision 7, .*target_torque_nm: 65.0 there, 66.0 here"):
        put_shared(document, "hub", plant, "8")
    assert plant.read_bytes() == before
    put_shared(document, "hub", plant, "8", instead=True)
    assert read_library(plant).tables["hub"] == {"target_torque_nm": 66.0}
    # The same again is no change, and no revision.
    again = plant.read_bytes()
    put_shared(owned(tmp_path / "other", "hub", 66.0), "hub", plant, "9")
    assert plant.read_bytes() == again


def test_what_was_changed_in_the_library_meanwhile_is_taken_anew_first(
    joints: Path, plant: Path, tmp_path: Path
) -> None:
    document = JointsDocument.load(joints)
    document.set("hub", "target_torque_nm", 64.0)
    plant.write_text(PLANT.replace("69.0", "68.0").replace('"7"', '"8"'))
    with pytest.raises(LibraryChangedError, match="--take hub"):
        put_shared(document, "hub", plant, "9")
    assert read_library(plant).tables["hub"]["target_torque_nm"] == 65.0


def test_each_of_two_changed_libraries_and_a_joint_by_another_name_can_be_taken_anew(
    joints: Path, plant: Path
) -> None:
    other = plant.with_name("other.toml")
    other.write_text(PLANT)
    text = with_taken(joints.read_text(), joints, read_library(other), ["cover"])
    joints.write_text(text.replace("[joints.cover]", "[joints.lid]"))
    for library in (plant, other):
        library.write_text(PLANT.replace("65.0", "66.0").replace("12.0", "13.0"))
    joints.write_text(with_taken(joints.read_text(), joints, read_library(plant), ["hub"]))
    with pytest.raises(LibraryChangedError, match="--take lid"):
        load_joints(joints)
    joints.write_text(with_taken(joints.read_text(), joints, read_library(other), ["lid"]))
    found = load_joints(joints)
    assert {name: one.target_torque_nm for name, one in found.items()} == {
        "own": 5.0,
        "hub": 66.0,
        "lid": 13.0,
    }
