"""What a year needs to know of its traces: joint, spindle, week and values of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.arrays import BoolArray, FloatArray, IntArray
from analysis.plant.followed import FOLLOWED

#: Weeks on either side of the middle trace that a year is looked at in (own choice: ten years).
_MOST_WEEKS = 520
MONDAY = date(1970, 1, 5)
_DAY_US, _WEEK_US = 86_400_000_000, 604_800_000_000


@dataclass(frozen=True, eq=False)
class Traces:
    """What the year needs to know of n traces."""

    #: Names by code; a spindle's name holds its tool's where it has one.
    joints: tuple[str, ...]
    spindles: tuple[str, ...]
    #: Shape (n,). Codes.
    joint: IntArray
    spindle: IntArray
    week: IntArray  #: Shape (n,). Counts from `first`.
    first: date  #: Monday (UTC) of week 0.
    values: dict[str, FloatArray]  #: By quantity; shape (n,).
    far: int = 0  #: Further traces whose clock tells a time far from that of the others.

    @property
    def weeks(self) -> int:
        """Number of weeks."""
        return int(self.week.max(initial=-1)) + 1

    def until(self, weeks: int) -> Traces:
        """The traces of the first weeks."""
        kept = self.week < weeks
        values = {name: one[kept] for name, one in self.values.items()}
        joint, spindle, week = self.joint[kept], self.spindle[kept], self.week[kept]
        return replace(self, joint=joint, spindle=spindle, week=week, values=values)


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
    week = (micro - (MONDAY - date(1970, 1, 1)).days * _DAY_US) // _WEEK_US
    near = near_the_middle(week, np.ones(len(week)))
    kept, spindle, week = kept.filter(pa.array(near)), spindle.filter(pa.array(near)), week[near]
    start = int(week.min()) if len(week) else 0
    joints, joint = coded(kept.column("joint"))
    spindles, codes = coded(spindle)
    values = {
        one.figure.name: np.asarray(kept.column(one.figure.name).to_numpy(zero_copy_only=False), np.float64)
        for one in FOLLOWED
    }
    first, far = MONDAY + timedelta(weeks=start), int((~near).sum())
    return Traces(joints, spindles, joint, codes, week - start, first, values, far)


def near_the_middle(week: IntArray | FloatArray, n: FloatArray) -> BoolArray:
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


def coded(column: Any) -> tuple[tuple[str, ...], IntArray]:
    """The names in a column, in order, and the code of each row."""
    encoded = column.combine_chunks().cast(pa.string()).dictionary_encode()
    if isinstance(encoded, pa.ChunkedArray):
        encoded = encoded.combine_chunks()
    names = encoded.dictionary.to_pylist()
    ranked = sorted(range(len(names)), key=lambda k: names[k])
    rank = np.empty(len(names), np.int64)
    rank[ranked] = np.arange(len(names))
    return tuple(names[k] for k in ranked), rank[encoded.indices.to_numpy().astype(np.int64)]


def monday_of(day: date) -> date:
    """The first day of its week."""
    return day - timedelta(days=day.weekday())
