"""Impulse tools: which traces are made of pulses, and their envelope as a curve of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.arrays import BoolArray, FloatArray, IntArray
from analysis.operation.standstills import Standstills, find_standstills

if TYPE_CHECKING:
    from analysis.traces import TraceSet


#: A pulse ends where the torque falls, without new ground, to this share of its height (common practice, no
#: source: a tool that stops between stages is seen to hold more, or stops a few times only).
DEEP_SHARE = 0.25
#: Ends of pulses from which a trace counts as made by blows: where they are as short and close as blows alone
#: are, where a time tells them from stages, and where there is none (common practice, no source: more than a
#: tightening has stages).
FEWEST_SHORT, FEWEST_PULSES, FEWEST_UNTIMED = 2, 4, 6
#: Longest time from one blow to the next, and longest time above half of a blow's height, seconds (impulse
#: tools strike 10 to 40 times a second for some milliseconds: recalled, not confirmed); a ratchet moved by
#: hand takes longer.
LONGEST_BLOW_S, LONGEST_HIGH_S = 0.25, 0.05
#: The same where only two or three blows end before the final one: a stage takes longer to half of its
#: torque, or stops for longer.
SHORT_BLOW_S, SHORT_HIGH_S = 0.15, 0.015
#: Largest angle of the later blows, degrees, as a median, where there is no time: a ratchet is moved on by
#: more.
LARGEST_BLOW_DEG = 20.0
#: Pulses count in the envelope from this share of the final torque on.
ENVELOPE_SHARE = 0.04
#: Samples above half of a pulse's height, as a median, below which its height is not known: with three
#: samples a half sine reads up to 1 - cos(pi / 9) = 6 % low.
FEWEST_HIGH_SAMPLES = 3


@dataclass(frozen=True, eq=False)
class Pulses:
    """Envelopes of the pulsed traces among n; flat arrays, those of the k-th pulsed trace at ``offsets[k]``."""

    rows: IntArray  #: Shape (k,). Rows of the pulsed traces.
    offsets: IntArray  #: Shape (k + 1,).
    sample: IntArray  #: Shape (m,). Sample of the trace that each point of the envelope stands for.
    #: Shape (m,). Steady rotation as recorded; then one point a pulse: the angle that it reached, and its
    #: height.
    angle_deg: FloatArray
    torque_nm: FloatArray
    first_pulse: IntArray  #: Shape (k,). Number of the points of steady rotation.
    count: IntArray  #: Shape (k,). Pulses up to the final point.
    rate_per_s: FloatArray  #: Shape (k,). Pulses per second, median; NaN where the recording has no time.
    high_samples: FloatArray  #: Shape (k,). Samples above half of a pulse's height, median.

    def points_of(self, k: int) -> tuple[FloatArray, FloatArray]:
        """Angle and height of the pulses of the k-th pulsed trace."""
        part = slice(int(self.offsets[k] + self.first_pulse[k]), int(self.offsets[k + 1]))
        return self.angle_deg[part], self.torque_nm[part]


def find_pulses(traces: TraceSet, final_index: IntArray, stops: Standstills) -> Pulses:
    """Recognise the traces that are made of pulses, and lay their envelope.

    A pulse is a fall of the torque to a quarter of its height, or less, while no new angle is gained. A trace
    is made of pulses where it has four or more of them, one every quarter of a second at least, as a rule not
    longer than a twentieth of a second; two or three, where they are closer and shorter still; without a
    time, six or more, of which the later ones turn the fastener by no more than 20 degrees each. Stick-slip,
    galling, slipping drives, stages with pauses and a ratchet moved by hand are none of that.

    Parameters
    ----------
    final_index : ndarray, shape (n,)
    stops : Standstills
        Of the traces that are looked at, from a tenth of the final torque on.
    """
    deep = _deep(stops)
    many = np.flatnonzero(np.bincount(stops.row[deep], minlength=len(traces)) >= FEWEST_SHORT)
    return _joined(
        [
            _envelope(traces, int(row), int(final_index[row]))
            for row in many
            if _strikes(traces, stops, deep, row)
        ]
    )


def _deep(stops: Standstills) -> BoolArray:
    return np.asarray(stops.rest_torque_nm <= DEEP_SHARE * stops.stop_torque_nm)


def _strikes(traces: TraceSet, stops: Standstills, deep: BoolArray, row: np.int64) -> bool:
    """Whether the pulses of a candidate are blows, by their distance, length and angle."""
    events = np.arange(int(stops.offsets[row]), int(stops.offsets[row + 1]))
    events = events[deep[events]]
    at = int(traces.offsets[row])
    tops, lows = stops.top[events], stops.low[events]
    if traces.time_s is None or not np.isfinite(traces.time_s[at]):
        turned = np.diff(traces.angle_deg[at + tops])
        later = float(np.median(turned[len(turned) // 2 :]))
        return len(events) >= FEWEST_UNTIMED and later <= LARGEST_BLOW_DEG
    times = traces.time_s[at + tops]
    few = len(events) < FEWEST_PULSES
    if float(np.median(np.diff(times))) > (SHORT_BLOW_S if few else LONGEST_BLOW_S):
        return False
    torque = traces.torque_nm[at : at + int(tops[-1]) + 1]
    high_s = []
    for before, top, event in zip(lows[:-1], tops[1:], events[1:], strict=True):
        above = np.flatnonzero(torque[before : top + 1] >= 0.5 * stops.stop_torque_nm[event])
        high_s.append(float(traces.time_s[at + top] - traces.time_s[at + before + above[0]]))
    return float(np.median(high_s)) <= (SHORT_HIGH_S if few else LONGEST_HIGH_S)


@dataclass(frozen=True, eq=False)
class _Envelope:
    row: int
    sample: IntArray
    angle_deg: FloatArray
    torque_nm: FloatArray
    first_pulse: int
    rate_per_s: float
    high_samples: float


def _envelope(traces: TraceSet, row: int, final: int) -> _Envelope:
    """Steady rotation as recorded, then one point a pulse."""
    one = np.array([row])
    part = slice(int(traces.offsets[row]), int(traces.offsets[row]) + final + 1)
    angle, torque = traces.angle_deg[part], traces.torque_nm[part]
    least = np.full(len(traces), max(ENVELOPE_SHARE * float(torque[final]), 1e-12))
    finals = np.full(len(traces), -1)
    finals[row] = final
    stops = find_standstills(traces, one, finals, least)
    events = np.flatnonzero(_deep(stops))
    tops, lows = stops.top[events], stops.low[events]
    begin = _pulse_start(torque, int(tops[0]))
    edges = np.concatenate(([begin], lows + 1))
    edges = edges[edges <= final]
    height = np.maximum.reduceat(torque, edges)
    reached = np.maximum.reduceat(angle, edges)
    ends = np.concatenate((tops, [final]))[: len(edges)]
    whole = np.repeat(height, np.diff([*edges.tolist(), final + 1]))
    high = np.add.reduceat(torque[begin:] >= 0.5 * whole, edges - begin)
    rate = float("nan")
    if traces.time_s is not None and len(ends) > 1:
        rate = 1.0 / float(np.median(np.diff(traces.time_s[part][ends])))
    return _Envelope(
        row=row,
        sample=np.concatenate((np.arange(begin), ends)),
        angle_deg=np.concatenate((angle[:begin], reached)),
        torque_nm=np.concatenate((torque[:begin], height)),
        first_pulse=begin,
        rate_per_s=rate,
        high_samples=float(np.median(high)),
    )


def _pulse_start(torque_nm: FloatArray, top: int) -> int:
    """First sample of the rise to the first pulse's top."""
    start = top
    while start > 0 and torque_nm[start - 1] < torque_nm[start]:
        start -= 1
    return start


def _joined(found: list[_Envelope]) -> Pulses:
    lengths = [len(one.sample) for one in found]
    nothing: FloatArray = np.empty(0)
    return Pulses(
        rows=np.array([one.row for one in found], np.int64),
        offsets=np.concatenate(([0], np.cumsum(lengths))).astype(np.int64),
        sample=np.concatenate([np.empty(0, np.int64), *(one.sample for one in found)]),
        angle_deg=np.concatenate([nothing, *(one.angle_deg for one in found)]),
        torque_nm=np.concatenate([nothing, *(one.torque_nm for one in found)]),
        first_pulse=np.array([one.first_pulse for one in found], np.int64),
        count=np.array([len(one.sample) - one.first_pulse for one in found], np.int64),
        rate_per_s=np.array([one.rate_per_s for one in found], np.float64),
        high_samples=np.array([one.high_samples for one in found], np.float64),
    )
