"""Rises of other friction, of other stiffness and with a stop, against the usual one of their joint."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.joint.company import RiseFactor, find_company, share_out
from analysis.verdict.rise_match import FEWEST_USUAL, RiseMatch, match_rises
from analysis.verdict.rise_signs import RISE_POINTS
from tests.analysis.joint.curves import make_curves
from tests.analysis.verdict.test_clamp_evidence import ALL, EXPECTED, N, routes_of

TARGET_NM, SPAN_DEG = 40.0, 120.0
#: Degrees of stretch up to the target, and the bends that go before, as shares of it: parts that meet soon,
#: parts that are still being pulled together at the target, and none.
STRETCH_DEG = 40.0
SOON, LATE, NONE = (1.5, 0.06), (2.0, 0.35), (0.0, 1.0)
SOUND = 20


def rise(bend: tuple[float, float], friction: float, stiffness: float) -> np.ndarray:
    """Torque over the last degrees of a rise that ends at the target."""
    force = np.linspace(0.0, 2.5, 5000)
    size, width = bend
    turned = STRETCH_DEG / stiffness * (force + size * width * (1.0 - np.exp(-force / width)))
    angle = turned[np.searchsorted(force, 1.0 / friction)] + np.linspace(-SPAN_DEG, 0.0, RISE_POINTS)
    return TARGET_NM * friction * np.interp(angle, turned, force)


def matched(
    bend: tuple[float, float], *, friction: float = 1.0, stiffness: float = 1.0, sound: int = SOUND,
    stop: bool = False,
) -> RiseMatch:  # fmt: skip
    """Sound rises, 5 % of friction, 2 % of stiffness and 6 % of the bend apart; the last one is another."""
    random = np.random.default_rng(5)
    rises = [
        rise((bend[0] * np.exp(0.06 * c), bend[1]), np.exp(0.05 * a), np.exp(0.02 * b))
        for a, b, c in random.standard_normal((sound, 3))
    ]
    rises = np.array([*rises, rise(bend, friction, stiffness)])
    rises += 0.02 * random.standard_normal(rises.shape)
    if stop:
        for torque in rises:
            at = int(np.searchsorted(torque, 0.5 * TARGET_NM))
            torque[at : at + 2] *= 0.1
    n = len(rises)
    curves = make_curves(
        n, final_angle_deg=500.0, prevailing_torque_nm=0.0, yielded=0, yield_angle_deg=np.nan
    )
    codes, all_of_them = np.zeros(n, np.int64), np.arange(n) < sound
    return match_rises(rises, np.full(n, SPAN_DEG), curves, np.zeros(n), codes, all_of_them)


@pytest.mark.parametrize("bend", [SOON, LATE])
@pytest.mark.parametrize("stop", [False, True])
@pytest.mark.parametrize("friction", [0.6, 1.4, 1.8])
def test_other_friction_is_told_with_its_factor(
    bend: tuple[float, float], friction: float, stop: bool
) -> None:
    found = matched(bend, friction=friction, stop=stop)
    assert found.odd[-1]
    assert found.friction_log[-1] == pytest.approx(np.log(friction), abs=0.1)
    assert abs(found.friction_log[-1] - np.log(friction)) < 3.0 * found.spread[-1]
    assert found.favour[-1] > 0.0
    assert found.odd[:-1].mean() <= 0.1


@pytest.mark.parametrize("bend", [SOON, LATE])
@pytest.mark.parametrize("stiffness", [0.5, 1.8])
def test_other_stiffness_is_not_taken_for_friction(bend: tuple[float, float], stiffness: float) -> None:
    found = matched(bend, stiffness=stiffness)
    assert found.odd[-1]
    assert found.favour[-1] < 0.0


def test_a_straight_line_says_nothing_of_which_it_is() -> None:
    for other in ({"friction": 1.5}, {"stiffness": 1.5}):
        found = matched(NONE, **other)
        assert found.odd[-1]
        assert abs(found.favour[-1]) < 1.0


def test_few_rises_say_nothing_of_what_is_usual() -> None:
    found = matched(SOON, friction=1.6, sound=FEWEST_USUAL - 2)
    assert not found.odd.any()
    assert np.isnan(found.friction_log).all()


@pytest.mark.parametrize(("chance", "factor"), [(1.0, 0.6), (0.0, 1.0), (0.5, None)])
def test_the_rise_alone_carries_a_trace_without_an_angle(chance: float, factor: float | None) -> None:
    """Its torque made as much less force as its friction is higher, or as much as the torque says."""
    routes = routes_of(1.0, elastic_origin_deg=np.nan, elastic_slope_nm_per_deg=np.nan)
    rise_of = RiseFactor(np.where(np.arange(N) == 0, -np.log(0.6), np.nan), np.full(N, 0.05))
    shared = share_out(routes, find_company(routes, ALL), np.full(N, chance), rise_of)
    by_torque = routes.torque.log_force[0]
    assert shared.undecided[0] == (factor is None)
    assert np.isnan(shared.log_force[1:]).all()
    if factor is None:
        assert shared.hull_low[0] < by_torque + np.log(0.6) < by_torque < shared.hull_high[0]
    else:
        assert shared.log_force[0] == pytest.approx(by_torque + np.log(factor), abs=0.03)


def test_the_rise_says_more_than_a_slope_that_is_still_bending() -> None:
    routes = routes_of(np.where(np.arange(N) == 0, 1.15, 1.0))
    rise_of = RiseFactor(np.where(np.arange(N) == 0, np.log(1.7), np.nan), np.full(N, 0.05))
    company = find_company(routes, ALL)
    plain, seen = (share_out(routes, company, np.full(N, 1.0), one) for one in (None, rise_of))
    assert seen.log_force[0] == pytest.approx(routes.torque.log_force[0] - np.log(1.7), abs=0.05)
    assert seen.log_force[0] < plain.log_force[0] - 0.2
    np.testing.assert_allclose(seen.log_force[1:], plain.log_force[1:])
    assert routes.log_ratio[1:].mean() == pytest.approx(0.0, abs=0.02), EXPECTED
