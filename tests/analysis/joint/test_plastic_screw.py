"""A screw in plastic: its torques by hand, what is said of them, and its strategies."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.catalogue.units import DisplayUnits
from analysis.errors import JointDefinitionError
from analysis.joint.clamp_basis import clamp_basis
from analysis.joint.derived import derive
from analysis.joint.joints_file import joints_from_text
from analysis.joint.plastic_screw import NO_CLAMP_FORCE, PlasticScrew, plastic_screw, what_it_tells
from analysis.strategy.advice import advise
from analysis.strategy.joint_scatter import joint_scatter
from analysis.strategy.settings import StrategyError, StrategySettings
from analysis.strategy.words import cautions, failing

CLIP = """
[joints.clip]
target_torque_nm = {target}
[joints.clip.plastic]
screw_diameter_mm = 4.0
pitch_mm = 1.8
core_hole_mm = 3.2
engaged_mm = 10.8
head_mm = 8.0
clearance_mm = 4.4
yield_strength_mpa = 50.0
friction_thread = [0.1999999, 0.2000001]
friction_head = [0.2999999, 0.3000001]
"""


def clip(target: float = 2.2, **changes: object):  # type: ignore[no-untyped-def]
    text = CLIP.format(target=target)
    for key, value in changes.items():
        text = "\n".join(
            f"{key} = {value}" if line.startswith(f"{key} =") else line for line in text.split("\n")
        )
    return joints_from_text(text)["clip"]


def screw_of(target: float = 2.2, **changes: object) -> PlasticScrew:
    found = plastic_screw(clip(target, **changes))
    assert isinstance(found, PlasticScrew)
    return found


def test_torques_by_hand() -> None:
    """Derived: five turns bear, h 0.4 and m 3.6 mm, half flank 15 degrees."""
    one = screw_of()
    ahead = 3 * 50 * 0.16 * math.tan(math.radians(15)) * 1.8
    area = 2 * 5 * math.pi * 3.6 * 0.4 / math.cos(math.radians(15))
    lever = 1.8 / (2 * math.pi) + 0.2 * 3.6 / (2 * math.cos(math.radians(15))) + 0.3 * (8.0 + 4.4) / 4
    strip = 50 / math.sqrt(3) * math.pi * 4.0 * 9.0 / 1000
    forming = [(ahead + 0.2 * q * 50 * area * 1.8) / 1000 for q in (0.3, 1.0)]
    assert one.forming_nm == pytest.approx(forming, rel=1e-5)
    assert one.lever_mm == pytest.approx((lever, lever), rel=1e-5)
    assert one.stripping_kn == pytest.approx(strip)
    assert one.stripping_nm == pytest.approx([f + strip * lever for f in forming], rel=1e-5)
    assert one.seated_kn == pytest.approx([(2.2 - f) / lever for f in reversed(forming)], rel=1e-5)


def test_stripping_goes_with_strength_and_engaged_length() -> None:
    one = screw_of()
    assert screw_of(yield_strength_mpa=100.0).stripping_kn == pytest.approx(2 * one.stripping_kn)
    assert screw_of(engaged_mm=19.8).stripping_kn == pytest.approx(2 * one.stripping_kn)
    assert screw_of(core_hole_mm=3.6).forming_nm[1] < one.forming_nm[1]


@pytest.mark.parametrize(
    ("target", "words"), [(0.5, "may stop before the head"), (2.2, "lies between"), (9.0, "may strip from")]
)
def test_what_is_said_of_the_target(target: float, words: str) -> None:
    told = what_it_tells(screw_of(target))
    assert words in str(told[0])
    assert "creeps" in str(told[-1])
    assert "cN·m" in told[0].text(DisplayUnits("cN·m"))  # type: ignore[union-attr]


def test_no_clamp_force_is_claimed_and_the_figures_say_what_they_are() -> None:
    assert clamp_basis(clip()) == NO_CLAMP_FORCE
    lines = derive(clip())
    assert {"forming torque, highest", "stripping torque, lowest"} <= {one.name for one in lines}
    assert not any("stress" in one.name for one in lines)


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [("core_hole_mm", 4.0, "no thread is formed"), ("engaged_mm", 1.5, "nothing bears")],
)
def test_screws_that_hold_nothing(key: str, value: float, words: str) -> None:
    joint = clip(**{key: value})
    assert words in str(plastic_screw(joint))
    with pytest.raises(StrategyError, match=words):
        joint_scatter(joint, StrategySettings())


def test_keys_are_checked() -> None:
    with pytest.raises(JointDefinitionError, match="pitch"):
        clip(pitch_mm=-1.0)
    with pytest.raises(JointDefinitionError, match="not known"):
        joints_from_text(CLIP.format(target=1) + "pitch = 1.0\n")


def test_strategies_by_plain_draws() -> None:
    """Force by torque less forming torque over the lever, 400 000 draws by chance."""
    joint = clip(friction_thread="[0.15, 0.25]", friction_head="[0.2, 0.4]")
    scatter = joint_scatter(joint, StrategySettings())
    advice = advise(scatter)
    plain, *others = advice.strategies
    rng, n = np.random.default_rng(5), 400_000
    screw = plastic_screw(joint)
    assert isinstance(screw, PlasticScrew)
    low, high = screw.forming_nm
    lever = (
        1.8 / (2 * math.pi)
        + rng.normal(0.2, 0.025, n) * 3.6 / (2 * math.cos(math.radians(15)))
        + rng.normal(0.3, 0.05, n) * 12.4 / 4
    )
    torque = 2.2 * (1 + 0.01 * rng.normal(size=n)) - rng.normal((low + high) / 2, (high - low) / 4, n)
    force = torque / lever
    assert plain.mean_kn == pytest.approx(force.mean(), rel=0.005)
    assert plain.s_percent == pytest.approx(100 * force.std() / force.mean(), rel=0.02)
    assert plain.p99865_kn == pytest.approx(np.quantile(force, 0.99865), rel=0.02)
    assert all(one.mean_kn is None and one.reason for one in others)
    assert "strips before the screw yields" in others[-1].reason
    assert failing(plain, scatter, joint) == ""
    assert any("creeps" in str(words) for words in cautions(advice, joint))
    tight = joint_scatter(clip(9.0), StrategySettings())
    assert "may strip" in failing(advise(tight).strategies[0], tight, clip(9.0))
