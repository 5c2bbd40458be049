"""Prints how long rules, outliers, causes and sharing take for a large shift, beside finding its points.

Run from the project's folder: ``python -m tests.speed.judging`` (``--traces`` sets the number).
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.catalogue.verdicts import VERDICTS
from analysis.curve import find_points
from analysis.joint import joints_from_text
from analysis.pipeline import analyse, find_what_is_shared
from analysis.traces import TraceSet
from tests.world import evaluation_joints_toml, make_shift

#: Traces made anew; more are copies of these.
_MADE = 1416


def large_shift(n: int) -> TraceSet:
    """At least `n` traces of three joints: one synthetic shift, repeated under new ids."""
    traces, _ = make_shift(1)
    copies = []
    for number in range(-(-n // _MADE)):
        ids = pa.array([f"{number}-{trace_id}" for trace_id in traces.trace_ids])
        copies.append(replace(traces, attributes=traces.attributes.set_column(0, "trace_id", ids)))
    return TraceSet.concatenate(copies)


def fastest(work: Callable[[], Any], repeats: int = 3) -> tuple[float, Any]:
    """Shortest of some runs, seconds, and the answer."""
    best, answer = np.inf, None
    for _ in range(repeats):
        start = time.perf_counter()
        answer = work()
        best = min(best, time.perf_counter() - start)
    return float(best), answer


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--traces", type=int, default=10_000)
    chosen = parser.parse_args(arguments)
    traces = large_shift(chosen.traces)
    joints = joints_from_text(evaluation_joints_toml())
    points_s, _ = fastest(lambda: find_points(traces))
    whole_s, analysis = fastest(lambda: analyse(traces, joints))
    table_s, _ = fastest(lambda: replace(analysis).results())
    flagged = analysis.verdict != VERDICTS.index("ok")
    shared_s, _ = fastest(lambda: find_what_is_shared(analysis, flagged))
    print(f"{len(traces)} traces, {len(traces.angle_deg)} samples")
    print(f"points                                {points_s:7.3f} s")
    print(f"clamp force, rules, outliers, causes  {whole_s - points_s:7.3f} s")
    print(f"what the flagged ones share           {shared_s:7.3f} s")
    print(f"results table                         {table_s:7.3f} s")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
