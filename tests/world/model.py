"""Parameters of one synthetic tightening: joint, prevailing torque, tool and instrument; all frozen."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

DrawdownShape = Literal[
    "power-law",
    "exponential-saturation",
    "softplus",
    "rough-contact",
    "two-knee-gasket",
    "raised-cosine",
    "irregular",
]
PlasticShape = Literal["exponential", "hyperbolic", "tanh", "linear-decay"]

DRAWDOWN_SHAPES: tuple[DrawdownShape, ...] = (
    "power-law",
    "exponential-saturation",
    "softplus",
    "rough-contact",
    "two-knee-gasket",
    "raised-cosine",
    "irregular",
)
PLASTIC_SHAPES: tuple[PlasticShape, ...] = ("exponential", "hyperbolic", "tanh", "linear-decay")


@dataclass(frozen=True)
class Prevailing:
    """Torque that turns the fastener before, and beside, what the joint asks for."""

    level_nm: float = 0.0  #: Level at the drawdown start, N·m.
    #: Rise over each turn, up to the level at the drawdown start and on through the rise (a thread that
    #: forms).
    climb_nm_per_turn: float = 0.0
    #: Degrees after the tool's start at which a locking element is reached; before it the torque is a tenth.
    enters_deg: float = 0.0
    #: Spike when the tool starts, and the angle over which it decays to 1/e.
    transient_nm: float = 0.0
    transient_decay_deg: float = 20.0
    ripple_nm: float = 0.0  #: Once-a-turn waviness (runout of the thread), amplitude.
    #: Slow wandering of the level over turns (standard size, and a number that chooses its
    #: course); it is part of the true level, and rests once the drawdown begins.
    wander_nm: float = 0.0
    wander_choice: int = 0


@dataclass(frozen=True)
class Drawdown:
    """How the clamp-force slope grows from nothing to the elastic one over `width_deg`."""

    shape: DrawdownShape = "power-law"  #: One of `DRAWDOWN_SHAPES`; formulas in `tests.world.shapes`.
    width_deg: float = 30.0  #: Degrees from the drawdown start to (nearly) the full slope.
    #: Power law: exponent of the slope (1: torque rises with the square). Rough contact: exponent of the
    #: asperity spring. Gasket: share of the full slope on the plateau between the two knees. Irregular:
    #: number that chooses the steps. Others: not used.
    bend: float = 1.0


@dataclass(frozen=True)
class Plastic:
    """How the slope falls once the clamp force passes `start_force_kn`."""

    shape: PlasticShape  #: One of `PLASTIC_SHAPES`; formulas in `tests.world.shapes`.
    #: Clamp force where the slope begins to fall (the start, not the onset of the definitions).
    start_force_kn: float
    scale_deg: float  #: The c of the formulas, degrees.
    #: Linear decay only: the slope's last share of the elastic one; negative where threads strip.
    lowest_share: float = 0.0


@dataclass(frozen=True)
class Joint:
    """The parts: stiffness, friction, and what happens over the rise."""

    rundown_deg: float = 720.0  #: Degrees from the tool's start to the drawdown start.
    clamp_kn_per_deg: float = 1.0  #: Clamp force per degree in the elastic stretch.
    #: Torque per clamp force of the thread's pitch alone, P/(2 pi) with P in mm.
    lead_nm_per_kn: float = 0.24
    friction_nm_per_kn: float = 1.4  #: Torque per clamp force of thread and bearing friction.
    drawdown: Drawdown = field(default_factory=Drawdown)
    plastic: Plastic | None = None
    #: Saw-tooth over the rise: height and length of one tooth.
    galling_nm: float = 0.0
    galling_pitch_deg: float = 6.0
    #: Uneven climb of torque over the rundown, height at the end of the recording; 0 for a thread that
    #: entered well. The tool then stops where the whole torque reaches the stop torque.
    cross_start_nm: float = 0.0
    #: The drive lets go at this torque, again and again at its pitch; the fastener turns no further.
    slip_at_nm: float | None = None
    slip_pitch_deg: float = 60.0

    @property
    def torque_per_force_nm_per_kn(self) -> float:
        """T/F in N·m per kN (the same number in mm)."""
        return self.lead_nm_per_kn + self.friction_nm_per_kn


@dataclass(frozen=True)
class Pause:
    """A stop between two stages."""

    at_torque_nm: float  #: Torque at which the first stage stops.
    duration_s: float = 0.2
    hold_share: float = 0.4  #: Torque that the tool still reads at rest, over the torque when it stopped.
    back_deg: float = 0.5  #: Degrees that the tool springs back.
    #: Static friction: excess of the restart's peak over the torque when it stopped, as a share of it.
    breakaway_share: float = 0.08
    breakaway_decay_deg: float = 1.0  #: Degrees over which the excess decays to 1/e.
    #: A tool that slows to its stop reads this share too little at the stop, fading over these degrees before
    #: it.
    ease_share: float = 0.0
    ease_deg: float = 3.0


@dataclass(frozen=True)
class Tool:
    """What turns the fastener."""

    target_torque_nm: float = 50.0  #: Nominal; noise is stated against it.
    stop_torque_nm: float = 50.0  #: The tool ends at this torque (overshoot included) ...
    #: ... or at this many degrees after the drawdown start, whichever comes first.
    stop_after_deg: float | None = None
    speeds_deg_per_s: tuple[float, ...] = (1800.0, 240.0)  #: Speed of each step.
    #: Degrees after the tool's start at which the next step begins; one fewer than the speeds.
    switch_deg: tuple[float, ...] = (600.0,)
    #: Dip of the torque at each switch to a slower step, spike at each switch to a faster one, N·m.
    dip_nm: float = 0.0
    dip_recover_deg: float = 5.0  #: Degrees over which a dip recovers to 1/e.
    droop: float = 0.0  #: Share of the speed lost at target torque.
    pause: Pause | None = None
    #: Start on a fastener that is already tight: degrees over which the torque rises from nothing, and the
    #: excess of the breakaway over the torque that then turns it; 0 where the recording starts in free
    #: rotation.
    wind_up_deg: float = 0.0
    breakaway_nm: float = 0.0
    #: After the final point: degrees that the angle runs back, and the time to zero torque; 0 for no release.
    release_back_deg: float = 2.0
    release_s: float = 0.03


@dataclass(frozen=True)
class Instrument:
    """What records it."""

    interval_s: float | None = 0.001  #: Sampled in time at this interval.
    interval_deg: float | None = None  #: Sampled in angle at this interval; exactly one of the two is given.
    #: Degrees after the tool's start at which the recording begins; the recorded angle counts from there.
    record_from_deg: float = 0.0
    #: The recording breaks off where the torque first passes this level; None: it does not.
    record_to_torque_nm: float | None = None
    noise_nm: float = 0.05  #: Standard deviation of white noise, N·m per sample.
    #: Irregular saw-tooth of the friction: standard height, mean tooth length.
    stick_slip_nm: float = 0.0
    stick_slip_pitch_deg: float = 4.0
    ripple_nm: float = 0.0  #: Ripple at half the sampling rate while the tool is fast, amplitude.
    #: Quantisation (rounding); 0 for none.
    angle_step_deg: float = 0.0
    torque_step_nm: float = 0.0
    dropped_share: float = 0.0  #: Share of samples that are lost.
    duplicate_share: float = 0.0  #: Share of samples that are written twice.
    clamp_noise_kn: float = 0.0  #: Standard deviation of a laboratory's clamp-force channel.


@dataclass(frozen=True)
class TraceModel:
    """Everything that makes one synthetic trace.

    Examples
    --------
    >>> TraceModel().joint.torque_per_force_nm_per_kn
    1.64
    """

    joint: Joint = field(default_factory=Joint)
    prevailing: Prevailing = field(default_factory=Prevailing)
    tool: Tool = field(default_factory=Tool)
    instrument: Instrument = field(default_factory=Instrument)

    @property
    def first_angle_deg(self) -> float:
        """Degrees after the tool's start at the first sample, from where the recorded angle counts."""
        return self.instrument.record_from_deg - self.tool.wind_up_deg
