"""How fast the curve view draws ten thousand traces; drives the real widget without a display and prints.

Run ``python -m tests.speed.drawing`` in the project's folder; ``--traces`` and ``--samples`` choose the size.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import time

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
from PySide6.QtCore import QEvent, QObject
from PySide6.QtWidgets import QApplication

from analysis.traces import TraceSet
from analysis.traces.trace_set import attribute_table
from app.views.curves.view import CurveView

_FRAME_S = 1.0 / 60.0
_PAN_S = 5.0
_MIB = 1024.0**2


class PaintCounter(QObject):
    """Counts paint events, so that no frame is reported that was not painted, or painted twice."""

    def __init__(self) -> None:
        super().__init__()
        self.paints = 0

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        self.paints += event.type() == QEvent.Type.Paint
        return False


def make_shift(n_traces: int, n_samples: int) -> TraceSet:
    """Plain curves: rundown with noise (0.4 %), a bend, a straight rise, a release; 2 % stray."""
    rng = np.random.default_rng(1)
    angle = np.empty((n_traces, n_samples))
    torque = np.empty_like(angle)
    for row in range(n_traces):
        rate = rng.normal(45.0, 3.0) * (1.6 if rng.random() < 0.02 else 1.0)
        run = rng.normal(400.0, 15.0)
        values = np.linspace(0.0, run + 1.3 * rate + 20.0, n_samples)
        rise = 1.5 + 10.0 * np.logaddexp(0.0, (values - run) / 10.0) * 45.0 / rate
        rise = np.minimum(rise, 60.0 * (1.0 + 0.01 * rng.normal()))
        peak = int(np.argmax(rise))
        after = np.arange(n_samples - peak)
        values[peak:] = values[peak] - 3.0 * (1.0 - np.exp(-after / 8.0))
        rise[peak:] *= np.exp(-after / 6.0)
        angle[row] = values
        torque[row] = rise + rng.normal(0.0, 0.25, n_samples)
    return TraceSet(
        angle_deg=angle.reshape(-1),
        torque_nm=torque.reshape(-1),
        offsets=np.arange(n_traces + 1) * n_samples,
        attributes=attribute_table({"trace_id": [f"t{k:05d}" for k in range(n_traces)]}),
    )


def peak_memory_mib() -> float:
    """Largest resident size so far."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss  # bytes on macOS, kibibytes elsewhere
    return peak / (_MIB if sys.platform == "darwin" else 1024.0)


def wait_for_picture(app: QApplication, view: CurveView) -> float:
    """Seconds until the exact picture of the present view is shown."""
    start = time.perf_counter()
    wanted = view.plot.box.viewRect()
    while True:
        app.processEvents()
        shown = view.plot.crowd.picture.picture
        if shown is not None and shown.request.view == wanted and view.plot.crowd.is_exact:
            return time.perf_counter() - start
        time.sleep(0.001)


def line(label: str, value: float, unit: str, bar: str = "") -> None:
    print(f"{label:<52}{value:>10.1f} {unit:<9}{bar}")


def pan(app: QApplication, view: CurveView, counter: PaintCounter) -> None:
    """Pan to and fro at 60 steps a second; a frame is the step and the painting that follows."""
    frames, own, lags = [], [], []
    counter.paints = 0
    begin = time.perf_counter()
    due = begin
    previous = None
    width = view.plot.box.viewRect().width()
    k = 0
    while time.perf_counter() - begin < _PAN_S:
        start, own_start = time.perf_counter(), time.thread_time()
        view.plot.box.translateBy(x=width * 0.01 * (1 if k % 120 < 60 else -1))
        app.processEvents()
        frames.append(time.perf_counter() - start)
        own.append(time.thread_time() - own_start)
        shown = view.plot.crowd.picture.picture
        if shown is not previous:
            previous = shown
            lags.append(time.perf_counter())
        k += 1
        due += _FRAME_S
        if time.perf_counter() > due:
            due = time.perf_counter()
        while (rest := due - time.perf_counter()) > 0:
            time.sleep(min(rest, 0.002))
            app.processEvents()
    seconds = time.perf_counter() - begin
    milliseconds = np.array(frames) * 1e3
    line("pan: frames painted a second", counter.paints / seconds, "1/s", "bar 50")
    line("pan: GUI frame, median", float(np.median(milliseconds)), "ms")
    line("pan: GUI frame, 95th percentile", float(np.percentile(milliseconds, 95)), "ms", "bar 16")
    line("pan: GUI thread's own time, 95th percentile", float(np.percentile(own, 95)) * 1e3, "ms")
    line("pan: between exact pictures, median", float(np.median(np.diff(lags))) * 1e3, "ms")
    line("pan: exact picture after the last step", wait_for_picture(app, view) * 1e3, "ms", "bar 200")


