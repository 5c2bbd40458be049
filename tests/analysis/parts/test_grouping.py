"""Which recordings are of one part: names that come again, passes, positions that nobody expects."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import numpy as np
import pytest

from analysis.joint.joints_file import joints_from_text
from analysis.parts.part import Part, find_parts
from analysis.parts.shares import without_any_record
from analysis.pipeline import Analysis, analyse
from tests.world.part_shift import DRIVE_UNIT, START, Recorded, _recording, make_part_shift
from tests.world.shift import naturally


def definition(keys: str) -> dict:
    """The drive unit with these keys."""
    return joints_from_text(f"{DRIVE_UNIT.definition.rstrip()}\n{keys}\n")


def parts(made: Recorded, keys: str) -> tuple[Part, ...]:
    """What is found of them."""
    analysis: Analysis = analyse(made.traces(), definition(keys))
    return find_parts(analysis, analysis.results()).parts


@cache
def twice() -> Recorded:
    """A pallet number that comes again eight hours later; the second time position 2 is missing."""
    made = make_part_shift(3, 2, {(1, 1): "missing"}, positions=2)
    for row in made.rows:
        if row["part"] == "truck-002":
            row |= {"part": "truck-001", "started_at": row["started_at"] + timedelta(hours=8)}
    return made


def test_names_that_come_again_are_two_parts_within_a_window() -> None:
    first, second = parts(twice(), "positions = [1, 2]\ngroup_window_s = 3600")
    assert (first.part, second.part) == ("truck-001", "truck-001")
    assert (first.missing, second.missing) == ([], ["2"])
    assert second.started_at is not None
    assert first.started_at is not None
    assert second.started_at - first.started_at > timedelta(hours=7)


def test_without_a_window_they_are_one() -> None:
    (one,) = parts(twice(), "positions = [1, 2]")
    assert one.attempts == 3
    assert one.reworked == ["1"]


def test_position_that_the_joint_does_not_have_is_told() -> None:
    (first, _) = parts(twice(), "positions = [1]\ngroup_window_s = 3600")
    assert "unexpected-position" in [finding.code for finding in first.findings]
    assert first.verdict == "suspect"
    assert first.expected == 1
    assert first.found == 2


def test_recordings_without_a_position_are_in_no_position() -> None:
    made = make_part_shift(4, 1, {}, positions=3)
    made.rows[1]["position"] = None
    (one,) = parts(made, "positions = [1, 2, 3]")
    assert one.missing == ["2"]
    assert "no-position" in [finding.code for finding in one.findings]


def test_a_joint_without_positions_at_all_has_one() -> None:
    made = make_part_shift(5, 2, {}, positions=1)
    for row in made.rows:
        row["position"] = None
    found = parts(made, "")
    assert len(found) == 2
    for one in found:
        assert [history.position for history in one.histories] == [""]
        assert one.expected is None
        assert one.verdict == "not evaluated"


@pytest.mark.parametrize(("keys", "state"), [("passes = 2", "sound first time"), ("", "sound first time")])
def test_stated_passes_make_a_second_turn_no_re_hit(keys: str, state: str) -> None:
    made, rng = Recorded(), np.random.default_rng(8)
    model = naturally(DRIVE_UNIT.model, rng)
    for k, deed in enumerate(("tighten", "on")):
        made.add(
            _recording(deed, model, rng), joint="drive-unit", part="truck-1", position="1",
            started_at=START + timedelta(minutes=k),
        )  # fmt: skip
    (one,) = parts(made, f"positions = [1]\n{keys}")
    history = one.histories[0]
    assert history.state == state
    assert history.steps[1].kind == ("next pass" if keys else "re-hit")
    assert one.attempts == 1


def test_a_part_that_lacks_a_joint_altogether_is_told() -> None:
    (first, _) = parts(twice(), "positions = [1, 2]\ngroup_window_s = 3600")
    many = [replace(first, part=f"p{k}", joint=joint) for k in range(20) for joint in ("a", "b")]
    assert without_any_record(many) == []
    del many[7]
    assert without_any_record(many) == [("p3", "b")]
