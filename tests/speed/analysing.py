"""Prints what ``tautograph analyse`` costs on a large shift, beside reading it and a change-point library.

Run from the project's folder: ``python -m tests.speed.analysing`` (``--help`` lists the choices). The shift
is written as Parquet (zstd, one row a trace, angle and torque in lists) and analysed by the command in a
process of its own, imports and all; then once more in this process with a watch on each step.
"""

from __future__ import annotations

import argparse
import compileall
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
from numpy.typing import NDArray

from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from analysis.reading import read_paths, write_parquet
from analysis.results import write_results
from analysis.traces import Trace, TraceSet
from tests.world import evaluation_joints_toml, make_shift

FloatArray = NDArray[np.float64]

ROOT = Path(__file__).resolve().parents[2]
#: Traces made anew; more are copies of these whose torque is scaled a little, so that no two are alike.
_MADE_GOOD, _MADE_EACH_FAULT = 120, 4
_SCATTER = 0.01
#: What the library is given: the last degrees before the final point, in bins of so many degrees.
_LAST_DEG, _BIN_DEG = 300.0, 0.5
#: Traces that the library is tried on: it takes too long for all.
_LIBRARY_TRACES = 40
#: Steps of the pipeline by the functions that make them, each where the pipeline looks it up.
STEPS: dict[str, tuple[str, ...]] = {
    "points": ("analysis.curve.points.find_points",),
    "operations": ("analysis.operation.table.classify_operations",),
    "clamp": (
        "analysis.pipeline.clamp_routes",
        "analysis.pipeline.find_company",
        "analysis.pipeline.fuse_clamp",
    ),
    "rules": (
        "analysis.pipeline.find_joint_rows",
        "analysis.pipeline.evaluate_rules",
        "analysis.measured.measure_quantities",
    ),
    "outliers": (
        "analysis.measured.scan_rises",
        "analysis.measured.count_teeth",
        "analysis.measured.resample_rises",
        "analysis.pipeline.compare_features",
        "analysis.pipeline.trusted_traces",
        "analysis.pipeline.find_outliers",
    ),
    "causes": ("analysis.pipeline.find_causes", "analysis.pipeline.judge"),
}


