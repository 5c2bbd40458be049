"""Help for every figure, rule and cause: words, formula, source, and which picture shows it; no widgets."""

from __future__ import annotations

from analysis.catalogue.causes import CAUSES
from analysis.catalogue.rules import RULES
from app.views.help.joint import JOINT_TOPICS
from app.views.help.rules import OPERATION_TOPICS, RULE_TOPICS
from app.views.help.shift import SHIFT_TOPICS
from app.views.help.topic import Topic

_POINTS = (
    Topic(
        "final point",
        "Points and figures",
        "Final point",
        "The sample of highest torque; where several tie, the last of them. What comes after is the "
        "release: the "
        "torque collapses and the angle springs back. It is drawn, and says nothing about the joint.",
        "final = last sample with T = max(T)",
        "final",
        "Definition of this program.",
    ),
    Topic(
        "elastic slope",
        "Points and figures",
        "Elastic slope",
        "The slope of the straight stretch of the rise, per degree: the steepest slope that is "
        "sustained over a "
        "stretch, not the steepest pair of samples. It is proportional to friction times stiffness: "
        "torque and angle "
        "alone cannot tell which of the two has changed.",
        "s = dT/dα, fitted over the straight stretch",
        "slope",
        "VDI 2230 for the proportionality; the choice of stretch is this program's.",
    ),
    Topic(
        "snug point",
        "Points and figures",
        "Snug point",
        "The first angle from which the local slope stays at or above 0.80 of the elastic slope, up to "
        "the yield "
        "onset or the final point. From here the bolt stretches like a spring.\n\nOther rules can be "
        "chosen under "
        "Preferences: a threshold torque (first angle at which the torque passes it for good), or the "
        "elastic "
        "line (its crossing with the prevailing torque).\n\nDrag the edge of the elastic zone to "
        "correct it by hand; "
        "the verdict follows, and undo restores.",
        "snug = first α with s(β) ≥ 0.80 · s_elastic for all β from α to the yield onset or the final point",
        "snug",
        "Definition of this program; the ratio is a setting.",
    ),
    Topic(
        "yield onset",
        "Points and figures",
        "Yield onset",
        "The first angle after the straight stretch at which the local slope has fallen to 0.50 of the "
        "elastic slope "
        "and stays below it. Other rules can be chosen: two thirds of the elastic slope, or the angle "
        "offset that "
        "equals 0.2 % permanent elongation of the free length.",
        "half slope: s(α) ≤ 0.50 · s_elastic     two thirds: s(α) ≤ 0.667 · s_elastic\n"
        "offset: α − α_line(T) ≥ 360 · 0.002 · L / P     (L free length, P pitch, mm)",
        "yield",
        "Two thirds: Johnson's approximate method, MSFC-STD-486B Fig. 1. Half: definition of this program.",
    ),
    Topic(
        "drawdown start",
        "Points and figures",
        "Drawdown start",
        "The angle at which the torque leaves the prevailing level for good: parts touch and are pulled "
        "together. "
        "Before it lies the rundown, after it, up to the snug point, the drawdown.",
        "",
        "drawdown",
        "Definition of this program.",
    ),
    Topic(
        "prevailing torque",
        "Points and figures",
        "Prevailing torque",
        "The torque level just ahead of the drawdown: the median over the last half turn of the "
        "rundown, or what "
        "there is of it, without start transients and step changes. It makes no clamp force and is "
        "taken off before "
        "clamp force is estimated.",
        "T_prevailing = median T over the last 180 deg of rundown",
        "prevailing",
        "Prevailing torque adds to the torque that makes clamp force: MIL-HDBK-60, 110.3.",
    ),
    Topic(
        "elastic origin",
        "Points and figures",
        "Elastic origin",
        "The angle at which the elastic line, drawn backward, meets the prevailing torque. Angles "
        "counted from here "
        "are proportional to clamp force, as long as nothing yields.",
        "α_origin = α_line − (T_line − T_prevailing) / s_elastic",
        "origin",
        "Definition of this program.",
    ),
    Topic(
        "joint rate",
        "Points and figures",
        "Joint rate",
        "Degrees from the snug point to the final point. The results also hold the rate by the straight "
        "line through "
        "10 to 100 % of the final torque, drawn to zero, as test standards for tools use it.",
        "rate = α_final − α_snug",
        "rate",
        "Line form: ISO 5393 (recalled, not confirmed).",
    ),
    Topic(
        "hardness",
        "Points and figures",
        "Hard, medium, soft",
        "By the joint rate: hard at most 30 deg, soft at least 720 deg (two turns), medium between. The "
        "limits are "
        "settings; the 2017 edition of the standard is recalled as 360 deg.",
        "",
        "rate",
        "Common practice, as first given in ISO 5393 (recalled, not confirmed).",
    ),
    Topic(
        "outlier",
        "Points and figures",
        "Outlier score",
        "How far a trace lies from the others of its joint, by robust distances of its features; 1 is the "
        "threshold, chosen so that few good traces pass it even over a whole shift. Below 20 traces a "
        "joint has no "
        "population.",
        "z = 0.6745 (x − median) / MAD, largest over all features, over its threshold",
        "",
        "Modified z-score: NIST e-Handbook of Statistical Methods, 1.3.5.17.",
    ),
)
_PICTURES = {"torque": "final", "angle": "rate", "prevailing": "prevailing", "yield": "yield"}
_RULES = tuple(
    Topic(
        f"rule {rule.name}",
        "Rules",
        rule.title,
        rule.help,
        rule.formula,
        _PICTURES.get(rule.name, ""),
        rule.source,
    )
    for rule in RULES
)
_FORCE = (
    Topic(
        "clamp force",
        "Clamp force",
        "Estimated clamp force",
        "What the recorded torque stands for, over the joint's friction range: prevailing torque is "
        "taken off "
        "first. Where the stiffness is known the angle beyond the elastic origin narrows the range.\n\n"
        "Estimated, not measured. Estimated clamp force never replaces a measurement where safety "
        "depends on it.",
        "T − T_prevailing = F · [ P/(2π) + μ_th · d2 / (2 cos 30°) + μ_b · D_Km / 2 ]",
        "",
        "MIL-HDBK-60, 100.5; VDI 2230.",
    ),
    Topic(
        "utilisation",
        "Clamp force",
        "Utilisation",
        "Combined stress of tension and torsion in the bolt over the minimum yield strength of its class.",
        "σ_red = √(σ² + 3 τ²),   utilisation = σ_red / Rp0.2,min",
        "",
        "VDI 2230; strengths by ISO 898-1:2013, Table 3.",
    ),
)
_WINDOW = (
    Topic(
        "verdicts",
        "In this window",
        "The four verdicts",
        "ok (●): every rule of the joint was evaluated and met, and nothing unusual was found.\n\n"
        "suspect (▲): every limit met, but something wants a look.\n\n"
        "not ok (■): at least one limit is broken.\n\n"
        "not evaluated (◇): a rule could not be evaluated; the reason is given. It is never counted as good.",
    ),
    Topic(
        "filter",
        "In this window",
        "Filter",
        "A filter compares columns: = != < <= > >= and ~ (the text contains), between … and …, in (…, …), "
        "is missing, is present; joined by and, or, not, and brackets. A number without a unit is read "
        "in the unit "
        "that is shown. Words alone are looked for in all texts.\n\n"
        "Examples: verdict = suspect · final_torque > 60 and joint = hub · spindle in (S1, S3) · cause "
        "is present",
    ),
    Topic(
        "selection",
        "In this window",
        "Selecting",
        "One selection goes through table, curves, histogram and time order. Click, box, freehand or a "
        "drawn line; "
        "Shift adds, Ctrl toggles, Esc clears. F8 goes to the next flagged trace.",
    ),
    Topic(
        "first steps",
        "In this window",
        "First steps",
        "1. File, Open sample shift: 1 280 traces of five joints appear, the worst first in "
        "the table.\n\n"
        "2. Press F8: the first flagged trace is chosen. Its curve is drawn bold with its zones; Why "
        "gives the "
        "reasons. Follow a place in the list of rules to see it on the curve. Behind ± stands the standard "
        "uncertainty, to two digits; what has none known ends with the step of the recording.\n\n"
        "3. Press a number in the sentence on top, such as the suspect ones: only those are shown. "
        "Remove the chip "
        "to see all again.\n\n"
        "4. Choose Colour by spindle: does one carry the odd ones? Select several: Why lists what they "
        "share.\n\n"
        "5. Set what is to be done (Ctrl+1 to Ctrl+5), write a note (Ctrl+M). Ctrl+Z takes it back.\n\n"
        "6. Ctrl+P shows the report as it will print.",
    ),
)
_CAUSES = tuple(
    Topic(
        f"cause {cause.name}",
        "Causes",
        cause.name.replace("-", " ").capitalize(),
        f"{cause.help}\n\nCheck next: {cause.next_check}",
        picture=f"cause {cause.name}",
        source=cause.source[0].upper() + cause.source[1:] + ".",
    )
    for cause in CAUSES
)
TOPICS: tuple[Topic, ...] = (
    *_WINDOW,
    *_POINTS,
    *RULE_TOPICS,
    *_RULES,
    *_FORCE,
    *JOINT_TOPICS,
    *SHIFT_TOPICS,
    *OPERATION_TOPICS,
    *_CAUSES,
)
TOPIC_OF: dict[str, Topic] = {topic.name: topic for topic in TOPICS}
