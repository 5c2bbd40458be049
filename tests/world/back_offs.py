"""A bolt tightened, backed off by some degrees, and tightened again: what is recorded, and the truth."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.world.cases import between, log_between, random_drawdown
from tests.world.fastener import Fastener
from tests.world.fastener_sizes import DIAMETERS_MM, HEADS, fastener_of
from tests.world.model import Drawdown
from tests.world.shapes import FloatArray, drawdown_share
from tests.world.truth import sustained_slope

#: Spacing of the fine way that is sampled, degrees, and the torque's way through a wind-up, in points.
_FINE_DEG, _WIND_UP_POINTS = 0.02, 400


@dataclass(frozen=True)
class BackOffCase:
    """Everything that makes one back-off."""

    fastener: Fastener = field(default_factory=lambda: Fastener(10.0, 1.5, 14.63, 11.0))
    mu_thread: float = 0.12
    mu_bearing: float = 0.12
    clamp_kn_per_deg: float = 0.93138
    force_kn: float = 29.6  #: Clamp force at which the first tightening ends.
    drawdown: Drawdown = field(default_factory=lambda: Drawdown("power-law", 12.0, 1.0))
    rundown_deg: float = 400.0  #: Free turning that is recorded ahead of the drawdown.
    back_deg: float = 20.0  #: Degrees that the tool turns back, its wind-up among them.
    #: Torque up to which it is tightened again, over the first end torque; None: it is not.
    again_nm: float | None = 1.0
    #: Degrees that tool and socket turn between one direction and the other while the fastener stands.
    wind_up_deg: float = 3.0
    static_share: float = 1.0  #: Breakaway over moving torque (friction that was at rest).
    breaks_over_deg: float = 0.7  #: Degrees over which the breakaway decays to 1/e.
    prevailing_nm: float = 0.0
    noise_share: float = 0.0  #: Of the end torque, white, each sample.
    interval_deg: float = 0.25
    inclined_plane: bool = False  #: Whether the helix angle is taken as it is, not as small.
    #: Stiffness on the way back over that of tightening (a gasket's hysteresis); 1 for an elastic joint.
    unloading_stiffness: float = 1.0
    friction_after: float = 1.0  #: Friction of the second tightening over that of the first.

    @property
    def lead_and_friction(self) -> tuple[float, float]:
        """Both shares of torque per clamp force, N·m per kN."""
        if self.inclined_plane:
            return self.fastener.on_inclined_plane(self.mu_thread, self.mu_bearing)
        friction = self.fastener.friction_nm_per_kn(self.mu_thread, self.mu_bearing)
        return self.fastener.lead_nm_per_kn, friction


@dataclass(frozen=True)
class BackOffTruth:
    """What is true of a back-off: stiffness (N/deg), friction, clamp force before and after it (kN)."""

    stiffness_n_per_deg: float
    friction: float
    force_kn: float
    force_left_kn: float


def record_back_off(
    case: BackOffCase, rng: np.random.Generator
) -> tuple[FloatArray, FloatArray, list[int], BackOffTruth]:
    """Angle (deg) and torque (N·m, negative against the thread) of the whole of it, as one recording.

    Returns
    -------
    angle_deg, torque_nm : ndarray
    stops : list of int
        Samples at which the back-off, and the second tightening, begin: where to part it into recordings.
    truth : BackOffTruth
    """
    lead, friction = case.lead_and_friction
    turned, force = _rise(case)
    first = case.prevailing_nm + (lead + friction) * force
    way = [np.arange(-case.rundown_deg, 0.0, 1.0), turned]
    torque = [np.full(len(way[0]), case.prevailing_nm), first]
    # Back: the fastener stands while the tool unwinds and winds up the other way.
    top, end = float(turned[-1]), float(first[-1])
    travel = np.arange(0.0, max(case.back_deg - case.wind_up_deg, 0.0), _FINE_DEG)
    back = _unloaded(case, turned, force, top - travel)
    rest = (friction - lead) * back * _breakaway(case, travel)
    off = -(case.prevailing_nm + rest)
    way += [top - np.linspace(0.0, case.wind_up_deg, _WIND_UP_POINTS), top - case.wind_up_deg - travel]
    torque += [np.linspace(end, off[0], _WIND_UP_POINTS), off]
    left = float(back[-1])
    parts = [len(way[0]) + len(way[1]), sum(map(len, way))]
    if case.again_nm is not None:
        again, lowest = _again(case, lead, friction, turned, force, float(top - travel[-1]), left, end)
        way += [np.linspace(lowest - case.wind_up_deg, lowest, _WIND_UP_POINTS), again[0]]
        torque += [np.linspace(off[-1], again[1][0], _WIND_UP_POINTS), again[1]]
    angle, stops = _sampled(way, torque, case, parts, rng)
    mu = friction / case.fastener.friction_nm_per_kn(1.0, 1.0)
    # As the elastic slope is defined: the steepest that is sustained; some drawdowns never quite end.
    sustained = sustained_slope(turned, np.gradient(force, turned))[0]
    truth = BackOffTruth(1000.0 * sustained, mu, case.force_kn, left)
    return angle[0] - angle[0][0], angle[1], stops, truth


def _rise(case: BackOffCase) -> tuple[FloatArray, FloatArray]:
    """Degrees from first contact, and clamp force, up to where the first tightening ends."""
    longest = case.drawdown.width_deg * 2.0 + 1.5 * case.force_kn / case.clamp_kn_per_deg
    turned = np.arange(0.0, longest, _FINE_DEG)
    force = case.clamp_kn_per_deg * np.cumsum(drawdown_share(turned, case.drawdown)) * _FINE_DEG
    stop = int(np.searchsorted(force, case.force_kn)) + 1
    return turned[:stop], force[:stop]


def _unloaded(case: BackOffCase, turned: FloatArray, force: FloatArray, at: FloatArray) -> FloatArray:
    """Clamp force on the way back: the way that it came, steeper by the hysteresis."""
    came = np.interp(at, turned, force)
    return np.maximum(force[-1] - case.unloading_stiffness * (force[-1] - came), 0.0)


def _breakaway(case: BackOffCase, travel_deg: FloatArray) -> FloatArray:
    return 1.0 + (case.static_share - 1.0) * np.exp(-travel_deg / case.breaks_over_deg)


def _again(
    case: BackOffCase,
    lead: float,
    friction: float,
    turned: FloatArray,
    force: FloatArray,
    bottom_deg: float,
    left_kn: float,
    end_nm: float,
) -> tuple[tuple[FloatArray, FloatArray], float]:
    """The second tightening: along the way that it was backed off, then on along the first one's slope."""
    assert case.again_nm is not None
    travel = np.arange(0.0, 3.0 * (turned[-1] - bottom_deg) + 40.0, _FINE_DEG)
    came = np.interp(bottom_deg + travel, turned, force)
    more = case.clamp_kn_per_deg * np.maximum(bottom_deg + travel - turned[-1], 0.0)
    clamp = np.maximum(force[-1] - case.unloading_stiffness * (force[-1] - came), left_kn) + more
    lever = lead + friction * case.friction_after
    torque = case.prevailing_nm + lever * clamp * _breakaway(case, travel)
    reached = np.flatnonzero((torque >= case.again_nm * end_nm) & (travel > 5.0))
    stop = int(reached[0]) + 1 if len(reached) else len(travel)
    return (bottom_deg + travel[:stop], torque[:stop]), bottom_deg


