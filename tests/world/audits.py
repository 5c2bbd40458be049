"""Audits with known truth: a hand wrench wound up on a tight joint, which then turns a little, or not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from analysis.traces import TraceSet
from tests.world.cases import between
from tests.world.shapes import FloatArray

#: Seconds between two samples of the release, and their number.
_RELEASE_S, _RELEASE_SAMPLES = 0.01, 8
#: Samples a degree that the way is drawn with before it is read.
_FINE = 100


@dataclass(frozen=True)
class AuditCase:
    """Everything that makes one audit."""

    ongoing_nm: float  #: Torque of the moving fastener at the first movement: what an audit is to find.
    static_share: float  #: Static over running torque.
    slope_nm_per_deg: float  #: By which the torque climbs with the moving fastener.
    wrench_nm_per_deg: float  #: Stiffness of wrench and socket.
    #: How the static excess goes.
    dip: Literal["exponential", "linear", "half-wave", "abrupt", "rational"] = "exponential"
    #: Degrees over which it goes to 1/e, to nothing, or (rational: 1/(1 + x/c)) to half.
    over_deg: float = 0.8
    turn_deg: float = 6.0  #: Degrees turned after the movement; where it never moves, of no meaning.
    moves: bool = True
    #: Torque at which a wrench is let go that never moved the fastener, over the static one.
    stopped_share: float = 0.75
    #: Free degrees ahead; step of the recorded angle; hand speed; noise of each sample over the torque.
    play_deg: float = 2.0
    interval_deg: float = 0.25
    speed_deg_per_s: float = 10.0
    noise_share: float = 0.005

    @property
    def static_nm(self) -> float:
        """Torque at the first movement."""
        return self.ongoing_nm * self.static_share

    @property
    def moved_at_deg(self) -> float:
        """Angle of the first movement."""
        return self.play_deg + self.static_nm / self.wrench_nm_per_deg

    def line_nm(self, beyond_deg: FloatArray) -> FloatArray:
        """Torque of the moving fastener so many degrees after the movement."""
        excess = self.static_nm - self.ongoing_nm
        left = {
            "exponential": np.exp(-beyond_deg / self.over_deg),
            "linear": np.maximum(1.0 - beyond_deg / self.over_deg, 0.0),
            "half-wave": 0.5 + 0.5 * np.cos(np.pi * np.clip(beyond_deg / self.over_deg, 0.0, 1.0)),
            "rational": 1.0 / (1.0 + beyond_deg / self.over_deg),
            "abrupt": (beyond_deg <= 0.0).astype(np.float64),
        }[self.dip]
        return np.asarray(self.ongoing_nm + self.slope_nm_per_deg * beyond_deg + excess * left)


def record_audit(case: AuditCase, rng: np.random.Generator) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Angle (deg), torque (N·m) and time (s) of one audit, the release at its end."""
    end = case.moved_at_deg + case.turn_deg
    if not case.moves:
        end = case.play_deg + case.stopped_share * case.static_nm / case.wrench_nm_per_deg
    angle = np.arange(0.0, end + 1e-9, case.interval_deg)
    wound = case.wrench_nm_per_deg * np.maximum(angle - case.play_deg, 0.0)
    torque = wound
    if case.moves:
        beyond = angle - case.moved_at_deg
        torque = np.where(beyond < 0.0, wound, case.line_nm(np.maximum(beyond, 0.0)))
    # A hand is no motor: its speed wanders by a fifth.
    speed = case.speed_deg_per_s * (1.0 + 0.2 * np.sin(angle / 7.0 + rng.uniform(0.0, 6.0)))
    time = np.concatenate(([0.0], np.cumsum(case.interval_deg / speed[1:])))
    let_go = np.linspace(1.0, 0.0, _RELEASE_SAMPLES + 1)[1:]
    sprung = angle[-1] - (1.0 - let_go) * torque[-1] / case.wrench_nm_per_deg * 0.3
    angle = np.concatenate((angle, np.round(sprung / case.interval_deg) * case.interval_deg))
    torque = np.concatenate((torque, torque[-1] * let_go))
    time = np.concatenate((time, time[-1] + _RELEASE_S * np.arange(1, _RELEASE_SAMPLES + 1)))
    return angle, torque + rng.normal(0.0, case.noise_share * case.ongoing_nm, len(torque)), time


def draw_audit(
    rng: np.random.Generator, *, dips: Sequence[str] = ("exponential",), moves: bool | None = None
) -> AuditCase:
    """One audit at random: one in ten never moves, unless it is said whether it does."""
    ongoing = float(np.exp(between(rng, np.log(8.0), np.log(150.0))))
    return AuditCase(
        ongoing_nm=ongoing,
        static_share=between(rng, 1.0, 1.2),
        slope_nm_per_deg=ongoing / between(rng, 18.0, 90.0),
        wrench_nm_per_deg=ongoing / between(rng, 8.0, 25.0),
        dip=dips[int(rng.integers(len(dips)))],  # type: ignore[arg-type]
        over_deg=between(rng, 0.3, 1.8),
        turn_deg=between(rng, 3.0, 9.0),
        moves=bool(rng.random() >= 0.1) if moves is None else moves,
        stopped_share=between(rng, 0.5, 0.92),
        play_deg=between(rng, 0.0, 5.0),
        speed_deg_per_s=between(rng, 3.0, 25.0),
    )


def audit_traces(
    cases: Sequence[AuditCase],
    rng: np.random.Generator,
    attributes: Mapping[str, Sequence[Any]] | None = None,
    *,
    timed: bool = True,
) -> TraceSet:
    """The recordings of these audits, named ``audit-1`` onward."""
    recorded = [record_audit(case, rng) for case in cases]
    angles, torques, times = ([one[k] for one in recorded] for k in range(3))
    names = [f"audit-{k + 1}" for k in range(len(cases))]
    return TraceSet.from_lists(names, angles, torques, attributes, time_s=times if timed else None)
