"""The story of one trace: every part says what it found or why not, and figures agree with the tables."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.curve import find_points
from analysis.joint.clamp_force import fuse_clamp
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.clamp_story import (
    BUDGET,
    ESTIMATE,
    EXPECTED,
    LEFT,
    LOOSENED,
    MEASURED,
    PREVAILING,
    TraceEngineering,
)
from analysis.joint.definition import JointDefinition
from analysis.joint.thread import parse_thread
from analysis.joint.torque import lever_mm
from analysis.operation.table import classify_operations
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from tests.analysis.joint.curves import straight_trace
from tests.analysis.joint.levers import loosening_torque_nm

M10 = parse_thread("M10")
LEVER = float(lever_mm(M10, 12.815, 0.12, 0.12))
#: The S1 joint of the stiffness tests, with a locking nut.
HUB = JointDefinition(
    "hub",
    48.0,
    thread="M10",
    property_class="8.8",
    head="hex",
    hole="medium",
    friction=(0.10, 0.14),
    clamp_length_mm=30.0,
    parts={
        "parts_diameter_mm": 40.0,
        "parts_modulus_gpa": 205.0,
        "surface": "10 to 40",
        "nut_class": "8",
        "wanted_clamp_force_kn": 10.0,
    },
)
PREVAILING_NM = 2.0


def _known(
    joint: JointDefinition | None = HUB, *, cell: bool = True, loosened: bool = True
) -> TraceEngineering:
    """A tightening to 29.6 kN at friction 0.12 with a load cell, and the loosening of the same bolt."""
    force = 29.6
    angle, torque = straight_trace(PREVAILING_NM + force * LEVER, 0.931 * LEVER, prevailing_nm=PREVAILING_NM)
    measured = (torque - PREVAILING_NM) / LEVER
    off = loosening_torque_nm(M10, 12.815, force, 0.12, 0.12) + PREVAILING_NM
    back = np.arange(0.0, 900.0)
    away = -np.interp(back, [0.0, 20.0, 25.0, 60.0], [0.0, 0.0, off, PREVAILING_NM])
    n = 2 if loosened else 1
    channels = {"clamp_force_kn": [measured, np.full(len(back), np.nan)][:n]} if cell else {}
    traces = TraceSet.from_lists(
        ["on", "off"][:n],
        [angle, back][:n],
        [torque, away][:n],
        {"joint": ["hub"] * n, "part": ["A7"] * n, "position": ["1"] * n},
        **channels,
    )
    joints = {} if joint is None else {"hub": joint}
    return _engineering(traces, joints)


def _engineering(traces: TraceSet, joints: dict[str, JointDefinition]) -> TraceEngineering:
    curves, operations = classify_operations(
        traces, find_points(traces), lambda envelopes, _rows: find_points(envelopes)
    )
    clamp = fuse_clamp(clamp_routes(curves, ["hub"] * len(traces), joints))
    return TraceEngineering(traces, curves, clamp, joints, CurveSettings(), operations)


def _story(known: TraceEngineering, row: int = 0) -> dict[str, str]:
    return {part.title: "\n".join(map(str, part.lines)) for part in known.story(row, "hub")}


def test_every_part_is_there_and_says_what_is_true() -> None:
    story = _story(_known())
    assert list(story) == [ESTIMATE, BUDGET, EXPECTED, PREVAILING, LEFT, MEASURED, LOOSENED]
    assert "friction 0.1 to 0.14" in story[ESTIMATE]
    # A15: 48.34 N·m are 7.07 + 18.51 + 22.76 at 29.6 kN and friction 0.12.
    assert "Stretches the bolt: 7.06" in story[BUDGET] or "Stretches the bolt: 7.07" in story[BUDGET]
    assert "Taken by the prevailing torque: 2.00 N·m" in story[BUDGET]
    shares = [float(share) for share in re.findall(r"([\d.]+) %", story[BUDGET])]
    assert sum(shares) == pytest.approx(100.0, abs=0.2)
    assert story[EXPECTED].count("as expected") == 2
    assert "meant to have one" in story[PREVAILING]
    # ISO 2320, M10: first on at most 10.5 N·m.
    assert "at most 10.5 N·m wanted: met" in story[PREVAILING]
    assert "Embedding takes 2.5 kN" in story[LEFT]
    assert "even the lowest is enough" in story[LEFT]
    # ISO 898-1: 75 % of the proof load of M10 8.8 is 25.2 kN; K and friction are those that made the trace.
    assert re.search(r"At 75 % of the proof load, 25\.2\d kN", story[MEASURED])
    assert f"K {LEVER / 10.0:.3f}, friction 0.120" in story[MEASURED]
    assert "Measured at the final point: 29.6 kN" in story[MEASURED]
    rate = re.search(r"Clamp force per degree measured: ([\d.]+) ± [\d.]+ N/deg", story[MEASURED])
    assert rate is not None
    assert float(rate[1]) == pytest.approx(931.0, abs=1.0)
    assert "does not cover thread-forming or self-locking" in story[MEASURED]
    assert re.search(r"gives 29\.[56]\d* ± [\d.]+ kN, whatever the friction", story[LOOSENED])
    assert "agrees with" in story[LOOSENED]
    # ISO 2320, M10: first off at least 1.5 N·m; the nut still held 2 N·m.
    assert "first off: 2.00 N·m measured, at least 1.5 N·m wanted: met" in story[LOOSENED]


def test_the_loosening_itself_is_told_as_such() -> None:
    assert list(_story(_known(), 1)) == [LOOSENED]


def test_nothing_is_said_of_what_was_not_recorded() -> None:
    assert MEASURED not in _story(_known(cell=False))
    assert LOOSENED not in _story(_known(loosened=False))


@pytest.mark.parametrize(
    ("joint", "title", "words"),
    [
        (None, ESTIMATE, 'not evaluated: the joint "hub" is not defined'),
        (replace(HUB, friction=None), ESTIMATE, "not evaluated: no friction range given"),
        (replace(HUB, friction=None), BUDGET, "Not evaluated: no friction range given"),
        (
            replace(HUB, friction=None),
            EXPECTED,
            "Slope and angle: not evaluated: no friction range given",
        ),
        (replace(HUB, clamp_length_mm=None), EXPECTED, "not evaluated: no clamp length given"),
        (replace(HUB, clamp_length_mm=None), LEFT, "not evaluated: no clamp length given"),
        (replace(HUB, parts={**HUB.parts, "nut_class": "10"}), PREVAILING, "for nut class 10 at hand"),
        (replace(HUB, property_class=None), MEASURED, "not evaluated: no property class given"),
        (replace(HUB, thread=None), LOOSENED, "not evaluated: no thread given"),
    ],
)
def test_what_is_missing_is_named_in_its_part(joint: JointDefinition | None, title: str, words: str) -> None:
    assert words in _story(_known(joint))[title]


def test_a_slope_off_the_expectation_is_told_with_its_direction() -> None:
    slippery = _story(_known(replace(HUB, friction=(0.2, 0.25))))[EXPECTED]
    assert "flatter than friction and stiffness as stated allow" in slippery
    assert "longer than friction and stiffness as stated allow" in slippery
    rough = _story(_known(replace(HUB, friction=(0.04, 0.05))))[EXPECTED]
    assert "steeper than" in rough
    assert "shorter than" in rough


def test_the_offset_rule_reaches_the_measured_force() -> None:
    known = _known()
    by_offset = replace(known, settings=CurveSettings(yield_rule="offset"))
    zones = by_offset.zones(0, "hub")
    assert not isinstance(zones, str)
    assert zones.leaves.angle_deg is None
    # A series is read by the same rules as a single trace.
    for rules in (known.settings, by_offset.settings):
        own = replace(known, settings=rules)
        (test,) = own.tests(["hub", "hub"])
        assert test.zones == own.zones(0, "hub")
    assert own.tests([None, None]) == []
    (pair,) = own.pairs(["hub", "hub"])
    assert pair == own.pair(0, "hub")
    unknown = replace(by_offset, joints={"hub": replace(HUB, clamp_length_mm=None)}).zones(0, "hub")
    assert not isinstance(unknown, str)
    assert "clamp length" in unknown.leaves.sentence()


_ANGLE = np.arange(200.0)
AWKWARD = {
    "empty": ([], [], []),
    "one sample": ([1.0], [2.0], [3.0]),
    "three samples": ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], [0.0, 1.0, 2.0]),
    "constant": (_ANGLE, np.full(200, 3.0), np.full(200, 3.0)),
    "angle stands still": (np.zeros(200), np.linspace(0, 10, 200), np.linspace(0, 10, 200)),
    "torque not a number": (_ANGLE, np.full(200, np.nan), np.linspace(0, 10, 200)),
    "angle not a number": (np.full(200, np.nan), np.linspace(0, 10, 200), np.linspace(0, 10, 200)),
    "force not a number": (_ANGLE, np.linspace(0, 40, 200), np.full(200, np.nan)),
    "one force": (_ANGLE, np.linspace(0, 40, 200), np.where(_ANGLE == 150.0, 20.0, np.nan)),
    "negative force": (_ANGLE, np.linspace(0, 40, 200), -np.linspace(0, 25, 200)),
    "force falls": (_ANGLE, np.linspace(0, 40, 200), np.linspace(25, 0, 200)),
    "loosening": (_ANGLE, -np.linspace(1, 10, 200), np.linspace(25, 0, 200)),
    "angle runs back": (_ANGLE[::-1], np.linspace(0, 40, 200), np.linspace(0, 25, 200)),
    "cut off before snug": (_ANGLE, np.full(200, 1.0) + (_ANGLE > 195), np.zeros(200)),
}


def _check_story(angle: object, torque: object, force: object) -> None:
    """Whatever was recorded: titled parts of sentences, no number that is none."""
    traces = TraceSet.from_lists(["t"], [angle], [torque], {"joint": ["hub"]}, clamp_force_kn=[force])
    for part in _engineering(traces, {"hub": HUB}).story(0, "hub"):
        assert part.title
        assert part.lines
        for line in map(str, part.lines):
            assert line.endswith((".", "Pa")), line
            assert not re.search(r"\b(nan|inf|None)\b", line), line


@pytest.mark.parametrize("name", AWKWARD)
def test_awkward_recordings_have_a_story_or_reasons(name: str) -> None:
    _check_story(*AWKWARD[name])


@given(
    st.lists(
        st.tuples(st.floats(-500, 500), st.floats(-50, 50), st.floats(-40, 40) | st.just(float("nan"))),
        max_size=40,
    )
)
@settings(max_examples=80)
def test_any_recording_has_a_story_or_reasons(samples: list[tuple[float, float, float]]) -> None:
    angle, torque, force = (np.array([sample[k] for sample in samples]) for k in range(3))
    _check_story(angle, torque, force)
