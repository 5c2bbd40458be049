"""Audits that turn the fastener back and on again, by a wrench that twists, at a known clamp force."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tests.world.shapes import FloatArray

#: Degrees between two places that the way is followed at, and degrees over which static friction goes.
_FINE_DEG, _STATIC_DEG = 0.02, 0.8


@dataclass(frozen=True)
class TurnedBack:
    """One fastener under clamp force, and the wrench."""

    #: At the mark, and by which it changes with the fastener.
    force_kn: float = 30.0
    kn_per_deg: float = 0.93138
    #: Torque per clamp force of tightening and of loosening.
    on_mm: float = 48.99 / 30.0
    off_mm: float = 34.66 / 30.0
    wrench_nm_per_deg: float = 4.0
    play_deg: float = 1.0
    static_share: float = 1.08  #: Static over running torque.
    #: Degrees that the tool turns back; degrees of the fastener beyond the mark.
    back_deg: float = 22.0
    beyond_deg: float = 4.0


def record_turned_back(
    case: TurnedBack, step_deg: float, noise_nm: float, seed: int
) -> tuple[FloatArray, ...]:
    """Angle (deg), torque (N·m), and how many samples are of the way back; on beyond the mark follows."""
    tool, place, ways = 0.0, 0.0, ([], [])
    started = 0.0
    for on, way in enumerate(ways):
        while (place < case.beyond_deg) if on else (tool > -case.back_deg):
            tool += _FINE_DEG if on else -_FINE_DEG
            place, torque = _slid(case, tool, place, started)
            way.append((tool, torque))
        started = place
    rng = np.random.default_rng(seed)
    sampled = [np.array(way)[:: round(step_deg / _FINE_DEG)] for way in ways]
    angle, torque = np.concatenate(sampled).T
    return angle, torque + rng.normal(0.0, noise_nm, len(torque)), np.array(len(sampled[0]))


def _slid(case: TurnedBack, tool: float, place: float, started: float) -> tuple[float, float]:
    """Where the fastener is, and the torque, with the tool there."""
    k, twist, back = case.wrench_nm_per_deg, tool - place, tool + case.play_deg - place
    torque = k * twist if twist > 0.0 else k * min(back, 0.0)
    for _ in range(6):
        force = max(case.force_kn + case.kn_per_deg * place, 0.0)
        static = 1.0 + (case.static_share - 1.0) * math.exp(-abs(place - started) / _STATIC_DEG)
        most = force * static * (case.on_mm if torque > 0.0 else case.off_mm)
        if abs(torque) <= most + 1e-9:
            break
        torque = math.copysign(most, torque)
        place = tool - torque / k + (0.0 if torque > 0.0 else case.play_deg)
    return place, torque
