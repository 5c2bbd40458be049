"""Residual torque by turning back: on loosening, and back at the mark."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from analysis.account.audits import done_sentences
from analysis.audit.definitions import side_by_side
from analysis.catalogue.units import DisplayUnits
from analysis.joint import JointDefinition
from analysis.pipeline import Analysis, analyse
from analysis.traces import TraceSet
from tests.world.audits import AuditCase, record_audit
from tests.world.turned_back import TurnedBack, record_turned_back

START = datetime(2024, 3, 13, 6, 0, tzinfo=UTC)
#: Of `process.md` B1, derived there from M10x1.5, 30 kN: running torque on and back.
ON_NM, OFF_NM = 48.99, 34.66
_STEP_DEG, _HAND_DEG_PER_S = 0.25, 8.0


def judged(recorded: list[tuple[Any, Any, Any]], definition: str, **attributes: list[Any]) -> Analysis:
    """Recordings of one bolt, in order."""
    n = len(recorded)
    columns = {"joint": ["hub"] * n, "part": ["p"] * n, "position": [1] * n}
    columns["started_at"] = [START + timedelta(minutes=k) for k in range(n)]
    angle, torque, time = (list(one) for one in zip(*recorded, strict=True))
    names = [f"t{k}" for k in range(n)]
    traces = TraceSet.from_lists(names, angle, torque, {**columns, **attributes}, time_s=time)
    audit = {"definition": definition, "limits_nm": (30.0, 60.0)}
    return analyse(traces, {"hub": JointDefinition("hub", 50.0, parts={"audit": audit})})


def by_hand(case: TurnedBack, seed: int = 1, noise: float = 0.1, deg_per_s: float = _HAND_DEG_PER_S):
    """Angle, torque, time of one recording."""
    angle, torque, _ = record_turned_back(case, _STEP_DEG, noise, seed)
    return angle, torque, np.cumsum(np.full(len(angle), _STEP_DEG / deg_per_s))


def apart(case: TurnedBack, deg_per_s: float = _HAND_DEG_PER_S):
    """The way back, and the way on, as two recordings that both count from zero."""
    angle, torque, count = record_turned_back(case, _STEP_DEG, 0.1, 1)
    ways = []
    for part in (slice(0, int(count)), slice(int(count), None)):
        time = np.cumsum(np.full(len(angle[part]), _STEP_DEG / deg_per_s))
        ways.append((angle[part] - angle[part][0], torque[part], time))
    return ways


@pytest.mark.parametrize("back_deg", [22.0, 60.0])  # still held, and loose
@pytest.mark.parametrize(("definition", "expected"), [("loosening", OFF_NM), ("return-to-mark", ON_NM)])
def test_torque_on_loosening_and_back_at_the_mark(definition: str, expected: float, back_deg: float) -> None:
    """F P/pi apart, whatever the static peak and the twist of the wrench (derived)."""
    analysis = judged([by_hand(TurnedBack(back_deg=back_deg))], definition, operation=["audit"])
    assert analysis.audits.residual_torque_nm[0] == pytest.approx(expected, rel=0.01)
    error = abs(analysis.audits.residual_torque_nm[0] - expected)
    assert error < 3.0 * analysis.audits.residual_torque_uncertainty_nm[0]
    assert analysis.verdict[0] == 0  # ok by the audit's own limits
    text = " ".join(one.text(DisplayUnits()) for one in done_sentences(analysis, 0))
    assert "turned the fastener back" in text


def test_without_the_way_on_there_is_no_torque_at_the_mark() -> None:
    off, _ = apart(TurnedBack())
    analysis = judged([off], "return-to-mark")
    assert analysis.audits.rows.tolist() == [0]
    assert np.isnan(analysis.audits.residual_torque_nm[0])
    assert "cannot be read" in done_sentences(analysis, 0)[0].text(DisplayUnits())


def test_next_recording_of_the_same_bolt_turns_it_back_to_the_mark() -> None:
    analysis = judged(apart(TurnedBack()), "return-to-mark")
    assert analysis.audits.rows.tolist() == [0]
    assert analysis.audits.residual_torque_nm[0] == pytest.approx(ON_NM, rel=0.02)


@pytest.mark.parametrize(
    ("deg_per_s", "tool", "audited"), [(8.0, "t", 1), (200.0, "t", 0), (200.0, "wrench 3", 1)]
)
def test_power_tool_that_loosens_for_rework_is_no_audit(deg_per_s: float, tool: str, audited: int) -> None:
    off, _ = apart(TurnedBack(back_deg=60.0), deg_per_s)
    assert len(judged([off], "loosening", tool=[tool]).audits.rows) == audited
    assert not len(judged([off], "ongoing", tool=[tool]).audits.rows)


def test_loosening_right_after_an_audit_is_told_beside_its_other_torques() -> None:
    rng = np.random.default_rng(2)
    case = AuditCase(48.99, 1.08, 1.5209, 4.0, turn_deg=5.0)
    analysis = judged([record_audit(case, rng), *apart(TurnedBack())], "ongoing")
    told = {one.name: reading for one, reading, _ in side_by_side(analysis.audits, 0)}
    assert told["ongoing"].value == pytest.approx(ON_NM, rel=0.03)
    assert told["loosening"].value == pytest.approx(OFF_NM, rel=0.01)
    assert told["return-to-mark"].value == pytest.approx(ON_NM, rel=0.02)
    alone = judged([record_audit(case, rng)], "ongoing")
    assert {one.name for one, _, _ in side_by_side(alone.audits, 0)} == {
        "first-movement", "ongoing", "dip", "at-angle", "peak",
    }  # fmt: skip
