"""The reference band: report, window and comparison draw what the curves say, over the rise as well."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.catalogue.units import DisplayUnits
from analysis.pipeline import Analysis, analyse
from analysis.report.reference import band_of
from analysis.report.reported import joint_data
from analysis.shift.curve_band import curve_band
from analysis.traces import TraceSet
from tests.helpers.judged_sample import judged_sample


@pytest.fixture
def sample() -> Analysis:
    return judged_sample()


def good_rows(sample: Analysis, joint: str) -> np.ndarray:
    code = sample.joint_rows.names.index(joint)
    return np.flatnonzero((sample.joint_rows.codes == code) & (sample.verdict == 0))


@pytest.mark.parametrize("alignment", ["snug", "final"])
def test_the_median_over_the_rise_is_that_of_the_curves(sample: Analysis, alignment: str) -> None:
    rows = good_rows(sample, "wheel-hub")
    band = curve_band(sample.traces, sample.curves, rows, alignment)
    assert band is not None
    zero = getattr(sample.curves, f"{alignment}_angle_deg")
    rate = float(np.median(sample.curves.joint_rate_deg[rows]))
    snug = float(np.median((sample.curves.snug_angle_deg - zero)[rows]))
    for share in (0.1, 0.3, 0.5, 0.7, 0.85):
        at = snug + share * rate
        torques = []
        for row in rows.tolist():
            trace, stop = sample.traces[row], int(sample.curves.final_index[row]) + 1
            torques.append(np.interp(at, trace.angle_deg[:stop] - zero[row], trace.torque_nm[:stop]))
        assert np.interp(at, band.from_deg, band.median_nm) == pytest.approx(np.median(torques), rel=0.01)
    inside = (band.from_deg > snug) & (band.from_deg < snug + rate)
    assert inside.sum() > 60


def test_report_and_window_draw_one_band(sample: Analysis) -> None:
    (data,) = joint_data(sample, ["wheel-hub"], None, DisplayUnits())
    rows = good_rows(sample, "wheel-hub")
    paper, window = band_of(data, rows, ""), curve_band(sample.traces, sample.curves, rows)
    assert window is not None
    shown = np.interp(paper.from_snug_deg, window.from_deg, window.median_nm)
    assert paper.median == pytest.approx(shown)
    assert paper.n == window.n == len(rows)


def test_a_curve_that_steps_back_is_read_where_it_goes_forward() -> None:
    angle = np.array([0.0, 1.0, 2.0, 1.5, 3.0, 4.0])
    torque = np.array([0.0, 10.0, 20.0, 14.0, 30.0, 40.0])
    traces = TraceSet.from_lists(["a"], [angle], [torque])
    analysis = analyse(traces, {})
    band = curve_band(traces, analysis.curves, np.array([0]), "start")
    assert band is not None
    assert np.interp(2.5, band.from_deg, band.median_nm) == pytest.approx(25.0)
    assert band.from_deg[-1] <= 4.0
