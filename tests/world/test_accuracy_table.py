"""The table of accuracy measures what its titles say."""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest

from analysis.curve import CurveTable, find_points
from analysis.settings import CurveSettings
from tests.world import CASES, make_cases


@pytest.fixture(scope="module")
def accuracy():
    path = Path(__file__).parents[1] / "speed" / "accuracy.py"
    spec = importlib.util.spec_from_file_location("accuracy_table", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def world():
    traces, truth = make_cases(8, 10)
    found = find_points(traces, CurveSettings())
    columns = {field.name for field in fields(CurveTable)} & set(truth.column_names)
    values = {name: truth[name].to_numpy() for name in columns if name != "yielded"}
    yielded = truth["yielded"].to_numpy(zero_copy_only=False).astype(np.int8)
    return (
        traces,
        truth,
        replace(found, **values, yielded=yielded, snug_angle_uncertainty_deg=np.full(len(truth), 0.1)),
    )


def test_the_truth_itself_has_no_error(accuracy, world):
    _, truth, perfect = world
    f = accuracy.figures(perfect, truth, np.ones(len(truth), bool))
    assert (f.snug_missed, f.snug_made_up, f.snug_p95, f.slope_p95, f.prevailing_p95) == (0, 0, 0, 0, 0)
    assert (f.yield_wrong, f.onset_p95, f.within_two) == (0, 0, 100)


def test_errors_are_counted_against_joint_rate_slope_and_target(accuracy, world):
    _, truth, perfect = world
    everything = np.ones(len(truth), bool)
    rate, target = truth["joint_rate_deg"].to_numpy(), truth["target_torque_nm"].to_numpy()
    off = replace(
        perfect,
        snug_angle_deg=perfect.snug_angle_deg + 0.03 * rate,
        elastic_slope_nm_per_deg=perfect.elastic_slope_nm_per_deg * 0.98,
        prevailing_torque_nm=perfect.prevailing_torque_nm - 0.01 * target,
        yielded=1 - perfect.yielded,
    )
    f = accuracy.figures(off, truth, everything)
    assert f.snug_median == pytest.approx(3.0)
    assert f.slope_p95 == pytest.approx(2.0)
    assert f.prevailing_p95 == pytest.approx(1.0)
    assert f.yield_wrong == 100.0
    assert f.within_two < 1.0


def test_missed_and_made_up_points_are_told_apart(accuracy, world):
    _, truth, perfect = world
    has = np.isfinite(truth["snug_angle_deg"].to_numpy())
    assert 0 < (~has).sum() < len(has)
    swapped = replace(perfect, snug_angle_deg=np.where(has, np.nan, 5.0))
    f = accuracy.figures(swapped, truth, np.ones(len(truth), bool))
    assert (f.snug_missed, f.snug_made_up) == (100.0, 100.0)


def test_the_groups_cover_every_case(accuracy, world):
    _, truth, _ = world
    masks = accuracy.groups(truth)
    assert sum(masks[case].sum() for case in CASES) == masks["all"].sum() == len(truth)
    assert masks["in time"].sum() + masks["in angle"].sum() == masks["all but noisy"].sum()


def test_it_prints_a_line_for_each_case_and_library(accuracy, capsys):
    assert accuracy.main(["--traces", "3", "--libraries", "1"]) == 0
    text = capsys.readouterr().out
    for name in (*CASES, "this program", *accuracy.LIBRARIES):
        assert any(line.startswith(name) for line in text.splitlines())
