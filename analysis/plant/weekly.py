"""Weekly robust means of one quantity for each joint and spindle, with their standard errors."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Literal

import numpy as np
import pyarrow as pa

from analysis.arrays import BoolArray, FloatArray, IntArray
from analysis.catalogue.figures import (
    CLAMP_FORCE,
    ELASTIC_SLOPE,
    FINAL_TORQUE,
    JOINT_RATE,
    PREVAILING_TORQUE,
    RUNDOWN,
    Figure,
)
from analysis.catalogue.units import DisplayUnits
from analysis.plant.names import LEVER
from analysis.plant.rounding import error_with_rounding, steps_of

#: Share of the values of a week that is left out at either end, and the variance of the rest's mean over that
#: of all for normal values (trimmed mean; 1.06 derived from the trimmed normal density).
TRIMMED, TRIMMED_VARIANCE = 0.1, 1.06
#: Standard deviation over median absolute deviation of normal values (NIST/SEMATECH e-Handbook, 1.3.5.17).
MAD_TO_SIGMA = 1.0 / 0.6745
#: Distance of these percentiles in standard deviations, and variance of a median over that of a mean,
#: both for normal values.
_P5_TO_P95, _MEDIAN_VARIANCE = 3.29, np.pi / 2.0
#: Fewest values of a week that have a mean (own choice).
FEWEST = 5
#: Weeks on either side of the middle trace that a year is looked at in (own choice: ten years).
_MOST_WEEKS = 520
_MONDAY = date(1970, 1, 5)
_DAY_US, _WEEK_US = 86_400_000_000, 604_800_000_000


@dataclass(frozen=True)
class Followed:
    """A quantity that is followed over the year, and whether it changes by a factor or by a difference.

    Steps and drifts are looked for in what is `watched`; of the others, which these bring about or which
    hang on a joint's definition, the course is shown.
    """

    figure: Figure
    scale: Literal["ratio", "difference"]
    watched: bool = True

    def words(self, change: float, units: DisplayUnits) -> str:
        """The size of a change for people, of a ratio in per cent."""
        if self.scale == "ratio":
            return f"{abs(100.0 * np.expm1(change)):.2g} %"
        unit = self.figure.unit
        return f"{abs(units.shown(change, unit)):.2g} {units.symbol(unit)}"


_LEVER = Figure(
    LEVER, "Torque per clamp force", "mm",
    "Elastic slope over the clamp force per degree: thread and friction in one length.",
)  # fmt: skip
#: In the order in which they are shown.
FOLLOWED = (
    Followed(FINAL_TORQUE, "ratio"),
    Followed(ELASTIC_SLOPE, "ratio"),
    Followed(JOINT_RATE, "ratio"),
    Followed(PREVAILING_TORQUE, "difference"),
    Followed(_LEVER, "ratio", watched=False),
    Followed(CLAMP_FORCE, "ratio", watched=False),
    Followed(RUNDOWN, "difference", watched=False),
)


@dataclass(frozen=True, eq=False)
class Traces:
    """What the year needs to know of n traces.

    Attributes
    ----------
    joints, spindles : tuple of str
        Names by code; a spindle's name holds its tool's where it has one.
    joint, spindle : ndarray of int64, shape (n,)
        Codes.
    week : ndarray of int64, shape (n,)
        Counts from `first`.
    first : date
        Monday (UTC) of week 0.
    values : dict of quantity to ndarray, shape (n,)
    far : int
        Further traces whose clock tells a time far from that of the others.
    """

    joints: tuple[str, ...]
    spindles: tuple[str, ...]
    joint: IntArray
    spindle: IntArray
    week: IntArray
    first: date
    values: dict[str, FloatArray]
    far: int = 0

    @property
    def weeks(self) -> int:
        """Number of weeks."""
        return int(self.week.max(initial=-1)) + 1

    def until(self, weeks: int) -> Traces:
        """The traces of the first weeks."""
        kept = self.week < weeks
        values = {name: one[kept] for name, one in self.values.items()}
        return Traces(
            self.joints,
            self.spindles,
            self.joint[kept],
            self.spindle[kept],
            self.week[kept],
            self.first,
            values,
            self.far,
        )


@dataclass(frozen=True, eq=False)
class Weekly:
    """Weekly means of one quantity; matrices of shape (streams, weeks), NaN where a week has too few values.

    Attributes
    ----------
    joint, spindle : ndarray of int64, shape (streams,)
        A stream is what one spindle did on one joint.
    mean, error : ndarray
        Trimmed mean (of logarithms for ratios), its standard error.
    deviation : ndarray
        Robust standard deviation within the week.
    count : ndarray of int64
    """

    followed: Followed
    joint: IntArray
    spindle: IntArray
    mean: FloatArray
    error: FloatArray
    deviation: FloatArray
    count: IntArray


@dataclass(frozen=True, eq=False)
class Weeks:
    """Weekly means of all that is followed.

    Attributes
    ----------
    joints, spindles : tuple of str
        Names by code.
    first : date
        Monday (UTC) of week 0.
    of : tuple of Weekly
        One for each of `FOLLOWED`.
    far : int
        Traces that are left out: their clock tells a time far from that of the others.
    """

    joints: tuple[str, ...]
    spindles: tuple[str, ...]
    first: date
    of: tuple[Weekly, ...]
    far: int = 0

    def monday(self, week: int) -> date:
        """First day of a week."""
        return self.first + timedelta(weeks=week)


#: Columns of an archive that `traces_of` takes.
NEEDED = ("joint", "tool", "spindle", "started_at", "operation", *(one.figure.name for one in FOLLOWED))


def traces_of(rows: pa.Table) -> Traces:
    """Rows of an archive, those with a joint, a spindle or tool, and a time; steady tightenings only."""
    import pyarrow.compute as pc

    spindle = pc.coalesce(rows.column("spindle"), rows.column("tool"))
    mask: Any = pc.is_in(rows.column("operation"), pa.array(["tightening"]))
    for column in (rows.column("started_at"), rows.column("joint"), spindle):
        mask = pc.and_(mask, pc.is_valid(column))
    kept, spindle = rows.filter(mask), spindle.filter(mask)
    micro = kept.column("started_at").cast(pa.timestamp("us")).cast(pa.int64()).to_numpy().astype(np.int64)
    week = (micro - (_MONDAY - date(1970, 1, 1)).days * _DAY_US) // _WEEK_US
    near = _near(week, np.ones(len(week)))
    kept, spindle, week = kept.filter(pa.array(near)), spindle.filter(pa.array(near)), week[near]
    start = int(week.min()) if len(week) else 0
    joints, joint = _codes(kept.column("joint"))
    spindles, codes = _codes(spindle)
    values = {
        one.figure.name: np.asarray(kept.column(one.figure.name).to_numpy(zero_copy_only=False), np.float64)
        for one in FOLLOWED
    }
    first, far = _MONDAY + timedelta(weeks=start), int((~near).sum())
    return Traces(joints, spindles, joint, codes, week - start, first, values, far)


def _near(week: IntArray | FloatArray, n: FloatArray) -> BoolArray:
    """What lies within `_MOST_WEEKS` of the middle trace: a clock that was not set would stretch the year.

    Parameters
    ----------
    week, n : ndarray, shape (rows,)
        Week and number of traces of each row.
    """
    order = np.argsort(week, kind="stable")
    counted = np.cumsum(n[order])
    if not len(week) or not counted[-1] > 0:
        return np.ones(len(week), bool)
    middle = week[order][np.searchsorted(counted, counted[-1] / 2.0)]
    return np.asarray(np.abs(week - middle) <= _MOST_WEEKS)


def _codes(column: Any) -> tuple[tuple[str, ...], IntArray]:
    encoded = column.combine_chunks().cast(pa.string()).dictionary_encode()
    if isinstance(encoded, pa.ChunkedArray):
        encoded = encoded.combine_chunks()
    names = encoded.dictionary.to_pylist()
    ranked = sorted(range(len(names)), key=lambda k: names[k])
    rank = np.empty(len(names), np.int64)
    rank[ranked] = np.arange(len(names))
    return tuple(names[k] for k in ranked), rank[encoded.indices.to_numpy().astype(np.int64)]


def weeks_of(traces: Traces) -> Weeks:
    """Weekly means of all that is followed."""
    of = tuple(weekly_means(traces, one) for one in FOLLOWED)
    return Weeks(traces.joints, traces.spindles, traces.first, of, traces.far)


def weeks_of_days(days: pa.Table) -> Weeks:
    """The same from day rows, at once whatever the number of traces: by the middle of each day's values.

    The standard deviation within a day is taken from its 5th and 95th percentile; a day counts by its
    traces.
    """
    import pyarrow.compute as pc

    spindle = pc.coalesce(days.column("spindle"), days.column("tool"))
    mask: Any = pc.is_valid(spindle)
    for name in ("joint", "date"):
        mask = pc.and_(mask, pc.is_valid(days.column(name)))
    days, spindle = days.filter(mask), spindle.filter(mask)
    week = (_numbers(days.column("date").cast(pa.int32())) - (_MONDAY - date(1970, 1, 1)).days) // 7
    n = np.clip(np.nan_to_num(_numbers(days.column("n"))), 0.0, None)
    near = _near(week, n)
    days, spindle, week = days.filter(pa.array(near)), spindle.filter(pa.array(near)), week[near]
    start = int(week.min()) if len(week) else 0
    joints, joint = _codes(days.column("joint"))
    spindles, code = _codes(spindle)
    grid = _grid_of(joint, code, len(spindles), (week - start).astype(np.int64))
    of = tuple(_weekly_of_days(days, one, grid) for one in FOLLOWED)
    return Weeks(joints, spindles, _MONDAY + timedelta(weeks=start), of, int(n[~near].sum()))


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
            np.sqrt(_MEDIAN_VARIANCE / count)
            * median_of(np.where(count >= FEWEST, spread, np.nan), 1)[:, None]
        )
        days_of = np.bincount(cell, minlength=shape[0] * shape[1]).reshape(shape)
        of_a_day = np.sqrt(_MEDIAN_VARIANCE * days_of / count) * spread
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
    mean = _trimmed_means(level, cell, count.ravel()).reshape(shape)
    deviation = _deviations(level, cell, count.ravel()).reshape(shape)
    # A stream's scatter is steadier than that of one of its weeks.
    usual = median_of(deviation, 1)[:, None]
    step = steps_of(level, cell // shape[1], cell, mean)[:, None]
    coarse = usual < step  # more than half of a week's values may be equal, whatever the others
    scatter = np.where(coarse, median_of(_standard_deviations(level, cell, shape), 1)[:, None], usual)
    with np.errstate(divide="ignore", invalid="ignore"):
        error = np.sqrt(TRIMMED_VARIANCE / count) * scatter
    error = error_with_rounding(error, scatter, step, count)
    few = count < FEWEST
    for one in (mean, error, deviation):
        one[few] = np.nan
    return Weekly(followed, grid.joint, grid.spindle, mean, error, deviation, count)


def _trimmed_means(level: FloatArray, cell: IntArray, count: IntArray) -> FloatArray:
    """Mean of each cell without the lowest and highest share; `level` rises within each cell."""
    starts = np.concatenate(([0], np.cumsum(count)[:-1]))
    rank = np.arange(len(level)) - starts[cell]
    cut = (TRIMMED * count).astype(np.int64)[cell]
    inner = (rank >= cut) & (rank < count[cell] - cut)
    sums = np.bincount(cell[inner], level[inner], len(count))
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(sums / np.bincount(cell[inner], minlength=len(count)))


def _medians(level: FloatArray, cell: IntArray, count: IntArray) -> FloatArray:
    """Median of each cell; `level` rises within each cell."""
    starts = np.concatenate(([0], np.cumsum(count)[:-1]))
    found = np.full(len(count), np.nan)
    filled = count > 0
    low, high = starts[filled] + (count[filled] - 1) // 2, starts[filled] + count[filled] // 2
    found[filled] = (level[low] + level[high]) / 2.0
    return found


def _deviations(level: FloatArray, cell: IntArray, count: IntArray) -> FloatArray:
    away = np.abs(level - _medians(level, cell, count)[cell])
    order = np.lexsort((away, cell))
    return MAD_TO_SIGMA * _medians(away[order], cell[order], count)


def _standard_deviations(level: FloatArray, cell: IntArray, shape: tuple[int, int]) -> FloatArray:
    count = np.bincount(cell, minlength=shape[0] * shape[1])
    with np.errstate(divide="ignore", invalid="ignore"):
        away = level - (np.bincount(cell, level, len(count)) / count)[cell]
        return np.sqrt(np.bincount(cell, away**2, len(count)) / np.maximum(count - 1, 0)).reshape(shape)


def monday_of(day: date) -> date:
    """The first day of its week."""
    return day - timedelta(days=day.weekday())


def median_of(values: FloatArray, axis: int) -> FloatArray:
    """Median along an axis of a matrix, NaN left out; NaN where there is nothing."""
    if 0 in values.shape:
        return np.full(values.shape[1 - axis], np.nan)
    ordered = np.sort(values, axis)  # NaN come last
    n = np.isfinite(values).sum(axis, keepdims=True)
    ends = [np.take_along_axis(ordered, np.maximum(at, 0), axis) for at in ((n - 1) // 2, n // 2 - (n == 0))]
    return np.asarray(np.where(n > 0, (ends[0] + ends[1]) / 2.0, np.nan).squeeze(axis))
