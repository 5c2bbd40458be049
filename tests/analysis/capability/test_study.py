"""A study of known values: which traces, which figures, what is told, and in which words."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import hypothesis
import numpy as np
import pyarrow as pa
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.proportion import proportion_confint

from analysis.capability.quantity import QuantityStudy
from analysis.capability.settings import StudyFileError, StudySettings, study_settings
from analysis.capability.study import Study, make_study
from analysis.catalogue.units import DisplayUnits
from analysis.joint.definition import JointDefinition
from analysis.report import to_html, workbook_bytes
from analysis.report.study_pages import study_reports
from analysis.report.study_units import quantity_in_units
from tests.helpers.studied_results import results_of

HUB = JointDefinition("hub", 65.0, title="Hub", torque_limits_nm=(61.0, 69.0))


def study_of(results: pa.Table, joint: JointDefinition = HUB, **settings: object) -> Study:
    return make_study(results, results, {"hub": joint}, StudySettings(**settings))  # type: ignore[arg-type]


def torque_of(study: Study) -> QuantityStudy:
    return study.joints["hub"].quantities["final_torque_nm"]


@pytest.mark.parametrize(("n", "deviation", "shown"), [
    (50, 0.5, "shown"), (100, 0.72, "met, not shown"), (125, 1.0, "not met"),
])  # fmt: skip
def test_a_run_against_the_plain_formulas(n: int, deviation: float, shown: str) -> None:
    """Every figure by scipy on the same torques; exactly standardised, so that the judgement is known."""
    z = stats.norm.ppf((np.arange(1, n + 1) - 0.5) / n)
    torque = 65.2 + deviation * np.random.default_rng(n).permutation(z / z.std(ddof=1))
    one = torque_of(study_of(results_of(torque)))
    found = one.as_dict()
    cpk = min(69.0 - torque.mean(), torque.mean() - 61.0) / (3 * torque.std(ddof=1))
    assert (found["n"], found["mean"]) == (n, pytest.approx(torque.mean()))
    assert found["s_overall"] == pytest.approx(torque.std(ddof=1))
    assert found["s_within"] == pytest.approx(np.abs(np.diff(torque)).mean() / 1.128379, rel=1e-5)
    assert (found["low_limit"], found["high_limit"]) == (61.0, 69.0)
    assert found["cp"]["value"] == pytest.approx(8.0 / (6 * deviation))
    assert found["cp"]["low"] == pytest.approx(
        found["cp"]["value"] * np.sqrt(stats.chi2.ppf(0.025, n - 1) / (n - 1))
    )
    half = 1.959964 * np.sqrt(1 / (9 * n) + cpk**2 / (2 * (n - 1)))
    assert found["cpk"]["value"] == pytest.approx(cpk)
    assert (found["cpk"]["low"], found["cpk"]["high"]) == (
        pytest.approx(cpk - half),
        pytest.approx(cpk + half),
    )
    assert (found["cpk"]["confidence"], found["cpk"]["sided"]) == (0.95, "two-sided")
    assert found["pp"] == found["cp"]
    assert found["ppk"] == found["cpk"]
    scale = 3 * np.sqrt(n)
    assert stats.nct.cdf(scale * cpk, n - 1, scale * found["lower_bound"]) == pytest.approx(0.95, abs=1e-6)
    assert found["shown"] == shown


def test_first_tightening_of_each_position() -> None:
    """A position tightened twice counts once, by its first; without part or position each trace is one."""
    torque = np.array([60.0, 65.0, 66.0, 65.5, 64.5, 64.0])
    parts, positions = ["p1", "p1", "p1", "p2", "p2", None], ["1", "2", "1", "1", None, "1"]
    results = results_of(torque, part=parts, position=positions)
    first, last, every = (study_of(results, traces=which) for which in ("first", "last", "all"))
    assert torque_of(first).values.tolist() == [60.0, 65.0, 65.5, 64.5, 64.0]
    assert torque_of(last).values.tolist() == [65.0, 66.0, 65.5, 64.5, 64.0]
    assert torque_of(every).n == 6
    assert first.joints["hub"].repeated == 1
    shuffled = results.take([3, 0, 5, 2, 1, 4])
    assert torque_of(study_of(shuffled)).as_dict() == torque_of(first).as_dict()


def test_a_bench_whose_traces_share_one_part() -> None:
    results = results_of(np.linspace(64.0, 66.0, 30), part=["bench"] * 30, position=["1"] * 30)
    assert torque_of(study_of(results)).n == 30


def test_rejects_left_out_flatter_and_both_are_shown() -> None:
    torque = np.random.default_rng(1).normal(65, 1.2, 200)
    verdict = ["ok" if 63.5 < t < 66.5 else "not ok" for t in torque]
    one = torque_of(study_of(results_of(torque, verdict=verdict)))
    assert one.sound is not None
    assert one.cpk is not None
    assert one.sound[2] is not None
    assert one.sound[0] < one.n
    assert one.sound[2].value > one.cpk.value


def test_two_populations_have_no_index() -> None:
    rng = np.random.default_rng(2)
    torque = np.concatenate([rng.normal(62.5, 0.2, 60), rng.normal(67.0, 0.2, 40)])
    study = study_of(results_of(rng.permutation(torque)))
    one = torque_of(study)
    assert (one.cp, one.cpk, one.pp, one.ppk, one.shown) == (None, None, None, None, None)
    assert "two populations" in one.reason
    assert (
        json.loads(json.dumps(study.as_dict()))["joints"]["hub"]["quantities"]["final_torque_nm"]["cpk"]
        is None
    )


def test_a_cut_off_distribution_is_told() -> None:
    torque = np.random.default_rng(3).normal(65, 2.0, 600)
    kept = torque[(torque > 61.0) & (torque < 69.0)]
    assert any("rejects are missing" in note for note in torque_of(study_of(results_of(kept))).notes)
    assert not any("rejects are missing" in note for note in torque_of(study_of(results_of(torque))).notes)


def test_none_beyond_a_limit_where_half_a_value_is_expected_is_no_cut() -> None:
    """Derived: 200 normal values with limits at 2.86 s leave 0.43 beyond each; none has a chance of 0.65."""
    evenly = stats.norm.ppf((np.arange(200) + 0.5) / 200.0)
    torque = 65.0 + 1.4 * np.random.default_rng(3).permutation(evenly)
    one = torque_of(study_of(results_of(torque)))
    assert one.beyond == (0, 0)
    assert not any("rejects are missing" in note for note in one.notes)


def test_a_process_that_moves_is_performance() -> None:
    torque = np.random.default_rng(4).normal(65, 0.3, 120) + np.repeat([0.0, 1.5], 60)
    one = torque_of(study_of(results_of(torque)))
    assert not one.stable
    assert any("not shown to be stable" in note for note in one.notes)
    without = results_of(torque).set_column(12, "started_at", pa.nulls(120, pa.timestamp("us", tz="UTC")))
    assert any("start times are not given" in note for note in torque_of(study_of(without)).notes)


def test_subgroups_give_cp_the_spread_within() -> None:
    rng = np.random.default_rng(5)
    torque = rng.normal(65, 0.4, 125) + np.repeat(rng.normal(0, 0.6, 25), 5)
    one = torque_of(study_of(results_of(torque), subgroup=5))
    assert one.within is not None
    assert one.cp is not None
    assert one.pp is not None
    assert one.cp.value == pytest.approx(8.0 / (6 * one.within.deviation))
    assert one.pp.value < one.cp.value
    assert one.within.degrees == 100
    assert [chart.kind for chart in one.charts][:2] == ["averages", "deviations"]
    assert any("moves between them" in note for note in one.notes)


def test_each_stream_worst_first_and_never_pooled_alone() -> None:
    rng = np.random.default_rng(6)
    spindle = ["S1", "S2"] * 60
    torque = rng.normal(65, 0.4, 120) + np.where(np.arange(120) % 2, 1.6, 0.0)
    one = torque_of(study_of(results_of(torque, spindle=spindle)))
    assert [stream.name for stream in one.streams] == ["S2", "S1"]
    assert one.components is not None
    assert one.components.probability < 1e-6


def test_one_limit_and_a_wanted_clamp_force() -> None:
    joint = JointDefinition("hub", 65.0, parts={"wanted_clamp_force_kn": 30.0})
    torque = np.random.default_rng(7).normal(65, 0.7, 80)
    found = study_of(results_of(torque), joint).joints["hub"].quantities
    assert list(found) == ["clamp_force_kn"]
    force = found["clamp_force_kn"]
    assert (force.cp, force.limits) == (None, (30.0, None))
    assert force.cpk is not None
    scale = 3 * np.sqrt(80)
    assert stats.nct.cdf(scale * force.cpk.value, 79, scale * force.cpk.low) == pytest.approx(0.975, abs=1e-6)


def test_a_joints_own_table_its_class_and_the_runs_file() -> None:
    torque = np.random.default_rng(8).normal(65, 0.6, 60)
    by_class = JointDefinition("hub", 65.0, torque_limits_nm=(61.0, 69.0), parts={"risk_class": "B"})
    own = JointDefinition("hub", 65.0, torque_limits_nm=(61.0, 69.0),
                          parts={"risk_class": "B", "capability": {"wanted_cpk": 2.0}})  # fmt: skip
    assert study_of(results_of(torque), by_class).joints["hub"].asked.wanted_cpk == 1.33
    assert study_of(results_of(torque), own).joints["hub"].asked.wanted_cpk == 2.0
    assert study_of(results_of(torque), own, wanted_cpk=1.2).joints["hub"].asked.wanted_cpk == 1.2
    assert study_of(results_of(torque)).joints["hub"].asked.wanted_cpk == 1.67


@pytest.mark.parametrize("torque", [[], [65.0], [65.0] * 40])
def test_too_little_or_no_spread_is_a_reason(torque: list[float]) -> None:
    results = results_of(torque) if torque else results_of([65.0]).slice(0, 0)
    study = study_of(results)
    if torque:
        one = torque_of(study)
        assert one.shown is None
        assert one.reason
        assert json.dumps(study.as_dict(), allow_nan=False)


@given(
    st.lists(st.floats(0.5, 500.0), min_size=2, max_size=14),
    st.sampled_from([None, "normal", "lognormal"]),
)
@hypothesis.settings(max_examples=60, deadline=None)
def test_a_few_values_of_any_kind_have_finite_figures_or_a_reason(
    torque: list[float], shape: str | None
) -> None:
    study = study_of(results_of(torque), shape=shape)
    assert json.dumps(study.as_dict(), allow_nan=False)


@pytest.mark.parametrize(
    ("table", "words"),
    [({"kind": "x"}, "expected one of"), ({"wanted": 1}, "not known"), ({"confidence": 1.5}, "below 1"),
     ({"quantity": ["torque"]}, "expected some of"), ({"subgroup": 2.5}, "expected a number")],
)  # fmt: skip
def test_a_study_file_that_cannot_be_used(table: dict[str, object], words: str) -> None:
    with pytest.raises(StudyFileError, match=words):
        study_settings({"study": table}, "S.toml")
    with pytest.raises(StudyFileError, match=r"no table \[study\]"):
        study_settings({}, "S.toml")


def test_values_that_may_be_lognormal_have_intervals_for_both() -> None:
    """Lognormal quantiles of 15 % scatter are not told from normal ones; below 10 % that does not matter."""
    z = stats.norm.ppf((np.arange(1, 61) - 0.5) / 60)
    torque = 65.0 * np.exp(0.15 * np.random.default_rng(2).permutation(z))
    wide = JointDefinition("hub", 65.0, torque_limits_nm=(25.0, 125.0))
    one = torque_of(study_of(results_of(torque), wide))
    assert one.shape is not None
    assert (one.shape.family, one.shape.rival) == ("normal", "lognormal")
    assert one.cpk is not None
    assert one.ppk is not None
    assert one.bound is not None
    by_log = torque_of(study_of(results_of(torque), wide, shape="shifted lognormal"))
    assert by_log.ppk is not None
    assert by_log.bound is not None
    assert one.ppk.value == one.cpk.value
    # Curves are weighed by their likelihood: wider than the normal interval, without being the hull.
    assert by_log.ppk.low <= one.ppk.low < one.cpk.low
    assert one.ppk.high >= max(one.cpk.high, by_log.ppk.high)
    assert one.bound < one.cpk.low + 0.1
    assert any("not told apart" in note for note in one.notes)
    stated = torque_of(study_of(results_of(torque), wide, shape="normal"))
    assert stated.ppk == stated.cpk
    narrow = torque_of(study_of(results_of(65.0 + 0.1 * (torque - 65.0)), wide))
    assert narrow.shape is not None
    assert narrow.shape.rival is None


def test_clamp_force_says_how_many_are_past_yield() -> None:
    """Three of 100: 1.0 to 8.5 % by statsmodels' Wilson interval."""
    low, high = proportion_confint(3, 100, method="wilson")
    joint = JointDefinition("hub", 65.0, parts={"wanted_clamp_force_kn": 30.0})
    torque = np.random.default_rng(3).normal(65.0, 1.0, 100)
    study = study_of(results_of(torque, utilisation=[1.02] * 3 + [0.9] * 97), joint)
    notes = study.joints["hub"].quantities["clamp_force_kn"].notes
    words = "past the least yield strength, estimated: 3 of 100"
    assert f"{words} ({100 * low:.1f} to {100 * high:.1f} %, two-sided 95 %)" in notes
    none = study_of(results_of(torque), joint).joints["hub"].quantities["clamp_force_kn"].notes
    assert not any("yield" in note for note in none)


