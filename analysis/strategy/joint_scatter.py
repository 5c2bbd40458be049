"""The joint as the draws need it: middle and standard deviation of each quantity, with its origin."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from analysis.joint.clamp_basis import clamp_basis
from analysis.joint.definition import JointDefinition, finite_ends
from analysis.joint.friction import friction_range
from analysis.joint.plastic_screw import plastic_screw
from analysis.joint.property_class import proof_load_n
from analysis.joint.relaxation import EmbeddingLoss
from analysis.joint.remaining import joint_embedding
from analysis.joint.thread import Thread
from analysis.joint.torque import lever_mm
from analysis.joint.utilisation import torsion_factor
from analysis.strategy.settings import SNUG_SHARE, StrategyError, StrategySettings

#: A stated range of friction is taken for two standard deviations either way.
RANGE_DEVIATIONS = 4.0
#: Yield strength of a lot over the class's least: mean and standard deviation (own choice; the supplier's
#: certificates say better), and never below the least.
LOT_MEAN, LOT_DEVIATION = 1.07, 0.035


@dataclass(frozen=True)
class JointScatter:
    """Middles and standard deviations."""

    name: str
    thread: Thread
    friction_diameter_mm: float
    #: (middle, standard deviation)
    mu_thread: tuple[float, float]
    mu_bearing: tuple[float, float]
    target_nm: float
    snug_nm: float
    prevailing_nm: tuple[float, float]  #: (middle, standard deviation)
    stiffness_kn_per_deg: float | None
    stiffness_reason: str  #: Why there is none.
    least_yield_mpa: float | None
    wanted_kn: float | None
    proof_kn: float | None
    embedding_kn: float | None
    settings: StrategySettings
    origins: dict[str, str] = field(default_factory=dict)  #: By words: where each input comes from.
    stripping_kn: float | None = None  #: Force at which a thread in plastic strips.
    #: Why nothing is said of yield, where nothing is.
    yield_reason: str = "no property class or yield strength given"

    @property
    def lever_mm(self) -> float:
        """Torque over clamp force at the middle friction, mm."""
        return float(lever_mm(self.thread, self.friction_diameter_mm, self.mu_thread[0], self.mu_bearing[0]))

    @property
    def target_kn(self) -> float:
        """Clamp force that the target torque makes at the middle friction, kN."""
        return (self.target_nm - self.prevailing_nm[0]) / self.lever_mm

    @property
    def snug_kn(self) -> float:
        """Clamp force at the snug torque and the middle friction, kN."""
        return (self.snug_nm - self.prevailing_nm[0]) / self.lever_mm

    def yield_kn(self, deviations: float = 0.0) -> float:
        """Clamp force at which a bolt so many deviations stronger than its lot's mean yields, kN."""
        least = self.least_yield_mpa or 0.0
        strength_mpa = least * (LOT_MEAN + LOT_DEVIATION * deviations)
        factor = float(torsion_factor(self.thread, self.mu_thread[0]))
        return strength_mpa * self.thread.stress_area_mm2 / factor / 1000.0


def joint_scatter(definition: JointDefinition, settings: StrategySettings) -> JointScatter:
    """Read the joint.

    Raises
    ------
    StrategyError
        Where thread, bearing face or friction are not known: nothing can be said without.
    """
    if "plastic" in definition.parts:
        return _in_plastic(definition, settings)
    basis = clamp_basis(definition)
    if isinstance(basis, str):
        raise StrategyError(f"joint {definition.name}: {basis}: no clamp force can be worked out")
    mu = friction_range(definition)
    if mu is None or basis.ring is None:
        raise StrategyError(
            f"joint {definition.name}: friction of thread and bearing face is needed; a torque coefficient "
            "does not say how much of the torsion the bolt bears"
        )
    snug, snug_origin = _snug(definition, settings)
    embedding = joint_embedding(definition)
    parts = definition.parts
    proof = None
    if definition.property_class is not None and "yield_strength_mpa" not in parts:
        proof = proof_load_n(basis.thread, definition.property_class) / 1000.0
    rate = basis.stiffness
    return JointScatter(
        name=definition.name,
        thread=basis.thread,
        friction_diameter_mm=basis.ring.friction_diameter_mm,
        mu_thread=(mu.thread_middle, (mu.thread_high - mu.thread_low) / RANGE_DEVIATIONS),
        mu_bearing=(mu.bearing_middle, (mu.bearing_high - mu.bearing_low) / RANGE_DEVIATIONS),
        target_nm=definition.target_torque_nm,
        snug_nm=snug,
        prevailing_nm=_prevailing(definition),
        stiffness_kn_per_deg=None if rate is None else rate.force_per_degree_n / 1000.0,
        stiffness_reason=basis.stiffness_reason,
        least_yield_mpa=basis.yield_mpa,
        wanted_kn=parts.get("wanted_clamp_force_kn"),
        proof_kn=proof,
        embedding_kn=embedding.force_kn if isinstance(embedding, EmbeddingLoss) else None,
        settings=settings,
        origins={
            "Friction": "stated range, taken for 2 s either way",
            "Snug torque": snug_origin,
            "Clamp force per degree": basis.stiffness_reason if rate is None else rate.source,
            "Yield strength": _yield_origin(definition),
            "Tool": "settings",
        },
    )


