"""Each strategy for one joint: mean, scatter, shares, what to set, what fails and why."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from analysis.arrays import FloatArray
from analysis.catalogue.sentences import Amount, Said, said
from analysis.strategy.draws import INPUTS, PAGE_POWER, normal_draws, seed_of
from analysis.strategy.joint_scatter import JointScatter
from analysis.strategy.models import (
    STRATEGIES,
    WINDOW_SHARE,
    Drawn,
    angle_force,
    draw,
    elastic_angle_deg,
    torque_force,
    turned_deg,
    yield_angle_deg,
    yield_force,
)

Force = Callable[[FloatArray, Drawn], FloatArray]

LOW_PERCENT, HIGH_PERCENT = 0.135, 99.865
#: Points of the outline that is drawn of each strategy.
_OUTLINE = 61


@dataclass(frozen=True, eq=False)
class StrategyFigures:
    """One strategy; forces in kN as tightened."""

    name: str
    mean_kn: float | None = None
    s_percent: float | None = None
    p0135_kn: float | None = None
    p50_kn: float | None = None
    p99865_kn: float | None = None
    share_below_wanted: float | None = None
    share_below_after_embedding: float | None = None
    share_yielded: float | None = None
    #: By words: first order, each input alone, over the sum.
    variance_shares: dict[str, float] = field(default_factory=dict)
    settings_words: Said = ""  #: What to set.
    rejected: float = 0.0  #: Share that an angle window rejects.
    outline: tuple[FloatArray, FloatArray] | None = None  #: Force and relative frequency.
    reason: str = ""  #: Why there are no figures.

    @property
    def tightening_factor(self) -> float | None:
        """Largest over smallest force, alpha_A."""
        if self.p99865_kn is None or not self.p0135_kn or self.p0135_kn <= 0.0:
            return None
        return self.p99865_kn / self.p0135_kn

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        names = (
            "name", "mean_kn", "s_percent", "p0135_kn", "p50_kn", "p99865_kn", "share_below_wanted",
            "share_yielded", "variance_shares", "share_below_after_embedding", "tightening_factor",
            "settings_words", "rejected", "reason",
        )  # fmt: skip
        return {name: getattr(self, name) for name in names} | {"settings_words": str(self.settings_words)}


@dataclass(frozen=True, eq=False)
class Advice:
    """All strategies for one joint."""

    joint: JointScatter
    strategies: tuple[StrategyFigures, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "joint": self.joint.name, "wanted_kn": self.joint.wanted_kn,
            "strategies": [one.as_dict() for one in self.strategies],
            "inputs": dict(self.joint.origins), "embedding_kn": self.joint.embedding_kn,
        }  # fmt: skip


def advise(joint: JointScatter, power: int = PAGE_POWER) -> Advice:
    """Every strategy from the same 2^power draws."""
    z = normal_draws(seed_of(joint.name), power)
    drawn = draw(joint, z)
    return Advice(joint, tuple(_strategy(joint, name, z, drawn) for name in STRATEGIES))


def _strategy(joint: JointScatter, name: str, z: FloatArray, drawn: Drawn) -> StrategyFigures:
    reason = _missing(joint, name)
    if reason:
        return StrategyFigures(name, reason=reason)
    force, words = _force(joint, name)
    kept = np.ones(z.shape[1], np.bool_)
    if name == "torque with angle window":
        turned = turned_deg(joint, z, drawn)
        low, high = np.quantile(turned, [(1 - WINDOW_SHARE) / 2, (1 + WINDOW_SHARE) / 2])
        kept = (turned >= low) & (turned <= high)
        words = said(f"{{stop}}, {low:.1f} to {high:.1f} deg from the elastic origin", stop=words)
    return _figures(
        joint,
        name,
        force=force(z, drawn)[kept],
        yielding=drawn.yield_kn[kept],
        words=words,
        shares=_shares(joint, force),
    )


def _missing(joint: JointScatter, name: str) -> str:
    if name in ("yield", "torque plus angle past yield") and joint.least_yield_mpa is None:
        return f"not evaluated: {joint.yield_reason}"
    if name != "torque" and name != "yield" and joint.stiffness_kn_per_deg is None:
        return f"not evaluated: {joint.stiffness_reason}"
    return ""


def _force(joint: JointScatter, name: str) -> tuple[Force, Said]:
    if name == "yield":
        return lambda z, drawn: yield_force(z, drawn), "shut-off where the slope falls"
    if name in ("torque", "torque with angle window"):
        return lambda z, drawn: torque_force(joint, z, drawn), Amount(joint.target_nm, "N·m", given=True)
    angle = elastic_angle_deg(joint) if name == "torque plus angle" else yield_angle_deg(joint)
    words = said(f"{{snug}}, then {angle:.1f} deg", snug=Amount(joint.snug_nm, "N·m", given=True))
    return lambda z, drawn: angle_force(joint, z, drawn, angle), words


def _figures(
    joint: JointScatter,
    name: str,
    *,
    force: FloatArray,
    yielding: FloatArray,
    words: Said,
    shares: dict[str, float],
) -> StrategyFigures:
    low, middle, high = np.quantile(force, [LOW_PERCENT / 100.0, 0.5, HIGH_PERCENT / 100.0]).tolist()
    mean = float(force.mean())
    wanted, lost = joint.wanted_kn, joint.embedding_kn
    edges = np.linspace(low, high, _OUTLINE + 1)
    count = np.histogram(force, edges)[0].astype(np.float64)
    return StrategyFigures(
        name=name,
        mean_kn=mean,
        s_percent=100.0 * float(force.std()) / mean,
        p0135_kn=low,
        p50_kn=middle,
        p99865_kn=high,
        share_below_wanted=None if wanted is None else float(np.mean(force < wanted)),
        share_below_after_embedding=(
            None if wanted is None or lost is None else float(np.mean(force - lost < wanted))
        ),
        share_yielded=_yielded(name, force, yielding),
        variance_shares=shares,
        settings_words=words,
        rejected=1.0 - WINDOW_SHARE if name == "torque with angle window" else 0.0,
        outline=((edges[1:] + edges[:-1]) / 2.0, count / max(count.max(), 1.0)),
    )


def _yielded(name: str, force: FloatArray, yielding: FloatArray) -> float | None:
    if np.isinf(yielding[0]):
        return None
    # Stopped by the slope's fall, a bolt has yielded, whatever force its shut-off reads.
    return 1.0 if name == "yield" else float(np.mean(force >= yielding))


def _shares(joint: JointScatter, force: Force) -> dict[str, float]:
    """Half the difference between one deviation up and down, squared, each input alone, over the sum.

    What correlated frictions have in common is shared equally between the two: C_i = d_i (d_i + rho d_j). One
    that works against the other takes away from the whole, and its share may be negative.
    """
    steps = np.hstack([np.eye(len(INPUTS)), -np.eye(len(INPUTS))])
    apart = replace(joint, settings=replace(joint.settings, friction_correlation=0.0))
    up, down = np.split(force(steps, draw(apart, steps)), 2)
    half = (up - down) / 2.0
    square = half**2
    frictions = [INPUTS.index(f"{place} friction") for place in ("thread", "bearing")]
    square[frictions] += joint.settings.friction_correlation * float(np.prod(half[frictions]))
    total = float(square.sum())
    if not total > 0.0:
        return {}
    shares = zip(INPUTS, (square / total).tolist(), strict=True)
    return {name: share for name, share in shares if abs(share) > 0.0005}
