"""Prints how near the found points come to the truth, by case, beside general change-point libraries.

Run from the project's folder: ``python -m tests.speed.accuracy`` (``--help`` lists the choices).
Errors of angles are shares of the true joint rate, those of prevailing torque shares of the target.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import astuple, dataclass
from functools import partial
from itertools import pairwise
from typing import Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.curve import CurveTable, find_points
from analysis.settings import CurveSettings
from analysis.traces import Trace, TraceSet
from tests.world import CASES, make_cases
from tests.world.bare import BARE_SHAPES, make_bare
from tests.world.model import DRAWDOWN_SHAPES

FloatArray = NDArray[np.float64]

#: What an estimate must reach, for the last line of the table.
BARS = (
    "bars: snug 2 / 7 (noisy 12) | slope 1.5 / 6 | prevailing 1 | told wrongly 0.3 | onset 5 | "
    "within 2 u: 90-99.7 over all, no case below 80"
)
#: Cells over the part of the curve that the libraries are given.
_CELLS = 300


@dataclass(frozen=True)
class Figures:
    """Figures of one group of traces, in per cent; NaN where a group has no such truth."""

    n: int
    snug_missed: float
    snug_made_up: float
    snug_median: float
    snug_p95: float
    slope_median: float
    slope_p95: float
    prevailing_p95: float
    prevailing_missed: float
    yield_wrong: float
    onset_p95: float
    start_median: float
    start_p95: float
    within_two: float
    within_two_slope: float
    within_two_prevailing: float
    within_two_start: float
    within_two_onset: float


#: Title, width, decimals of each column, in the order of `Figures`.
COLUMNS = (
    ("n", 6, 0),
    ("missed", 8, 1),
    ("made up", 8, 1),
    ("snug med", 10, 2),
    ("p95", 7, 2),
    ("slope med", 11, 2),
    ("p95", 7, 2),
    ("prev p95", 10, 2),
    ("missed", 8, 1),
    ("yield wrong", 13, 2),
    ("onset p95", 11, 2),
    ("start med", 11, 2),
    ("p95", 7, 2),
    ("in 2 u: snug", 14, 1),
    ("slope", 7, 1),
    ("prev", 7, 1),
    ("start", 7, 1),
    ("onset", 7, 1),
)
HEADER = f"{'case':<23}" + "".join(f"{title:>{width}}" for title, width, _ in COLUMNS)


def line(name: str, f: Figures) -> str:
    """One row of the printed table."""
    cells = (
        f"{value:>{width}.{decimals}f}"
        for value, (_, width, decimals) in zip(astuple(f), COLUMNS, strict=True)
    )
    return f"{name:<23}" + "".join(cells)


def figures(curves: CurveTable, truth: pa.Table, rows: NDArray[np.bool_]) -> Figures:
    """Figures of the traces of a mask; a point that is missed counts as missed, not as an error."""
    true = {
        name: column.to_numpy(zero_copy_only=False)
        for name, column in zip(truth.column_names, truth.columns, strict=True)
    }
    rate = true["joint_rate_deg"]
    has_snug, found_snug = np.isfinite(true["snug_angle_deg"]), np.isfinite(curves.snug_angle_deg)
    both = rows & has_snug & found_snug
    snug = curves.snug_angle_deg - true["snug_angle_deg"]
    slope = curves.elastic_slope_nm_per_deg / true["elastic_slope_nm_per_deg"] - 1.0
    prevailing = (curves.prevailing_torque_nm - true["prevailing_torque_nm"]) / true["target_torque_nm"]
    has_level = rows & np.isfinite(true["prevailing_torque_nm"])
    onset = (curves.yield_angle_deg - true["yield_angle_deg"]) / rate
    start = curves.drawdown_angle_deg - true["drawdown_angle_deg"]
    said = curves.yielded == 1
    missed = {
        "slope": (
            curves.elastic_slope_nm_per_deg - true["elastic_slope_nm_per_deg"],
            curves.elastic_slope_uncertainty_nm_per_deg,
        ),
        "prevailing": (
            curves.prevailing_torque_nm - true["prevailing_torque_nm"],
            curves.prevailing_uncertainty_nm,
        ),
        "start": (start, curves.drawdown_angle_uncertainty_deg),
        "onset": (
            curves.yield_angle_deg - true["yield_angle_deg"],
            curves.yield_angle_uncertainty_deg,
        ),
    }
    within = {
        f"within_two_{name}": _share(
            np.abs(miss) <= 2.0 * spread, rows & np.isfinite(miss) & np.isfinite(spread)
        )
        for name, (miss, spread) in missed.items()
    }
    return Figures(
        n=int(rows.sum()),
        snug_missed=_share(~found_snug, rows & has_snug),
        snug_made_up=_share(found_snug, rows & ~has_snug),
        snug_median=_quantile(np.abs(snug / rate)[both], 0.5),
        snug_p95=_quantile(np.abs(snug / rate)[both], 0.95),
        slope_median=_quantile(np.abs(slope)[rows], 0.5),
        slope_p95=_quantile(np.abs(slope)[rows], 0.95),
        prevailing_p95=_quantile(np.abs(prevailing)[has_level], 0.95),
        prevailing_missed=_share(~np.isfinite(curves.prevailing_torque_nm), has_level),
        yield_wrong=_share(said != true["yielded"].astype(bool), rows),
        onset_p95=_quantile(np.abs(onset)[rows], 0.95),
        start_median=_quantile(np.abs(start / rate)[rows], 0.5),
        start_p95=_quantile(np.abs(start / rate)[rows], 0.95),
        within_two=_share(np.abs(snug) <= 2.0 * curves.snug_angle_uncertainty_deg, both),
        **within,
    )


def _share(what: NDArray[np.bool_], among: NDArray[np.bool_]) -> float:
    return 100.0 * float(what[among].mean()) if among.any() else float("nan")


def _quantile(values: FloatArray, q: float) -> float:
    finite = values[np.isfinite(values)]
    return 100.0 * float(np.quantile(finite, q)) if len(finite) else float("nan")


def groups(truth: pa.Table) -> dict[str, NDArray[np.bool_]]:
    """Masks by case, then all, then by sampling, shape and joint rate, without the noisy case."""
    case = np.array(truth["case"].to_pylist())
    sampling = np.array(truth["sampling"].to_pylist())
    rate = truth["joint_rate_deg"].to_numpy()
    calm = case != "noisy"
    masks = {name: case == name for name in CASES}
    masks |= {"all": np.ones(len(case), bool), "all but noisy": calm}
    masks |= {f"in {kind}": calm & (sampling == kind) for kind in ("time", "angle")}
    shape = np.array(truth["shape"].to_pylist())
    masks |= {kind: calm & (shape == kind) for kind in DRAWDOWN_SHAPES}
    for low, high in ((0, 40), (40, 120), (120, 5000)):
        masks[f"{low}-{high} deg"] = calm & (rate >= low) & (rate < high)
    return masks


def bare_groups(truth: pa.Table) -> dict[str, NDArray[np.bool_]]:
    """Masks of the bare curves by shape, noise, step, ripple and yielding, then all."""
    column = {name: truth[name].to_numpy(zero_copy_only=False) for name in truth.column_names}
    masks = {shape: column["shape"] == shape for shape in BARE_SHAPES}
    bands = {"noise_percent": (0.1, 0.3, 0.8, 2.0), "step_deg": (0.0, 0.5, 1.2, 2.5, 5.0)}
    for name, edges in bands.items():
        for low, high in pairwise(edges):
            title = f"{name.split('_')[0]} {low}-{high}"
            masks[title] = (column[name] >= low) & (column[name] < high)
    ripple = column["ripple_percent"]
    masks["power, noise < 0.5"] = masks["power 1.3-3.5"] & (column["noise_percent"] < 0.5)
    masks |= {"no ripple": ripple == 0.0, "ripple > 2 %": ripple > 2.0}
    masks["ripple ends"] = (ripple > 0.0) & ~column["ripple_goes_on"].astype(bool)
    masks["ripple goes on"] = (ripple > 0.0) & column["ripple_goes_on"].astype(bool)
    return masks | {"yielded": column["yielded"].astype(bool), "all": np.ones(len(ripple), bool)}


def rise_cells(trace: Trace) -> tuple[FloatArray, FloatArray]:
    """What the libraries are given: mean torque on even cells, forward rotation only, around the rise."""
    final = int(len(trace) - 1 - np.argmax(trace.torque_nm[::-1]))
    angle = np.maximum.accumulate(trace.angle_deg[: final + 1])
    torque = trace.torque_nm[: final + 1]
    low = (
        angle[np.flatnonzero(torque < torque[-1] * 0.3)[-1]]
        if np.any(torque < torque[-1] * 0.3)
        else angle[0]
    )
    start = max(angle[0], angle[-1] - 2.5 * (angle[-1] - low) - 5.0)
    edges = np.linspace(start, angle[-1] + 1e-9, _CELLS + 1)
    count = np.histogram(angle, edges)[0]
    total = np.histogram(angle, edges, weights=torque)[0]
    filled = count > 0
    centre = 0.5 * (edges[1:] + edges[:-1])
    return centre, np.interp(centre, centre[filled], total[filled] / count[filled])


def steepest(angle: FloatArray, torque: FloatArray, breaks: Sequence[float]) -> tuple[float, float]:
    """Begin and end of the steepest of the pieces between breaks."""
    edges = [angle[0] - 1.0, *sorted(breaks), angle[-1] + 1.0]
    best = (-np.inf, float("nan"), float("nan"))
    for begin, end in pairwise(edges):
        inside = (angle >= begin) & (angle <= end)
        if inside.sum() >= 4:
            best = max(best, (float(np.polyfit(angle[inside], torque[inside], 1)[0]), begin, end))
    return best[1], best[2]


def breaks_by_kernel(angle: FloatArray, torque: FloatArray, n: int) -> list[float]:
    """ruptures: the compiled kernel search on the slope from cell to cell."""
    import ruptures  # type: ignore[import-untyped]

    slope = np.gradient(torque, angle)[:, None]
    stops = ruptures.KernelCPD(kernel="linear", min_size=6).fit(slope).predict(n_bkps=n)
    return [float(angle[stop]) for stop in stops[:-1]]


def breaks_by_lines(angle: FloatArray, torque: FloatArray, n: int) -> list[float]:
    """ruptures: exact search for the best continuous piecewise line."""
    import ruptures

    stops = ruptures.Dynp(model="clinear", min_size=6, jump=6).fit(torque[:, None]).predict(n_bkps=n)
    return [float(angle[stop]) for stop in stops[:-1]]


def breaks_by_pwlf(angle: FloatArray, torque: FloatArray, n: int) -> list[float]:
    """pwlf: least squares over free break points."""
    import pwlf  # type: ignore[import-untyped]

    return [float(b) for b in pwlf.PiecewiseLinFit(angle, torque).fitfast(n + 1, pop=3)[1:-1]]


LIBRARIES: dict[str, Callable[[FloatArray, FloatArray, int], list[float]]] = {
    "ruptures, kernel": breaks_by_kernel,
    "ruptures, lines": breaks_by_lines,
    "pwlf": breaks_by_pwlf,
}


def compare(traces: TraceSet, truth: pa.Table, rows: Sequence[int], curves: CurveTable) -> list[str]:
    """Lines for the libraries on some traces; they are told whether the trace yielded, we are not."""
    true: list[dict[str, Any]] = [truth.slice(row, 1).to_pylist()[0] for row in rows]
    ours_snug = [float(curves.snug_angle_deg[row]) for row in rows]
    ours_onset = [float(curves.yield_angle_deg[row]) for row in rows]
    chosen = traces.take(list(rows))
    begun = time.perf_counter()
    find_points(chosen, CurveSettings())
    lines = [_library_line("this program", ours_snug, ours_onset, true, time.perf_counter() - begun)]
    for name, search in LIBRARIES.items():
        snug, onset = [], []
        begun = time.perf_counter()
        for row, facts in zip(rows, true, strict=True):
            angle, torque = rise_cells(traces[row])
            begin, end = steepest(angle, torque, search(angle, torque, 3 if facts["yielded"] else 2))
            snug.append(begin)
            onset.append(end if facts["yielded"] else float("nan"))
        lines.append(_library_line(name, snug, onset, true, time.perf_counter() - begun))
    return lines


def _library_line(
    name: str, snug: Sequence[float], onset: Sequence[float], true: Sequence[dict[str, Any]], seconds: float
) -> str:
    rate = np.array([facts["joint_rate_deg"] for facts in true])
    miss = np.abs(np.array(snug) - [facts["snug_angle_deg"] for facts in true])
    late = np.abs(np.array(onset) - [facts["yield_angle_deg"] for facts in true]) / rate
    q = partial(_quantile, q=0.95)
    return (
        f"{name:<18}{_quantile(miss / rate, 0.5):>9.1f}{q(miss / rate):>7.1f}{np.nanmedian(miss):>10.1f}"
        f"{q(late):>11.1f}{len(true) / seconds:>12.0f}"
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--traces", type=int, default=300, help="traces of each case (300)")
    parser.add_argument("--seed", type=int, default=20260, help="seed of the world")
    parser.add_argument(
        "--libraries", type=int, default=6, help="traces of each case for the libraries; 0: none"
    )
    chosen = parser.parse_args(arguments)
    traces, truth = make_cases(chosen.seed, chosen.traces)
    find_points(traces.take([0]), CurveSettings())
    begun = time.perf_counter()
    curves = find_points(traces, CurveSettings())
    seconds = time.perf_counter() - begun
    pace = len(traces) / seconds
    print(f"{len(traces)} traces, {len(traces.angle_deg)} samples, {pace:.0f} traces/s; errors in %")
    print(HEADER)
    for name, rows in groups(truth).items():
        print(line(name, figures(curves, truth, rows)))
    bare, bare_truth = make_bare(chosen.seed, chosen.traces)
    found = find_points(bare, CurveSettings())
    print(f"\nBare curves: {len(bare)}")
    for name, rows in bare_groups(bare_truth).items():
        print(line(name, figures(found, bare_truth, rows)))
    print(BARS)
    if chosen.libraries:
        has_snug = np.isfinite(truth["snug_angle_deg"].to_numpy())
        case = np.array(truth["case"].to_pylist())
        some = [np.flatnonzero((case == name) & has_snug)[: chosen.libraries] for name in CASES]
        few = [int(row) for row in np.concatenate(some)]
        print(f"\nOn {len(few)} of these traces; the libraries are told how many pieces there are.")
        print(f"{'':<18}{'snug med':>9}{'p95 %':>7}{'med deg':>10}{'onset p95':>11}{'traces/s':>12}")
        print("\n".join(compare(traces, truth, few, curves)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
