"""Help for each rule that snug and yield can be found by, and for stages, blows and loosening; no widgets."""

from __future__ import annotations

from app.views.help.topic import PRACTICE, Topic

_SNUG, _YIELD, _KINDS = "Rules for the snug point", "Rules for the yield onset", "Kinds of recording"
_CHOSEN = (
    "Chosen under Preferences, with --snug-rule on the command line, or as snug_rule in a settings file."
)
_CHOSEN_YIELD = (
    "Chosen under Preferences, with --yield-rule on the command line, or as yield_rule in a settings file."
)

#: Help topic of each choice of `CurveSettings.snug_rule` and `CurveSettings.yield_rule`.
TOPIC_OF_RULE = {
    "slope-ratio": "snug by slope ratio",
    "threshold-torque": "snug by threshold torque",
    "elastic-line": "snug by elastic line",
    "half-slope": "yield by half slope",
    "two-thirds-slope": "yield by two thirds",
    "offset": "yield by offset",
}

RULE_TOPICS = (
    Topic(
        "snug by slope ratio",
        _SNUG,
        "Snug by slope ratio",
        "The first angle from which the local slope stays at or above a share of the elastic slope, up "
        "to the yield "
        "onset or the final point. The rule that is set at first, with 0.80. It follows the joint: a "
        "change of "
        "friction scales all slopes alike and leaves the snug angle where it is.\n\n" + _CHOSEN,
        "snug = first α with s(β) ≥ r · s_elastic for all β from α to the yield onset or the final "
        "point, r = 0.80",
        "snug by slope ratio",
        "Definition of this program; the ratio is a setting.",
    ),
    Topic(
        "snug by threshold torque",
        _SNUG,
        "Snug by threshold torque",
        "The first angle from which the torque stays at or above a threshold, up to the final point. "
        "Easy to check on "
        "any curve, and what many tools count their angle from; but the same torque stands for another "
        "clamp force "
        "where friction changes. Without a threshold the snug point is absent.\n\n"
        + _CHOSEN
        + " The torque: --snug-threshold-nm.",
        "snug = first α with T(β) ≥ T_threshold for all β from α to the final point",
        "snug by threshold torque",
        PRACTICE,
    ),
    Topic(
        "snug by elastic line",
        _SNUG,
        "Snug by elastic line",
        "The elastic origin: where the elastic line, drawn backward, meets the prevailing torque. "
        "Angles from here are "
        "proportional to clamp force as long as nothing yields; the point lies before the parts are fully "
        "together. Absent where the recording holds no rundown.\n\n" + _CHOSEN,
        "snug = α_line − (T_line − T_prevailing) / s_elastic",
        "snug by elastic line",
        "Definition of this program.",
    ),
    Topic(
        "yield by half slope",
        _YIELD,
        "Yield by half slope",
        "The first angle after the straight stretch at which the local slope has fallen to one half of "
        "the elastic "
        "slope and stays below it. The rule that is set at first.\n\n" + _CHOSEN_YIELD,
        "onset = first α past the straight stretch with s(β) ≤ 1/2 · s_elastic for all β up to the "
        "final point",
        "yield by half slope",
        "Definition of this program.",
    ),
    Topic(
        "yield by two thirds",
        _YIELD,
        "Yield by two thirds of the slope",
        "The same with two thirds of the elastic slope: it tells earlier, and on less of a bend. On a "
        "slope that falls "
        "as exp(−(α − α_y)/c) it lies at 0.41 c past the first bend, one half at 0.69 c.\n\n" + _CHOSEN_YIELD,
        "onset = first α past the straight stretch with s(β) ≤ 2/3 · s_elastic for all β up to the "
        "final point",
        "yield by two thirds",
        "Johnson's approximate method, MSFC-STD-486B, Fig. 1.",
    ),
    Topic(
        "yield by offset",
        _YIELD,
        "Yield by angle offset",
        "The first angle from which the curve lies right of the elastic line by the angle that stands "
        "for 0.2 % "
        "permanent elongation of the free length. It is taken from clamp length and pitch of each "
        "joint, or given "
        "once for all (--yield-offset-deg); a joint that has neither is not evaluated. The clamp length "
        "is taken for "
        "the free length.\n\n" + _CHOSEN_YIELD,
        "onset = first α with T(β) < T_line(β − Δ) for all β up to the final point\n"
        "Δ = 360 · 0.002 · L / P   (degrees; L free length, P pitch, mm)",
        "yield by offset",
        "0.2 % permanent elongation: the proof strength R_p0.2 of ISO 898-1; the angle follows from the "
        "pitch.",
    ),
)