def test_a_limit_on_one_side_alone_has_one_index() -> None:
    torque = np.random.default_rng(4).normal(65.0, 0.7, 60)
    one = torque_of(
        study_of(results_of(torque), JointDefinition("hub", 65.0, torque_limits_nm=(60.0, np.inf)))
    )
    assert (one.limits, one.cp, one.pp) == ((60.0, None), None, None)
    assert one.cpk is not None
    assert one.cpk.value == pytest.approx((torque.mean() - 60.0) / (3.0 * torque.std(ddof=1)))


def test_clamp_force_tells_the_chances_beside_its_index() -> None:
    """P(F < wanted) by scipy's normal distribution, past yield by statsmodels' Wilson interval."""
    joint = JointDefinition("hub", 65.0, parts={"wanted_clamp_force_kn": 30.0})
    results = results_of(np.random.default_rng(3).normal(65.0, 1.0, 100), utilisation=[1.02] * 3 + [0.9] * 97)
    study = study_of(results, joint).joints["hub"].quantities["clamp_force_kn"]
    found = study.as_dict()
    below, ppk = found["share_below_wanted"], found["ppk"]
    expected = stats.norm.cdf(30.0, study.mean, study.s_overall)
    assert below["value"] == pytest.approx(expected, rel=1e-9)
    assert below["low"] == pytest.approx(stats.norm.sf(3.0 * ppk["high"]))
    assert below["high"] == pytest.approx(stats.norm.sf(3.0 * ppk["low"]))
    past = found["share_yielded"]
    assert past["value"] == 0.03
    assert (past["low"], past["high"]) == pytest.approx(proportion_confint(3, 100, method="wilson"))
    torque = study_of(results).joints["hub"].quantities["final_torque_nm"].as_dict()
    assert "share_below_wanted" not in torque


