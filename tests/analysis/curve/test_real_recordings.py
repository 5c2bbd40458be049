"""Real recordings: the thread-forming screws and the tensile tests beside the checkout."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.curve import find_points
from analysis.reading import read_paths
from analysis.settings import CurveSettings
from tests.analysis.curve.curve_making import one


@pytest.fixture(scope="module")
def plastic(request):
    folder = request.config.rootpath.parent / "shared" / "open_traces"
    if not folder.is_dir():
        pytest.skip(f"the open recordings are not beside the checkout: {folder.name} is missing")
    traces = read_paths([str(folder / "thread_forming_plastic.parquet")]).traces
    return traces, find_points(traces), np.array(traces.column("station_ok"), bool)


def test_none_is_lost_and_the_final_point_is_the_peak(plastic):
    traces, curves, _ = plastic
    assert len(curves) == 1500
    peaks = np.maximum.reduceat(traces.torque_nm, traces.offsets[:-1])
    np.testing.assert_array_equal(curves.final_torque_nm, peaks)


# Medians just ahead of the rise over good curves, measured on this set (its README beside the file).
@pytest.mark.parametrize(
    ("use", "level_nm"),
    [(0, 0.624), (1, 0.430), (2, 0.350), (4, 0.298), (8, 0.241), (12, 0.213), (16, 0.191), (24, 0.171)],
)
def test_prevailing_torque_by_use(plastic, use, level_nm):
    traces, curves, good = plastic
    chosen = good & (np.array(traces.column("use_count")) == use)
    assert np.nanmedian(curves.prevailing_torque_nm[chosen]) == pytest.approx(level_nm, rel=0.15)


def test_snug_is_found_and_yield_is_not_claimed(plastic):
    _, curves, good = plastic
    assert np.mean(np.isfinite(curves.snug_angle_deg[good])) >= 0.97
    assert np.mean(curves.yielded[good] == 1) <= 0.02


# 0.2 % offset, N/mm2: own reference run; steel1055 as published by its author (README of the recordings):
# it bends from its first sample on, its elastic slope is known to no better than itself, and where its first
# 2 % are cut decides what is read.
@pytest.mark.parametrize(
    ("name", "stress_mpa", "share"),
    [
        ("steel1016", 372.0, 0.03),
        ("st1594", 327.0, 0.03),
        ("st1595", 142.7, 0.03),
        ("al5005", 145.0, 0.03),
        ("steel1055", 566.0, 0.05),
    ],
)
def test_offset_yield_of_tensile_curves(open_traces, name, stress_mpa, share):
    strain, stress = np.genfromtxt(open_traces / "tensile" / f"{name}.csv", delimiter=",", skip_header=1).T
    # A tightening ends soon after yield: the first 2 % of strain, one degree standing for 1e-4.
    part = strain <= 0.02
    c = find_points(
        one(strain[part] * 1e4, stress[part]), CurveSettings(yield_rule="offset", yield_offset_deg=20.0)
    )
    assert c.yield_torque_nm[0] == pytest.approx(stress_mpa, rel=share)