class Watch:
    """Seconds of each step; a step within another counts for the outer one alone."""

    def __init__(self) -> None:
        self.seconds: dict[str, float] = {}
        self._running = False

    def timed(self, step: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """The function, with its time added to a step."""

        def watched(*arguments: Any, **named: Any) -> Any:
            if self._running:
                return work(*arguments, **named)
            self._running, begun = True, time.perf_counter()
            try:
                return work(*arguments, **named)
            finally:
                self._running = False
                self.seconds[step] = self.seconds.get(step, 0.0) + time.perf_counter() - begun

        return watched

    @contextmanager
    def over_pipeline(self) -> Iterator[None]:
        """Watch the steps of every analysis meanwhile."""
        import importlib

        with ExitStack() as stack:
            for step, names in STEPS.items():
                for name in names:
                    module, _, function = name.rpartition(".")
                    work = getattr(importlib.import_module(module), function)
                    stack.enter_context(patch(name, self.timed(step, work)))
            yield


def large_shift(n: int, samples: int, seed: int = 1) -> TraceSet:
    """`n` traces of three joints, each thinned, or its samples repeated, evenly to `samples` samples."""
    made, _ = make_shift(seed, good=_MADE_GOOD, each_fault=_MADE_EACH_FAULT)
    rng = np.random.default_rng(seed)
    source = np.arange(n) % len(made)
    lengths = made.n_samples[source]
    share = np.linspace(0.0, 1.0, samples)
    index = made.offsets[source][:, None] + np.round(share * (lengths[:, None] - 1)).astype(np.int64)
    scale = 1.0 + _SCATTER * rng.standard_normal(n)
    table = made.attributes.select(["trace_id", "joint"]).take(pa.array(source))
    ids = pa.array([f"{k:06d}" for k in range(n)])
    return TraceSet(
        angle_deg=made.angle_deg[index].ravel(),
        torque_nm=np.round(made.torque_nm[index] * scale[:, None], 3).ravel(),
        offsets=np.arange(n + 1) * samples,
        attributes=table.set_column(table.column_names.index("trace_id"), "trace_id", ids),
    )


def fastest(work: Callable[[], Any], repeats: int = 3) -> float:
    """Shortest of some runs, seconds."""
    best = np.inf
    for _ in range(repeats):
        begun = time.perf_counter()
        work()
        best = min(best, time.perf_counter() - begun)
    return float(best)


def run_command(traces: Path, joints: Path, results: Path) -> tuple[float, float]:
    """Seconds and highest memory (MB) of ``tautograph analyse`` in a process of its own."""
    code = "import sys\nfrom app.commands.command_line import main\nsys.exit(main())"
    arguments = ["analyse", str(traces), "--joints", str(joints), "--results", str(results), "--quiet"]
    begun = time.perf_counter()
    process = subprocess.Popen(
        [sys.executable, "-c", code, *arguments],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
    )
    if hasattr(os, "wait4"):
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        # Kilobytes, on macOS bytes.
        memory = usage.ru_maxrss / (1e6 if sys.platform == "darwin" else 1e3)
    else:
        process.wait()
        memory = float("nan")
    if process.returncode > 2:
        raise SystemExit(f"tautograph analyse ended with {process.returncode}")
    return time.perf_counter() - begun, memory


def rise_bins(trace: Trace) -> FloatArray:
    """Mean torque in even bins over the last degrees before the final point, forward rotation only."""
    final = int(len(trace) - 1 - np.argmax(trace.torque_nm[::-1]))
    angle = np.maximum.accumulate(trace.angle_deg[: final + 1])
    edges = np.arange(angle[-1] - _LAST_DEG, angle[-1] + _BIN_DEG, _BIN_DEG)
    count, total = (
        np.histogram(angle, edges)[0],
        np.histogram(angle, edges, weights=trace.torque_nm[: final + 1])[0],
    )
    filled = np.flatnonzero(count)
    return np.interp(np.arange(len(count)), filled, total[filled] / count[filled])


def library_seconds(traces: TraceSet) -> float:
    """Seconds a trace of the library's compiled kernel, for two breaks in the slope of the binned rise."""
    import ruptures  # type: ignore[import-untyped]

    slopes = [np.diff(rise_bins(traces[row]))[:, None] for row in range(min(len(traces), _LIBRARY_TRACES))]

    def search() -> None:
        for slope in slopes:
            ruptures.KernelCPD(kernel="linear", min_size=6).fit(slope).predict(n_bkps=2)

    search()
    return fastest(search) / len(slopes)


def steps_of(path: Path, joints_text: str, results: Path) -> tuple[dict[str, float], float]:
    """Seconds of each step in this process, and of all."""
    joints = joints_from_text(joints_text)
    watch = Watch()
    begun = time.perf_counter()
    traces = watch.timed("read", lambda: read_paths([path]).traces)()
    with watch.over_pipeline():
        analysis = analyse(traces, joints)
    watch.timed("write", lambda: write_results(analysis, results))()
    whole = time.perf_counter() - begun
    order = ["read", *STEPS, "write"]
    steps = {step: watch.seconds[step] for step in order}
    return {**steps, "other": whole - sum(steps.values())}, whole


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--traces", type=int, default=10_000)
    parser.add_argument("--samples", type=int, default=1_500, help="samples of each trace (1500)")
    parser.add_argument("--repeats", type=int, default=3, help="runs, of which the fastest counts (3)")
    chosen = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as name:
        _report(Path(name), chosen.traces, chosen.samples, chosen.repeats)
    return 0


def _report(folder: Path, n: int, samples: int, repeats: int) -> None:
    many, few, joints = folder / "many.parquet", folder / "few.parquet", folder / "joints.toml"
    results, text = folder / "results.parquet", evaluation_joints_toml()
    joints.write_text(text, encoding="utf-8")
    traces = large_shift(n, samples)
    write_parquet(traces, many)
    write_parquet(traces.take(np.arange(min(100, n))), few)
    for package in ("analysis", "app"):  # as an installation does
        compileall.compile_dir(ROOT / package, quiet=1)
    run_command(few, joints, results)  # kernels are compiled, or read from the cache; files are in memory
    read_s = fastest(lambda: pq.read_table(many, columns=["angle_deg", "torque_nm"]), repeats)
    runs = [run_command(many, joints, results) for _ in range(repeats)]
    small_s = min(run_command(few, joints, results)[0] for _ in range(repeats))
    many_s, memory = min(run[0] for run in runs), max(run[1] for run in runs)
    steps_of(few, text, results)  # loads what only the first analysis of a process loads
    steps, whole = min((steps_of(many, text, results) for _ in range(repeats)), key=lambda one: one[1])
    library_s = library_seconds(traces)
    over_s, each_s = many_s - small_s, whole / n
    ratio = (over_s - 0.3) / read_s
    allowed_mb = 4 * 2 * 8 * n * samples / 1e6 + 300
    size = many.stat().st_size / 1e6
    print(f"{n} traces x {samples} samples, Parquet zstd, {size:.0f} MB, {os.cpu_count()} processors")
    print(f"\ntautograph analyse, in a process of its own\n  {min(n, 100):>6} traces  {small_s:7.2f} s")
    print(f"  {n:>6} traces  {many_s:7.2f} s, highest memory {memory:.0f} MB")
    print(f"  over few traces {over_s:5.2f} s: {_pace(over_s, n, samples)}")
    print(f"  pyarrow reads the two columns in {read_s:.3f} s: (over few less 0.3 s) / that {ratio:.1f}")
    print(f"  memory / (4 x the two arrays as float64 + 300 MB) {memory / allowed_mb:.2f}")
    print(f"\nsteps in one process, {whole:.2f} s: {_pace(whole, n, samples)}")
    for step, seconds in steps.items():
        print(f"  {step:<10} {seconds:7.3f} s {100 * seconds / whole:5.1f} %")
    print(
        f"\nruptures' compiled kernel on the last {_LAST_DEG:.0f} deg in bins of {_BIN_DEG} deg: "
        f"{1 / library_s:.0f} traces/s; analyse is {library_s / each_s:.0f} times as fast, its points alone "
        f"{library_s * n / steps['points']:.0f} times"
    )


def _pace(seconds: float, n: int, samples: int) -> str:
    return f"{n / seconds:.0f} traces/s, {1e9 * seconds / n / samples:.1f} ns/sample"


if __name__ == "__main__":
    raise SystemExit(main())
