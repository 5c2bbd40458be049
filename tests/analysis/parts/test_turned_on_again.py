"""A fastener that is tight and turned on again is not held against the angle of a first tightening."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from analysis.catalogue.reasons import REASONS, TURNED_ON_AGAIN
from analysis.joint.joints_file import load_joints
from analysis.operation.same_fastener import tightened_before
from analysis.pipeline import analyse
from analysis.reading import read_paths
from analysis.traces import TraceSet
from sample_traces.sample_paths import sample_parts_paths

START = datetime(2025, 5, 5, 6, 0, tzinfo=UTC)


def test_second_pass_of_the_samples_flanges() -> None:
    traces, joints = sample_parts_paths()
    found = analyse(read_paths([traces]).traces, load_joints(joints)).results().to_pylist()
    second = [one for one in found if one["joint"] == "ring-flange" and "already-tight" in one["findings"]]
    assert len(second) == 16
    assert {one["verdict"] for one in second} == {"suspect"}
    assert not any("angle-low" in one["findings"] for one in second)
    told = [REASONS[TURNED_ON_AGAIN] in one["not_evaluated_reason"] for one in second]
    assert sum(told) >= 8  # the others have no snug point, and no angle


@pytest.mark.parametrize(
    ("deeds", "minutes", "again"),
    [
        ("tighten on", (0, 1), (False, True)),
        ("on tighten", (0, 1), (False, False)),  # the first record of all: a mix-up, judged as it is
        ("tighten loosen on", (0, 1, 2), (False, False, False)),
        ("tighten loosen tighten on", (0, 1, 2, 3), (False, False, False, True)),
        ("on tighten", (1, 0), (True, False)),  # the order of rows says nothing
        ("tighten on", (0, None), (False, False)),
        ("tighten on", (0, 0), (False, False)),
    ],
)
def test_what_was_tightened_before(
    deeds: str, minutes: tuple[int | None, ...], again: tuple[bool, ...]
) -> None:
    done, n = np.array(deeds.split()), len(minutes)
    line = np.arange(3.0)
    traces = TraceSet.from_lists(
        [f"t{k}" for k in range(n)], [line] * n, [line] * n,
        {
            "joint": ["hub"] * n, "part": ["p1"] * n, "position": ["1"] * n,
            "started_at": [None if one is None else START + timedelta(minutes=one) for one in minutes],
        },
    )  # fmt: skip
    found = tightened_before(traces, done == "on", back=done == "loosen", tightened=done != "loosen")
    assert tuple(found.tolist()) == again
