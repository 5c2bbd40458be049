"""The fit of one rise: bins, start, with or without yielding, every bend, and their average."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from tests.twins.bends import FINER, LAYERS, NEIGHBOURS, SLOPES, YIELDING, bend
from tests.twins.bins import MAD_TO_SIGMA, Bins, locate, make_bins, steepest, trend_ahead
from tests.twins.least_squares import Curve, Fit, condition, correlation_factor, first_step, fit
from tests.twins.readings import START_SHARE, Frame, average, read
from tests.twins.ripple import Ripple, fit_ripple

Array = np.ndarray

COARSE_BINS, RISE_BINS, FEWEST_BINS = 128, 64, 8
#: Share of the rise that is shown to the fit ahead of it.
LEAD_SHARE = 0.35
#: A bin of many samples is not worth more than this many.
BIN_WORTH = 8.0
#: Residuals that hang together by this inflation of the variance: the shape is wrong somewhere.
WRONG_SHAPE = 2.5
#: Fewest bins for a fit of the upper part alone.
FEWEST_UPPER = 16
#: A bend whose loss lies this far above the best one's has no say: exp(-9 / 2) is one in 90.
NO_SAY = 9.0
#: Most samples that the noise is read from.
NOISE_SAMPLES = 128


class NoRise(Exception):
    """There is no rise to fit: the reason's name, and the samples per degree where they are known."""

    def __init__(self, reason: str, density: float = np.nan) -> None:
        super().__init__(reason)
        self.density = density


@dataclass(frozen=True)
class Recording:
    """Samples of the tightening curve, the angles and torques recorded up to the final point, and which of
    them those are."""

    angle: Array
    torque: Array
    recorded: Array
    kept: Array
    recorded_nm: Array


@dataclass(frozen=True)
class Room:
    """What all fits of a rise share: smallest scale, widest bend, degrees of a straight rise, final angle."""

    floor: float
    widest: float
    straight: float
    end: float


@dataclass
class Rise:
    """A fitted rise: what the bends say on average, the best of them, and the trend that was taken off."""

    said: dict[str, float]
    best: Curve
    begin: float
    trend: float
    trend_from: float
    ripple: Ripple
    ripple_share: float
    density: float
    condition: float
    noise: float = np.nan

    def torque(self, angle: Array | float, *, ripple: bool = True) -> Array:
        """Torque of the best curve, trend of the prevailing torque included, and its ripple where wanted."""
        carried = self.trend * (angle - self.trend_from)
        carried = carried + (self.ripple_share * self.ripple.at(angle) if ripple else 0.0)
        return self.best.torque(angle) + carried


def coarse_bins(data: Recording) -> Bins:
    """Bins over the whole trace, for the first look and the rundown; four times the mean number at most."""
    width = (data.angle[-1] - data.angle[0]) / COARSE_BINS * (1.0 + 1e-9)
    most = max(2.0, np.ceil(4.0 * len(data.angle) / COARSE_BINS))
    return make_bins(data.angle, data.torque, data.angle[0], width, most)


def _rise_bins(data: Recording, begin: float) -> tuple[Bins, float]:
    """Bins over the rise, and samples per degree; samples are counted back to where the angle was last
    below."""
    end = data.angle[-1]
    below = np.flatnonzero(data.recorded < begin)
    first = int(below[-1]) + 1 if len(below) else 0
    inside = data.kept >= first
    n = int(inside.sum())
    most = max(2.0, np.ceil(4.0 * n / RISE_BINS))
    width = (end - begin) / RISE_BINS * (1.0 + 1e-9)
    return make_bins(data.angle[inside], data.torque[inside], begin, width, most), n / (end - begin)


def _where(coarse: Bins, top: float, width: float) -> tuple[float, Ripple, float, float]:
    """Where the bins over the rise begin, the ripple ahead, the prevailing trend and where that is zero.

    The ripple is taken off the rundown first; a trend where it would add 1 % of the torque above prevailing
    over the rise.
    """
    end = coarse.angle[-1]
    level, start, _ = locate(coarse, top)
    stop = start - 0.15 * (end - start)
    ripple = fit_ripple(coarse, stop)
    coarse = Bins(
        coarse.angle, coarse.torque - (coarse.angle < stop) * ripple.at(coarse.angle), coarse.weight
    )
    trend = trend_ahead(coarse, start - 0.15 * (end - start))
    if abs(trend) * (end - start) < 0.01 * (top - level):
        trend = 0.0
    zero = start
    if trend != 0.0:
        for _ in range(2):
            _, start, _ = locate(coarse.less(trend, zero), top - trend * (end - zero))
            trend = trend_ahead(coarse, start - 0.15 * (end - start))
    return start - width - LEAD_SHARE * (end - start), ripple, trend, zero


