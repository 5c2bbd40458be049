"""Tool against joint: as an independent library has it, how often intervals hold, when it cannot be told."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from statsmodels.regression.mixed_linear_model import MixedLM

from analysis.capability.settings import StudySettings
from analysis.capability.study import make_study
from analysis.capability.tool_and_joint import ToolAndJoint, part_tool_and_joint
from analysis.joint.definition import JointDefinition
from analysis.report import to_html
from analysis.report.study_pages import study_reports
from tests.helpers.studied_results import results_of

JOINTS = ("hub", "mast", "plate")
SPINDLES = tuple("12345678")


def drawn(
    seed: int, tool: float, on_joint: float, n: int = 12, spindles: int = 8
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Departures in percent, uneven numbers, one spindle never on one joint; the spindles' own effects."""
    rng = np.random.default_rng(seed)
    own = tool * rng.normal(size=spindles)
    apart = on_joint * rng.normal(size=(spindles, 3))
    spindle = rng.integers(0, spindles, n * spindles * 3)
    joint = rng.integers(0, 3, len(spindle))
    kept = (spindle != 0) | (joint != 2)
    spindle, joint = spindle[kept], joint[kept]
    values = np.array([0.5, -1.0, 0.0])[joint] + own[spindle] + apart[spindle, joint]
    return values + 1.2 * rng.normal(size=len(values)), spindle, joint, own


def parted(values: np.ndarray, spindle: np.ndarray, joint: np.ndarray) -> ToolAndJoint:
    found = part_tool_and_joint(
        values, (spindle, SPINDLES[: spindle.max() + 1]), (joint, JOINTS[: joint.max() + 1]), 0.95
    )
    assert isinstance(found, ToolAndJoint)
    return found


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_as_statsmodels_has_it(seed: int) -> None:
    values, spindle, joint, _ = drawn(seed, 1.5, 0.6)
    found = parted(values, spindle, joint)
    frame = pd.DataFrame({"y": values, "spindle": spindle, "joint": joint})
    model = MixedLM.from_formula(
        "y ~ 0 + C(joint)", frame, groups="spindle", re_formula="1",
        vc_formula={"joint": "0 + C(joint)"},
    )  # fmt: skip
    fit = model.fit(reml=True)
    deviations = [float(fit.cov_re.iloc[0, 0]) ** 0.5, float(fit.vcomp[0]) ** 0.5, float(fit.scale) ** 0.5]
    assert [found.tool.value, found.tool_on_joint.value, found.single.value] == pytest.approx(
        deviations, rel=2e-3
    )
    assert [one.value for one in found.joints.values()] == pytest.approx(fit.fe_params.tolist(), abs=1e-3)
    from scipy.stats import t

    reach = t.ppf(0.975, 7) * fit.bse_fe
    assert [one.high - one.value for one in found.joints.values()] == pytest.approx(reach.tolist(), rel=5e-3)


def test_even_numbers_in_closed_form() -> None:
    """Derived: with even numbers the estimates are those of the two-way table's mean squares."""
    rng = np.random.default_rng(8)
    spindle, joint = (grid.ravel() for grid in np.mgrid[0:6, 0:3, 0:10][:2])
    values = rng.normal(size=6)[spindle] + 0.8 * rng.normal(size=(6, 3))[spindle, joint]
    values = values + rng.normal(size=len(spindle))
    cells = values.reshape(6, 3, 10)
    means = cells.mean(axis=2)
    rest = means - means.mean(axis=1, keepdims=True) - means.mean(axis=0) + means.mean()
    between = 30 * ((means.mean(axis=1) - means.mean()) ** 2).sum() / 5
    both, single = 10 * (rest**2).sum() / 10, ((cells - means[:, :, None]) ** 2).sum() / 162
    found = parted(values, spindle, joint)
    assert found.single.value**2 == pytest.approx(single, rel=1e-3)
    assert found.tool_on_joint.value**2 == pytest.approx((both - single) / 10, rel=1e-3)
    assert found.tool.value**2 == pytest.approx((between - both) / 30, rel=1e-3)
    effects = [one.value for one in found.spindles.values()]
    assert effects == pytest.approx((means.mean(axis=1) - means.mean()).tolist())


