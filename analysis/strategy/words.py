"""Which strategy suits, what fails, and why, in sentences; and the published factors to hold it against."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.catalogue.sentences import Said
from analysis.joint.definition import JointDefinition
from analysis.joint.plastic_screw import STRENGTH_DEVIATION, plastic_screw, what_it_tells
from analysis.joint.scatter import METHOD_SOURCE
from analysis.strategy.advice import LOW_PERCENT, Advice, StrategyFigures
from analysis.strategy.joint_scatter import JointScatter

#: Friction that carries more of the variance than this leaves nothing for a better tool (own choice).
FRICTION_RULES = 0.8
#: A joint that turns less than this, or a clamp length below so many diameters, has its angle lost in the
#: error of the angle (common practice, no source).
SHORT_RATE_DEG, SHORT_LENGTH = 30.0, 3.0
#: Share beyond a bound that is borne: that beyond three deviations, as the lowest percentile shown has it.
BORNE = LOW_PERCENT / 100.0
PERCENT_DIGITS = 3
#: Forces below this have so many decimals (own choice).
SMALL_KN, FEW_DIGITS = 10.0, 2
#: What a weak plastic bears less than stated: three of its deviations.
STRIPPING_MARGIN = 3.0 * STRENGTH_DEVIATION


@dataclass(frozen=True)
class Published:
    """Scatter that a publication gives: tightening factor alpha_A, lowest and highest, and how sure it is."""

    words: str
    low: float
    high: float
    source: str
    recalled: bool


def factor_of(plus_minus_percent: float) -> float:
    """Tightening factor of a scatter of plus and minus so many per cent: (1 + p)/(1 - p).

    Examples
    --------
    >>> round(factor_of(23.1), 2), round(factor_of(42.9), 1)
    (1.6, 2.5)
    """
    share = plus_minus_percent / 100.0
    return (1.0 + share) / (1.0 - share)


_1986 = "VDI 2230:1986, in a supplier's reproduction"
_2015 = "VDI 2230:2015"
PUBLISHED: dict[str, tuple[Published, ...]] = {
    "torque": (
        Published("torque, tested on the joint", factor_of(17), factor_of(23), _1986, False),
        Published("torque, friction estimated", factor_of(23), factor_of(28), _1986, False),
        Published("power driver", factor_of(26), factor_of(43), _1986, False),
        Published("torque, friction class B", 1.6, 2.0, _2015, True),
        Published("torque, friction class A", 1.7, 2.5, _2015, True),
        Published("torque wrench", factor_of(25), factor_of(25), METHOD_SOURCE, False),
    ),
    "torque plus angle": (Published("turn of nut", factor_of(15), factor_of(15), METHOD_SOURCE, False),),
    "torque plus angle past yield": (
        Published("angle", factor_of(5), factor_of(12), _1986, False),
        Published("angle", 1.2, 1.4, _2015, True),
    ),
    "yield": (
        Published("yield", factor_of(5), factor_of(12), _1986, False),
        Published("yield", 1.2, 1.4, _2015, True),
        Published("yield sensing", factor_of(8), factor_of(8), METHOD_SOURCE, False),
    ),
}


def what_carries(one: StrategyFigures, joint: JointScatter) -> str:
    """What carries the variance of one strategy, and what follows."""
    if one.s_percent is None or not one.variance_shares:
        return one.reason
    friction = _friction(one)
    tool = {"torque": joint.settings.torque_scatter_percent}.get(one.name)
    if friction >= FRICTION_RULES:
        of_tool = "" if tool is None else f", of which the tool {tool:.1f} %"
        return (
            f"friction carries {100 * friction:.0f} % of the variance here ({one.s_percent:.2f} % in all"
            f"{of_tool}): a better tool cannot help"
        )
    ordered = sorted(_joined(one.variance_shares, joint).items(), key=lambda pair: -pair[1])
    parts = ", ".join(f"{name} {100 * share:.0f} %" for name, share in ordered[:3] if share >= 0.01)
    return f"{parts} of the variance ({one.s_percent:.2f} % in all)"


def _friction(one: StrategyFigures) -> float:
    return sum(share for name, share in one.variance_shares.items() if name.endswith("friction"))


def _joined(shares: dict[str, float], joint: JointScatter) -> dict[str, float]:
    """Thread and bearing friction as one; in plastic the torque ahead of the rise is that of forming."""
    if joint.stripping_kn is not None:
        shares = {name.replace("prevailing", "forming"): share for name, share in shares.items()}
    rest = {name: share for name, share in shares.items() if not name.endswith("friction")}
    friction = sum(share for name, share in shares.items() if name.endswith("friction"))
    return {"friction": friction, **rest} if friction else rest


def failing(one: StrategyFigures, joint: JointScatter, definition: JointDefinition) -> str:
    """Why a strategy does not do for this joint; empty where nothing speaks against it."""
    if one.reason:
        return one.reason
    reasons = []
    below = one.share_below_after_embedding
    below = one.share_below_wanted if below is None else below
    if below is not None and below > BORNE:
        after = " after embedding" if one.share_below_after_embedding is not None else ""
        reasons.append(f"{share_words(below)} below the wanted {joint.wanted_kn:g} kN{after}")
    strips = joint.stripping_kn
    if strips is not None and one.p99865_kn is not None and one.p99865_kn > strips * (1.0 - STRIPPING_MARGIN):
        reasons.append(f"the thread may strip: it bears {strips:.2f} kN")
    past = one.name in ("yield", "torque plus angle past yield")
    if past and definition.may_yield is False:
        reasons.append("the bolt may not yield here")
    if not past and one.share_yielded is not None and one.share_yielded > BORNE:
        reasons.append(f"{share_words(one.share_yielded)} yield")
    return "; ".join(reasons)


def share_words(share: float) -> str:
    """A share in per cent, or of a million where it is small.

    Examples
    --------
    >>> share_words(0.031), share_words(2e-5), share_words(0.0)
    ('3.1 %', '20 of a million', 'none drawn')
    """
    if share >= 1e-3:
        return f"{100 * share:.{PERCENT_DIGITS - 1}g} %" if share < 0.1 else f"{100 * share:.0f} %"
    return f"{1e6 * share:.0f} of a million" if share > 5e-7 else "none drawn"


def cautions(advice: Advice, definition: JointDefinition) -> list[Said]:
    """What else decides the choice: short, soft and locked joints, re-use, and what a window does."""
    joint = advice.joint
    words: list[Said] = []
    screw = plastic_screw(definition)
    if not isinstance(screw, str):
        return [*words, *what_it_tells(screw)]
    of = {one.name: one for one in advice.strategies}
    plain, window = of["torque"], of["torque with angle window"]
    if plain.s_percent is not None and window.s_percent is not None:
        words.append(
            f"The angle window hardly tightens clamp force ({plain.s_percent:.2f} to {window.s_percent:.2f}"
            " %): it catches faults, not friction."
        )
    if joint.stiffness_kn_per_deg is not None:
        rate = joint.target_kn / joint.stiffness_kn_per_deg
        diameter = joint.thread.diameter_mm
        length = definition.clamp_length_mm
        short = length is not None and length < SHORT_LENGTH * diameter
        if short or rate < SHORT_RATE_DEG:
            error = 100.0 * joint.stiffness_kn_per_deg * joint.settings.angle_scatter_deg / joint.target_kn
            words.append(
                f"A short or stiff joint ({rate:.0f} deg to the target force): each deviation of angle "
                f"is {error:.1f} % of clamp force."
            )
    if joint.prevailing_nm[1]:
        words.append("Prevailing torque scatters too: count from above it where the tool can.")
    if joint.embedding_kn is not None and joint.embedding_kn > 0.1 * joint.target_kn:
        share = 100.0 * joint.embedding_kn / joint.target_kn
        words.append(f"Embedding takes {share:.0f} % of the clamp force: look at faces and length first.")
    words.append("A bolt tightened past yield is stretched for good: no re-use, or counted re-use.")
    if definition.parts.get("risk_class") == "A":
        words.append("Class A: a second, independent variable has to watch whichever strategy is chosen.")
    return words


def choice(advice: Advice, definition: JointDefinition) -> str:
    """The least scatter among those against which nothing speaks; a proposal, not a decision."""
    fit = [
        one
        for one in advice.strategies
        if one.s_percent is not None and not failing(one, advice.joint, definition)
    ]
    if not fit:
        return "No strategy meets the requirements at this target: change target, bolt or surfaces."
    best = min(fit, key=lambda one: one.s_percent or 0.0)
    plain = next((one for one in fit if one.name == "torque"), None)
    text = f"Lowest scatter of those that meet the requirements: {best.name} ({best.s_percent:.1f} %)."
    if plain is not None and plain is not best:
        text += f" Torque alone meets them too ({plain.s_percent:.1f} %), with the simplest tool."
    return text
