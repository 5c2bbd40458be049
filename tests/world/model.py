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
    """Torque that turns the fastener before, and beside, what the joint asks for.

    Attributes
    ----------
    level_nm : float
        Level at the drawdown start, N·m.
    climb_nm_per_turn : float
        Rise over each turn, up to the level at the drawdown start and on through the rise (a thread that
        forms).
    enters_deg : float
        Degrees after the tool's start at which a locking element is reached; before it the torque is a tenth.
    transient_nm, transient_decay_deg : float
        Spike when the tool starts, and the angle over which it decays to 1/e.
    ripple_nm : float
        Once-a-turn waviness (runout of the thread), amplitude.
    wander_nm, wander_choice : float, int
        Slow wandering of the level over turns (standard size, and a number that chooses its course); it is
        part
        of the true level, and rests once the drawdown begins.
    """

    level_nm: float = 0.0
    climb_nm_per_turn: float = 0.0
    enters_deg: float = 0.0
    transient_nm: float = 0.0
    transient_decay_deg: float = 20.0
    ripple_nm: float = 0.0
    wander_nm: float = 0.0
    wander_choice: int = 0


@dataclass(frozen=True)
class Drawdown:
    """How the clamp-force slope grows from nothing to the elastic one over `width_deg`.

    Attributes
    ----------
    shape : str
        One of `DRAWDOWN_SHAPES`; formulas in `tests.world.shapes`.
    width_deg : float
        Degrees from the drawdown start to (nearly) the full slope.
    bend : float
        Power law: exponent of the slope (1: torque rises with the square). Rough contact: exponent of the
        asperity spring. Gasket: share of the full slope on the plateau between the two knees. Irregular:
        number
        that chooses the steps. Others: not used.
    """

    shape: DrawdownShape = "power-law"
    width_deg: float = 30.0
    bend: float = 1.0


@dataclass(frozen=True)
class Plastic:
    """How the slope falls once the clamp force passes `start_force_kn`.

    Attributes
    ----------
    shape : str
        One of `PLASTIC_SHAPES`; formulas in `tests.world.shapes`.
    start_force_kn : float
        Clamp force where the slope begins to fall (the start, not the onset of the definitions).
    scale_deg : float
        The c of the formulas, degrees.
    lowest_share : float
        Linear decay only: the slope's last share of the elastic one; negative where threads strip.
    """

    shape: PlasticShape
    start_force_kn: float
    scale_deg: float
    lowest_share: float = 0.0


@dataclass(frozen=True)
class Joint:
    """The parts: stiffness, friction, and what happens over the rise.

    Attributes
    ----------
    rundown_deg : float
        Degrees from the tool's start to the drawdown start.
    clamp_kn_per_deg : float
        Clamp force per degree in the elastic stretch.
    lead_nm_per_kn : float
        Torque per clamp force of the thread's pitch alone, P/(2 pi) with P in mm.
    friction_nm_per_kn : float
        Torque per clamp force of thread and bearing friction.
    galling_nm, galling_pitch_deg : float
        Saw-tooth over the rise: height and length of one tooth.
    cross_start_nm : float
        Uneven climb of torque over the rundown, height at the end of the recording; 0 for a thread that
        entered well. The tool then stops where the whole torque reaches the stop torque.
    slip_at_nm, slip_pitch_deg : float or None
        The drive lets go at this torque, again and again at its pitch; the fastener turns no further.
    """

    rundown_deg: float = 720.0
    clamp_kn_per_deg: float = 1.0
    lead_nm_per_kn: float = 0.24
    friction_nm_per_kn: float = 1.4
    drawdown: Drawdown = field(default_factory=Drawdown)
    plastic: Plastic | None = None
    galling_nm: float = 0.0
    galling_pitch_deg: float = 6.0
    cross_start_nm: float = 0.0
    slip_at_nm: float | None = None
    slip_pitch_deg: float = 60.0

    @property
    def torque_per_force_nm_per_kn(self) -> float:
        """T/F in N·m per kN (the same number in mm)."""
        return self.lead_nm_per_kn + self.friction_nm_per_kn