def _sampled(
    way: list[FloatArray],
    torque: list[FloatArray],
    case: BackOffCase,
    parts: list[int],
    rng: np.random.Generator,
) -> tuple[tuple[FloatArray, FloatArray], list[int]]:
    """Every so many degrees of the tool's way, whichever way it turns; noise on the torque."""
    angle, value = np.concatenate(way), np.concatenate(torque)
    gone = np.concatenate(([0.0], np.cumsum(np.abs(np.diff(angle)))))
    marks = np.arange(rng.uniform(0.0, case.interval_deg), gone[-1], case.interval_deg)
    stops = [int(np.searchsorted(marks, gone[part])) for part in parts[: 1 if case.again_nm is None else 2]]
    at = np.interp(marks, gone, np.arange(len(gone)))
    noise = case.noise_share * float(np.max(np.concatenate(torque[:2]))) * rng.standard_normal(len(marks))
    index = np.arange(len(angle))
    return (np.interp(at, index, angle), np.interp(at, index, value) + noise), stops


def random_back_off(rng: np.random.Generator) -> BackOffCase:
    """Any size, friction, drawdown and instrument: back by 18 to 35 deg, with play and a static peak."""
    fastener = fastener_of(float(rng.choice(DIAMETERS_MM)), str(rng.choice(HEADS)))
    length = fastener.diameter_mm * log_between(rng, 1.5, 5.0)
    parts = 5.0 * np.ceil((fastener.bearing_mm + 0.7 * length + 5.0) / 5.0)
    stiffness = fastener.clamp_kn_per_deg(length, float(parts), 205.0)
    mu = between(rng, 0.08, 0.18)
    force = between(rng, 0.45, 0.75) * fastener.yield_force_kn(float(rng.choice([640.0, 940.0])), mu)
    mu_bearing = mu * between(rng, 0.8, 1.25)
    torque = force * (fastener.lead_nm_per_kn + fastener.friction_nm_per_kn(mu, mu_bearing))
    return BackOffCase(
        fastener=fastener,
        mu_thread=mu,
        mu_bearing=mu_bearing,
        clamp_kn_per_deg=stiffness,
        force_kn=force,
        drawdown=random_drawdown(rng, 0.8 * force / stiffness),
        back_deg=between(rng, 18.0, 35.0),
        again_nm=None if rng.random() < 0.3 else between(rng, 0.98, 1.02),
        wind_up_deg=between(rng, 1.0, 8.0),
        static_share=between(rng, 1.0, 1.2),
        breaks_over_deg=between(rng, 0.3, 1.5),
        prevailing_nm=0.0 if rng.random() < 0.6 else torque * between(rng, 0.02, 0.15),
        noise_share=between(rng, 0.002, 0.01),
        interval_deg=float(rng.choice([0.25, 0.5, 1.0])),
    )


def back_off_toml(name: str, fastener: Fastener, torque_nm: float) -> str:
    """The least definition that a back-off needs: thread, and bearing face by its two diameters."""
    return (
        f'[joints.{name}]\nthread = "M{fastener.diameter_mm:g}"\ntarget_torque_nm = {torque_nm:.4g}\n'
        f"bearing_diameter_mm = {fastener.bearing_mm}\nhole_diameter_mm = {fastener.hole_mm}\n"
    )
