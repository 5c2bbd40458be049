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
def test_the_band_over_bend_and_rise_is_that_of_the_curves(sample: Analysis, alignment: str) -> None:
    """Its median and the 5th and 95th percentiles, within 1 % of the final torque."""
    rows = good_rows(sample, "wheel-hub")
    band = curve_band(sample.traces, sample.curves, rows, alignment)
    assert band is not None
    zero = getattr(sample.curves, f"{alignment}_angle_deg")
    rate = float(np.median(sample.curves.joint_rate_deg[rows]))
    snug = float(np.median((sample.curves.snug_angle_deg - zero)[rows]))
    final_nm = float(np.median(sample.curves.final_torque_nm[rows]))
    # At 0.3 of the rate the tool stops: the outer percentiles step there, the median does not.
    for share in (-1.0, -0.8, -0.6, -0.4, -0.2, 0.1, 0.3, 0.5, 0.7, 0.85):
        at = snug + share * rate
        torques = []
        for row in rows.tolist():
            trace, stop = sample.traces[row], int(sample.curves.final_index[row]) + 1
            torques.append(np.interp(at, trace.angle_deg[:stop] - zero[row], trace.torque_nm[:stop]))
        bounds = (band.low_nm, band.median_nm, band.high_nm)
        levels = np.array([np.interp(at, band.from_deg, bound) for bound in bounds])
        expected = np.percentile(torques, (5.0, 50.0, 95.0))
        kept = [1] if share == 0.3 else [0, 1, 2]
        assert levels[kept] == pytest.approx(expected[kept], abs=0.01 * final_nm)
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
