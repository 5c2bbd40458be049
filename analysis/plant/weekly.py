"""Weekly robust means of one quantity for each joint and spindle, with their standard errors."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.arrays import FloatArray, IntArray
from analysis.plant.followed import FOLLOWED, Followed
from analysis.plant.rounding import error_with_rounding, steps_of
from analysis.plant.year_traces import MONDAY, Traces, coded, near_the_middle
from analysis.spread import MAD_TO_SIGMA, MEDIAN_EFFICIENCY, median_along

#: Share of the values of a week that is left out at either end, and the variance of the rest's mean over that
#: of all for normal values (trimmed mean; 1.06 derived from the trimmed normal density).
TRIMMED, TRIMMED_VARIANCE = 0.1, 1.06
#: Usual standard deviations of a stream from the middle of a week, beyond which a value is no scatter
#: (own choice: of normal values one in two million). Several rejects in one week would outlast the trimming.
FAR_OUT = 5.0
#: Variance for values on two or three steps, of which none lies far out: what is kept counts by so much more
#: (derived: 1 / (1 - 2 x 0.1)², the slope of the trimmed mean where it is not flat).
OF_FEW_STEPS = (1.0 - 2.0 * TRIMMED) ** -2
#: Distance of these percentiles of normal values in standard deviations.
_P5_TO_P95 = 3.29
#: Fewest values of a week that have a mean (own choice).
FEWEST = 5


@dataclass(frozen=True, eq=False)
class Weekly:
    """Weekly means of one quantity; matrices (streams, weeks), NaN where a week has too few values."""

    followed: Followed
    #: Shape (streams,). A stream is what one spindle did on one joint.
    joint: IntArray
    spindle: IntArray
    #: Trimmed mean (of logarithms for ratios), its standard error.
    mean: FloatArray
    error: FloatArray
    deviation: FloatArray  #: Robust standard deviation within the week.
    count: IntArray


@dataclass(frozen=True, eq=False)
class Weeks:
    """Weekly means of all that is followed."""

    #: Names by code.
    joints: tuple[str, ...]
    spindles: tuple[str, ...]
    first: date  #: Monday (UTC) of week 0.
    of: tuple[Weekly, ...]  #: One for each of `FOLLOWED`.
    far: int = 0  #: Traces that are left out: their clock tells a time far from that of the others.

    def monday(self, week: int) -> date:
        """First day of a week."""
        return self.first + timedelta(weeks=week)

    @property
    def end(self) -> date:
        """The day after the last week."""
        return self.monday(self.of[0].mean.shape[1])


def weeks_of(traces: Traces) -> Weeks:
    """Weekly means of all that is followed."""
    of = tuple(weekly_means(traces, one) for one in FOLLOWED)
    return Weeks(traces.joints, traces.spindles, traces.first, of, traces.far)


def weeks_of_days(days: pa.Table) -> Weeks:
    """The same from day rows, at once whatever the number of traces: by the middle of each day's values.

    The standard deviation within a day is taken from its 5th and 95th percentile; a day counts by its traces.
    """
    import pyarrow.compute as pc

    spindle = pc.coalesce(days.column("spindle"), days.column("tool"))
    mask: Any = pc.is_valid(spindle)
    for name in ("joint", "date"):
        mask = pc.and_(mask, pc.is_valid(days.column(name)))
    days, spindle = days.filter(mask), spindle.filter(mask)
    week = (_numbers(days.column("date").cast(pa.int32())) - (MONDAY - date(1970, 1, 1)).days) // 7
    n = np.clip(np.nan_to_num(_numbers(days.column("n"))), 0.0, None)
    near = near_the_middle(week, n)
    days, spindle, week = days.filter(pa.array(near)), spindle.filter(pa.array(near)), week[near]
    start = int(week.min()) if len(week) else 0
    joints, joint = coded(days.column("joint"))
    spindles, code = coded(spindle)
    grid = _grid_of(joint, code, len(spindles), (week - start).astype(np.int64))
    of = tuple(_weekly_of_days(days, one, grid) for one in FOLLOWED)
    return Weeks(joints, spindles, MONDAY + timedelta(weeks=start), of, int(n[~near].sum()))


@dataclass(frozen=True, eq=False)
class _Grid:
    """Streams by weeks, the codes of each stream, and the cell that each row falls into."""

    joint: IntArray
    spindle: IntArray
    shape: tuple[int, int]
    cell: IntArray


def _grid_of(joint: IntArray, spindle: IntArray, n_spindles: int, week: IntArray) -> _Grid:
    pairs, stream = np.unique(joint * max(n_spindles, 1) + spindle, return_inverse=True)
    shape = (len(pairs), int(week.max(initial=0)) + 1)
    return _Grid(*np.divmod(pairs, max(n_spindles, 1)), shape, stream * shape[1] + week)


def _weekly_of_days(days: pa.Table, followed: Followed, grid: _Grid) -> Weekly:
    n, low, middle, high = (
        _numbers(days.column(f"{followed.figure.name}_{part}")) for part in ("n", "p5", "p50", "p95")
    )
    if followed.scale == "ratio":
        low, middle, high = (np.log(np.where(one > 0, one, np.nan)) for one in (low, middle, high))
    deviation = (high - low) / _P5_TO_P95
    known = np.isfinite(middle) & np.isfinite(deviation) & (n > 0)
    shape, cell = grid.shape, grid.cell[known]

    def added(values: FloatArray) -> FloatArray:
        found = np.bincount(cell, (n * values)[known], shape[0] * shape[1])
        return np.asarray(found.reshape(shape))

    count = added(np.ones(len(n)))
    with np.errstate(divide="ignore", invalid="ignore"):
        mean, spread = added(middle) / count, added(deviation) / count
        error = (
            MEDIAN_EFFICIENCY
            / np.sqrt(count)
            * median_along(np.where(count >= FEWEST, spread, np.nan), 1)[:, None]
        )
        days_of = np.bincount(cell, minlength=shape[0] * shape[1]).reshape(shape)
        of_a_day = MEDIAN_EFFICIENCY * np.sqrt(days_of / count) * spread
    stream, middles = cell // shape[1], middle[known]
    order = np.lexsort((middles, stream))
    step = steps_of(middles[order], stream[order], stream[order], mean)[:, None]
    error = error_with_rounding(error, of_a_day, step, count)
    for one in (mean, error, spread):
        one[count < FEWEST] = np.nan
    return Weekly(followed, grid.joint, grid.spindle, mean, error, spread, count.astype(np.int64))


def _numbers(column: Any) -> FloatArray:
    return np.asarray(column.to_numpy(zero_copy_only=False), np.float64)


#: Columns of day rows that `weeks_of_days` takes.
OF_DAYS = (
    *("date", "joint", "tool", "spindle", "n"),
    *(f"{one.figure.name}_{part}" for one in FOLLOWED for part in ("n", "p5", "p50", "p95")),
)


def weekly_means(traces: Traces, followed: Followed) -> Weekly:
    """Weekly means of one quantity for each spindle on each joint."""
    values = traces.values.get(followed.figure.name, np.full(len(traces.joint), np.nan))
    if followed.scale == "ratio":
        values = np.log(np.where(values > 0, values, np.nan))
    grid = _grid_of(traces.joint, traces.spindle, len(traces.spindles), traces.week)
    shape, known = grid.shape, np.flatnonzero(np.isfinite(values))
    cell = grid.cell[known]
    order = np.lexsort((values[known], cell))
    level, cell = values[known][order], cell[order]
    count = np.bincount(cell, minlength=shape[0] * shape[1]).reshape(shape)
    away = np.abs(level - _medians(level, count.ravel())[cell])
    deviation = _deviations(away, cell, count.ravel()).reshape(shape)
    # A stream's scatter is steadier than that of one of its weeks.
    usual = median_along(deviation, 1)[:, None]
    reach = FAR_OUT * usual[cell // shape[1], 0]
    near = (away <= reach) | ~(reach > 0)
    mean = _trimmed_means(level[near], cell[near], shape)
    step = steps_of(level, cell // shape[1], cell, mean)[:, None]
    coarse = usual < step  # more than half of a week's values may be equal, whatever the others
    scatter = np.where(coarse, median_along(_standard_deviations(level, cell, shape), 1)[:, None], usual)
    with np.errstate(divide="ignore", invalid="ignore"):
        error = np.sqrt(np.where(coarse, OF_FEW_STEPS, TRIMMED_VARIANCE) / count) * scatter
    error = error_with_rounding(error, scatter, step, count)
    few = count < FEWEST
    for one in (mean, error, deviation):
        one[few] = np.nan
    return Weekly(followed, grid.joint, grid.spindle, mean, error, deviation, count)


def _trimmed_means(level: FloatArray, cell: IntArray, shape: tuple[int, int]) -> FloatArray:
    """Mean of each cell without the lowest and highest share; `level` rises within each cell."""
    count = np.bincount(cell, minlength=shape[0] * shape[1])
    starts = np.concatenate(([0], np.cumsum(count)[:-1]))
    rank = np.arange(len(level)) - starts[cell]
    cut = (TRIMMED * count).astype(np.int64)[cell]
    inner = (rank >= cut) & (rank < count[cell] - cut)
    sums = np.bincount(cell[inner], level[inner], len(count))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(sums / np.bincount(cell[inner], minlength=len(count))).reshape(shape)


def _medians(level: FloatArray, count: IntArray) -> FloatArray:
    """Median of each cell; `level` rises within each cell."""
    starts = np.concatenate(([0], np.cumsum(count)[:-1]))
    found = np.full(len(count), np.nan)
    filled = count > 0
    low, high = starts[filled] + (count[filled] - 1) // 2, starts[filled] + count[filled] // 2
    found[filled] = (level[low] + level[high]) / 2.0
    return found


def _deviations(away: FloatArray, cell: IntArray, count: IntArray) -> FloatArray:
    order = np.lexsort((away, cell))
    return MAD_TO_SIGMA * _medians(away[order], count)


def _standard_deviations(level: FloatArray, cell: IntArray, shape: tuple[int, int]) -> FloatArray:
    count = np.bincount(cell, minlength=shape[0] * shape[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        away = level - (np.bincount(cell, level, len(count)) / count)[cell]
        return np.sqrt(np.bincount(cell, away**2, len(count)) / np.maximum(count - 1, 0)).reshape(shape)
