"""Clamp force of traces: published tables, bounds, angle beside torque, and reasons where there is none."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.curve.reasons import LOOSENING, NO_RISE, STARTS_IN_RISE
from analysis.joint import JointDefinition
from analysis.joint.bearing import bearing
from analysis.joint.clamp_force import fuse_clamp
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.clamp_table import ClampTable
from analysis.joint.clamp_words import explain_clamp
from analysis.joint.property_class import strength
from analysis.joint.thread import parse_thread
from analysis.joint.torque import lever_mm
from analysis.settings import Settings
from analysis.traces import TraceSet
from tests.analysis.joint import published
from tests.analysis.joint.curves import make_curves, straight_trace
from tests.analysis.joint.levers import assembly_load, lever_vdi_mm

HUB = JointDefinition(
    "hub",
    48.0,
    thread="M10x1.5",
    property_class="8.8",
    head="hex",
    hole="medium",
    friction=(0.10, 0.14),
)
#: The stiffness of the S1 joint, with its force per degree taken as measured, 10 % either way.
STIFF = replace(HUB, parts={"stiffness_n_per_deg": 931.0, "stiffness_scatter_percent": 10.0})
LEVERS = {mu: float(lever_mm(parse_thread("M10"), 12.815, mu, mu)) for mu in (0.08, 0.10, 0.12, 0.14, 0.20)}


def clamp_of(joint: JointDefinition, n: int = 1, **points: object) -> ClampTable:
    columns = {"prevailing_torque_nm": 0.0, "final_torque_nm": 48.0, **points}
    curves = make_curves(n, **columns)
    return fuse_clamp(clamp_routes(curves, ["hub"] * n, {"hub": joint}))


@pytest.mark.parametrize(("name", "mu", "forces", "torques"), published.VDI_FINE)
def test_traces_that_end_at_the_tables_torque_give_its_force(
    name: str, mu: float, forces: tuple[float, ...], torques: tuple[float, ...]
) -> None:
    # VDI 2230 fine-thread table, hexagon head ISO 4014 and medium hole ISO 273; from samples to clamp force.
    from analysis.curve import find_points

    joints = {
        c: JointDefinition(
            c, t, thread=name, property_class=c, head="hex", hole="medium", friction=(mu - 0.02, mu + 0.02)
        )
        for c, t in zip(published.CLASSES, torques, strict=True)
    }
    recorded = [straight_trace(torque, torque / 40.0) for torque in torques]
    traces = TraceSet.from_lists(published.CLASSES, *zip(*recorded, strict=True))
    curves = find_points(traces, Settings().curve)
    table = fuse_clamp(clamp_routes(curves, published.CLASSES, joints))
    assert table.clamp_force_kn == pytest.approx(forces, rel=0.015)
    assert np.all(table.clamp_force_low_kn < forces)
    assert np.all(table.clamp_force_high_kn > forces)
    # The table uses 90 % of the minimum yield strength.
    assert table.utilisation == pytest.approx([0.9] * 3, rel=0.015)


@pytest.mark.parametrize("mu", [0.08, 0.10, 0.12, 0.14, 0.16, 0.20])
@pytest.mark.parametrize(
    "name", ["M8x1", "M10x1.25", "M12x1.25", "M14x1.5", "M16x1.5", "M18x1.5", "M20x1.5", "M22x1.5"]
)
def test_the_whole_range_of_friction(name: str, mu: float) -> None:
    # Torque by the rounded coefficients that VDI 2230 prints, at its assembly load; the estimate uses the
    # exact form.
    thread = parse_thread(name)
    ring = bearing(thread, "hex", "medium").friction_diameter_mm
    force = assembly_load(thread, "10.9", ring, mu).force_kn
    torque = force * float(lever_vdi_mm(thread, ring, mu, mu))
    joint = replace(HUB, thread=name, property_class="10.9", friction=(mu, mu))
    assert clamp_of(joint, final_torque_nm=torque).clamp_force_kn[0] == pytest.approx(force, rel=0.0035)


def test_middle_highest_and_lowest_friction() -> None:
    table = clamp_of(HUB)
    assert table.clamp_force_kn[0] == pytest.approx(48.0 / LEVERS[0.12], rel=1e-12)
    assert table.clamp_force_low_kn[0] == pytest.approx(48.0 / LEVERS[0.14], rel=1e-12)
    assert table.clamp_force_high_kn[0] == pytest.approx(48.0 / LEVERS[0.10], rel=1e-12)
    assert table.reason == ("",)
    # S3 of the computed values: 29.4, 25.7 and 34.3 kN at 48 N·m.
    found = (table.clamp_force_kn[0], table.clamp_force_low_kn[0], table.clamp_force_high_kn[0])
    assert found == pytest.approx((29.4, 25.7, 34.3), abs=0.05)


def test_thread_and_bearing_ranges_go_before_the_common_one() -> None:
    thread = parse_thread("M10")
    joint = replace(HUB, friction_thread=(0.08, 0.10), friction_bearing=(0.14, 0.16))
    assert clamp_of(joint).clamp_force_kn[0] == pytest.approx(
        48.0 / float(lever_mm(thread, 12.815, 0.09, 0.15))
    )


def test_prevailing_torque_comes_off_first() -> None:
    # MIL-HDBK-60, 110.3: it adds to the torque that makes clamp force.
    table = clamp_of(HUB, prevailing_torque_nm=6.0)
    assert table.clamp_force_kn[0] == pytest.approx(42.0 / LEVERS[0.12], rel=1e-12)
    assert table.prevailing_taken_nm[0] == 6.0


def test_prevailing_torque_that_was_not_recorded() -> None:
    absent = {"prevailing_torque_nm": np.nan, "prevailing_reason": STARTS_IN_RISE}
    none = clamp_of(HUB, **absent)
    assert none.clamp_force_kn[0] == pytest.approx(48.0 / LEVERS[0.12], rel=1e-12)
    assert "none taken off" in none.note[0]
    may = clamp_of(replace(HUB, prevailing_limits_nm=(0.0, 2.0)), **absent)
    assert may.clamp_force_kn[0] == none.clamp_force_kn[0]
    assert may.clamp_force_low_kn[0] == pytest.approx(46.0 / LEVERS[0.14], rel=1e-12)
    meant = clamp_of(replace(HUB, prevailing_limits_nm=(2.0, 6.0)), **absent)
    assert meant.clamp_force_kn[0] == pytest.approx(44.0 / LEVERS[0.12], rel=1e-12)
    assert meant.clamp_force_high_kn[0] == pytest.approx(46.0 / LEVERS[0.10], rel=1e-12)
    assert "4 N·m" in meant.note[0]


def test_short_form_where_only_k_is_given() -> None:
    joint = replace(HUB, friction=None, parts={"torque_coefficient": (0.15, 0.25)})
    table = clamp_of(joint)
    assert table.clamp_force_kn[0] == pytest.approx(48.0 / (0.2 * 10.0), rel=1e-12)
    assert table.clamp_force_low_kn[0] == pytest.approx(48.0 / 2.5, rel=1e-12)
    bare = replace(joint, head=None, hole=None)
    assert clamp_of(bare).clamp_force_kn[0] == table.clamp_force_kn[0]
    assert np.isnan(clamp_of(bare).utilisation[0])


@pytest.mark.parametrize(
    ("change", "reason"),
    [
        ({"friction": None}, "not evaluated: no friction range given"),
        (
            {"friction": None, "friction_thread": (0.1, 0.2)},
            "not evaluated: no friction range for the bearing face",
        ),
        (
            {"friction": None, "friction_bearing": (0.1, 0.2)},
            "not evaluated: no friction range for the thread",
        ),
        ({"thread": None}, "not evaluated: no thread given"),
        ({"head": None}, "not evaluated: no head given"),
        ({"hole": None}, "not evaluated: no clearance hole given"),
    ],
)
def test_what_is_missing_is_named_and_nothing_is_guessed(change: dict[str, object], reason: str) -> None:
    table = clamp_of(replace(HUB, **change))
    assert table.reason[0].startswith(reason)
    for column in (
        table.clamp_force_kn,
        table.clamp_force_low_kn,
        table.clamp_force_high_kn,
        table.utilisation,
    ):
        assert np.isnan(column[0])


def test_without_a_class_there_is_force_but_no_utilisation() -> None:
    table = clamp_of(replace(HUB, property_class=None))
    assert np.isfinite(table.clamp_force_kn[0])
    assert np.isnan(table.utilisation[0])
    given_yield = clamp_of(replace(HUB, property_class=None, parts={"yield_strength_mpa": 640.0}))
    assert given_yield.utilisation[0] == clamp_of(HUB).utilisation[0]


def test_traces_without_a_joint_or_without_a_tightening() -> None:
    curves = make_curves(
        5,
        prevailing_torque_nm=0.0,
        final_torque_nm=[48.0, 48.0, 48.0, 48.0, np.nan],
        slope_reason=[0, 0, NO_RISE, LOOSENING, 0],
    )
    names = [None, "axle", "hub", "hub", "hub"]
    table = fuse_clamp(clamp_routes(curves, names, {"hub": HUB}))
    assert table.reason[0] == "not evaluated: no joint assigned"
    assert table.reason[1] == 'not evaluated: the joint "axle" is not defined'
    assert "does not rise" in table.reason[2]
    assert "loosening" in table.reason[3]
    assert "no final torque" in table.reason[4]
    assert np.isnan(table.clamp_force_kn).all()
    low = clamp_of(HUB, final_torque_nm=2.0, prevailing_torque_nm=2.0)
    assert "does not exceed the prevailing torque" in low.reason[0]


def _elastic(mu: float, rate_n_per_deg: float = 931.0) -> dict[str, object]:
    """Points of a straight curve that ends at 48 N·m at a true friction and stiffness."""
    slope = rate_n_per_deg / 1000.0 * LEVERS[mu]
    return {
        "elastic_slope_nm_per_deg": slope,
        "elastic_origin_deg": 100.0,
        "elastic_origin_uncertainty_deg": 0.0,
        "final_angle_deg": 100.0 + 48.0 / slope,
    }


def test_a_level_line_leaves_the_torque_to_tell() -> None:
    level = {"elastic_slope_nm_per_deg": 0.0, "elastic_slope_uncertainty_nm_per_deg": 0.0}
    assert clamp_of(STIFF, **level).route[0] == "torque"


def test_the_angle_narrows_the_bounds_and_tells_friction() -> None:
    torque_only, both = clamp_of(HUB), clamp_of(STIFF, **_elastic(0.14))
    true = 48.0 / LEVERS[0.14]
    assert both.angle_force_kn[0] == pytest.approx(true, rel=1e-9)
    assert both.implied_friction[0] == pytest.approx(0.14, rel=1e-9)
    assert both.torque_force_high_kn[0] == torque_only.clamp_force_high_kn[0]
    # Derived: weights 1/s^2 with s_T from the range of friction and 1 % of the torque, s_A half of 10 % and
    # a tenth of how far the two lie apart.
    lies = np.log(true / torque_only.clamp_force_kn[0])
    s_torque, s_angle = np.hypot(np.log(LEVERS[0.14] / LEVERS[0.10]) / 4.0, 0.01), np.hypot(0.05, 0.1 * lies)
    weights = np.array([s_torque, s_angle]) ** -2.0
    apart = abs(np.log(true / torque_only.clamp_force_kn[0])) / np.hypot(s_torque, s_angle)
    mean = np.log([torque_only.clamp_force_kn[0], true]) @ weights / weights.sum()
    reach = 2.0 * max(1.0, apart) / np.sqrt(weights.sum())
    assert both.clamp_force_kn[0] == pytest.approx(np.exp(mean), rel=1e-9)
    assert both.clamp_force_low_kn[0] == pytest.approx(np.exp(mean - reach), rel=1e-9)
    assert both.clamp_force_high_kn[0] == pytest.approx(np.exp(mean + reach), rel=1e-9)
    assert both.clamp_force_low_kn[0] < true < both.clamp_force_high_kn[0]
    assert both.route[0] == "torque+angle"
    assert torque_only.route[0] == "torque"
    assert not both.disagreement[0]


@pytest.mark.parametrize(("mu", "rate"), [(0.08, 931.0), (0.20, 931.0), (0.12, 500.0), (0.12, 1500.0)])
def test_friction_or_stiffness_off_the_definition_is_a_disagreement(mu: float, rate: float) -> None:
    table = clamp_of(STIFF, **_elastic(mu, rate))
    assert table.disagreement[0]
    # Which of the two is wrong cannot be told: no best value, and the bounds hold both, whichever is true.
    assert table.undecided[0]
    assert np.isnan(table.clamp_force_kn[0])
    for true in (48.0 / LEVERS[mu], 48.0 / LEVERS[0.12]):
        assert table.clamp_force_low_kn[0] < true < table.clamp_force_high_kn[0]
    assert "no best value" in str(explain_clamp(table, 0, STIFF)[0])


def test_more_force_than_a_frictionless_bolt_gives_implies_no_friction() -> None:
    # P/2π alone: 48 N·m make 201 kN at most on M10; the angle says more.
    points = _elastic(0.12) | {"final_angle_deg": 400.0}
    table = clamp_of(STIFF, **points)
    assert table.angle_force_kn[0] > 48.0 * 2.0 * np.pi / 1.5
    assert np.isnan(table.implied_friction[0])
    assert table.disagreement[0]
    assert "which no friction would explain" in " ".join(map(str, explain_clamp(table, 0, STIFF)))
    short = replace(STIFF, friction=None, head=None, parts={**STIFF.parts, "torque_coefficient": (0.1, 0.2)})
    assert "friction" not in explain_clamp(clamp_of(short, **_elastic(0.12)), 0, short)[2]


def test_a_doubtful_origin_widens_what_the_angle_allows() -> None:
    sure, doubtful = (
        clamp_of(STIFF, **{**_elastic(0.12), "elastic_origin_uncertainty_deg": u}) for u in (0.0, 2.0)
    )
    # Derived: half of the stated 10 %, and 2 deg over the degrees turned, in quadrature.
    turned = sure.angle_force_kn[0] / 0.931
    reach = 2.0 * np.hypot(0.05, 2.0 / turned)
    assert doubtful.angle_force_low_kn[0] == pytest.approx(sure.angle_force_kn[0] * np.exp(-reach))
    assert doubtful.angle_force_high_kn[0] == pytest.approx(sure.angle_force_kn[0] * np.exp(reach))
    assert doubtful.angle_force_low_kn[0] < sure.angle_force_low_kn[0]


def test_beyond_yield_the_elastic_line_is_drawn_on() -> None:
    # S7: beyond a_y the slope falls as s exp(-(a - a_y)/c); the bolt turned 30 degrees further than its force
    # grew.
    points = _elastic(0.12)
    slope, c, a_yield = float(points["elastic_slope_nm_per_deg"]), 15.0, 125.0
    final = 130.0 + 25.0
    torque = slope * (a_yield - 100.0) + slope * c * (1.0 - np.exp(-(final - a_yield) / c))
    points |= {"final_angle_deg": final, "final_torque_nm": torque, "yielded": 1}
    table = clamp_of(STIFF, **points)
    assert table.angle_force_kn[0] == pytest.approx(torque / LEVERS[0.12], rel=1e-9)
    assert not table.disagreement[0]
    unaware = clamp_of(STIFF, **{**points, "yielded": 0})
    assert unaware.angle_force_kn[0] > 1.3 * table.angle_force_kn[0]


def test_beyond_yield_the_slope_tells_how_sure_the_angle_is_and_not_the_origin() -> None:
    """F = k T/s along the elastic line: where that line began does not enter."""
    points = _elastic(0.12) | {"yielded": 1, "elastic_origin_uncertainty_deg": 500.0}
    points["elastic_slope_uncertainty_nm_per_deg"] = 0.02 * float(points["elastic_slope_nm_per_deg"])
    table = clamp_of(STIFF, **points)
    reach = np.log(table.angle_force_high_kn[0] / table.angle_force_low_kn[0]) / 4.0
    assert reach == pytest.approx(np.hypot(0.05, 0.02), rel=0.02)


def test_an_angle_that_contradicts_the_torque_holds_more_twist() -> None:
    """Shank and tool twist by the torque: a dry joint turns further for its force."""
    sound, dry = (clamp_of(STIFF, **_elastic(mu)) for mu in (0.12, 0.20))
    for table, apart in ((sound, 0.0), (dry, None)):
        lies = abs(np.log(table.angle_force_kn[0] / table.torque_force_kn[0])) if apart is None else apart
        reach = np.log(table.angle_force_high_kn[0] / table.angle_force_low_kn[0]) / 4.0
        assert reach == pytest.approx(np.hypot(0.05, 0.1 * lies), rel=0.01)
    assert reach > 0.06


def test_utilisation_is_combined_stress_over_yield() -> None:
    load = assembly_load(parse_thread("M10"), "8.8", 12.815, 0.12)
    table = clamp_of(HUB, final_torque_nm=load.torque_nm)
    assert table.utilisation[0] == pytest.approx(0.9, rel=1e-9)
    assert table.utilisation_high[0] > table.utilisation[0]
    assert strength("8.8", 10).yield_mpa == 640


@given(
    st.lists(st.floats(1.0, 200.0), min_size=1, max_size=8),
    st.floats(0.05, 0.2),
    st.floats(0.0, 0.1),
    st.floats(0.1, 10.0),
)
def test_bounds_hold_the_middle_and_force_scales_with_torque(
    torques: list[float], mu: float, width: float, factor: float
) -> None:
    joint = replace(HUB, friction=(mu, mu + width))
    n = len(torques)
    table = clamp_of(joint, n, final_torque_nm=torques)
    assert np.all(table.clamp_force_low_kn <= table.clamp_force_kn)
    assert np.all(table.clamp_force_kn <= table.clamp_force_high_kn)
    scaled = clamp_of(joint, n, final_torque_nm=np.asarray(torques) * factor)
    assert scaled.clamp_force_kn == pytest.approx(table.clamp_force_kn * factor, rel=1e-9)
    assert scaled.utilisation == pytest.approx(table.utilisation * factor, rel=1e-9)


@given(st.permutations(range(6)))
def test_order_and_company_of_traces_do_not_matter(order: list[int]) -> None:
    rows = np.asarray(order)
    curves = make_curves(
        6, final_torque_nm=[10, 20, 30, 40, 50, 60], prevailing_torque_nm=[0, 1, 2, 0, 1, np.nan]
    )
    names = np.array(["hub", "stiff", None, "hub", "axle", "stiff"], object)
    joints = {"hub": HUB, "stiff": STIFF}
    table = fuse_clamp(clamp_routes(curves, names.tolist(), joints))
    mixed = fuse_clamp(clamp_routes(curves.take(rows), names[rows].tolist(), joints))
    assert mixed.clamp_force_kn == pytest.approx(table.clamp_force_kn[rows], nan_ok=True)
    assert mixed.reason == tuple(np.array(table.reason, object)[rows].tolist())


def test_the_true_force_of_the_sample_shift_lies_within_the_bounds() -> None:
    """Good traces of the sample, whose force the physical model knows; middle within 4 % at the median."""
    import pyarrow.parquet as pq

    from analysis.curve import find_points
    from analysis.joint import load_joints
    from analysis.reading import read_paths
    from sample_traces.sample_paths import sample_paths

    paths = sample_paths()
    traces, joints = read_paths([paths.traces]).traces, load_joints(paths.joints)
    truth = {row["trace_id"]: row for row in pq.read_table(paths.truth).to_pylist()}
    curves = find_points(traces, Settings().curve)
    table = fuse_clamp(clamp_routes(curves, traces.column("joint"), joints))
    good = np.array([truth[i]["cause"] is None for i in traces.trace_ids])
    force = np.array([truth[i]["clamp_force_kn"] for i in traces.trace_ids])
    known = good & np.isfinite(table.clamp_force_kn)
    assert known.sum() > 900
    assert (
        np.mean((table.clamp_force_low_kn <= force)[known] & (force <= table.clamp_force_high_kn)[known])
        > 0.99
    )
    assert np.median(np.abs(table.clamp_force_kn / force - 1.0)[known]) < 0.04
    assert table.disagreement[known].mean() < 0.01
    # Gaskets softer and stiffer than the definition says: the angle parts from the torque, to the right side,
    # and has nothing in common with it unless the elastic origin is too doubtful to tell.
    causes = np.array([truth[i]["cause"] for i in traces.trace_ids], object)
    softer, stiffer = causes == "softer-joint", causes == "stiffer-joint"
    assert min(softer.sum(), stiffer.sum()) >= 3
    middle = (table.torque_force_low_kn + table.torque_force_high_kn) / 2.0
    assert np.all(table.angle_force_kn[softer] > middle[softer])
    assert np.all(table.angle_force_kn[stiffer] < middle[stiffer])
    assert table.disagreement[softer | stiffer].mean() >= 0.5
