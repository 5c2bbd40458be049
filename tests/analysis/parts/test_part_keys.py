"""Keys of a part in the joints file: what may stand there, and what is said where it may not."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import JointDefinitionError
from analysis.joint.joints_file import joints_from_text
from analysis.parts.plan import plan_of

HUB = "[joints.hub]\ntarget_torque_nm = 65\n"


def plan(keys: str):
    """The plan of a joint with these keys."""
    return plan_of("hub", joints_from_text(HUB + keys)["hub"])


def test_positions_as_numbers_or_text() -> None:
    assert plan('positions = [1, "2", "left front"]').positions == ("1", "2", "left front")
    assert plan("").positions is None


def test_layout_of_a_circle_starts_at_the_top_and_goes_clockwise() -> None:
    places = plan('positions = [1, 2, 3, 4]\nlayout = "circle"').places
    assert places == pytest.approx(np.array([[0, 1], [1, 0], [0, -1], [-1, 0]]), abs=1e-12)
    assert plan("positions = [1, 2]\nlayout = [[0, 0], [80, 40.5]]").places.tolist() == [[0, 0], [80, 40.5]]


def test_neighbours_make_a_square() -> None:
    c = plan('positions = [1, 2, 3, 4]\nlayout = "circle"\ninteraction = [0.1, 0.02]').interaction
    assert c.tolist() == [[0, 0.1, 0.02, 0.1], [0.1, 0, 0.1, 0.02], [0.02, 0.1, 0, 0.1], [0.1, 0.02, 0.1, 0]]


def test_one_bolt_has_no_neighbour() -> None:
    assert plan('positions = [1]\nlayout = "circle"\ninteraction = [0.1]').interaction.tolist() == [[0.0]]


@pytest.mark.parametrize(
    ("keys", "key", "words"),
    [
        ("positions = 8", "positions", "expected a list of positions"),
        ("positions = []", "positions", "expected a list of positions"),
        ("positions = [1, 2, 1]", "positions", "1 occurs twice"),
        ("positions = [1, 2.5]", "positions", "expected text or a whole number"),
        ('positions = [1, 2]\nlayout = "square"', "layout", "circle"),
        ("positions = [1, 2]\nlayout = [[0, 0]]", "layout", "1 places for 2 positions"),
        ("positions = [1, 2]\nlayout = 3", "layout", 'expected "circle", or pairs'),
        ('layout = "circle"', "layout", "needs the positions"),
        ("group_window_s = 0", "group_window_s", "expected above 0"),
        ('group_window_s = "1 h"', "group_window_s", "expected a number"),
        ("reuse_limit = 1.5", "reuse_limit", "expected a number"),
        ("reuse_limit = -1", "reuse_limit", "expected above -1"),
        ("passes = 0", "passes", "expected above 0"),
        ("positions = [1, 2]\nwanted_sum_kn = -3", "wanted_sum_kn", "expected above 0"),
        ("evenness_limit = 0.9", "evenness_limit", "expected above 1"),
        ("positions = [1, 2, 3]\ninteraction = [[0, 0.1], [0.1, 0]]", "interaction", "no square of 3"),
        ("positions = [1, 2, 3]\ninteraction = [0.1]", "interaction", 'needs layout = "circle"'),
        ("positions = [1, 2]\ninteraction = [0.1, 2.0]", "interaction", "below 1"),
    ],
)
def test_what_cannot_be_used_is_named(keys: str, key: str, words: str) -> None:
    with pytest.raises(JointDefinitionError) as caught:
        plan(keys)
    text = str(caught.value)
    assert key in text
    assert words in text
    assert "hub" in text
