"""The step in which a channel of a recording is written: no figure read from its samples is finer."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from analysis.traces.trace_set import TraceSet

#: No torque or force is believed to more significant digits of the recording's largest value (common
#: practice, no source: transducers are good to a thousandth).
_FINEST_DIGITS = 4
#: No angle is believed to more than this (common practice, no source: encoders give 0.1 to 1 deg).
FINEST_ANGLE_DEG = 0.1
#: Differences below this share of the largest value are rounding of numbers, not steps of the recording.
_ROUNDING = 1e-6
#: Recorded values lie on a grid where they are this near to it, as a share of its step.
_ON_GRID = 0.02
#: Decimal places that are tried where the smallest difference is no step of the whole recording.
_PLACES = range(1, 5)


def recorded_step(values: NDArray[np.floating]) -> float | None:
    """Step of the grid that all recorded values lie on; None where there is none.

    The smallest difference between two values is the step where all the others are multiples of it, as in
    a recording that was made in another unit. Else the values may be written with so many decimals.

    Examples
    --------
    >>> import numpy as np
    >>> round(recorded_step(np.array([0.0, 0.25, 0.25, 1.5, np.nan])), 6), recorded_step(np.zeros(3))
    (0.25, None)
    >>> recorded_step(np.array([0.0, 0.2, 0.5, 1.2])), recorded_step(np.array([0.0, 1.0, np.pi, 7.7]))
    (0.1, None)
    """
    different = np.unique(values[np.isfinite(values)])
    if len(different) < 2:
        return None
    steps = np.diff(different)
    real = steps[steps > _ROUNDING * float(np.abs(different).max())]
    if not len(real):
        return None
    smallest = float(real.min())
    candidates = (smallest, *(10.0**-place for place in _PLACES if 10.0**-place < smallest))
    return next((step for step in candidates if _on_grid(different - different[0], step)), None)


def _on_grid(distances: NDArray[np.floating], step: float) -> bool:
    """Whether all are multiples of the step."""
    return bool(np.all(np.abs(distances / step - np.round(distances / step)) < _ON_GRID))


def _believed_step(values: NDArray[np.floating]) -> float | None:
    """The step, four significant digits of the largest value at the finest; None where all is zero."""
    finite = np.abs(values[np.isfinite(values)])
    top = float(finite.max()) if len(finite) else 0.0
    if top == 0.0:
        return None
    finest = 10.0 ** (math.floor(math.log10(top)) - _FINEST_DIGITS + 1)
    return max(recorded_step(values) or finest, finest)


class RecordedSteps:
    """Steps of torque and angle, trace by trace, each worked out when it is first asked for."""

    def __init__(self, traces: TraceSet) -> None:
        self.traces = traces
        self._torque: dict[int, float | None] = {}
        self._angle: dict[int, float] = {}
        self._force: dict[int, float | None] = {}

    def torque_nm(self, row: int) -> float | None:
        """Step of the torque in N·m."""
        if row not in self._torque:
            self._torque[row] = _believed_step(self._samples(row, self.traces.torque_nm))
        return self._torque[row]

    def force_kn(self, row: int) -> float | None:
        """Step of a measured clamp force in kN, as of the torque; None where no load cell was read."""
        if row not in self._force:
            force = self.traces.clamp_force_kn
            self._force[row] = None if force is None else _believed_step(self._samples(row, force))
        return self._force[row]

    def angle_deg(self, row: int) -> float:
        """Step of the angle in degrees, `FINEST_ANGLE_DEG` at the finest."""
        if row not in self._angle:
            step = recorded_step(self._samples(row, self.traces.angle_deg)) or FINEST_ANGLE_DEG
            self._angle[row] = max(step, FINEST_ANGLE_DEG)
        return self._angle[row]

    def _samples(self, row: int, channel: NDArray[np.float64]) -> NDArray[np.float64]:
        """One trace of a channel, without the attributes that a whole trace brings along."""
        start, stop = self.traces.offsets[row : row + 2]
        return channel[start:stop]
