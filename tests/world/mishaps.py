"""What goes wrong while a fastener turns: saw-tooth of galling, uneven entry, a drive that slips."""

from __future__ import annotations

import numpy as np

from tests.world.shapes import FloatArray

_TEETH = 4096
#: Slips before the tool gives up, and the torque at the bottom of a slip over that at its top.
_SLIPS, _SLIP_BOTTOM = 6, 0.35


def saw_tooth(angle_deg: FloatArray, pitch_deg: float, rng: np.random.Generator) -> FloatArray:
    """Irregular saw-tooth of mean zero: torque builds up while parts stick, and drops when they slip."""
    span = angle_deg[-1] - angle_deg[0]
    n = min(int(span / pitch_deg * 1.5) + 4, _TEETH)
    edges = angle_deg[0] + np.cumsum(pitch_deg * rng.uniform(0.5, 1.5, n)) - pitch_deg
    heights = rng.uniform(0.5, 1.5, n)
    tooth = np.clip(np.searchsorted(edges, angle_deg, side="right") - 1, 0, n - 2)
    return np.asarray(heights[tooth] * ((angle_deg - edges[tooth]) / (edges[tooth + 1] - edges[tooth]) - 0.5))


def uneven_entry(angle_deg: FloatArray, height_nm: float, rng: np.random.Generator) -> FloatArray:
    """Climb of a thread that entered askew: steps of random size, rising from the first turn."""
    n = 40
    knots = np.linspace(angle_deg[0], angle_deg[-1], n)
    growth = np.cumsum(rng.gamma(0.7, 1.0, n))
    waviness = rng.normal(0.0, 0.06, n) * np.linspace(0.3, 1.0, n)
    climb = np.maximum(np.interp(angle_deg, knots, growth / growth[-1] + waviness), 0.0)
    return np.asarray(height_nm * climb)


def drive_slips(
    angle_deg: FloatArray,
    torque_nm: FloatArray,
    force_kn: FloatArray,
    slip_at_nm: float,
    pitch_deg: float,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Forward rotation up to the slip torque, then the drive oscillates at its pitch; nothing else turns."""
    reached = np.flatnonzero(torque_nm >= slip_at_nm)
    if len(reached) == 0:
        return angle_deg, torque_nm, force_kn
    at = int(reached[0])
    phase = np.linspace(0.0, _SLIPS, 40 * _SLIPS)[1:]
    tops = slip_at_nm * rng.uniform(0.8, 1.02, _SLIPS + 1)
    within = phase % 1.0
    # The bit climbs slowly out of the recess and drops back within a tenth of the pitch.
    height = np.where(within < 0.1, 1.0 - within / 0.1, (within - 0.1) / 0.9)
    top = tops[np.minimum(phase.astype(np.int64), _SLIPS)]
    torque = top * (_SLIP_BOTTOM + (1.0 - _SLIP_BOTTOM) * height)
    angle = np.concatenate([angle_deg[: at + 1], angle_deg[at] + pitch_deg * phase])
    force = np.concatenate([force_kn[: at + 1], np.full(len(phase), force_kn[at])])
    return angle, np.concatenate([torque_nm[: at + 1], torque]), force