def _in_plastic(definition: JointDefinition, settings: StrategySettings) -> JointScatter:
    from analysis.strategy.plastic_scatter import plastic_scatter

    screw = plastic_screw(definition)
    if isinstance(screw, str):
        raise StrategyError(f"joint {definition.name}: {screw}: no force can be worked out")
    return plastic_scatter(definition, screw, _snug(definition, settings), settings)


def _snug(definition: JointDefinition, settings: StrategySettings) -> tuple[float, str]:
    if settings.snug_torque_nm is None:
        words = f"{100 * SNUG_SHARE:.0f} % of the target: none is given"
        return SNUG_SHARE * definition.target_torque_nm, words
    if settings.snug_torque_nm >= definition.target_torque_nm:
        raise StrategyError(
            f"snug_torque_nm is {settings.snug_torque_nm:g}; expected below the target torque of "
            f"{definition.target_torque_nm:g} N·m"
        )
    return settings.snug_torque_nm, "settings"


def _prevailing(definition: JointDefinition) -> tuple[float, float]:
    """Of a locking element: one belongs where the lower limit is above zero."""
    limits = definition.prevailing_limits_nm
    if limits is None or limits[0] <= 0.0:
        return 0.0, 0.0
    low, high = limits[0], finite_ends(limits)[1] or limits[0]
    return (low + high) / 2.0, (high - low) / RANGE_DEVIATIONS


def _yield_origin(definition: JointDefinition) -> str:
    lot = f"lot mean {LOT_MEAN:g} of the least, s {100 * LOT_DEVIATION:g} % of it (own choice)"
    if "yield_strength_mpa" in definition.parts:
        return f"stated least strength; {lot}"
    if definition.property_class is None:
        return "no property class given"
    return f"class {definition.property_class}; {lot}"


def with_own_scatter(
    scatter: JointScatter, *, torque_percent: float | None = None, lever_percent: float | None = None,
    target_nm: float | None = None, words: str = "",
) -> JointScatter:  # fmt: skip
    """The joint with what its own traces say laid over: torque, its scatter, and that of friction.

    Parameters
    ----------
    lever_percent : float, optional
        Standard deviation of slope over stiffness: torque over clamp force from trace to trace. It holds the
        scatter of stiffness too, so that friction is not made too small.
    """
    changed = scatter
    if torque_percent is not None:
        changed = replace(changed, settings=replace(scatter.settings, torque_scatter_percent=torque_percent))
        changed.origins["Tool"] = f"torque: {words}; angle and snug: settings"
    if target_nm is not None:
        changed = replace(changed, target_nm=target_nm)
    if lever_percent is not None:
        thread, ring = _arms(scatter)
        correlation = scatter.settings.friction_correlation
        unit = (thread**2 + ring**2 + 2.0 * correlation * thread * ring) ** 0.5
        deviation = lever_percent / 100.0 * scatter.lever_mm / unit
        changed = replace(
            changed,
            mu_thread=(scatter.mu_thread[0], deviation),
            mu_bearing=(scatter.mu_bearing[0], deviation),
        )
        changed.origins["Friction"] = f"middle: stated range; scatter: slope over stiffness, {words}"
    return changed


def _arms(scatter: JointScatter) -> tuple[float, float]:
    """How much the lever grows with friction in the thread and under the head, mm."""
    at = [lever_mm(scatter.thread, scatter.friction_diameter_mm, *pair) for pair in ((0, 0), (1, 0), (0, 1))]
    return float(at[1] - at[0]), float(at[2] - at[0])
