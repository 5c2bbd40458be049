"""From what happens to what an instrument writes down; and the one call that makes a trace."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from analysis.errors import CallError
from tests.world.mishaps import saw_tooth
from tests.world.model import Instrument, TraceModel
from tests.world.path import Path, build_path
from tests.world.shapes import FloatArray
from tests.world.true_curve import build_true_curve
from tests.world.truth import Truth, read_truth

#: A tool is "fast", and its ripple is seen, above this share of its highest speed.
_FAST_SHARE = 0.6
_DEG_PER_S_TO_RPM = 1.0 / 6.0
#: An instrument's clock resolves 10 microseconds.
_CLOCK_DECIMALS = 5
#: Largest share of samples that is lost where nothing moves.
_MOST_LOST = 0.9


@dataclass(frozen=True, eq=False)
class Recording:
    """What was written down, and the truth about it."""

    #: Shape (n_samples,). Angles count from the first sample.
    angle_deg: FloatArray
    torque_nm: FloatArray
    time_s: FloatArray
    step: FloatArray
    speed_rpm: FloatArray
    clamp_force_kn: FloatArray
    truth: Truth


def record(model: TraceModel, rng: np.random.Generator) -> Recording:
    """Make one trace with all channels.

    Raises
    ------
    CallError
        Where the instrument gives none, or both, of the two sampling intervals.
    """
    curve = build_true_curve(model)
    return write_down(model, build_path(model, curve, rng), read_truth(model, curve), rng)


def write_down(model: TraceModel, path: Path, truth: Truth, rng: np.random.Generator) -> Recording:
    """What the model's instrument makes of what happens.

    Raises
    ------
    CallError
        Where the instrument gives none, or both, of the two sampling intervals.
    """
    instrument = model.instrument
    if (instrument.interval_s is None) == (instrument.interval_deg is None):
        raise CallError("give either interval_s or interval_deg")
    times = _sample_times(path, instrument, rng)
    # One search serves all channels.
    upper = np.clip(np.searchsorted(path.time_s, times), 1, len(path.time_s) - 1)
    lower = upper - 1
    width = path.time_s[upper] - path.time_s[lower]
    share = np.where(width > 0.0, (times - path.time_s[lower]) / np.where(width > 0.0, width, 1.0), 1.0)

    def at(values: FloatArray) -> FloatArray:
        return values[lower] + share * (values[upper] - values[lower])

    angle, torque, speed = at(path.angle_deg), at(path.torque_nm), at(path.speed_deg_per_s)
    torque = torque + _noise(model, angle, torque, speed, rng)
    angle = _rounded(angle - model.first_angle_deg, instrument.angle_step_deg)
    torque = _rounded(torque, instrument.torque_step_nm)
    force = at(path.clamp_force_kn)
    if instrument.clamp_noise_kn > 0.0:
        force = force + instrument.clamp_noise_kn * rng.standard_normal(len(force))
    clock = np.round(times - times[0], _CLOCK_DECIMALS)
    columns = (angle, torque, clock, path.step[lower], speed * _DEG_PER_S_TO_RPM, force)
    keep = _kept(instrument, len(times), speed, rng)
    written = [column[keep] for column in columns]
    return Recording(
        angle_deg=written[0],
        torque_nm=written[1],
        time_s=written[2],
        step=written[3],
        speed_rpm=written[4],
        clamp_force_kn=written[5],
        truth=truth,
    )


def make_trace(
    model: TraceModel, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, FloatArray, Truth]:
    """Angle (degrees), torque (N·m) and time (s) of one recording, and the truth about it.

    Examples
    --------
    >>> angle, torque, time, truth = make_trace(TraceModel(), np.random.default_rng(1))
    >>> len(angle) == len(torque) == len(time), truth.yielded
    (True, False)
    """
    recording = record(model, rng)
    return recording.angle_deg, recording.torque_nm, recording.time_s, recording.truth


def _sample_times(path: Path, instrument: Instrument, rng: np.random.Generator) -> FloatArray:
    if instrument.interval_s is not None:
        first = path.time_s[0] + rng.uniform(0.0, 1e-3) * instrument.interval_s
        return np.arange(first, path.time_s[-1], instrument.interval_s)
    assert instrument.interval_deg is not None
    return _trigger_times(path, instrument.interval_deg)


def _trigger_times(path: Path, interval_deg: float) -> FloatArray:
    """Times at which the angle passes a multiple of the interval, forward or backward."""
    angle = (path.angle_deg - path.angle_deg[0]) / interval_deg
    direction = np.sign(np.diff(angle))
    turns = np.flatnonzero(np.diff(direction) != 0) + 1
    edges = np.concatenate(([0], turns, [len(angle) - 1]))
    parts = [path.time_s[:1]]
    for start, stop in pairwise(edges):
        piece, times = angle[start : stop + 1], path.time_s[start : stop + 1]
        if piece[-1] > piece[0]:
            marks = np.arange(np.floor(piece[0]) + 1.0, np.floor(piece[-1]) + 1.0)
            parts.append(np.interp(marks, piece, times))
        elif piece[-1] < piece[0]:
            marks = np.arange(np.ceil(piece[0]) - 1.0, np.ceil(piece[-1]) - 1.0, -1.0)
            parts.append(np.interp(marks, piece[::-1], times[::-1])) if len(marks) else None
    return np.concatenate(parts)


def _noise(
    model: TraceModel,
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    speed: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    instrument = model.instrument
    noise = instrument.noise_nm * rng.standard_normal(len(angle_deg))
    if instrument.stick_slip_nm > 0.0:
        # Friction slips in proportion to what it carries; a uniform tooth of height h has the deviation h
        # / sqrt(12).
        share = np.clip(torque_nm / model.tool.target_torque_nm, 0.0, 1.5)
        span = np.maximum.accumulate(angle_deg)
        tooth = saw_tooth(span, instrument.stick_slip_pitch_deg, rng)
        noise += instrument.stick_slip_nm * np.sqrt(12.0) * share * tooth
    if instrument.ripple_nm > 0.0:
        fast = speed > _FAST_SHARE * max(model.tool.speeds_deg_per_s)
        noise += np.where(fast, instrument.ripple_nm, 0.0) * np.where(np.arange(len(noise)) % 2, 1.0, -1.0)
    return noise


def _rounded(values: FloatArray, step: float) -> FloatArray:
    return np.asarray(np.round(values / step) * step) if step > 0.0 else values


def _kept(
    instrument: Instrument, n: int, speed: FloatArray, rng: np.random.Generator
) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """Samples written, in order: some are lost (more where nothing moves), some are written twice."""
    index = np.arange(n)
    if instrument.dropped_share > 0.0:
        chance = np.where(
            speed < 1.0, min(_MOST_LOST, 20.0 * instrument.dropped_share), instrument.dropped_share
        )
        lost = rng.random(n) < chance
        lost[0] = lost[-1] = False
        index = index[~lost]
    if instrument.duplicate_share > 0.0:
        index = np.repeat(index, 1 + (rng.random(len(index)) < instrument.duplicate_share))
    return index
