"""Rises that end before their parts are pulled together, straight ones, and such as yield or stop between."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.joint.clamp_routes import beyond_bend
from analysis.joint.company import find_company, share_out
from analysis.verdict.unfinished_bend import slope_still_to_come
from tests.analysis.verdict.test_clamp_evidence import ALL, N, routes_of

SHARES = np.exp(np.arange(-3.0, 0.01, 0.15))
#: Degrees per torque of bolt and firm parts (any unit), and how well each level is known.
FIRM, WELL = 2.0, 0.01


def to_come(bend: np.ndarray | float, slope: float | None = None) -> tuple[float, float]:
    """Of a rise whose degrees per torque are those of firm parts and a bend; the slope is read over the rise
    from the middle on unless given."""
    per_torque = FIRM + bend * np.ones(len(SHARES))
    read = 1.0 / per_torque[SHARES > 0.5].mean() if slope is None else slope
    return slope_still_to_come(read, SHARES, per_torque, WELL * per_torque)


@pytest.mark.parametrize("bend", [0.0, 20.0 * np.exp(-SHARES / 0.05)])
def test_of_parts_that_are_pulled_together_nothing_is_still_to_come(bend: np.ndarray | float) -> None:
    assert to_come(bend) == (0.0, 0.0)


@pytest.mark.parametrize("width", [0.3, 0.45])
def test_what_a_bend_leaves_is_within_its_uncertainty(width: float) -> None:
    bend = 6.0 * np.exp(-((SHARES / width) ** 1.5))
    read = 1.0 / (FIRM + bend)[SHARES > 0.5].mean()
    left, spread = to_come(bend)
    assert left < -0.03
    assert left - 2.0 * spread < np.log(FIRM * read) < left + 2.0 * spread


def test_a_rise_that_yields_at_its_end_is_not_taken_for_a_bend() -> None:
    yielding = np.where(SHARES > 0.8, 3.0, 0.0)
    assert to_come(yielding, slope=1.0 / FIRM) == (0.0, 0.0)


def test_a_stop_between_stages_is_not_taken_for_a_bend() -> None:
    stop = np.where(np.abs(SHARES - 0.5) < 0.05, -0.9 * FIRM, 0.0)
    assert to_come(stop, slope=1.0 / FIRM) == (0.0, 0.0)


def test_what_is_still_to_come_is_taken_off_the_force_by_angle_of_all_traces() -> None:
    routes, left = routes_of(1.0), np.full(N, -0.2)
    bent = beyond_bend(routes, left, np.full(N, 0.1))
    np.testing.assert_allclose(bent.angle.log_force, routes.angle.log_force - 0.2)
    assert (bent.angle.spread > routes.angle.spread).all()
    assert all("still bending" in note for note in bent.note)
    np.testing.assert_array_equal(bent.torque.log_force, routes.torque.log_force)
    forces = [share_out(one, find_company(one, ALL), np.full(N, np.nan)) for one in (routes, bent)]
    assert np.median(forces[1].log_force - forces[0].log_force) == pytest.approx(-0.1, abs=0.06)
    assert beyond_bend(routes, np.zeros(N), np.zeros(N)) is routes
