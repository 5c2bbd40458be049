"""Each cause sends a person to what can decide it, and to nothing else's place."""

from __future__ import annotations

import pytest

from analysis.account.causes import SHOWN_WEIGHT
from analysis.account.compared import Compared
from analysis.catalogue.causes import CAUSE_NAMES, CAUSES
from analysis.verdict.features import FEATURE_INDEX, FEATURES

#: What can decide each cause, in words that its next check must hold and no other's may hold together.
DECIDES = {
    "low-friction": ("loosening torque", "oil"),
    "high-friction": ("loosening torque", "dry"),
    "friction-or-stiffness": ("loosening torque", "elongation"),
    "softer-joint": ("doubled", "gasket"),
    "stiffer-joint": ("missing gasket", "shorter grip"),
    "seated-early": ("Count the washers", "bolt's length"),
    "seated-late": ("missing washer", "longer bolt"),
    "prevailing-missing": ("self-locking", "used before"),
    "prevailing-high": ("by hand over the first turns",),
    "cross-thread": ("first threads", "by hand"),
    "thread-stripping": ("engagement length", "hole size"),
    "yielded": ("bolt's length against a new one",),
    "already-tight": ("tightened before",),
    "galling": ("smeared metal",),
    "drive-slip": ("bit or socket",),
    "bottomed-out": ("hole depth",),
    "incomplete-recording": ("recorder", "record the joint again"),
}


def test_every_cause_is_told_what_decides_it() -> None:
    assert set(DECIDES) == set(CAUSE_NAMES)


@pytest.mark.parametrize("cause", CAUSE_NAMES)
def test_the_next_check_is_the_one_that_decides(cause: str) -> None:
    fitting = [one.name for one in CAUSES if all(word in one.next_check for word in DECIDES[cause])]
    assert fitting == [cause]


#: A word of what the curve says under each cause, that no other's sentence holds.
SAYS = {
    "low-friction": "flatter",
    "high-friction": "steeper in torque",
    "friction-or-stiffness": "nothing else tells",
    "softer-joint": "longer together",
    "stiffer-joint": "shorter together",
    "seated-early": "earlier",
    "seated-late": "later",
    "prevailing-missing": "no prevailing torque",
    "prevailing-high": "prevailing torque is higher",
    "cross-thread": "unevenly",
    "thread-stripping": "falls away",
    "yielded": "yield level",
    "already-tight": "at once",
    "galling": "saw-tooth",
    "drive-slip": "pitch",
    "bottomed-out": "very steep",
    "incomplete-recording": "whole tightening",
}


@pytest.mark.parametrize("cause", CAUSE_NAMES)
def test_the_sign_is_the_causes_own(cause: str) -> None:
    assert [one.name for one in CAUSES if SAYS[cause] in one.sentence] == [cause]


def test_what_a_cause_leads_to_expect_follows_from_friction_and_stiffness() -> None:
    """Torque per degree is force per degree times torque per force (MIL-HDBK-60 100.5): both raise the
    slope."""
    expected = {one.name: one.expects for one in CAUSES}
    slope, climb = "elastic_slope_nm_per_deg", "climb_deg"
    for up, down in (("high-friction", "low-friction"), ("stiffer-joint", "softer-joint")):
        assert expected[up][slope] == expected[down][climb] == "up"
        assert expected[down][slope] == expected[up][climb] == "down"
    assert expected["low-friction"]["drawdown_deg"] == expected["high-friction"]["drawdown_deg"] == "usual"
    assert expected["softer-joint"]["drawdown_deg"] == "up"
    assert expected["softer-joint"]["snug_rise_nm"] == expected["stiffer-joint"]["snug_rise_nm"] == "usual"
    assert expected["seated-early"]["rundown_deg"] == "down"
    assert {name for one in CAUSES for name in one.expects} <= set(FEATURE_INDEX)


def compared(z: float) -> Compared:
    return Compared(FEATURES[FEATURE_INDEX["elastic_slope_nm_per_deg"]], 1.5 + 0.1 * z, 1.5, z)


@pytest.mark.parametrize(
    ("z", "way", "word"),
    [(-2.1, "down", "below"), (-1.9, "usual", "as usual"), (1.9, "usual", "as usual"), (2.1, "up", "above")],
)
def test_two_standard_deviations_are_usual(z: float, way: str, word: str) -> None:
    assert compared(z).way == way
    assert word in compared(z).standing


def test_weak_rivals_are_shown_from_a_tenth_on() -> None:
    assert pytest.approx(0.10) == SHOWN_WEIGHT
