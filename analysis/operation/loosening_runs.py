"""Loosening: which traces show it, the torque at which the fastener breaks away, and drives that slip."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import BoolArray, FloatArray
from analysis.curve.curve_table import CurveTable
from analysis.curve.reasons import LOOSENING
from analysis.traces import TraceSet
from analysis.traces.schema import LARGEST_VALUES

#: Least rotation backward, degrees, and its share of all rotation, from which a trace counts as turned
#: backward: more than tool and joint spring back (2.75 to 4 deg were seen), less than any loosening.
BACKWARD_DEG, BACKWARD_SHARE = 10.0, 0.8
#: A rotation whose highest torque comes within this last share of it ends tight: it was tightened, not
#: loosened.
ENDS_TIGHT_SHARE = 0.1
#: The fastener, or the drive, is wound up from this share of the highest torque on.
WOUND_UP_SHARE = 0.5
#: Spacing of the grid on which periods are looked for, degrees: finer than recordings of loosening.
GRID_DEG = 2.0
#: Pitches of drives, degrees: six corners or lobes, four wings; and how far a period may lie from one, over
#: it.
DRIVE_PITCHES_DEG = (60.0, 90.0)
PITCH_TOLERANCE = 0.10
#: Periods that have to fit into what is left of the recording.
FEWEST_PERIODS = 3
#: A drive slips where the torque swings, between its 10th and 90th percentile, by this share of the highest
#: torque, and its correlation with itself one pitch on exceeds that half a pitch on by that much. Measured on
#: open recordings of 400 loosenings (M4-M8, four drives): swing of held drives at most 0.12, of slipping ones
#: 0.16 and more; correlation of held drives 0.40 at most and below 0.08 in 98 %, of slipping ones above 0.25
#: in 91 %.
SLIP_SWING, SLIP_CORRELATION = 0.14, 0.20

SLIPPED = 1
BREAKAWAY_REASONS = {
    0: "",
    SLIPPED: "the drive slipped: the fastener holds at least the highest torque",
}


@dataclass(frozen=True, eq=False)
class LooseningTable:
    """Loosenings among n traces; arrays of shape (n,), NaN where a trace is none."""

    is_loosening: BoolArray
    #: Largest torque against the thread, positive, and where, on the trace's own axis.
    highest_torque_nm: FloatArray
    highest_angle_deg: FloatArray
    #: The same where the drive held; absent where it slipped.
    breakaway_torque_nm: FloatArray
    breakaway_angle_deg: FloatArray
    #: Samples of the peak above half of the highest torque: with few of them the true one is higher.
    peak_samples: FloatArray
    breakaway_reason: NDArray[np.int8]  #: Code of `BREAKAWAY_REASONS`.
    #: 10th to 90th percentile of the torque after the wind-up, over the highest torque.
    swing_share: FloatArray
    #: The drive's pitch that fits better, and by how much the torque is more like itself one pitch on than
    #: half a pitch on.
    pitch_deg: FloatArray
    pitch_correlation: FloatArray
    #: Both over their thresholds, the weaker one; from 1 on the drive slipped; 0 where a trace is no
    #: loosening.
    slip_strength: FloatArray

    @property
    def slipped(self) -> BoolArray:
        """Where the drive slipped."""
        return np.asarray(self.slip_strength >= 1.0)


def turned_backward(traces: TraceSet) -> BoolArray:
    """Traces whose angle runs backward nearly all the way, shape (n,)."""
    backward = np.zeros(len(traces), np.bool_)
    filled = np.flatnonzero(traces.n_samples > 1)
    net = traces.angle_deg[traces.offsets[filled + 1] - 1] - traces.angle_deg[traces.offsets[filled]]
    for row in filled[net < -BACKWARD_DEG]:
        steps = np.diff(traces.angle_deg[traces.offsets[row] : traces.offsets[row + 1]])
        backward[row] = -steps[steps < 0.0].sum() >= BACKWARD_SHARE * np.abs(steps).sum()
    return backward


def find_loosenings(traces: TraceSet, curves: CurveTable) -> LooseningTable:
    """Recognise loosening by torque below zero or by an angle that runs backward, and read its figures.

    Notes
    -----
    The breakaway torque is the largest torque against the thread: the torque that starts the rotation of a
    fastener that has rested. Where the drive slips, the torque swings with its pitch, and its largest value
    is only what the drive could carry; the breakaway is absent then.

    A trace with torque below zero whose angle runs backward too, and whose torque is highest at the end, was
    tightened and recorded with the opposite sign; it is no loosening.
    """
    n = len(traces)
    backward = turned_backward(traces)
    columns = {name: np.full(n, np.nan) for name in _FIGURES}
    is_loosening, reason, strength = np.zeros(n, np.bool_), np.zeros(n, np.int8), np.zeros(n)
    for row in np.flatnonzero((curves.slope_reason == LOOSENING) | backward):
        part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
        figures = loosening_figures(traces.angle_deg[part], traces.torque_nm[part])
        if figures is None:
            continue
        is_loosening[row] = True
        strength[row] = figures["slip_strength"]
        slipped = strength[row] >= 1.0
        reason[row] = SLIPPED if slipped else 0
        for name, values in columns.items():
            if not (slipped and name.startswith("breakaway")):
                values[row] = figures[name]
        if not slipped:
            columns["pitch_deg"][row] = np.nan
    return LooseningTable(
        is_loosening=is_loosening, breakaway_reason=reason, slip_strength=strength, **columns
    )


_FIGURES = (
    "highest_torque_nm",
    "highest_angle_deg",
    "breakaway_torque_nm",
    "breakaway_angle_deg",
    "peak_samples",
    "swing_share",
    "pitch_deg",
    "pitch_correlation",
)


def loosening_figures(angle_deg: FloatArray, torque_nm: FloatArray) -> dict[str, float] | None:
    """Figures of one loosening (see `LooseningTable`); None where the trace ends tight, or holds no
    torque."""
    finite = np.isfinite(angle_deg) & np.isfinite(torque_nm)
    angle, torque = angle_deg[finite], torque_nm[finite]
    if len(angle) < 3:
        return None
    negative = -float(torque.min()) > float(torque.max())
    against = np.maximum(-torque if negative else torque, 0.0)
    backward = float(angle[-1]) < float(angle[0])
    top = int(np.argmax(against))
    highest = float(against[top])
    turned = np.abs(angle - angle[0])
    swing, pitch, correlation = drive_swing(turned, against)
    strength = min(swing / SLIP_SWING, correlation / SLIP_CORRELATION) if np.isfinite(correlation) else 0.0
    ends_tight = float(turned.max() - turned[top]) <= ENDS_TIGHT_SHARE * float(turned.max())
    # Torque below zero while the angle counts up can only be loosening, wherever its peak lies.
    if highest <= 0.0 or (ends_tight and backward and strength < 1.0):
        return None
    return {
        "highest_torque_nm": highest,
        "highest_angle_deg": float(angle[top]),
        "breakaway_torque_nm": highest,
        "breakaway_angle_deg": float(angle[top]),
        "peak_samples": float(_samples_of_peak(against, top)),
        "swing_share": swing,
        "pitch_deg": pitch,
        "pitch_correlation": correlation,
        "slip_strength": max(strength, 0.0),
    }


def _samples_of_peak(torque_nm: FloatArray, top: int) -> int:
    below = np.flatnonzero(torque_nm < 0.5 * torque_nm[top])
    before, after = below[below < top], below[below > top]
    first = int(before[-1]) + 1 if len(before) else 0
    return (int(after[0]) if len(after) else len(torque_nm)) - first


def drive_swing(turned_deg: FloatArray, torque_nm: FloatArray) -> tuple[float, float, float]:
    """How far the torque swings after the wind-up, the drive's pitch that fits better, and how well it fits.

    Parameters
    ----------
    turned_deg : ndarray
        Degrees turned, whatever the direction.
    torque_nm : ndarray
        Torque against the thread, not negative.

    Returns
    -------
    swing_share, pitch_deg, correlation : float
        Pitch and correlation are NaN where fewer than `FEWEST_PERIODS` periods of 60 deg are left.

    Notes
    -----
    r(d) = sum x(a) x(a + d) / sum x(a)^2 over the torque less its mean, on an even grid of angle, for the
    share of the pairs that exist. A swing at the pitch P has r near 1 at P and near -1 at P/2: their
    difference tells a period from a slow drift, which is alike at both.

    Examples
    --------
    >>> angle = np.arange(0.0, 1080.0, 5.3)
    >>> swing, pitch, correlation = drive_swing(angle, 2.0 + np.cos(np.deg2rad(6.0 * angle)))
    >>> round(swing, 1), pitch, correlation > 1.5
    (0.6, 60.0, True)
    """
    forward = np.maximum.accumulate(turned_deg)
    new = np.concatenate(([True], forward[1:] > forward[:-1]))
    angle, torque = forward[new], torque_nm[new]
    highest = float(torque.max())
    nothing = (0.0, float("nan"), float("nan"))
    if highest <= 0.0 or len(angle) < 3:
        return nothing
    if angle[-1] - angle[0] > LARGEST_VALUES["angle_deg"]:  # no grid over what no fastener turns
        return nothing
    grid = np.arange(angle[0], angle[-1], GRID_DEG)
    even = np.interp(grid, angle, torque)
    wound = np.flatnonzero(even >= WOUND_UP_SHARE * highest)
    rest = even[wound[0] if len(wound) else 0 :]
    swing = float(np.quantile(rest, 0.9) - np.quantile(rest, 0.1)) / highest
    x = rest - rest.mean()
    power = float(x @ x)
    best = (swing, float("nan"), float("nan"))
    for pitch in DRIVE_PITCHES_DEG:
        if power <= 0.0 or len(x) * GRID_DEG < FEWEST_PERIODS * pitch:
            continue
        whole = max(_correlations(x, power, pitch))
        fit = whole - min(_correlations(x, power, pitch / 2.0))
        if not fit <= best[2]:
            best = (swing, pitch, fit)
    return best


def _correlations(x: FloatArray, power: float, shift_deg: float) -> list[float]:
    """Correlation of the torque with itself, shifted by about so many degrees."""
    first = int(np.ceil(shift_deg * (1.0 - PITCH_TOLERANCE) / GRID_DEG))
    last = int(np.floor(shift_deg * (1.0 + PITCH_TOLERANCE) / GRID_DEG))
    n = len(x)
    return [float(x[:-k] @ x[k:]) / power * n / (n - k) for k in range(first, last + 1)]
