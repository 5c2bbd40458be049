"""The sample shift, judged once for all tests that only look at it."""

from __future__ import annotations

from functools import cache

from analysis.joint import load_joints
from analysis.pipeline import Analysis, analyse
from analysis.reading import read_paths
from sample_traces.sample_paths import sample_paths


@cache
def judged_sample() -> Analysis:
    """All traces of the sample shift with its joints file."""
    paths = sample_paths()
    return analyse(read_paths([paths.traces]).traces, load_joints(paths.joints))