OPERATION_TOPICS = (
    Topic(
        "stages",
        _KINDS,
        "Stages and pauses",
        "A tightening has several stages where the tool's step changes, or where the fastener stops "
        "under torque and "
        "turns on later. A stop is a fall of the torque by 15 % or more, and by 5 % of the final "
        "torque, without new "
        "angle, after which the torque comes back within 2 deg; with a time it lasts 20 ms or longer. "
        "Stops below "
        "a tenth of the final torque are found by the tool's steps only.\n\n"
        "The pause runs from the stop to the moment at which the fastener turns on. The torque lost in "
        "it is what the "
        "tool let go, not what the joint lost. The overshoot is the static friction that is overcome at the "
        "restart; it is climbed with the slope before the stop taken off, and is left out of the tightening "
        "curve.\n\nThe results hold the number of stages and the figures of the last stop.",
        "lost = T_end − T_lowest\novershoot = T_breakaway − T_end − s · (α − α_end)",
        "stages",
        PRACTICE
        + " The thresholds were tried on synthetic curves and on recordings of thread-forming screws.",
    ),
    Topic(
        "impulse tool",
        _KINDS,
        "Impulse tool",
        "An impulse tool turns the fastener by blows: the torque comes in pulses, and falls to nothing "
        "between them. A "
        "trace is read so where it has four or more pulses that fall to a quarter of their height, or "
        "less, without "
        "new angle, at least every quarter of a second and not longer than a twentieth of one; two or "
        "three where "
        "they are closer and shorter; six or more, of at most 20 deg each, where there is no time.\n\n"
        "The points are those of the envelope: steady rotation as recorded, then the height of each "
        "pulse at the "
        "angle that it reached. With few pulses beyond snug, or pulses of less than three samples above "
        "half of "
        "their height, snug and slope are absent.\n\n"
        "What cannot be told is not evaluated: the height of a pulse is what the tool gave, the joint "
        "keeps as much "
        "or less. A height below the lower torque limit breaks it; no other height says that the limits are "
        "met. Yield and clamp force are not evaluated, and no cause is named.",
        "envelope = (highest angle, highest torque) of each pulse",
        "impulse tool",
        PRACTICE,
    ),
    Topic(
        "loosening",
        _KINDS,
        "Loosening",
        "A trace whose torque is below zero, or whose angle runs backward, is a loosening: it is not "
        "judged by the "
        "rules of the joint. The breakaway torque is its largest torque.\n\n"
        "A drive slips where the torque swings by 14 % or more of its largest value (10th to 90th "
        "percentile) with "
        "the pitch of a drive: 60 deg for hexagon and six-lobe, 90 deg for cross recess. Then the "
        "breakaway torque "
        "is not known: the largest torque is what the drive could carry. The cause is called drive slip.\n\n"
        "Torque below zero with an angle that runs backward, highest at its end, is a tightening "
        "recorded with the "
        "opposite sign.",
        "r(d) = Σ x(α) x(α + d) / Σ x(α)²\nslips where r(P) − r(P/2) ≥ 0.20, P = 60 or 90 deg",
        "loosening",
        "Thresholds from 400 open recordings of loosened metal screws (Al Assadi et al., J. Manuf. "
        "Syst. 65 (2022) "
        "19-32, CC BY 4.0), each kind of drive tried with thresholds from the others.",
    ),
)