def test_pages_say_n_interval_and_which_traces() -> None:
    torque = np.random.default_rng(9).normal(65, 0.7, 50)
    study = study_of(results_of(torque, spindle=["S1", "S2"] * 25))
    results = results_of(torque)
    reports = study_reports(study, results, now=datetime(2024, 5, 6, tzinfo=UTC))
    page = to_html(reports)
    one = torque_of(study)
    assert one.cpk is not None
    for words in ("first tightening of each position", "Each spindle on its own", f"{one.cpk.value:.2f}",
                  f"({one.cpk.low:.2f}–{one.cpk.high:.2f})", "two-sided", "To show 1.67"):  # fmt: skip
        assert words in page
    assert workbook_bytes(reports)[:2] == b"PK"


def test_pages_in_another_torque_unit() -> None:
    """Indices stay, everything else is scaled: 65 N·m are 47.94 ft·lbf."""
    torque = np.random.default_rng(10).normal(65, 0.7, 50)
    study = study_of(results_of(torque))
    one = torque_of(study)
    shown = quantity_in_units(one, DisplayUnits("ft·lbf"))
    assert shown.mean == pytest.approx(one.mean / 1.3558179483314004)
    assert shown.limits[0] == pytest.approx(61.0 / 1.3558179483314004)
    assert shown.cpk == one.cpk
    assert shown.charts[0].limits.high == pytest.approx(one.charts[0].limits.high / 1.3558179483314004)
    assert shown.charts[-1] is one.charts[-1]
    page = to_html(study_reports(study, results_of(torque), units=DisplayUnits("ft·lbf")))
    assert "44.99 to 50.89" in page
    assert "(N·m)" not in page


