"""A tightening that is backed off by some degrees and tightened again, as a tool of the plant records it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.world.model import TraceModel
from tests.world.path import Path, build_path
from tests.world.recording import Recording, write_down
from tests.world.shapes import FloatArray
from tests.world.true_curve import build_true_curve
from tests.world.truth import read_truth

#: Speed of the back-off, degrees a second; points of the tool's play; seconds of the pauses before each turn.
_SPEED_DEG_PER_S, _PLAY_POINTS, _PAUSE_S = 90.0, 60, 0.15
#: Breakaway over moving torque, less one, and the degrees over which it decays to 1/e.
_STATIC_EXCESS, _BREAKS_OVER_DEG = 0.08, 0.6


@dataclass(frozen=True)
class BackedOff:
    """How a fastener is backed off."""

    back_deg: float = 24.0  #: Degrees that the tool turns back, its play among them.
    #: Degrees that tool and socket turn between one direction and the other while the fastener stands.
    play_deg: float = 3.0
    short_nm: float = 1.0  #: How much less than the stop torque the first tightening ends with, N·m.


def record_backed_off(model: TraceModel, how: BackedOff, rng: np.random.Generator) -> Recording:
    """Forward, back, and forward again up to the stop torque; the truth is that of the whole rise."""
    curve = build_true_curve(model)
    whole = build_path(replace(model, tool=replace(model.tool, release_s=0.0, pause=None)), curve, rng)
    stop = int(np.flatnonzero(whole.torque_nm >= model.tool.stop_torque_nm - how.short_nm)[0])
    first, rest = _cut(whole, 0, stop + 1), _cut(whole, stop + 1, len(whole.time_s))
    back, again = _turned_back(model, how, whole, stop)
    path = _joined(first, back, again, rest, _released(rest, model))
    return write_down(model, path, read_truth(model, curve), rng)


def _turned_back(model: TraceModel, how: BackedOff, whole: Path, stop: int) -> tuple[Path, Path]:
    """The play of the tool, the way back, the play again and the way on to where it was turned back."""
    joint, level = model.joint, model.prevailing.level_nm
    top, end = float(whole.angle_deg[stop]), float(whole.torque_nm[stop])
    depth = np.linspace(0.0, how.back_deg - how.play_deg, 400)
    force = np.interp(top - depth, whole.angle_deg, whole.clamp_force_kn)
    stuck = 1.0 + _STATIC_EXCESS * np.exp(-depth / _BREAKS_OVER_DEG)
    off = -(level + (joint.friction_nm_per_kn - joint.lead_nm_per_kn) * force * stuck)
    height = depth[-1] - depth[::-1]
    on = level + joint.torque_per_force_nm_per_kn * force[::-1] * (
        1.0 + _STATIC_EXCESS * np.exp(-height / _BREAKS_OVER_DEG)
    )
    step = float(whole.step[stop])
    play = np.linspace(0.0, 1.0, _PLAY_POINTS)
    back = _points(
        np.concatenate([top - how.play_deg * play, top - how.play_deg - depth[1:]]),
        np.concatenate([end + (off[0] - end) * play, off[1:]]),
        np.concatenate([np.full(_PLAY_POINTS, force[0]), force[1:]]),
        step + 1.0,
    )
    low = top - how.back_deg
    again = _points(
        np.concatenate([low + how.play_deg * play, low + how.play_deg + height[1:]]),
        np.concatenate([off[-1] + (on[0] - off[-1]) * play, on[1:]]),
        np.concatenate([np.full(_PLAY_POINTS, force[-1]), force[::-1][1:]]),
        step + 2.0,
    )
    return back, again


def _points(angle: FloatArray, torque: FloatArray, force: FloatArray, step: float) -> Path:
    gone = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(angle)))))
    n = len(angle)
    speed = np.full(n, _SPEED_DEG_PER_S)
    return Path(_PAUSE_S + gone / _SPEED_DEG_PER_S, angle, torque, force, np.full(n, step), speed)


def _released(last: Path, model: TraceModel) -> Path:
    """The torque collapses and the angle springs back."""
    way = np.array([0.05, 0.2, 0.45, 0.75, 1.0, 1.6])
    done, n = np.minimum(way, 1.0), 6
    return Path(
        model.tool.release_s * way,
        last.angle_deg[-1] - model.tool.release_back_deg * done**1.3,
        last.torque_nm[-1] * (1.0 - done) ** 1.2,
        np.full(n, last.clamp_force_kn[-1]),
        np.full(n, last.step[-1] + 2.0),
        np.zeros(n),
    )


def _cut(path: Path, start: int, stop: int) -> Path:
    return Path(*(getattr(path, name)[start:stop].copy() for name in Path.__dataclass_fields__))


def _joined(first: Path, back: Path, again: Path, rest: Path, released: Path) -> Path:
    """One after the other in time; the last stretch belongs to the step of the second tightening."""
    rest = replace(rest, time_s=rest.time_s - first.time_s[-1], step=rest.step + 2.0)
    parts, now = [first], float(first.time_s[-1])
    for part in (back, again, rest, released):
        parts.append(replace(part, time_s=part.time_s + now))
        now = float(parts[-1].time_s[-1])
    return Path(
        *(np.concatenate([getattr(part, name) for part in parts]) for name in Path.__dataclass_fields__)
    )