def zoom(app: QApplication, view: CurveView) -> None:
    """Zoom in and out by the keys' factor."""
    frames, pictures = [], []
    for steps in (1, 1, 1, 1, 1, -1, -1, -1, -1, -1):
        start = time.perf_counter()
        view.plot.box.zoom_by_key(steps)
        app.processEvents()
        frames.append(time.perf_counter() - start)
        pictures.append(frames[-1] + wait_for_picture(app, view))
    line("zoom: GUI frame, largest of 10", max(frames) * 1e3, "ms", "bar 16")
    line("zoom: exact picture, largest of 10", max(pictures) * 1e3, "ms", "bar 200")


def select(app: QApplication, view: CurveView, n_traces: int) -> None:
    """Select one trace after another."""
    frames = []
    for row in np.random.default_rng(2).integers(0, n_traces, 40):
        start = time.perf_counter()
        view.set_selected([row])
        app.processEvents()
        frames.append(time.perf_counter() - start)
    line("select another trace, median", float(np.median(frames)) * 1e3, "ms", "bar 16")
    line("select another trace, largest of 40", max(frames) * 1e3, "ms")


def pick(view: CurveView) -> None:
    """Crossing line, box and click."""
    taken: list[object] = []
    view.rows_picked.connect(lambda rows, mode: taken.append(len(rows)))
    stroke = np.array([[395.0, 20.0], [430.0, 20.0]])
    for name, call in (
        ("crossing line", lambda: view._pick_crossing(stroke, "line", "replace")),
        ("click on a curve", lambda: view._pick_nearest((415.0, 20.0), "replace")),
    ):
        call()
        start = time.perf_counter()
        call()
        line(f"pick by {name} ({taken[-1]} rows)", (time.perf_counter() - start) * 1e3, "ms")


def main() -> None:
    """Run all and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--traces", type=int, default=10_000)
    parser.add_argument("--samples", type=int, default=1_500)
    chosen = parser.parse_args()
    app = QApplication.instance() or QApplication([])
    assert isinstance(app, QApplication)
    traces = make_shift(chosen.traces, chosen.samples)
    view = CurveView()
    view.resize(1280, 800)
    counter = PaintCounter()
    view.plot.viewport().installEventFilter(counter)
    view.show()
    app.processEvents()
    print(f"{chosen.traces} traces x {chosen.samples} samples, 1280 x 800, {os.cpu_count()} cores")
    verdicts = np.zeros(chosen.traces, np.int8)
    verdicts[np.random.default_rng(3).integers(0, chosen.traces, chosen.traces // 50)] = 2
    before = peak_memory_mib()
    start = time.perf_counter()
    view.warm_up()
    while view.plot.crowd.worker.busy:
        app.processEvents()
        time.sleep(0.001)
    line("loading the routines, done while files are read", (time.perf_counter() - start) * 1e3, "ms")
    for attempt in ("first", "again"):
        view.set_data(TraceSet.empty(), None)
        app.processEvents()
        start = time.perf_counter()
        view.set_data(traces, None)
        view.set_verdicts(verdicts)
        view.set_selected([7])
        app.processEvents()
        wait_for_picture(app, view)
        line(f"picture of all, {attempt}"[:52], (time.perf_counter() - start) * 1e3, "ms", "bar 500")
    pan(app, view, counter)
    zoom(app, view)
    select(app, view, chosen.traces)
    pick(view)
    line("memory: growth of the peak by drawing", peak_memory_mib() - before, "MiB")
    view.close()


if __name__ == "__main__":
    main()
