"""A lot that came in late, from recordings to words: what is ok has no cause, and the lot is named."""

from __future__ import annotations

from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from tests.helpers.lot_shift import JOINT, LATE, lot_shift
from tests.world import evaluation_joints_toml


def test_what_is_ok_calls_for_no_cause_and_the_lot_is_named() -> None:
    analysis = analyse(lot_shift(), joints_from_text(evaluation_joints_toml()))
    table = analysis.results()
    causes = list(zip(table["verdict"].to_pylist(), table["cause"].to_pylist(), strict=True))
    assert not [cause for verdict, cause in causes if verdict == "ok" and cause is not None]
    named = [cause for _, cause in causes[-LATE:] if cause is not None]
    assert len(named) >= 0.7 * LATE
    assert set(named) <= {"low-friction", "friction-or-stiffness"}
    diagnosis = analysis.diagnosis(JOINT)
    shared = {(one.attribute, one.value) for one in diagnosis.shared["low-friction"]}
    assert ("washer_lot", "B") in shared
    assert sum(diagnosis.causes.values()) <= sum(n for word, n in diagnosis.counts.items() if word != "ok")