def test_a_coarse_record_is_no_two_populations() -> None:
    """Normal values rounded to more than their deviation: the plain index, and the rounding told."""
    torque = np.round(np.random.default_rng(5).normal(65.0, 0.8, 100))
    one = torque_of(study_of(results_of(torque)))
    assert one.ppk is not None
    expected = min(69.0 - torque.mean(), torque.mean() - 61.0) / (3 * torque.std(ddof=1))
    assert one.ppk.value == pytest.approx(expected)
    share = 100.0 / 12.0 / torque.var(ddof=1)
    assert f"recorded in steps of 1.00 N·m: rounding makes {share:.0f} %" in " ".join(map(str, one.notes))


def test_steps_that_hide_the_spread_leave_no_index() -> None:
    torque = np.round(np.random.default_rng(5).normal(65.1, 0.25, 100))
    one = torque_of(study_of(results_of(torque)))
    assert (one.ppk, one.shown) == (None, None)
    assert str(one.reason).startswith("recorded in steps of 1.00 N·m, too wide")
    assert "steps of 0.738 ft·lbf" in str(quantity_in_units(one, DisplayUnits("ft·lbf")).reason)


def test_a_value_apart_among_normal_ones_is_told() -> None:
    torque = np.append(65.0 + 0.5 * stats.norm.ppf((np.arange(99) + 0.5) / 99.0), 61.3)
    one = torque_of(study_of(results_of(torque)))
    rest = torque[:-1]
    cpk = min(69.0 - rest.mean(), rest.mean() - 61.0) / (3 * rest.std(ddof=1))
    told = "1 value stands apart from the others (Rosner's test), to be looked at first"
    assert f"{told}; Cpk of the others is {cpk:.2f}" in str(one.notes)


