"""Numbers that a recording can hold: others are listed with their trace; turns become one angle."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.errors import ReadProblem
from analysis.figure_text import plural
from analysis.traces.schema import LARGEST_VALUES, REQUIRED_CHANNELS

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
#: Makes the note on a trace: row, found, expected, advice.
Note = Callable[[int, str, str, str], ReadProblem]

_TURN_DEG = 360.0
#: A step that begins a new turn is, with the turn added, at most so many usual steps, or so many degrees (own
#: choice: an angle that is set to zero between two stages steps back by anything).
_MOST_STEPS, _SMALL_STEP_DEG = 5.0, 5.0
#: Samples looked at in one go: what stays in a processor's own memory (measured: whole shifts at once took
#: four times as long, for the memory that is asked for and given back).
_BLOCK = 65_536


def sound_values(
    channels: dict[str, FloatArray], offsets: IntArray, trace_ids: Sequence[str], note: Note
) -> list[ReadProblem]:
    """Put absent values where there are impossible ones, and whole angles where there were turns; note both.

    Parameters
    ----------
    channels : dict of ndarray
        Changed in place; arrays that may not be written are replaced.
    """
    problems: list[ReadProblem] = []
    for name, values in channels.items():
        largest = LARGEST_VALUES[name]
        if len(values) and -largest <= values.min() and values.max() <= largest:
            continue  # the usual case; NaN and infinity fail it
        with np.errstate(invalid="ignore"):
            absent, far = ~np.isfinite(values), np.abs(values) > largest
        far &= ~absent
        if name in REQUIRED_CHANNELS:
            for row, count in _counts(absent, offsets):
                problems.append(
                    note(
                        row,
                        f"trace {trace_ids[row]!r} with {plural(int(count), 'sample')} of "
                        f"{name} that {'is not a number' if count == 1 else 'are not numbers'}",
                        "a number in every sample",
                        "the trace is kept but cannot be evaluated; record or export it again",
                    )
                )  # fmt: skip
        for row, count in _counts(far, offsets):
            part = slice(int(offsets[row]), int(offsets[row + 1]))
            worst = float(values[part][far[part]][0])
            problems.append(
                note(
                    row,
                        f"trace {trace_ids[row]!r} with {plural(int(count), 'sample')} of "
                    f"{name} such as {worst:.3g}",
                    f"at most {largest:g}, more than any joint can have",
                    "these samples are left out, and the trace cannot be evaluated; record it again",
                )
            )  # fmt: skip
        if far.any():
            channels[name] = np.where(far, np.nan, values)
    return problems + _unwrapped(channels, offsets, trace_ids, note)


def _counts(marked: NDArray[np.bool_], offsets: IntArray) -> list[tuple[int, int]]:
    """Rows with marked samples, and how many."""
    if not marked.any():
        return []
    counts = np.add.reduceat(marked, offsets[:-1], dtype=np.int64)
    return [(int(row), int(counts[row])) for row in np.flatnonzero(counts)]


def _unwrapped(
    channels: dict[str, FloatArray], offsets: IntArray, trace_ids: Sequence[str], note: Note
) -> list[ReadProblem]:
    angle = channels["angle_deg"]
    problems = []
    for row in _rows_with_jumps(angle, offsets):
        part = slice(int(offsets[row]), int(offsets[row + 1]))
        whole, turns = without_turns(angle[part])
        if not turns:
            continue
        if not angle.flags.writeable:
            angle = channels["angle_deg"] = angle.copy()
        angle[part] = whole
        problems.append(
            note(
                row,
                f"trace {trace_ids[row]!r} whose angle starts anew at each turn, "
                f"{plural(int(turns), 'time')}",
                "one angle over all turns", "the turns were added; check that the angle is meant so",
            )
        )  # fmt: skip
    return problems


def _rows_with_jumps(angle_deg: FloatArray, offsets: IntArray) -> list[int]:
    """Rows within which the angle goes by more than half a turn from one sample to the next."""
    rows: set[int] = set()
    with np.errstate(invalid="ignore"):
        for start in range(0, len(angle_deg) - 1, _BLOCK):
            steps = np.diff(angle_deg[start : start + _BLOCK + 1])
            jumps = start + 1 + np.flatnonzero(np.abs(steps, out=steps) > _TURN_DEG / 2.0)
            after = np.searchsorted(offsets, jumps, side="right") - 1
            rows.update(after[offsets[after] < jumps].tolist())  # others are from one trace to the next
    return sorted(rows)


def without_turns(angle_deg: FloatArray) -> tuple[FloatArray, int]:
    """The angle over all turns where it runs from 0 to 360 (or -180 to 180) deg, and how often it began anew.

    Left as it is, with 0: an angle that leaves such a range, or that steps back by anything else than a turn.

    Examples
    --------
    >>> without_turns(np.array([350.0, 355.0, 0.0, 5.0, 10.0]))
    (array([350., 355., 360., 365., 370.]), 1)
    >>> without_turns(np.array([290.0, 300.0, 0.0, 10.0]))[1]  # set to zero between two stages
    0
    """
    low, high = float(angle_deg.min()), float(angle_deg.max())
    within = (low >= -1e-6 and high <= _TURN_DEG + 1e-6) or (low >= -180.0 - 1e-6 and high <= 180.0 + 1e-6)
    steps = np.diff(angle_deg)
    jumped = np.abs(steps) > _TURN_DEG / 2.0
    if not within or not jumped.any() or jumped.all():
        return angle_deg, 0
    usual = float(np.median(np.abs(steps[~jumped])))
    forward = 1.0 if steps[~jumped].sum() >= 0.0 else -1.0
    added = steps[jumped] + forward * _TURN_DEG
    if np.any(np.abs(added) > max(_MOST_STEPS * usual, _SMALL_STEP_DEG)):
        return angle_deg, 0
    turns = np.concatenate(([0.0], np.cumsum(jumped * forward * _TURN_DEG)))
    return angle_deg + turns, int(jumped.sum())
