"""What a shift says about a joint: on the sample shift, whose lots are known, and on a made-up step."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.account.joint import JointShift, diagnose
from analysis.catalogue.figures import PREVAILING_TORQUE
from analysis.catalogue.verdicts import VERDICTS
from analysis.errors import CallError
from analysis.joint import load_joints
from analysis.pipeline import analyse
from analysis.reading import read_paths
from analysis.shift.population import Population
from sample_traces.sample_paths import sample_paths
from tests.helpers.judged_sample import judged_sample


def test_the_lot_behind_the_low_friction_is_named() -> None:
    """Truth of the sample: lot W-121 of the wheel hub was oiled."""
    found = judged_sample().diagnosis("wheel-hub")
    assert next(iter(found.causes)) == "low-friction"
    first = found.shared["low-friction"][0]
    assert (first.attribute, first.value) == ("lot", "W-121")
    text = " ".join(map(str, found.sentences))
    assert "share lot W-121" in text
    assert "loosening torque" in text
    assert sum(found.counts.values()) == int((judged_sample().joint_rows.codes == 1).sum())


def test_unknown_joint_is_a_bad_call() -> None:
    with pytest.raises(CallError, match="no trace belongs"):
        judged_sample().diagnosis("nothing")


def test_step_is_placed_in_time_whatever_the_order_of_the_rows() -> None:
    n = 120
    order = np.random.default_rng(3).permutation(n)
    start = datetime(2024, 3, 12, 6, tzinfo=UTC)
    starts = [start + timedelta(minutes=int(k)) for k in order]
    level = np.random.default_rng(4).normal(0.3, 0.02, n) + np.where(order >= 70, 0.2, 0.0)
    found = diagnose(
        JointShift(
            "hub",
            np.arange(n),
            np.full(n, VERDICTS.index("ok"), np.int8),
            np.full(n, -1),
            {"started_at": starts},
            [(PREVAILING_TORQUE, level)],
            Population("hub", n, n, np.zeros(1), np.ones(1), "all traces", ""),
        )
    )
    (step,) = found.steps
    assert step.at is not None
    assert abs((step.at - start).total_seconds() / 60.0 - 70.0) <= 1.0
    assert "Prevailing torque steps from 0." in " ".join(map(str, found.sentences))
    assert found.causes == {}


def test_one_trace_is_counted_as_one() -> None:
    traces = read_paths([sample_paths().traces]).traces.take([0])
    analysis = analyse(traces, load_joints(sample_paths().joints))
    joint = str(traces.column("joint")[0])
    account = analysis.diagnosis(joint)
    counted = account.sentences[len(account.foremost)]
    assert counted.text().startswith("1 trace: 1 ")
