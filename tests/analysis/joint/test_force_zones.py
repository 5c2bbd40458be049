"""Zones by the load cell: they lie where they are known to lie, beside those of torque."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.joint.force_zones import (
    LEAVES,
    RISES,
    STRAIGHT,
    ForcePlace,
    ForceZones,
    explain_force,
    find_force_points,
    force_rows,
    read_force_zones,
    zones_by_force,
)
from analysis.settings import CurveSettings
from analysis.traces import TraceSet

#: Touch, end of the bend, begin of yield, decay of the slope beyond it, final point, degrees; kN/deg.
TOUCH, STRAIGHT_FROM, YIELD, DECAY, FINAL = 720.0, 740.0, 775.0, 12.0, 820.0
RATE = 0.9


def _force(angle: np.ndarray) -> np.ndarray:
    """A parabola, a straight line, and a slope that falls as exp(-(a - a_y)/c)."""
    bent = RATE * np.clip(angle - TOUCH, 0.0, STRAIGHT_FROM - TOUCH) ** 2 / (2.0 * (STRAIGHT_FROM - TOUCH))
    straight = RATE * (np.clip(angle, STRAIGHT_FROM, YIELD) - STRAIGHT_FROM)
    return bent + straight + RATE * DECAY * (1.0 - np.exp(-np.maximum(angle - YIELD, 0.0) / DECAY))


def _traces(noise_kn: float = 0.05, *, missing: bool = False, seed: int = 1) -> TraceSet:
    """Torque with a friction that rises by a tenth on the way, force with noise; and a trace without a load
    cell."""
    rng = np.random.default_rng(seed)
    angle = np.arange(0.0, FINAL, 0.25)
    true = _force(angle)
    torque = 1.0 + true * 1.6 + rng.normal(0.0, 0.05, len(angle))
    force = true + rng.normal(0.0, noise_kn, len(angle))
    if missing:
        force[::3] = np.nan
    return TraceSet.from_lists(
        ["cell", "plain"],
        [angle, angle],
        [torque, torque],
        clamp_force_kn=[force, np.full(len(angle), np.nan)],
    )


def _zones(traces: TraceSet, settings: CurveSettings | None = None, **more: float) -> ForceZones:
    curves = find_points(traces, settings)
    zones = zones_by_force(traces, curves, 0, settings, **more)
    assert isinstance(zones, ForceZones)
    return zones


@pytest.mark.parametrize("missing", [False, True])
def test_force_rises_runs_straight_and_leaves_its_line_where_it_does(missing: bool) -> None:
    zones = _zones(_traces(missing=missing))
    # Slope of the parabola: 2 % of the line after 0.4 deg, 80 % after 16 deg; 50 % at a_y + 0.693 c.
    assert zones.rises.angle_deg == pytest.approx(TOUCH, abs=4.0)
    assert zones.straight.angle_deg == pytest.approx(STRAIGHT_FROM - 4.0, abs=2.0)
    assert zones.leaves.angle_deg == pytest.approx(YIELD + 0.6931 * DECAY, abs=3.0)
    assert zones.force_per_degree_n == pytest.approx(1000.0 * RATE, rel=0.02)
    assert zones.final_force_kn == pytest.approx(float(_force(np.array([FINAL]))[0]), abs=0.5)
    assert zones.straight.force_kn == pytest.approx(
        float(_force(np.array([zones.straight.angle_deg]))[0]), abs=0.3
    )
    assert zones.from_deg is not None
    assert zones.to_deg is not None
    assert zones.straight.angle_deg < zones.to_deg
    # Torque is force times a constant here: both curves have the same places.
    assert all(place.apart_deg == pytest.approx(0.0, abs=5.0) for place in zones.places)
    assert zones.straight.agrees
    assert "within the uncertainty of both" in zones.straight.sentence()


def test_the_rules_of_the_settings_hold_for_force_too() -> None:
    traces = _traces()
    half, thirds = (
        _zones(traces, CurveSettings(yield_rule=rule)) for rule in ("half-slope", "two-thirds-slope")
    )
    assert thirds.leaves.angle_deg == pytest.approx(YIELD + 0.4055 * DECAY, abs=3.0)
    assert thirds.leaves.angle_deg < half.leaves.angle_deg
    # By permanent elongation: the angle at which force lags its line by the offset.
    offset = _zones(traces, CurveSettings(yield_rule="offset", yield_offset_deg=6.0))
    given = _zones(traces, CurveSettings(yield_rule="offset"), yield_offset_deg=6.0)
    assert given.leaves.angle_deg == offset.leaves.angle_deg
    way = float(given.leaves.angle_deg) - YIELD
    assert way - DECAY * (1.0 - np.exp(-way / DECAY)) == pytest.approx(6.0, abs=1.0)
    # A threshold in N·m says nothing about kN.
    threshold = CurveSettings(snug_rule="threshold-torque", snug_threshold_nm=500.0)
    assert _zones(traces, threshold).straight.angle_deg == half.straight.angle_deg


def test_only_recordings_with_a_load_cell_have_zones_by_force() -> None:
    traces = _traces()
    curves = find_points(traces)
    assert force_rows(traces) == [0]
    assert zones_by_force(traces, curves, 1) == "not evaluated: the recording has no clamp force"
    bare = TraceSet.from_lists(["t"], [[0.0, 1.0]], [[0.0, 1.0]])
    assert force_rows(bare) == []
    assert str(zones_by_force(bare, find_points(bare), 0)).startswith("not evaluated: ")


def test_a_force_that_does_not_yield_or_does_not_rise_says_so() -> None:
    angle = np.arange(0.0, YIELD, 0.25)
    torque = 1.0 + 1.6 * _force(angle)
    elastic = _zones(TraceSet.from_lists(["e"], [angle], [torque], clamp_force_kn=[_force(angle)]))
    assert elastic.leaves.angle_deg is None
    assert elastic.leaves.sentence() == "The measured force does not leave its line before the final point."
    dead = _zones(TraceSet.from_lists(["d"], [angle], [torque], clamp_force_kn=[np.zeros(len(angle))]))
    assert dead.straight.angle_deg is None
    assert dead.straight.sentence().startswith(
        "Measured force straight: not evaluated: the force does not rise"
    )
    few = _zones(
        TraceSet.from_lists(
            ["f"], [angle], [torque], clamp_force_kn=[np.where(np.arange(len(angle)) < 2, 1.0, np.nan)]
        )
    )
    assert few.straight.reason


def test_places_that_differ_are_told_with_their_direction() -> None:
    later = ForcePlace(STRAIGHT, 745.0, 0.5, 8.0, "", "snug point", 736.0, 0.5)
    assert later.agrees is False
    words = "snug point by torque, 736.00 ± 0.50 deg: 9.00 ± 0.71 deg later by force."
    assert later.sentence().endswith(words)
    absent = ForcePlace(RISES, 720.0, 1.0, 0.0, "", "drawdown start", None, None)
    assert absent.agrees is None
    assert absent.sentence().endswith("the torque curve shows no drawdown start.")


def test_evidence_is_there_for_each_place_that_is() -> None:
    zones = _zones(_traces())
    found = explain_force(zones)
    assert list(found) == [RISES, STRAIGHT, LEAVES]
    for estimate, place in zip(found.values(), zones.places, strict=True):
        assert estimate.value == place.angle_deg
        assert estimate.evidence is not None
        assert estimate.evidence.from_deg <= place.angle_deg <= estimate.evidence.to_deg


def test_synthetic_series_gives_back_what_made_it() -> None:
    from tests.world import make_laboratory

    traces, truth = make_laboratory(11, 6)
    curves = find_points(traces)
    rows = force_rows(traces)
    assert rows == list(range(len(traces)))
    points = find_force_points(traces, curves, rows)
    for entry, (row, true) in enumerate(zip(rows, truth.to_pylist(), strict=True)):
        zones = read_force_zones(points, entry, curves, row, traces)
        rate = true["final_angle_deg"] - true["snug_angle_deg"]
        # A soft joint's snug is a slow bend, a tenth of its rise wide.
        assert zones.straight.angle_deg == pytest.approx(true["snug_angle_deg"], abs=max(0.15 * rate, 1.5))
        assert zones.final_force_kn == pytest.approx(true["clamp_force_kn"], rel=0.02)
        assert zones == zones_by_force(traces, curves, row)


def test_beyond_yield_the_projected_elastic_line_gives_the_measured_force() -> None:
    """From samples: 45 degrees past yield the turned angle alone would say half as much again."""
    from analysis.joint import JointDefinition
    from analysis.joint.clamp_force import fuse_clamp
    from analysis.joint.clamp_routes import clamp_routes

    traces = _traces().take([0])
    curves = find_points(traces)
    assert curves.yielded[0] == 1
    # 1.6 N·m/kN on M10 is K 0.16; 0.9 kN/deg is the force per degree that made the trace.
    joint = JointDefinition(
        "lab",
        60.0,
        thread="M10",
        parts={
            "torque_coefficient": (0.15, 0.17),
            "stiffness_n_per_deg": 1000.0 * RATE,
            "stiffness_scatter_percent": 5.0,
        },
    )
    clamp = fuse_clamp(clamp_routes(curves, ["lab"], {"lab": joint}))
    measured = float(_force(np.array([FINAL]))[0])
    assert clamp.angle_force_kn[0] == pytest.approx(measured, rel=0.03)
    assert clamp.clamp_force_low_kn[0] < measured < clamp.clamp_force_high_kn[0]
    assert not clamp.disagreement[0]
    turned = RATE * (curves.final_angle_deg[0] - curves.elastic_origin_deg[0])
    assert turned > 1.5 * measured