def test_intervals_hold_the_truth() -> None:
    """60 sets; 95 % intervals hold in fewer than 86 % but once in a thousand (binomial)."""
    held = []
    for seed in range(60):
        values, spindle, joint, own = drawn(100 + seed, 1.0, 0.5, n=6)
        found = parted(values, spindle, joint)
        about = own - own.mean()
        deviations = [found.tool, found.tool_on_joint, found.single]
        pairs = [*zip(deviations, (1.0, 0.5, 1.2), strict=True)]
        pairs += [*zip(found.spindles.values(), about, strict=True)]
        pairs += [*zip(found.joints.values(), (0.5, -1.0, 0.0), strict=True)]
        held.append([one.low <= true <= one.high for one, true in pairs])
    assert np.mean(held, axis=0).min() >= 0.86


def test_no_tool_effect_is_an_interval_from_nought() -> None:
    found = parted(*drawn(5, 0.0, 0.0)[:3])
    assert found.tool.low == 0.0 < found.tool.high < 1.0
    assert found.single.value == pytest.approx(1.2, rel=0.1)


@pytest.mark.parametrize(("spindle", "joint", "words"), [
    ([0, 0, 1, 1], [0, 0, 0, 0], "takes two joints"),
    ([0, 0, 1, 1], [0, 0, 1, 1], "too few spindles"),
    ([0, 0, 1], [0, 1, 1], "too few spindles"),
    ([0, 0, 1, 1], [0, 1, 0, 1], "no spindle tightened a joint twice"),
])  # fmt: skip
def test_why_it_cannot_be_told(spindle: list[int], joint: list[int], words: str) -> None:
    names = (SPINDLES[: max(spindle) + 1], JOINTS[: max(joint) + 1])
    found = part_tool_and_joint(
        np.arange(len(spindle), dtype=float), (np.array(spindle), names[0]), (np.array(joint), names[1]), 0.95
    )
    assert isinstance(found, str)
    assert words in found


def test_a_study_of_several_joints_tells_the_spindle_that_is_high() -> None:
    rng = np.random.default_rng(4)
    spindle, joint = rng.integers(0, 4, 400), rng.integers(0, 3, 400)
    target, off = np.array([40.0, 65.0, 90.0]), np.array([0.0, -1.0, 0.0])
    percent = off[joint] + np.array([0.0, 0.0, 2.0, 0.0])[spindle] + 0.5 * rng.normal(size=400)
    names, tools = np.array(JOINTS)[joint], np.array(["S1", "S2", "S3", "S4"])[spindle]
    results = results_of(
        target[joint] * (1.0 + percent / 100.0), joint=names.tolist(), spindle=tools.tolist()
    )
    joints = {
        name: JointDefinition(name, one, stop="torque", torque_limits_nm=(0.9 * one, 1.1 * one))
        for name, one in zip(JOINTS, target.tolist(), strict=True)
    }
    study = make_study(results, results, joints, StudySettings())
    found = study.as_dict()["tool_and_joint"]
    high = {name for name, one in found["spindles"].items() if one["low"] > 0.0}
    assert high == {"S3"}
    assert found["spindles"]["S3"]["value"] == pytest.approx(1.5, abs=0.3)
    mast = found["joints"]["mast"]["value"] - found["joints"]["hub"]["value"]
    assert mast == pytest.approx(-1.0, abs=0.3)
    assert (found["unit"], found["n"]) == ("percent of target", 400)
    page = to_html(study_reports(study, results))
    assert "Tool against joint" in page
    assert "Apart from the average spindle" in page
    by_yield = {name: JointDefinition(name, one.target_torque_nm, stop="yield", torque_limits_nm=(10.0, 99.0))
                for name, one in joints.items()}  # fmt: skip
    assert make_study(results, results, by_yield, StudySettings()).parted is None
