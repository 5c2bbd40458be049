"""How fast the whole window is with ten thousand traces; drives the real one without a display and prints.

Run ``python -m tests.speed.window`` in the project's folder. ``--traces`` and ``--samples`` choose the size;
the recordings are written once into ``--folder`` and read from there. Wall time and the process's own
processor time are printed side by side: on a busy machine only the second says what the program needs.
"""

from __future__ import annotations

import argparse
import compileall
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np

from sample_traces.sample_paths import sample_paths

ROOT = Path(__file__).resolve().parents[2]
JOINT = """[joints."plain"]
target_torque_nm = 60.0
torque_limits_nm = [50.0, 70.0]
angle_limits_deg = [20.0, 140.0]
thread = "M10"
property_class = "10.9"
friction = [0.10, 0.16]
"""
_SIZE_PX = (1280, 800)
_LOOKED_EVERY_MS = 5
#: Wall-clock moment at which the process was asked for, in seconds since the epoch.
_ASKED = "TAUTOGRAPH_ASKED_AT"


def write_recordings(folder: Path, n_traces: int, n_samples: int) -> Path:
    """Write the recordings and their joints file, once; gives the folder."""
    place = folder / f"{n_traces}x{n_samples}"
    if (place / "joints.toml").is_file():
        return place
    from analysis.reading import write_parquet
    from analysis.traces import TraceSet
    from analysis.traces.trace_set import attribute_table
    from tests.speed.drawing import make_shift

    place.mkdir(parents=True, exist_ok=True)
    plain = make_shift(n_traces, n_samples)
    rng = np.random.default_rng(4)
    attributes = {
        "trace_id": list(plain.trace_ids),
        "joint": ["plain"] * n_traces,
        "spindle": [f"S{k}" for k in rng.integers(1, 9, n_traces)],
        "lot": [f"L{k}" for k in rng.integers(1, 30, n_traces)],
    }
    traces = TraceSet(
        angle_deg=plain.angle_deg,
        torque_nm=plain.torque_nm,
        offsets=plain.offsets,
        attributes=attribute_table(attributes),
    )
    write_parquet(traces, place / "shift.parquet")
    (place / "joints.toml").write_text(JOINT, encoding="utf-8")
    return place


class Clock:
    """Seconds since the process was asked for, and processor seconds of all its threads."""

    def __init__(self) -> None:
        self.asked_at = float(os.environ[_ASKED])

    def say(self, words: str, bar: str = "") -> None:
        """Print both."""
        wall, own, system = time.time() - self.asked_at, time.process_time(), os.times().system
        spent = f"{own * 1e3:>8.0f} ms own ({system * 1e3:.0f} in the system)"
        print(f"{words:<52}{wall * 1e3:>8.0f} ms wall{spent}   {bar}", flush=True)


def opened(paths: list[str], *, sample: bool, drive: bool) -> None:
    """The part that runs in a process of its own, as the command does it."""
    clock = Clock()
    from app.commands.window import begin_to_read
    from app.session.importing import imports_in_one_go, no_search_for_garbage

    sample_shift = sample_paths()
    early = begin_to_read(
        [str(sample_shift.traces)] if sample else paths, str(sample_shift.joints) if sample else ""
    )
    with imports_in_one_go():
        from app.commands.event_loop import open_window
        from app.display.preferences import Preferences
        from app.session.garbage import GarbageSearch
    kept = Path(tempfile.mkdtemp()) / "window.ini"
    with no_search_for_garbage():
        app, window = open_window(lambda: Preferences(kept), paths, sample=sample, early=early)
    GarbageSearch(window)
    window.resize(*_SIZE_PX)
    app.processEvents()
    clock.say("process start to usable first screen", "bar 1000")
    if not paths and not sample:
        return
    session = window.session
    drawn: list[float] = []
    session.traces_changed.connect(lambda: drawn or clock.say("rows are there"))
    session.results_changed.connect(lambda: drawn or clock.say("verdicts are there", "bar 1600"))
    wait_for(lambda: session.analysis is not None and not session.jobs.running)
    clock.say(f"{len(session.traces)} traces judged, table and texts shown", "bar 1600")
    from tests.speed.drawing import line, peak_memory_mib

    wait_for(lambda: not shows_picture(window) or window.curves.plot.crowd.is_exact)
    clock.say("and their curves drawn", "bar 2200")
    drawn.append(0.0)
    if drive:
        drive_window(app, window)
    line("memory: peak of the whole program", peak_memory_mib(), "MiB", "bar 572 (600 MB)")
    window.close()


def shows_picture(window: Any) -> bool:
    """Whether so many curves are open that they are drawn as a picture, away from the window's thread."""
    return not window.curves.plot.crowd.draws_vectors


