"""Audits: a hand wrench turns a tight joint a little further, to see how tight it still is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.arrays import BoolArray, FloatArray
from analysis.curve.reasons import LOOSENING, NOT_FINITE, OPPOSITE_SIGN
from analysis.operation.tool_speed import tool_speeds

if TYPE_CHECKING:
    from analysis.curve.curve_table import CurveTable
    from analysis.traces import TraceSet


#: Attribute that says what a recording is, and its word for an audit; word in the name of a hand tool.
OPERATION, AUDIT_WORD, WRENCH_WORD = "operation", "audit", "wrench"
#: Fastest that a hand turns a wrench on a tight joint, deg/s (common practice, no source; power tools turn at
#: 60 deg/s and more).
HAND_SPEED = 30.0
#: A recording at this share of the speed of its own tool's tightenings, or faster, is that tool's second hit
#: (own choice: the wind-up is part of it, and a tool starts from rest).
AS_FAST = 0.7
#: Most degrees up to the highest torque: wind-up of wrench and socket, and the movement (own choice: 30 deg
#: of wind-up with static friction a fifth above the running one, and twice the turn that an audit may take).
LARGEST_TURN_DEG = 55.0
#: A wrench is wound up from the start: torque of the first sample over the highest, and free degrees of play
#: below a twentieth of the highest torque (own choice).
LARGEST_FIRST, FREE_SHARE, LARGEST_PLAY_DEG = 0.25, 0.05, 12.0
#: The wind-up is straight: slope from 40 to 60 % of the highest torque over that from 20 to 40 % (own choice:
#: a drawdown is bent upward, by a factor of two and more).
WIND_UP_SHARES, STRAIGHT = (0.2, 0.4, 0.6), (0.5, 1.7)
#: Least degrees between the first and the last of these shares: wrench and socket wind up by 8 deg and more
#: to a torque, a spindle by 2 or less (own choice).
LEAST_WIND_UP_DEG = 2.0
#: Fewest samples of a wind-up that is told from any other short recording (own choice).
FEWEST_WOUND = 8
#: A torque below this share of the highest is no longer part of the turning, and a fall by this share from
#: one sample to the next at its end is the release (own choice).
RELEASED_SHARE, RELEASE_STEP = 0.5, 0.04


def find_audits(traces: TraceSet, curves: CurveTable) -> BoolArray:
    """Which recordings are audits, shape (n,).

    The attribute `operation` decides where a recording has one. Else an audit has no rundown: the torque
    climbs straight from the first degrees on, within few degrees, and at the speed of a hand; where there is
    no time, the tool is called a wrench: a nameless short climb is a joint that was tight before, which is
    not passed. A slow tool that hits a bolt once more as fast as it tightened others does not audit.
    """
    n = len(traces)
    found = np.zeros(n, np.bool_)
    said = stated_operations(traces)
    readable = (curves.slope_reason != NOT_FINITE) & (traces.n_samples > 2) & (curves.final_index > 0)
    found[[row for row, word in enumerate(said) if word == AUDIT_WORD and readable[row]]] = True
    other = np.isin(curves.slope_reason, (LOOSENING, OPPOSITE_SIGN))
    rows = np.flatnonzero(readable & ~other & np.array([not word for word in said], np.bool_))
    first = traces.offsets[rows]
    top = first + curves.final_index[rows]
    turned = traces.angle_deg[top] - traces.angle_deg[first]
    high = traces.torque_nm[top]
    short = (turned > 0.0) & (turned < LARGEST_TURN_DEG) & (high > 0.0)
    short &= traces.torque_nm[first] <= LARGEST_FIRST * high
    timed = np.zeros(len(rows), np.bool_)
    if traces.time_s is not None:
        lasted = traces.time_s[top] - traces.time_s[first]
        timed = np.isfinite(lasted)
        short &= ~timed | (turned < 2.0 * HAND_SPEED * lasted)
    named = named_wrench(traces)
    usual = tool_speeds(traces, curves) if short.any() else np.empty(0)
    for row, has_time in zip(rows[short].tolist(), timed[short].tolist(), strict=True):
        if not has_time and not named[row]:
            continue
        part = slice(int(traces.offsets[row]), int(traces.offsets[row]) + int(curves.final_index[row]) + 1)
        time = traces.time_s[part] if has_time and traces.time_s is not None else None
        found[row] = winds_up(traces.angle_deg[part], traces.torque_nm[part], time)
        if found[row] and time is not None and not named[row]:
            found[row] = not np.ptp(traces.angle_deg[part]) >= AS_FAST * usual[row] * float(
                time[-1] - time[0]
            )
    return found


def stated_operations(traces: TraceSet) -> list[str]:
    """What each recording says that it is, in small letters; empty where it says nothing."""
    if OPERATION not in traces.attributes.column_names:
        return [""] * len(traces)
    return ["" if one is None else str(one).strip().lower() for one in traces.column(OPERATION)]


def named_wrench(traces: TraceSet) -> list[bool]:
    """Recordings whose tool is called a wrench."""
    if "tool" not in traces.attributes.column_names:
        return [False] * len(traces)
    return [WRENCH_WORD in str(tool or "").lower() for tool in traces.column("tool")]


def winds_up(angle_deg: FloatArray, torque_nm: FloatArray, time_s: FloatArray | None) -> bool:
    """Whether a short recording, up to its highest torque, is a wrench wound up by hand."""
    high = float(torque_nm[-1])
    if int((torque_nm > WIND_UP_SHARES[0] * high).sum()) < FEWEST_WOUND:
        return False
    below = np.flatnonzero(torque_nm <= FREE_SHARE * high)
    if len(below) and angle_deg[below[-1]] - angle_deg[0] > LARGEST_PLAY_DEG:
        return False
    at = [int(np.argmax(torque_nm >= share * high)) for share in WIND_UP_SHARES]
    if angle_deg[at[-1]] - angle_deg[at[0]] < LEAST_WIND_UP_DEG and at[0] > 0:
        return False
    if time_s is not None:
        lasted = float(time_s[-1] - time_s[at[0]])
        if not 0.0 < float(angle_deg[-1] - angle_deg[at[0]]) <= HAND_SPEED * lasted:
            return False
    if at[0] == 0:  # recorded from a threshold on: the first stretch is not there
        return True
    turned, rises = np.diff(angle_deg[at]), np.diff(torque_nm[at])
    if not (turned > 0.0).all():
        return bool(angle_deg[at[2]] > angle_deg[at[0]] or time_s is not None)
    low, most = STRAIGHT
    return bool(low <= (rises[1] / turned[1]) / (rises[0] / turned[0]) <= most)


def turning_end(angle_deg: FloatArray, torque_nm: FloatArray) -> int:
    """Number of samples up to the end of the turning: behind it the wrench is let go and springs back."""
    high = float(torque_nm.max())
    held = torque_nm >= RELEASED_SHARE * high
    furthest = np.flatnonzero(held & (angle_deg >= angle_deg[held].max() - 1e-9))
    end = int(furthest[np.argmax(torque_nm[furthest])]) + 1
    while end > 2 and torque_nm[end - 1] < torque_nm[end - 2] - RELEASE_STEP * high:
        end -= 1
    return end
