"""A small judged shift for tests of what is made from an analysis: three joints, each seeded fault once."""

from __future__ import annotations

from functools import cache

from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from tests.world import evaluation_joints_toml, make_shift


@cache
def judged_shift(seed: int = 3, good: int = 40, each_fault: int = 1) -> Analysis:
    """The analysis, made once a run."""
    traces, _ = make_shift(seed, good=good, each_fault=each_fault)
    return analyse(traces, joints_from_text(evaluation_joints_toml()))
