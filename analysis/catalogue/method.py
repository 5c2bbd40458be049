"""How points are found on a curve: the steps in words and formulas, for help, report and guide."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Step:
    """One step of the method."""

    title: str
    words: str
    formula: str = ""  #: In plain letters, lines separated by line breaks; empty where there is none.
    picture: str = ""  #: Of the help; empty where there is none.


#: In their order. T torque, α angle, s slope; i counts bins, k counts bends.
STEPS: tuple[Step, ...] = (
    Step(
        "Bins",
        "The tightening curve is averaged over even steps of angle: over the whole recording for a first "
        "look and for the rundown, then over the rise and a part of the rundown ahead of it. So a slope is "
        "per degree, however densely the tool recorded, and a pause counts no more than the curve beside it.",
        "α_i, T_i: means over the n_i samples of bin i;  weight w_i = n_i / (1 + n_i/N)",
    ),
    Step(
        "First look",
        "The torque passes a level where the split between below and above leaves the fewest degrees on the "
        "wrong side: a dip or a spike is short in angle and moves nothing. Two high shares of the final "
        "torque give a first slope, and the half turn ahead of its foot the prevailing level. A steady trend "
        "of the prevailing torque, and its ripple once and twice a turn, are taken off where they matter.",
        "ripple: T = T_0 + b·α + c·cos α + d·sin α + e·cos 2α + f·sin 2α over the last two turns of rundown",
    ),
    Step(
        "The family of bends",
        "The rise is a level that bends into a straight line and, where the bolt yields, a second bend that "
        "takes a share of the slope away again. How parts come together is not known beforehand: a whole "
        "family of bends is fitted, from a parabola over earlier, later and endless ones to layers between "
        "the parts that have a slope of their own. All sag by an eighth of their width at the corner of the "
        "two lines.",
        "T(α) = T_0 + s·w·Φ((α − α_0)/w) − s·q·v·Φ_y((α − α_y)/v)\n"
        "ψ = Φ′ rises from 0 to 1;  Φ(u) → 0 far left, Φ(u) → u far right, Φ(0) = 1/8\n"
        "T_0 level, s slope of the line, α_0 its foot, w width of the bend;  q, α_y, v: share, place and "
        "width of yielding",
        "family of bends",
    ),
    Step(
        "Robust least squares",
        "Each bend is fitted by damped Gauss-Newton steps. Bins that lie far off count less, and beyond a "
        "limit not at all: a spike or a dip does not bend the curve.",
        "least Σ ρ(r_i),  r_i = (T_i − T(α_i))·√w_i / σ\n"
        "ρ(r) = c²/6 · (1 − (1 − r²/c²)³) for |r| ≤ c, else c²/6 (bisquare)\n"
        "σ = 1.4826 · median |(T_i − T(α_i))·√w_i|",
    ),
    Step(
        "Yielding or not",
        "Where the curve falls short of its elastic line, by a share of the torque and beyond its noise, "
        "bends of four shapes are tried for yielding. One is believed where it lowers the loss by more than "
        "its three parameters are worth, and where the last part behind the onset is flat: after a stop and "
        "restart the torque climbs on.",
        "L_without − L_with > gain,  L = 1/2 · Σ min(r_i², 5²)",
    ),
    Step(
        "The weighted mean",
        "Every bend has a say by how well it fits. Residuals that hang together from bin to bin tell less "
        "than they seem to: the losses are divided by the inflation f of the variance that follows from it.",
        "p_k = exp(−(L_k − L_least) / (f·t)),  f = (1 + r)/(1 − r), r: correlation of neighbours\n"
        "Q = Σ p_k·Q_k / Σ p_k for every reading Q",
    ),
    Step(
        "Readings",
        "Of each fitted curve: the elastic slope is the steepest secant over a share of the rise. Snug lies "
        "where the slope was last below its share of the elastic slope, the yield onset where it has first "
        "fallen to its share. The drawdown starts between where the bend is first seen and where it may have "
        "begun unseen.",
        "snug: T′(α) = r_snug · s_elastic;  onset: T′(α) = r_yield · s_elastic;  seen: ψ = a small share",
    ),
    Step(
        "Uncertainties",
        "Of one bend by the law of propagation, from the normal matrix N of its fit; of the mean, the mean "
        "of the squares and, added to it, how far the bends disagree. The true bend is none of those that "
        "are tried: what that adds was measured on synthetic curves of other kinds. No place on a stretch is "
        "less certain than the even spread over it.",
        "u_k² = g · N⁻¹ g · σ² · f · n/(n − p),  g: gradient of the reading by the p parameters\n"
        "u² = Σ p_k·(u_k² + (Q_k − Q)²) / Σ p_k;  stated: the root of (factor · u)² + (share · drawdown)²\n"
        "even spread over a length d: d/√12",
    ),
    Step(
        "Prevailing torque",
        "The median of bins over the last half turn ahead of the drawdown start, ripple taken off, the first "
        "degrees of a rundown left out; highest value and trend over all of it. Its uncertainty holds how "
        "the bins hang together, what is not known of the ripple, and the trend over the uncertainty of "
        "where the drawdown starts.",
        "u² = (1.2533 · 1.4826 · MAD)² · f/n + ripple² + (trend · u_start)²",
    ),
)