def _first_curve(bins: Bins, level: float, line: tuple[float, float, float], straight: float) -> Curve:
    """The steepest stretch prolonged to the level; the width is eight times the sag at that corner over the
    slope."""
    slope, centre, height = line
    origin = centre - (height - level) / slope
    k = min(int(np.searchsorted(bins.angle, origin)), len(bins) - 1)
    width = float(np.clip(8.0 * (bins.torque[k] - level) / slope, 0.05 * straight, None))
    return Curve(level, slope, origin, min(width, 2.0 * straight), bend("parabola"))


def _first_yielding(curve: Curve, bins: Bins, straight: float, shape: str) -> Curve:
    """Start of the yielding: where the elastic line meets the line through the last 6 % of the bins."""
    end, n = bins.angle[-1], len(bins)
    k = n - 1
    while k > 0 and (end - bins.angle[k] < 0.06 * (end - bins.angle[0]) or n - k < 4):
        k -= 1
    a, t = bins.angle[k:], bins.torque[k:]
    centre, height = a.mean(), t.mean()
    spread = np.sum((a - centre) ** 2)
    end_slope = np.sum((a - centre) * (t - height)) / spread if spread > 0 else 0.0
    drop = float(np.clip(1.0 - end_slope / curve.slope, 0.3, 1.05))
    line = curve.level + curve.slope * (centre - curve.origin)
    onset = min(max(centre - (line - height) / (curve.slope * drop), curve.origin), end)
    k = min(int(np.searchsorted(bins.angle, onset)), n - 1)
    sag = curve.level + curve.slope * (bins.angle[k] - curve.origin) - bins.torque[k]
    width = min(max(8.0 * sag / (curve.slope * drop), 0.03 * straight), straight)
    return replace(curve, drop=drop, onset=onset, sag_width=width, yielding=bend(shape))


def _misfit(curve: Curve, bins: Bins, sigma: float) -> float:
    """Half the sum of squares over the variance, a single bin counted as five standard deviations at most."""
    return 0.5 * float(np.sum(np.minimum((curve.residuals(bins) / sigma) ** 2, 25.0)))


def _best_yielding(
    start: Curve, plain: Curve, sigma: float, shortfall: float, bins: Bins, room: Room
) -> Curve | None:
    """The best of the bends that are tried for yielding, where it lowers the loss by 12; else None."""
    best, least = None, np.inf
    for shape in YIELDING:
        curve = _first_yielding(start, bins, room.straight, shape)
        # With a wide scale first, so that the plateau is not thrown out before the bend is in its place.
        for scale in (max(sigma, 0.25 * shortfall), sigma):
            curve = fit(curve, bins, room.floor, room.widest, 8, scale).curve
        loss = _misfit(curve, bins, sigma)
        if loss < least:
            best, least = curve, loss
    return best if _misfit(plain, bins, sigma) - least > 12.0 else None


def _lower_part(curve: Curve, bins: Bins) -> int:
    """Number of bins below the part of a bend that has reached 15 % of the slope."""
    return int(np.searchsorted(bins.angle, curve.origin + curve.bend.reaches(0.15) * curve.width))


