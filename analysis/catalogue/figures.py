"""Every figure of a trace: its name, title, unit, words, help, digits, and where it is read from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from analysis.figure_text import ABSENT, number_text

if TYPE_CHECKING:
    from analysis.catalogue.units import DisplayUnits

Kind = Literal["text", "texts", "number", "count", "flag", "time"]
#: Where a figure is shown beside the results table and the filter: beside the reasons for a verdict, on a
#: report's
#: first page or among its further figures, first in the choice of a histogram, and between sets of traces.
Use = Literal["reasons", "report", "further", "offered", "sets", "shared"]


@dataclass(frozen=True)
class Figure:
    """One figure, and the column of the results table that holds it."""

    name: str  #: Of the column, with the unit.
    title: str  #: Heading for people, without the unit.
    unit: str = ""  #: Internal unit; empty for text, counts and ratios.
    help: str = ""  #: One sentence: what it is, on which basis.
    kind: Kind = "number"
    #: Where it stands in an `analysis.Analysis`, as a path of attributes; empty: it is worked out by the
    #: function of its name in `analysis.result_values`, or recorded.
    read: str = ""
    words: str = ""  #: What it is called within a sentence; by default the title.
    uncertainty: str = ""  #: Figure that is its standard uncertainty; empty where none is stated.
    #: Figures of the bounds that it lies between or is one of; they say how many of its digits count.
    bounds: tuple[str, ...] = ()
    decimals: int = 2  #: On paper, in the internal unit.
    per_cent: bool = False  #: A share that is written in per cent.
    uses: tuple[Use, ...] = ()
    #: Help topic; name of what the window draws to show how it was read.
    topic: str = ""
    evidence: str = ""

    @property
    def is_place(self) -> bool:
        """Whether it is a place on the axis of angles, and no difference of two."""
        return _AXIS in self.help

    def symbol(self, units: DisplayUnits) -> str:
        """Symbol of the unit that is shown."""
        return "%" if self.per_cent else units.symbol(self.unit)

    def factor(self, units: DisplayUnits) -> float:
        """What an internal value is multiplied with to be shown."""
        return 100.0 if self.per_cent else units.factor(self.unit)

    def digits(self, units: DisplayUnits) -> int:
        """Decimals on paper: as many significant digits as the internal unit would show.

        Examples
        --------
        >>> from analysis.catalogue.units import DisplayUnits
        >>> [FINAL_TORQUE.digits(DisplayUnits(unit)) for unit in ("N·m", "cN·m", "kN·m")]
        [2, 0, 5]
        """
        factor = 1.0 if self.per_cent else self.factor(units)
        return max(0, self.decimals - round(math.log10(factor)))

    def text(self, value: float | None, units: DisplayUnits) -> str:
        """An internal value as printed, without its unit; a dash where it is absent.

        Examples
        --------
        >>> from analysis.catalogue.units import DisplayUnits
        >>> FINAL_TORQUE.text(65.0, DisplayUnits("ft·lbf")), UTILISATION.text(0.874, DisplayUnits())
        ('47.94', '87')
        """
        if value is None or not math.isfinite(value):
            return ABSENT
        return number_text(value * self.factor(units), self.digits(units))

    @property
    def said(self) -> str:
        """What it is called within a sentence."""
        return self.words or self.title[0].lower() + self.title[1:]


_AXIS = "on the trace's own angle axis"
_CLAMP_BOUNDS = ("clamp_force_low_kn", "clamp_force_high_kn")
_ESTIMATED = "Estimated, not measured: "
_STANDARD = "Standard uncertainty."


def _text(name: str, title: str, help: str) -> Figure:
    return Figure(name, title, "", help, "text")


FINAL_TORQUE = Figure(
    "final_torque_nm", "Final torque", "N·m", "The highest torque.", read="curves.final_torque_nm",
    topic="final point", uses=("reasons", "report", "offered", "sets", "shared"),
)  # fmt: skip
FINAL_ANGLE = Figure(
    "final_angle_deg", "Final angle", "deg", f"Angle of the final point, {_AXIS}.",
    read="curves.final_angle_deg", decimals=1,
)  # fmt: skip
SNUG_ANGLE = Figure(
    "snug_angle_deg", "Snug angle", "deg", f"Where the straight rise begins, {_AXIS}.",
    read="curves.snug_angle_deg", uncertainty="snug_angle_uncertainty_deg", decimals=1,
    topic="snug point", evidence="snug point", uses=("reasons",),
)  # fmt: skip
SNUG_TORQUE = Figure(
    "snug_torque_nm", "Snug torque", "N·m", "Torque at the snug point.", read="curves.snug_torque_nm",
    topic="snug point", evidence="snug point", uses=("reasons", "further", "sets"),
)  # fmt: skip
JOINT_RATE = Figure(
    "joint_rate_deg", "Angle from snug to final", "deg",
    "Degrees from snug point to final point: the joint rate.", read="curves.joint_rate_deg",
    uncertainty="snug_angle_uncertainty_deg", decimals=1, topic="joint rate", evidence="joint rate",
    uses=("reasons", "report", "offered", "sets", "shared"),
)  # fmt: skip
PREVAILING_TORQUE = Figure(
    "prevailing_torque_nm", "Prevailing torque", "N·m", "Level just ahead of the drawdown, last half turn.",
    read="curves.prevailing_torque_nm", uncertainty="prevailing_uncertainty_nm", topic="prevailing torque",
    evidence="prevailing torque", uses=("reasons", "report", "offered", "sets", "shared"),
)  # fmt: skip
DRAWDOWN_ANGLE = Figure(
    "drawdown_angle_deg", "Drawdown start", "deg", f"Where the torque leaves that level, {_AXIS}.",
    read="curves.drawdown_angle_deg", uncertainty="drawdown_angle_uncertainty_deg", decimals=1,
    topic="drawdown start", evidence="drawdown start", uses=("reasons",),
)  # fmt: skip
ELASTIC_SLOPE = Figure(
    "elastic_slope_nm_per_deg", "Elastic slope", "N·m/deg", "Slope of the straight stretch.",
    read="curves.elastic_slope_nm_per_deg", uncertainty="elastic_slope_uncertainty_nm_per_deg", decimals=3,
    topic="elastic slope", evidence="elastic slope", uses=("reasons", "further", "offered", "sets", "shared"),
)  # fmt: skip
ELASTIC_ORIGIN = Figure(
    "elastic_origin_deg", "Elastic origin", "deg", f"Elastic line at the prevailing torque, {_AXIS}.",
    read="curves.elastic_origin_deg", uncertainty="elastic_origin_uncertainty_deg", decimals=1,
    topic="elastic origin", evidence="elastic origin", uses=("reasons",),
)  # fmt: skip
YIELD_ANGLE = Figure(
    "yield_angle_deg", "Yield angle", "deg", f"Yield onset, {_AXIS}.", read="curves.yield_angle_deg",
    uncertainty="yield_angle_uncertainty_deg", decimals=1, topic="yield onset", evidence="yield onset",
    uses=("reasons",),
)  # fmt: skip
YIELD_TORQUE = Figure(
    "yield_torque_nm", "Yield torque", "N·m", "Torque at the yield onset.", read="curves.yield_torque_nm",
    topic="yield onset", evidence="yield onset", uses=("reasons", "sets"),
)  # fmt: skip
CLAMP_FORCE = Figure(
    "clamp_force_kn", "Clamp force, estimated", "kN",
    f"{_ESTIMATED}best value from all routes; absent where they contradict each other.",
    read="clamp.clamp_force_kn", bounds=_CLAMP_BOUNDS, topic="clamp force",
    uses=("report", "offered", "sets"),
)  # fmt: skip
CLAMP_LOW = Figure(
    "clamp_force_low_kn", "Clamp force, estimated low", "kN",
    "Lowest of what the routes allow (about 95 %); estimated.",
    read="clamp.clamp_force_low_kn", bounds=_CLAMP_BOUNDS, topic="clamp force", uses=("report",),
)  # fmt: skip
CLAMP_HIGH = Figure(
    "clamp_force_high_kn", "Clamp force, estimated high", "kN",
    "Highest of what the routes allow (about 95 %); estimated.",
    read="clamp.clamp_force_high_kn", bounds=_CLAMP_BOUNDS, topic="clamp force", uses=("report",),
)  # fmt: skip
CLAMP_ROUTE = Figure(
    "clamp_force_route", "Clamp force by", "",
    "What the clamp force rests on: torque, angle, torque+angle, back-off, loosening, load cell; or none.",
    "text", "clamp.route", topic="clamp force",
)  # fmt: skip
CLAMP_LEFT_LOW = Figure(
    "clamp_force_left_low_kn", "Clamp force left, estimated low", "kN",
    "The low bound less embedding loss.", words="clamp force", bounds=_CLAMP_BOUNDS,
)  # fmt: skip
RESIDUAL_TORQUE = Figure(
    "residual_torque_nm", "Residual torque", "N·m",
    "Of an audit: what a hand wrench finds, by the joint's definition; drawn back to the first movement "
    "where none is given.",
    read="audits.residual_torque_nm", uncertainty="residual_torque_uncertainty_nm", topic="residual torque",
    evidence="residual torque", uses=("reasons", "report", "sets"),
)  # fmt: skip
PULSES_AFTER_SNUG = Figure(
    "pulses_after_snug", "Pulses after snug", "", "Blows of an impulse tool after the snug point.",
    read="operations.course.after_snug", decimals=0, topic="impulse tool",
)  # fmt: skip
STRIKE_TIME = Figure(
    "strike_time_s", "Time of the pulses", "s", "From the first to the last blow of an impulse tool.",
    read="operations.course.seconds", decimals=3, topic="impulse tool",
)  # fmt: skip
OUTLIER_SCORE = Figure(
    "outlier_score", "Outlier score", "", "How odd among the joint's traces; 1 is the threshold.",
    read="outliers.score", topic="outlier", uses=("reasons", "offered"),
)  # fmt: skip
TOTAL_ANGLE = Figure(
    "total_angle_deg", "Total angle", "deg", "Degrees from first sample to final point.",
    read="quantities.total_angle_deg", words="angle from first sample to final point", decimals=1,
)  # fmt: skip
RUNDOWN = Figure(
    "rundown_deg", "Rundown", "deg", "Degrees from first sample to drawdown start.",
    read="quantities.rundown_deg", words="length of the rundown",
    uncertainty="drawdown_angle_uncertainty_deg",
    decimals=1, uses=("sets", "shared"),
)  # fmt: skip
DRAWDOWN = Figure(
    "drawdown_deg", "Drawdown", "deg", "Degrees from drawdown start to snug point.",
    read="quantities.drawdown_deg", words="length of the drawdown", decimals=1, uses=("sets",),
)  # fmt: skip
UTILISATION = Figure(
    "utilisation", "Utilisation, estimated", "", "Combined stress over minimum yield strength; estimated.",
    read="clamp.utilisation", decimals=0, per_cent=True, topic="utilisation", uses=("report",),
)  # fmt: skip
TORQUE_NOISE = Figure(
    "torque_noise_nm", "Torque noise", "N·m", "Standard deviation about the local curve.",
    read="curves.torque_noise_nm", decimals=3,
)  # fmt: skip
DENSITY = Figure(
    "samples_per_deg", "Density", "1/deg", "Samples per degree in the last part of the rise.",
    read="curves.samples_per_deg",
)  # fmt: skip

#: The contract's figures in the contract's order.
CONTRACT: tuple[Figure, ...] = (
    _text("trace_id", "Trace", "Name of the recording, unique within a set."),
    _text("joint", "Joint", "Name of the joint in the joints file; empty where none is known."),
    _text("verdict", "Verdict", "ok, suspect, not ok or not evaluated."),
    _text("deciding", "Deciding", "The finding with the worst margin."),
    Figure("findings", "Findings", "", "Every broken limit and oddity.", "texts"),
    _text("cause", "Cause", "The likeliest cause, where one is called for."),
    Figure("n_samples", "Samples", "", "Number of samples of the recording.", "count", "curves.n_samples"),
    FINAL_TORQUE,
    FINAL_ANGLE,
    SNUG_ANGLE,
    SNUG_TORQUE,
    Figure(
        "snug_angle_uncertainty_deg", "Snug uncertainty", "deg", "Standard uncertainty of the snug angle.",
        read="curves.snug_angle_uncertainty_deg",
    ),
    JOINT_RATE,
    Figure("hardness", "Hardness", "", "hard, medium or soft, by the joint rate of its basis.", "text",
    topic="hardness"),
    PREVAILING_TORQUE,
    DRAWDOWN_ANGLE,
    ELASTIC_SLOPE,
    ELASTIC_ORIGIN,
    Figure(
        "yielded", "Yielded", "", "Whether the slope fell to the yield level before the final point.", "flag"
    ),
    YIELD_ANGLE,
    YIELD_TORQUE,
    CLAMP_FORCE,
    CLAMP_LOW,
    CLAMP_HIGH,
    CLAMP_ROUTE,
    OUTLIER_SCORE,
    _text("not_evaluated_reason", "Reason", "Why a rule or an estimate could not be evaluated."),
)  # fmt: skip

#: Further figures.
FURTHER: tuple[Figure, ...] = (
    Figure("deciding_margin", "Margin", "", "Margin of the deciding finding over half its window."),
    Figure(
        "torque_margin_nm", "Torque margin", "N·m", "To the nearer torque limit; negative outside.",
    ),
    Figure(
        "angle_margin_deg", "Angle margin", "deg", "To the nearer angle limit; negative outside.",
        uncertainty="snug_angle_uncertainty_deg", decimals=1,
    ),
    Figure(
        "prevailing_margin_nm", "Prevailing margin", "N·m", "To the nearer prevailing limit.",
        uncertainty="prevailing_uncertainty_nm",
    ),
    RUNDOWN,
    DRAWDOWN,
    TOTAL_ANGLE,
    Figure(
        "hardness_basis", "Hardness basis", "", "What hardness is judged on: from snug, from 10 or from "
        "50 % of final torque to the final point.", "text", topic="hardness",
    ),
    Figure(
        "joint_rate_line_deg", "Angle of the line", "deg", "From the line through 10-100 % of torque.",
        read="curves.joint_rate_line_deg", decimals=1,
    ),
    Figure(
        "elastic_slope_uncertainty_nm_per_deg", "Slope uncertainty", "N·m/deg", _STANDARD,
        read="curves.elastic_slope_uncertainty_nm_per_deg", decimals=4,
    ),
    Figure(
        "elastic_origin_uncertainty_deg", "Origin uncertainty", "deg", _STANDARD,
        read="curves.elastic_origin_uncertainty_deg",
    ),
    Figure(
        "yield_angle_uncertainty_deg", "Yield uncertainty", "deg", _STANDARD,
        read="curves.yield_angle_uncertainty_deg",
    ),
    Figure(
        "drawdown_angle_uncertainty_deg", "Drawdown uncertainty", "deg", _STANDARD,
        read="curves.drawdown_angle_uncertainty_deg",
    ),
    Figure(
        "prevailing_uncertainty_nm", "Prevailing uncertainty", "N·m", _STANDARD,
        read="curves.prevailing_uncertainty_nm",
    ),
    Figure(
        "prevailing_highest_nm", "Prevailing, highest", "N·m", "Highest torque of the rundown.",
        read="curves.prevailing_highest_nm",
    ),
    Figure(
        "prevailing_trend_nm_per_turn", "Prevailing trend", "N·m/turn", "Trend over the rundown.",
        read="curves.prevailing_trend_nm_per_turn", decimals=3,
    ),
    TORQUE_NOISE,
    DENSITY,
    UTILISATION,
    Figure(
        "clamp_force_by_angle_kn", "Clamp force by angle, estimated", "kN",
        "Estimated from the angle beyond the elastic origin and the joint's stiffness.",
        read="clamp.angle_force_kn",
    ),
    Figure(
        "implied_friction", "Implied friction", "", "Coefficient that makes torque and angle agree.",
        read="clamp.implied_friction", decimals=3,
    ),
    Figure(
        "embedding_loss_kn", "Embedding loss, estimated", "kN", "Clamp force that embedding takes; estimated."
    ),
    Figure(
        "clamp_force_left_kn", "Clamp force left, estimated", "kN",
        "Estimated clamp force less embedding loss.", bounds=_CLAMP_BOUNDS,
    ),
    CLAMP_LEFT_LOW,
    Figure(
        "measured_clamp_force_kn", "Measured clamp force", "kN",
        "By the recording's load cell, at the final point.",
    ),
    Figure("torque_coefficient", "K", "", "Measured: T/(F d) at 75 % of the proof load.", decimals=3),
    Figure(
        "friction_total", "Friction, measured", "",
        "One coefficient for thread and head at 75 % of the proof load, in the manner of ISO 16047.",
        decimals=3,
    ),
    Figure("cause_weight", "Cause weight", "", "0 to 1, for ranking; not a probability."),
    _text("operation", "Operation", "tightening, impulse tightening, loosening, back-off or audit."),
    RESIDUAL_TORQUE,
    Figure(
        "residual_torque_uncertainty_nm", "Residual uncertainty", "N·m", _STANDARD,
        read="audits.residual_torque_uncertainty_nm",
    ),
    Figure(
        "first_movement_torque_nm", "Torque at first movement", "N·m",
        "Of an audit: torque at which the fastener, at rest until then, begins to move.",
        read="audits.first_movement_nm", topic="residual torque",
    ),
    Figure(
        "peak_torque_nm", "Peak torque", "N·m", "Of an audit: highest torque.", read="audits.peak_torque_nm",
        topic="residual torque",
    ),
    Figure(
        "moved_angle_deg", "Moved", "deg", "Of an audit: degrees turned after the first movement.",
        read="audits.moved_angle_deg", decimals=1, topic="residual torque",
    ),
    Figure(
        "movement_angle_deg", "First movement", "deg", f"Of an audit: where the fastener moves, {_AXIS}.",
        read="audits.movement_angle_deg", decimals=1, topic="residual torque",
    ),
    Figure(
        "ongoing_slope_nm_per_deg", "Slope of moving on", "N·m/deg",
        "Of an audit: slope with the moving fastener.", read="audits.ongoing_slope_nm_per_deg", decimals=3,
        topic="residual torque",
    ),
    Figure(
        "wrench_slope_nm_per_deg", "Slope of the wind-up", "N·m/deg",
        "Of an audit: stiffness of wrench and socket, the fastener at rest.",
        read="audits.wrench_slope_nm_per_deg", decimals=3, topic="residual torque",
    ),
    Figure(
        "ratio_to_dynamic", "Residual over dynamic", "",
        "Residual torque over the final torque of the last sound tightening of the same position.",
        read="audits.ratio_to_dynamic", decimals=3, topic="residual torque",
    ),
    Figure(
        "minutes_since", "Minutes since", "min", "From that tightening to the audit.",
        read="audits.minutes_since", decimals=0, topic="residual torque",
    ),
    Figure(
        "audit_raised_kn", "Raised by the audit, estimated", "kN",
        "Clamp force that the audit added: degrees moved times the joint's force per degree; estimated.",
        read="audits.raised_kn", topic="residual torque",
    ),
    Figure(
        "measured_stiffness_n_per_deg", "Stiffness, by back-off", "N/deg",
        "Clamp force per degree from the slopes of tightening and of turning back, whatever the friction.",
        uncertainty="measured_stiffness_uncertainty_n_per_deg", decimals=0,
    ),
    Figure(
        "measured_stiffness_uncertainty_n_per_deg", "Stiffness uncertainty", "N/deg",
        "Standard uncertainty of the stiffness by back-off.", decimals=0,
    ),
    Figure(
        "measured_friction", "Friction, by back-off", "",
        "One coefficient for thread and head from a back-off, with the geometry of the joint.",
        uncertainty="measured_friction_uncertainty", decimals=4,
    ),
    Figure(
        "measured_friction_uncertainty", "Friction uncertainty", "",
        "Standard uncertainty of the friction by back-off.", decimals=4,
    ),
    Figure("stages", "Stages", "", "Stages up to the final point, by the tool's steps and by stops.",
    "count"),
    Figure("pause_torque_nm", "Torque at the stop", "N·m", "End torque of the stage before the last stop."),
    Figure(
        "pause_s", "Pause", "s", "From the last stop to the moment at which the fastener turned on."
    ),
    Figure(
        "pause_torque_lost_nm", "Lost in the pause", "N·m",
        "Torque at the last stop less the lowest torque read during it: what the tool let go, not the joint.",
    ),
    Figure(
        "restart_overshoot_nm", "Overshoot at restart", "N·m",
        "Excess of the breakaway after the last stop over the torque at it.",
    ),
    PULSES_AFTER_SNUG,
    Figure(
        "pulses_to_95", "Pulses to 95 %", "",
        "Pulses after snug at which 95 % of the final angle are reached, by the course of the angle.",
        read="operations.course.to_95", decimals=1, topic="impulse tool",
    ),
    Figure(
        "angle_per_pulse_last", "Angle of the last pulse", "deg", "By which the last pulse turned it.",
        read="operations.course.last_deg", topic="impulse tool",
    ),
    Figure(
        "envelope_plateau_nm", "Plateau of the pulses", "N·m",
        "Median height of the last five pulses: what the tool gave, not what the joint holds.",
        read="operations.course.plateau_nm", topic="impulse tool",
    ),
    STRIKE_TIME,
    Figure("pulses", "Pulses", "", "Blows of an impulse tool up to the final point.", "count"),
    Figure("pulse_rate_per_s", "Pulse rate", "1/s", "Blows of an impulse tool a second, median."),
    Figure(
        "breakaway_torque_nm", "Breakaway torque", "N·m",
        "Largest torque of a loosening, positive; absent where the drive slipped.",
        read="operations.loosenings.breakaway_torque_nm",
    ),
    Figure(
        "breakaway_angle_deg", "Breakaway angle", "deg", f"Where a loosening broke away, {_AXIS}.",
        read="operations.loosenings.breakaway_angle_deg", decimals=1,
    ),
    Figure("slip_pitch_deg", "Slip pitch", "deg", "Pitch of the drive that slipped while loosening.",
    decimals=1),
    *(
        _text(name, name.capitalize(), "As recorded.")
        for name in ("tool", "spindle", "program", "part", "position")
    ),
    Figure("started_at", "Started at", "", "Start of the recording, UTC.", "time"),
    _text("source", "Source", "File that the trace came from."),
)  # fmt: skip

#: Every figure, the contract's first: the columns of the results table.
FIGURES: tuple[Figure, ...] = CONTRACT + FURTHER
FIGURE_OF: dict[str, Figure] = {figure.name: figure for figure in FIGURES}


def figures_for(use: Use) -> tuple[Figure, ...]:
    """The figures that are shown there, in their order.

    Examples
    --------
    >>> [figure.name for figure in figures_for("further")]
    ['snug_torque_nm', 'elastic_slope_nm_per_deg']
    """
    return tuple(figure for figure in FIGURES if use in figure.uses)
