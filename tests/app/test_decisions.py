"""Decisions: exact undo, words, and what makes a new judgement necessary."""

from __future__ import annotations

import datetime
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.catalogue.points import MOVABLE_POINTS
from app.session.deciding import (
    Signature,
    assign_joint,
    move_edge,
    needs_judging,
    pin_reference,
    set_default_joint,
    set_disposition,
    set_limits,
    set_note,
    sign,
    unpin_reference,
)
from app.session.state import DISPOSITIONS, LIMIT_KEYS, Decisions, ViewState
from app.session.undo import DecisionStack

WHO = Signature("Tester", "2026-03-02T06:00:00Z")
IDS = ("a", "b", "c")


def test_words_of_a_step() -> None:
    twelve = [f"t{n}" for n in range(12)]
    assert set_disposition(Decisions(), twelve, "to investigate", WHO).text == "set 12 traces: to investigate"
    assert set_disposition(Decisions(), ["t1"], "reworked", WHO).text == "set t1: reworked"
    assert set_disposition(Decisions(), twelve, "", WHO).text == "clear 12 traces"


def test_the_machines_facts_are_not_touched_and_each_change_is_signed() -> None:
    step = set_disposition(Decisions(), ["a"], "reworked", WHO)
    decision = step.after.of("a")
    assert decision.disposition == "reworked"
    assert [(c.by, c.at, c.text) for c in decision.changes] == [("Tester", WHO.at, "disposition: reworked")]


def test_setting_the_same_again_changes_nothing() -> None:
    once = set_disposition(Decisions(), ["a"], "reworked", WHO).after
    assert set_disposition(once, ["a"], "reworked", WHO).after == once


def test_moved_edge_and_back() -> None:
    moved = move_edge(Decisions(), "a", "snug", 123.4, WHO).after
    assert moved.of("a").edges == {"snug": 123.4}
    back = move_edge(moved, "a", "snug", None, WHO).after
    assert not back.of("a").edges
    assert len(back.of("a").changes) == 2


@pytest.mark.parametrize("limits", [(5.0, 5.0), (6.0, 5.0)])
def test_limits_that_cross_are_refused(limits: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="below"):
        set_limits(Decisions(), "hub", "torque_limits_nm", limits)


def test_only_what_verdicts_depend_on_asks_for_a_new_judgement() -> None:
    none = Decisions()
    assert not needs_judging(none, set_disposition(none, IDS, "reworked", WHO).after)
    assert not needs_judging(none, set_note(none, IDS, "seen", WHO).after)
    assert needs_judging(none, move_edge(none, "a", "snug", 1.0, WHO).after)
    assert needs_judging(none, set_limits(none, "hub", "torque_limits_nm", (1.0, 2.0)).after)
    assert needs_judging(none, assign_joint(none, ["a"], "hub", WHO).after)
    assert needs_judging(none, set_default_joint(none, "hub").after)


def random_step(chance: random.Random, now: Decisions) -> Decisions:
    some = chance.sample(IDS, chance.randint(1, len(IDS)))
    joint = chance.choice(["hub", "cover"])
    low = chance.uniform(0, 50)
    kinds = [
        lambda: set_disposition(now, some, chance.choice(DISPOSITIONS), WHO),
        lambda: set_note(now, some, chance.choice(["", "seen", "see picture"]), WHO),
        lambda: move_edge(now, some[0], chance.choice([*MOVABLE_POINTS]), chance.choice([None, low]), WHO),
        lambda: set_limits(now, joint, chance.choice(LIMIT_KEYS), chance.choice([None, (low, low + 5)])),
        lambda: pin_reference(now, joint, some, WHO),
        lambda: unpin_reference(now, joint),
        lambda: assign_joint(now, some, chance.choice(["", joint]), WHO),
        lambda: set_default_joint(now, chance.choice(["", joint])),
    ]
    return chance.choice(kinds)().after


@pytest.mark.parametrize("seed", range(5))
def test_undo_and_redo_of_a_hundred_mixed_decisions_restore_the_exact_state(seed: int) -> None:
    chance = random.Random(seed)
    stack = DecisionStack()
    now = [Decisions()]
    states = [Decisions()]

    def apply(decisions: Decisions) -> None:
        now[0] = decisions

    while len(states) <= 100:
        after = random_step(chance, now[0])
        if after != now[0]:
            stack.decide(f"step {len(states)}", now[0], after, apply)
            states.append(after)
    assert stack.count() == 100
    for expected in reversed(states[:-1]):
        stack.undo()
        assert now[0] == expected
    for expected in states[1:]:
        stack.redo()
        assert now[0] == expected


@given(st.integers(0, 10_000))
def test_decisions_survive_the_file(seed: int) -> None:
    chance = random.Random(seed)
    now = Decisions()
    for _ in range(15):
        now = random_step(chance, now)
    assert Decisions.from_dict(now.as_dict()) == now


@pytest.mark.parametrize(
    "data",
    [
        {"traces": {"a": {"disposition": "eat it"}}},
        {"traces": {"a": {"edges": {"middle": 3.0}}}},
        {"limits": {"hub": {"colour": [1, 2]}}},
        {"traces": {"a": {"edges": {"snug": "x"}}}},
    ],
)
def test_what_is_no_decision_is_refused(data: dict[str, object]) -> None:
    with pytest.raises(ValueError):
        Decisions.from_dict(data)


def test_view_passes_over_names_it_does_not_know() -> None:
    assert ViewState.from_dict({"torque_unit": "ft·lbf", "sparkle": "yes"}) == ViewState(torque_unit="ft·lbf")


def test_signature_is_in_utc() -> None:
    zone = datetime.timezone(datetime.timedelta(hours=2))
    assert sign("T", datetime.datetime(2026, 3, 2, 8, tzinfo=zone)).at == "2026-03-02T06:00:00Z"