def _bin_noise(bins: Bins) -> float:
    """Noise of a bin by second differences, which neither slope nor a wide bend enters."""
    second = np.abs(np.diff(bins.torque, 2)) * np.sqrt(bins.weight[1:-1])
    return float(MAD_TO_SIGMA * np.sort(second)[len(second) // 2] / np.sqrt(6.0))


def _with_or_without_yielding(
    first: Curve, bins: Bins, gain: float, line: tuple[float, float, float], room: Room
) -> tuple[Curve, float, float, int]:
    """Curve, scale; drawdown start and bins below where only the upper part was looked at (else NaN, 0).

    Yielding is looked for where the curve falls short of its elastic line by 2 % of the torque above
    prevailing and by four standard deviations of a bin.
    """
    plain = fit(first, bins, room.floor, room.widest, 8)
    slope, centre, height = line
    shortfall = height + slope * (room.end - centre) - bins.torque[-2:].max()
    without = plain.curve, plain.sigma, np.nan, 0
    if shortfall <= 0.02 * gain:
        return without
    noise = max(room.floor, _bin_noise(bins))
    if shortfall <= 4.0 * min(plain.sigma, WRONG_SHAPE * noise):
        return without
    sigma, drawdown, used, base = plain.sigma, np.nan, bins, plain.curve
    skip = _lower_part(plain.curve, bins)
    if plain.sigma > WRONG_SHAPE * noise and skip > 1 and len(bins) - skip >= FEWEST_UPPER:
        # The parabola does not fit the lower part: look for yielding above it.
        drawdown = plain.curve.origin + plain.curve.bend.reaches(START_SHARE) * plain.curve.width
        used = bins.part(skip)
        upper = fit(plain.curve, used, room.floor, room.widest, 8)
        base = upper.curve
        sigma = min(upper.sigma, WRONG_SHAPE * noise)
    found = _best_yielding(first, base, sigma, shortfall, used, room)
    if found is None:
        return without
    sigma = min(sigma, max(room.floor, found.robust_scale(used)))
    return found, sigma, drawdown, 0 if np.isnan(drawdown) else skip


def _all_bends(
    base: Curve, bins: Bins, frame: Frame, sigma: float, room: Room
) -> tuple[dict[str, float], Curve, float, float, float]:
    """Every bend fitted from the first one's solution: what they say on average, the best, scale, inflation,
    condition.

    The losses are taken at the scale of the best one's residuals, and divided by the inflation (1 + r) / (1 -
    r) of the variance by their correlation from bin to bin: bins that err together are fewer than they look.
    """
    by_name: dict[str, Fit] = {}

    def begin(name: str, start: Curve) -> None:
        curve = first_step(replace(start, bend=bend(name)), bins, room.widest, sigma, 3.0)
        by_name[name] = fit(curve, bins, room.floor, room.widest, 4, sigma, 4.0, 30.0)

    for name in [name for name in SLOPES if name not in NEIGHBOURS | FINER]:
        begin(name, base)
    _, second_best, third_best, *_ = sorted(f.loss for f in by_name.values())
    for family, worst_loss in ((NEIGHBOURS, third_best), (FINER, second_best)):
        for name, others in family.items():
            tried = [other for other in others if other in by_name]
            ahead = min(tried, key=lambda other: by_name[other].loss, default=None)
            if ahead is not None and by_name[ahead].loss <= worst_loss:
                begin(name, by_name[ahead].curve)
    names = [name for name in SLOPES if name in by_name]
    fits = [by_name[name] for name in names]
    least = min(f.loss for f in fits)
    near, worth = least + 12.0, 0.1 * min(least / 30.0, 1.0)
    fits = [
        fit(f.curve, bins, room.floor, room.widest, 4, sigma, worth) if f.loss < near else f for f in fits
    ]
    losses = np.array([f.loss for f in fits])
    best = fits[int(losses.argmin())].curve
    residual = best.residuals(bins)
    inflation = correlation_factor(residual)
    scale = max(room.floor, best.robust_scale(bins))
    unit = scale**2 * inflation * len(bins) / max(len(bins) - len(base.vector), 1)
    losses = losses * (sigma / scale) ** 2 / inflation
    heard = np.flatnonzero(losses - losses.min() < NO_SAY)
    distance = float(bins.angle[-1] - bins.angle[0]) / max(len(bins) - 1, 1)
    said = [read(fits[k], frame, unit, distance) for k in heard]
    layer = [names[k] in LAYERS for k in heard]
    worst = max(condition(fits[k].normal) for k in heard)
    # A bend that lies between two bins has any width: all narrow ones fit alike, but for rounding.
    if base.yielding is not None and any(fits[k].curve.sag_width < np.diff(bins.angle).min() for k in heard):
        worst = np.inf
    return average(said, losses[heard], layer), best, worst


def _without_ripple(
    first: Curve, bins: Bins, gain: float, ripple: Ripple, room: Room, snug_ratio: float
) -> tuple[Bins, float, tuple[float, float]]:
    """The bins without the ripple of the rundown, the share of it that goes on through the rise (0 or 1), and
    the variances of snug and slope by not knowing which it is.

    It is left in, taken off throughout, or as it fades over the first tenth of the rise's torque: whichever
    lets the first bend fit best. The others count by their scale, to the power of a quarter of the bins; the
    parabola's slope has reached a share (that less a half) of its width behind its origin.
    """
    fades = np.clip(1.0 - (bins.torque - first.level) / (0.1 * gain), 0.0, 1.0)
    ways = [np.zeros(len(bins)), np.ones(len(bins)), fades]
    tried = [Bins(bins.angle, bins.torque - share * ripple.at(bins.angle), bins.weight) for share in ways]
    fits = [fit(first, one, room.floor, room.widest, 5) for one in tried]
    scales = np.array([one.sigma for one in fits])
    chosen = int(np.argmin(scales))
    weight = (scales[chosen] / scales) ** (0.25 * len(bins))
    snugs = np.array([one.curve.origin + (snug_ratio - 0.5) * one.curve.width for one in fits])
    slopes = np.array([one.curve.slope for one in fits])
    spread = [float(np.average((x - x[chosen]) ** 2, weights=weight)) for x in (snugs, slopes)]
    return tried[chosen], 1.0 if chosen == 1 else 0.0, (spread[0], spread[1])


def _noise(data: Recording, rise: Rise) -> float:
    """Standard deviation of single samples about the fitted rise: of every one, or every second, third ... of
    many."""
    below = np.flatnonzero(data.recorded < rise.begin)
    first = max(int(below[-1]) + 1 if len(below) else 0, int(data.kept[0]))
    step = (len(data.recorded) - 1 - first) // NOISE_SAMPLES + 1
    chosen = np.isin(data.kept, np.arange(first, len(data.recorded), step))
    away = np.abs(data.torque[chosen] - rise.torque(data.angle[chosen]))[:NOISE_SAMPLES]
    return float(MAD_TO_SIGMA * np.median(away)) if len(away) else np.nan


def fit_rise(data: Recording, ratios: tuple[float, float]) -> Rise:
    """Fit the rise of a tightening curve; `ratios` are the slope shares of snug and of yield onset.

    Raises
    ------
    NoRise
        With the name of the reason.
    """
    begin, end, top = data.angle[0], data.angle[-1], data.torque[-1]
    where, ripple, trend, zero = _where(coarse_bins(data), top, (end - begin) / COARSE_BINS * (1.0 + 1e-9))
    begin = max(begin, where)
    if not end > begin:
        raise NoRise("NO_RISE")
    bins, density = _rise_bins(data, begin)
    bins = bins.less(trend, zero)
    top -= trend * (end - zero)
    if len(bins) >= FEWEST_BINS:
        level, start, straight = locate(bins, top)
        closer = max(begin, start - LEAD_SHARE * (end - start))
        if end - closer < 0.75 * (end - begin):
            begin = closer
            bins, density = _rise_bins(data, begin)
            bins = bins.less(trend, zero)
    if len(bins) < FEWEST_BINS:
        begin = max(data.angle[0], end - 2.0 * FEWEST_BINS / max(len(bins), 1) * (end - begin))
        bins, density = _rise_bins(data, begin)
        bins = bins.less(trend, zero)
        if len(bins) >= FEWEST_BINS:
            level, _, straight = locate(bins, top)
            if not bins.torque[-4] > level + 0.05 * (top - level):
                bins = bins.part(0, 0)
    if len(bins) < FEWEST_BINS:
        raise NoRise("TOO_FEW_SAMPLES", density)
    if not top > level:
        raise NoRise("NO_RISE", density)
    line = steepest(bins, 0.4 * straight)
    line = line if line[0] > 0.0 else steepest(bins, 0.5 * (end - begin))
    if line[0] <= 0.0:
        raise NoRise("NO_STRAIGHT_STRETCH", density)
    bins = Bins(bins.angle, bins.torque, bins.weight / (1.0 + bins.weight / BIN_WORTH))
    frame = Frame(begin, end, *ratios, trend)
    room = Room(2e-4 * top, 3.0 * (end - begin), straight, end)
    first = _first_curve(bins, level, line, straight)
    share, spread = 0.0, (0.0, 0.0)
    if ripple.amplitude > 1e-3 * top:
        bins, share, spread = _without_ripple(first, bins, top - level, ripple, room, ratios[0])
    curve, sigma, drawdown, skip = _with_or_without_yielding(first, bins, top - level, line, room)
    bins = bins.part(skip)
    said, best, worst = _all_bends(curve, bins, frame, sigma, room)
    if skip > 0:
        said |= {"start": drawdown, "start_variance": sigma**2}
    said["snug_variance"] += spread[0]
    said["slope_variance"] += spread[1]
    rise = Rise(said, best, begin, trend, zero, ripple, share, density, worst)
    rise.noise = _noise(data, rise)
    return rise
