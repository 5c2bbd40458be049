"""Histories of one position, event by event; sums of clamp force; spindles together."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.parts.events import Event, was_tight, was_tight_at_first
from analysis.parts.history import history_of, with_reuse
from analysis.parts.sums import Forces, sum_of
from analysis.parts.together import Arrival, Together, with_late

START = datetime(2024, 3, 13, 6, 0, tzinfo=UTC)


def events(*deeds: str) -> list[Event]:
    """One event a minute: a verdict, "tight" for a trace of a tight bolt, "loosen", "back", "audit"."""
    made = []
    for k, deed in enumerate(deeds):
        operation = {"loosen": "loosening", "back": "back-off", "audit": "audit"}.get(deed, "tightening")
        tight = deed == "tight"
        verdict = "suspect" if tight else deed if operation == "tightening" else "not evaluated"
        findings = ("already-tight",) if tight else ("torque-low",) if deed == "not ok" else ()
        when = START + timedelta(minutes=k)
        made.append(
            Event(k, f"t{k}", when, operation, verdict, findings, 60.0, 5.0 if tight else 900.0, 30.0)
        )
    return made


@pytest.mark.parametrize(
    ("turned_deg", "tight"), [(3.0, True), (14.0, True), (20.0, False), (29.0, False), (400.0, False)]
)
def test_what_turns_less_than_half_of_the_way_was_tight(turned_deg: float, tight: bool) -> None:
    """From snug to final a loose one turns all of its 30 deg, however late its recording begins."""
    first, second = events("ok", "ok")
    second = replace(second, turned_deg=turned_deg)
    assert was_tight(first, second) is tight
    assert was_tight_at_first(second, 30.0) is tight
    assert was_tight(first, replace(second, wound_up=True))


@pytest.mark.parametrize(
    ("deeds", "words", "verdict", "findings"),
    [
        ((), "open", "not ok", ("missing",)),
        (("ok",), "sound first time", "ok", ()),
        (("suspect",), "suspect", "suspect", ()),
        (("not evaluated",), "not evaluated", "not evaluated", ()),
        (("not ok",), "not sound", "not ok", ()),
        (("not ok", "loosen", "ok"), "sound after rework (2 attempts)", "ok", ()),
        (("not ok", "back", "ok"), "sound after rework (2 attempts)", "ok", ()),
        (("not ok", "loosen", "not ok"), "not sound (2 attempts)", "not ok", ()),
        (("ok", "tight"), "sound first time", "ok", ("re-hit",)),
        (("ok", "tight", "tight"), "sound first time", "ok", ("re-hit",)),
        (("not ok", "tight"), "not sound (2 attempts)", "not ok", ("rework-without-loosening",)),
        (("not ok", "tight", "loosen", "ok"), "sound after rework (3 attempts)", "ok",
         ("rework-without-loosening",)),
        (("tight",), "suspect", "suspect", ("already-tight-without-predecessor",)),
        (("ok", "audit"), "sound first time", "ok", ()),
        (("audit", "ok"), "sound first time", "ok", ("out-of-order",)),
        (("not ok", "loosen", "audit"), "not evaluated (2 attempts)", "not evaluated", ()),
        (("audit",), "open", "not ok", ("out-of-order",)),
        (("ok", "loosen"), "loosened", "not ok", ()),
        (("loosen",), "loosened", "not ok", ("out-of-order",)),
        (("ok", "ok"), "sound after rework (2 attempts)", "ok", ("loosening-not-recorded",)),
    ],
)  # fmt: skip
def test_history(deeds, words: str, verdict: str, findings: tuple[str, ...]) -> None:
    history = history_of("3", events(*deeds))
    assert (history.words, history.verdict, history.findings) == (words, verdict, findings)


def test_order_is_not_known_without_times_or_with_the_same() -> None:
    one, two = events("not ok", "ok")
    for wrong in (Event(**{**vars(two), "started_at": None}), Event(**{**vars(two), "started_at": START})):
        history = history_of("3", [one, wrong])
        assert history.state == "unknown order"
        assert history.verdict == "not evaluated"
        assert history.first_time is None
    assert history_of("3", [Event(**{**vars(one), "started_at": None})]).state == "not sound"


@pytest.mark.parametrize(
    ("findings", "turned", "usual", "kind"),
    [
        (("bottomed-out",), 5.0, 30.0, "already tight without predecessor"),
        (("bottomed-out",), 600.0, 30.0, "tightened"),
        (("incomplete-recording",), 5.0, 30.0, "tightened"),
        ((), 5.0, math.nan, "tightened"),
    ],
)
def test_first_record_that_hardly_turns_was_tight(findings, turned, usual, kind) -> None:
    """A loose bolt has to turn all the way that the joint's others turn, whatever its curve looks like."""
    first = Event(0, "t0", START, "tightening", "suspect", findings, 60.0, turned, math.nan)
    history = history_of("3", [first], usual_rate_deg=usual)
    assert [step.kind for step in history.steps] == [kind]
    assert history.verdict == "suspect"


def test_bolt_used_again_more_often_than_allowed() -> None:
    history = history_of("3", events("not ok", "loosen", "ok"))
    assert with_reuse(history, 1).verdict == "ok"
    assert with_reuse(history, 0).verdict == "suspect"
    assert with_reuse(history, 0).findings == ("re-used",)


def test_common_error_is_counted_once_and_coherently() -> None:
    """Eight bolts of 10 kN, own 3 %, common 5 % (derived): u = 80 sqrt(0.03^2/8 + 0.05^2)."""
    n = np.ones(8)
    forces = Forces(10 * n, 9 * n, 11 * n, 0.03 * n, 0.05 * n)
    total = sum_of(forces)
    u = 80.0 * math.sqrt(0.03**2 / 8 + 0.05**2)
    assert total.sum_kn == pytest.approx(80.0)
    assert math.log(total.high_kn / total.low_kn) == pytest.approx(4.0 * u / 80.0)
    assert total.evenness == 1.0
    alone = sum_of(Forces(10 * n, 9 * n, 11 * n, 0.03 * n, 0.0 * n))
    assert math.log(alone.high_kn / alone.low_kn) == pytest.approx(4.0 * 0.03 / math.sqrt(8.0))


def test_sum_is_absent_where_one_force_is() -> None:
    n = np.ones(3)
    total = sum_of(Forces(np.array([10.0, np.nan, 9.0]), n, n, n, n))
    assert math.isnan(total.sum_kn)
    assert total.reason == "1 of 3 positions have no clamp force"


def test_bolt_that_the_others_loosened_leaves_no_sum() -> None:
    n = np.ones(2)
    total = sum_of(Forces(np.array([10.0, 0.0]), n, n, 0.1 * n, 0.1 * n))
    assert math.isnan(total.sum_kn)
    assert "no clamp force left" in total.reason


def test_late_spindle_is_found_and_no_other() -> None:
    rng = np.random.default_rng(3)
    groups = []
    for k in range(20):
        finals = 1.0 + 0.02 * np.clip(rng.standard_normal(4), -1.5, 1.5)
        finals[2] += 0.3 if k == 7 else 0.0
        groups.append(
            Together(tuple(Arrival(str(p + 1), f"t{k}{p}", 0.0, 0.5, float(f)) for p, f in enumerate(finals)))
        )
    late = [
        (k, one.position) for k, group in enumerate(with_late(groups)) for one in group.arrivals if one.late
    ]
    assert late == [(7, "3")]