def test_the_measuring_chain_is_told_in_the_unit_shown() -> None:
    one = torque_of(study_of(results_of(np.random.default_rng(3).normal(65.0, 0.5, 60)), gauge_nm=0.2))
    assert one.asked.gauge_nm == 0.2
    own = np.sqrt(one.s_overall**2 - 0.04)
    shown = quantity_in_units(one, DisplayUnits("cN·m"))
    assert f"{100.0 * own:.2f} cN·m are the process's own" in str(shown.notes)
    assert "N·m" not in str(shown.notes).replace("cN·m", "")
    assert f"{own:.3f} N·m are the process's own" in " ".join(one.as_dict()["notes"])


def test_streams_and_components_stand_in_the_plain_values() -> None:
    """By scipy's one-way analysis on the same torques."""
    torque = 65.0 + np.repeat([-0.6, 0.0, 0.5], 40) + np.random.default_rng(8).normal(0.0, 0.5, 120)
    found = torque_of(study_of(results_of(torque, spindle=[f"S{k // 40 + 1}" for k in range(120)]))).as_dict()
    of = {one["name"]: one for one in found["streams"]}
    assert {name: one["n"] for name, one in of.items()} == {"S1": 40, "S2": 40, "S3": 40}
    assert of["S2"]["s"] == pytest.approx(torque[40:80].std(ddof=1))
    assert found["components"]["f"] == pytest.approx(stats.f_oneway(*torque.reshape(3, 40)).statistic)


def test_clamp_force_by_torque_alone_scatters_with_the_friction_that_is_stated() -> None:
    """(s_F/F)^2 = (s_T/T)^2 + s_friction^2; bounds of one torque are +-2 s of friction."""
    torque = np.random.default_rng(12).normal(65, 0.7, 80)
    force, friction = torque / 1.9, 0.1
    columns = {
        "clamp_force_low_kn": force * np.exp(-2 * friction),
        "clamp_force_high_kn": force * np.exp(2 * friction),
    }
    joint = JointDefinition("hub", 65.0, parts={"wanted_clamp_force_kn": 22.0})

    def studied(route: str, spindle: list[str] | None = None) -> QuantityStudy:
        results = results_of(
            torque, clamp_force_route=[route] * 80, spindle=spindle or [None] * 80, **columns
        )
        return study_of(results, joint).joints["hub"].quantities["clamp_force_kn"]

    fused, alone = studied("torque+angle"), studied("torque", ["A", "B"] * 40)
    assert fused.s_overall == pytest.approx(force.std(ddof=1))
    assert fused.shown == "shown"
    expected = np.hypot(force.std(ddof=1), friction * np.sqrt(np.mean(force**2)))
    assert alone.s_overall == pytest.approx(expected)
    assert alone.cpk is not None
    assert alone.cpk.value == pytest.approx((force.mean() - 22.0) / (3 * expected))
    assert alone.shown == "not met"
    assert all(stream.deviation > 0.9 * expected for stream in alone.streams)
    assert alone.within is not None
    assert alone.within.deviation > 0.9 * expected
    assert any("the joint states is added" in str(note) for note in alone.notes)