def wait_for(condition: Callable[[], bool]) -> None:
    """Let the window work until it is so; looked at seldom, as nothing does in the window itself."""
    from PySide6.QtCore import QEventLoop, QTimer

    loop, timer = QEventLoop(), QTimer()
    timer.timeout.connect(lambda: loop.quit() if condition() else None)
    timer.start(_LOOKED_EVERY_MS)
    loop.exec()


def drive_window(app: object, window: object) -> None:
    """Pan, zoom, select, sort, filter."""
    from tests.speed.drawing import PaintCounter, pan, zoom

    view, session = window.curves, window.session
    counter = PaintCounter()
    view.plot.viewport().installEventFilter(counter)
    pan(app, view, counter)
    zoom(app, view)
    n = len(session.traces)
    rows = np.random.default_rng(2).integers(0, n, 40)
    timed(
        app,
        "select another trace, the whole window follows",
        [lambda r=r: session.select([r]) for r in rows],
        16,
    )
    table = window.table
    columns = [k for k in range(table.table.columnCount()) for _ in range(3)]
    timed(app, "sort the table", [lambda k=k: table.sortByColumn(k, next_order()) for k in columns], 20)
    filters = ["spindle = S3", "lot = L7", "final_torque > 60", "verdict = ok"] * 3

    def filtered(text: str) -> None:
        session.set_conditions([])
        session.add_condition(text)

    timed(app, "filter, the whole window follows", [lambda t=t: filtered(t) for t in filters], None)
    session.set_conditions([])
    app.processEvents()
    model = table.table
    masks = [np.random.default_rng(k).random(n) < 0.3 for k in range(12)]
    timed(
        app,
        "filter, the table alone",
        [lambda m=m: model.set_content(session.columns, session.margins, session.verdicts, m) for m in masks],
        20,
    )


_order = [0]


def next_order() -> object:
    """Up and down in turn."""
    from PySide6.QtCore import Qt

    _order[0] += 1
    return Qt.SortOrder.AscendingOrder if _order[0] % 2 else Qt.SortOrder.DescendingOrder


def timed(app: object, words: str, steps: list[object], bar_ms: float | None) -> None:
    """Median and largest time of steps, painting included."""
    from tests.speed.drawing import line

    walls, own = [], []
    for step in steps:
        start, own_start = time.perf_counter(), time.thread_time()
        step()
        app.processEvents()
        walls.append((time.perf_counter() - start) * 1e3)
        own.append((time.thread_time() - own_start) * 1e3)
        wait_until = time.perf_counter() + 0.15
        while time.perf_counter() < wait_until:
            app.processEvents()
            time.sleep(0.002)
    bar = "" if bar_ms is None else f"bar {bar_ms:.0f}"
    line(f"{words}, median", float(np.median(walls)), "ms", bar)
    line(f"{words}, own time, median", float(np.median(own)), "ms")
    line(f"{words}, largest of {len(steps)}", max(walls), "ms")


def in_own_process(*arguments: str) -> None:
    """Run a part in a process of its own, so that its start counts."""
    environment = {
        **os.environ,
        _ASKED: repr(time.time()),
        "PYTHONPATH": str(ROOT),
        "OPENBLAS_NUM_THREADS": "1",  # as the command sets it
    }
    subprocess.run(
        [sys.executable, "-m", "tests.speed.window", *arguments], cwd=ROOT, env=environment, check=True
    )


def main() -> None:
    """Run all and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--traces", type=int, default=10_000)
    parser.add_argument("--samples", type=int, default=1_500)
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "tautograph-speed")
    parser.add_argument("--part", choices=("start", "sample", "shift", "drive"))
    chosen = parser.parse_args()
    place = write_recordings(chosen.folder, chosen.traces, chosen.samples)
    if chosen.part:
        paths = [] if chosen.part in ("start", "sample") else [str(place)]
        opened(paths, sample=chosen.part == "sample", drive=chosen.part == "drive")
        return
    print(f"{chosen.traces} traces x {chosen.samples} samples, {_SIZE_PX[0]} x {_SIZE_PX[1]}")
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}")
    for package in ("analysis", "app", "tests"):  # as an installation does
        compileall.compile_dir(ROOT / package, quiet=1)
    for part in ("start", "start", "sample", "sample", "shift", "drive"):
        print(f"-- {part}")
        in_own_process(
            "--part",
            part,
            "--traces",
            str(chosen.traces),
            "--samples",
            str(chosen.samples),
            "--folder",
            str(chosen.folder),
        )


if __name__ == "__main__":
    main()