@dataclass(frozen=True)
class Pause:
    """A stop between two stages.

    Attributes
    ----------
    at_torque_nm : float
        Torque at which the first stage stops.
    duration_s : float
    hold_share : float
        Torque that the tool still reads at rest, over the torque when it stopped.
    back_deg : float
        Degrees that the tool springs back.
    breakaway_share : float
        Static friction: excess of the restart's peak over the torque when it stopped, as a share of it.
    breakaway_decay_deg : float
        Degrees over which the excess decays to 1/e.
    ease_share, ease_deg : float
        A tool that slows to its stop reads this share too little at the stop, fading over these degrees
        before it.
    """

    at_torque_nm: float
    duration_s: float = 0.2
    hold_share: float = 0.4
    back_deg: float = 0.5
    breakaway_share: float = 0.08
    breakaway_decay_deg: float = 1.0
    ease_share: float = 0.0
    ease_deg: float = 3.0


@dataclass(frozen=True)
class Tool:
    """What turns the fastener.

    Attributes
    ----------
    target_torque_nm : float
        Nominal; noise is stated against it.
    stop_torque_nm : float
        The tool ends at this torque (overshoot included) ...
    stop_after_deg : float or None
        ... or at this many degrees after the drawdown start, whichever comes first.
    speeds_deg_per_s : tuple of float
        Speed of each step.
    switch_deg : tuple of float
        Degrees after the tool's start at which the next step begins; one fewer than the speeds.
    dip_nm : float
        Dip of the torque at each switch to a slower step, spike at each switch to a faster one, N·m.
    dip_recover_deg : float
        Degrees over which a dip recovers to 1/e.
    droop : float
        Share of the speed lost at target torque.
    wind_up_deg, breakaway_nm : float
        Start on a fastener that is already tight: degrees over which the torque rises from nothing, and the
        excess of the breakaway over the torque that then turns it; 0 where the recording starts in free
        rotation.
    release_back_deg, release_s : float
        After the final point: degrees that the angle runs back, and the time to zero torque; 0 for no
        release.
    """

    target_torque_nm: float = 50.0
    stop_torque_nm: float = 50.0
    stop_after_deg: float | None = None
    speeds_deg_per_s: tuple[float, ...] = (1800.0, 240.0)
    switch_deg: tuple[float, ...] = (600.0,)
    dip_nm: float = 0.0
    dip_recover_deg: float = 5.0
    droop: float = 0.0
    pause: Pause | None = None
    wind_up_deg: float = 0.0
    breakaway_nm: float = 0.0
    release_back_deg: float = 2.0
    release_s: float = 0.03


@dataclass(frozen=True)
class Instrument:
    """What records it.

    Attributes
    ----------
    interval_s : float or None
        Sampled in time at this interval.
    interval_deg : float or None
        Sampled in angle at this interval; exactly one of the two is given.
    record_from_deg : float
        Degrees after the tool's start at which the recording begins; the recorded angle counts from there.
    record_to_torque_nm : float or None
        The recording breaks off where the torque first passes this level; None: it does not.
    noise_nm : float
        Standard deviation of white noise, N·m per sample.
    stick_slip_nm, stick_slip_pitch_deg : float
        Irregular saw-tooth of the friction: standard height, mean tooth length.
    ripple_nm : float
        Ripple at half the sampling rate while the tool is fast, amplitude.
    angle_step_deg, torque_step_nm : float
        Quantisation (rounding); 0 for none.
    dropped_share : float
        Share of samples that are lost.
    duplicate_share : float
        Share of samples that are written twice.
    clamp_noise_kn : float
        Standard deviation of a laboratory's clamp-force channel.
    """

    interval_s: float | None = 0.001
    interval_deg: float | None = None
    record_from_deg: float = 0.0
    record_to_torque_nm: float | None = None
    noise_nm: float = 0.05
    stick_slip_nm: float = 0.0
    stick_slip_pitch_deg: float = 4.0
    ripple_nm: float = 0.0
    angle_step_deg: float = 0.0
    torque_step_nm: float = 0.0
    dropped_share: float = 0.0
    duplicate_share: float = 0.0
    clamp_noise_kn: float = 0.0


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
