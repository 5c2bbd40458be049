"""Bolts that loosen one another: worked figures, and flanges whose truth is known."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analysis.joint.joints_file import joints_from_text
from analysis.parts.interaction import Interaction, Loading, advise, even_loads, evenness, passes
from analysis.parts.loading import left_shares
from analysis.parts.part import Parts, find_parts
from analysis.parts.together import Arrival, Together
from analysis.pipeline import analyse
from tests.world.part_shift import WHEEL_HUB, Circle, Recorded, add_circles, ring_interaction

FOUR = ring_interaction(4, [0.10])
EIGHT = (0.09, 0.025, 0.008)


def test_f1_four_bolts_around() -> None:
    """F1 (derived): adjacent 0.10, order 1-2-3-4."""
    ends = passes(np.ones(4), [0, 1, 2, 3], FOUR, 3)
    assert ends[0] == pytest.approx([0.8, 0.9, 0.9, 1.0])
    assert ends[0].sum() == pytest.approx(3.6)
    assert evenness(ends[0])[0] == pytest.approx(1.25)
    assert ends[1] == pytest.approx([0.9849, 0.9888, 0.9969, 1.0], abs=5e-5)
    assert ends[2].sum() == pytest.approx(3.9979, abs=5e-5)


def test_f1_four_bolts_across() -> None:
    """F1 (derived): order 1-3-2-4."""
    ends = passes(np.ones(4), [0, 2, 1, 3], FOUR, 2)
    assert ends[0] == pytest.approx([0.8, 1.0, 0.8, 1.0])
    assert ends[1] == pytest.approx([0.992, 1.0, 0.992, 1.0])
    # 0.46 % is the standard deviation of a sample of four over its mean; evenness takes that of all four.
    assert ends[1].std(ddof=1) / ends[1].mean() == pytest.approx(0.0046, abs=5e-5)


def test_f2_loads_for_an_even_end() -> None:
    """F2 (derived)."""
    loads = even_loads([0, 2, 1, 3], FOUR)
    assert loads == pytest.approx([1.2, 1.0, 1.2, 1.0])
    assert passes(loads, [0, 2, 1, 3], FOUR)[0] == pytest.approx(np.ones(4))


def test_f3_four_bolts_at_the_same_time() -> None:
    """F3 (derived): together they take nothing from one another; one by one as F1."""
    told = [(Loading(bolt, 0.0, 1.0), f"t{bolt}") for bolt in range(4)]
    none = np.empty(0)
    stated = Interaction(FOUR, none, none, "stated")
    at_once = Together(tuple(Arrival(str(k + 1), f"t{k}", 0.0, 0.5, 1.0) for k in range(4)))
    _, left = left_shares(told, 4, stated, [at_once])
    assert left == pytest.approx(np.ones(4))
    assert left.sum() == pytest.approx(4.0)
    _, left = left_shares(told, 4, stated, [])
    assert left == pytest.approx([0.8, 0.9, 0.9, 1.0])


def test_advice_ends_even_and_loads_do_too() -> None:
    for n, neighbours in ((4, [0.1]), (6, [0.12, 0.03]), (8, EIGHT), (12, [0.1, 0.05])):
        c = ring_interaction(n, neighbours)
        advice = advise(c)
        around = passes(np.ones(n), range(n), c)[-1]
        assert evenness(advice.ends[0])[1] <= evenness(around)[1] + 1e-12
        assert evenness(advice.ends[-1])[1] < 0.01
        assert passes(advice.loads, advice.order, c)[-1] == pytest.approx(np.ones(n))


def test_a_bolt_that_is_loose_has_nothing_to_lose() -> None:
    assert passes(np.ones(2), [0, 1], np.array([[0.0, 0.3], [0.3, 0.0]]))[0] == pytest.approx([0.7, 1.0])


def definition(keys: str = "") -> dict:
    """The eight-bolt flange: the wheel hub's bolt on a circle."""
    text = WHEEL_HUB.definition.replace("[joints.wheel-hub]", "[joints.ring-flange]")
    return joints_from_text(
        f'{text.rstrip()}\npositions = [1, 2, 3, 4, 5, 6, 7, 8]\nlayout = "circle"\n{keys}'
    )


@cache
def flanges(count: int = 2) -> tuple[tuple[Circle, ...], Parts]:
    """Two flanges in two passes, and what is found of them."""
    made = Recorded()
    circles = tuple(add_circles(made, 11, count, ring_interaction(8, EIGHT)))
    analysis = analyse(made.traces(), definition())
    return circles, find_parts(analysis, analysis.results())


def test_second_pass_is_no_rework_and_no_re_hit() -> None:
    _, parts = flanges()
    assert len(parts.parts) == 2
    for part in parts.parts:
        assert part.attempts == 8
        assert not part.reworked
        assert not [one for one in part.findings if one.code == "re-hit"], part.findings
        assert {history.state for history in part.histories} <= {"sound first time", "suspect"}


def test_coefficients_of_simulated_flanges_within_a_tenth() -> None:
    _, parts = flanges()
    found = parts.parts[0].interaction
    assert found is not None
    assert found.origin == "estimated from 16 bolts turned on again, on 2 parts"
    assert found.by_class[0] == pytest.approx(EIGHT[0], rel=0.10)
    # Smaller ones are known no better than the same share of the largest.
    assert found.by_class[1:3] == pytest.approx(EIGHT[1:], abs=0.10 * EIGHT[0])


def test_ends_of_simulated_flanges_within_three_per_cent() -> None:
    circles, parts = flanges()
    for circle, part in zip(circles, parts.parts, strict=True):
        true = circle.ends / circle.loads
        left = part.left.force_kn / part.tightened.force_kn
        assert left == pytest.approx(true, rel=0.03)


@pytest.mark.parametrize("neighbours", [(0.10, 0.05, 0.03), (0.12, 0.06, 0.05), (0.09, 0.04, 0.02, 0.02)])
def test_bolts_of_a_single_flange_that_lost_nearly_half_are_tight_still(
    neighbours: tuple[float, ...],
) -> None:
    made = Recorded()
    (circle,) = add_circles(made, 17, 1, ring_interaction(8, neighbours))
    analysis = analyse(made.traces(), definition())
    (part,) = find_parts(analysis, analysis.results()).parts
    assert not part.findings
    assert part.attempts == 8
    assert part.left.force_kn / part.tightened.force_kn == pytest.approx(circle.ends / circle.loads, rel=0.04)


def test_stated_coefficients_are_taken_as_they_are() -> None:
    made = Recorded()
    (circle,) = add_circles(made, 12, 1, ring_interaction(8, EIGHT), passes=1)
    analysis = analyse(made.traces(), definition("interaction = [0.09, 0.025, 0.008]\n"))
    (part,) = find_parts(analysis, analysis.results()).parts
    assert part.interaction is not None
    assert part.interaction.origin == "stated in the joints file"
    assert part.left.force_kn / part.tightened.force_kn == pytest.approx(circle.ends / circle.loads, rel=0.03)


def test_one_pass_alone_tells_no_coefficients() -> None:
    made = Recorded()
    tuple(add_circles(made, 13, 1, ring_interaction(8, EIGHT), passes=1))
    analysis = analyse(made.traces(), definition())
    (part,) = find_parts(analysis, analysis.results()).parts
    assert part.interaction is None
    assert part.left.force_kn == pytest.approx(part.tightened.force_kn)
