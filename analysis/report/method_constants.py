"""Every constant of how points are found, with unit and source, from where it is declared; for the report."""

from __future__ import annotations

from typing import NamedTuple

from analysis.catalogue.causes import COMMON_PRACTICE

_PRACTICE, _OWN = COMMON_PRACTICE, "own choice"
_MEASURED = "measured on synthetic curves of other kinds"


class Constant(NamedTuple):
    """What it is, its value as it stands in the program, its unit, its source."""

    words: str
    value: float
    unit: str
    source: str


def constants() -> tuple[Constant, ...]:
    """In the order of the method's steps."""
    return (*_rise(), *_fit(), *_readings(), *_prevailing())


# Modules are imported late: they bring the compiler along.


def _rise() -> tuple[Constant, ...]:
    """Bins, the first look, trend and ripple."""
    from analysis.curve import cells, fitted, locate, ripple, rise_fit, rise_report

    return (
        Constant("Bins over the whole recording", fitted.COARSE_CELLS, "", _OWN),
        Constant("Bins over the rise", fitted.RISE_CELLS, "", _OWN),
        Constant("Samples of a bin at most, over the mean", cells.DWELL_FACTOR, "", _PRACTICE),
        Constant("Rundown ahead of the rise, share of the rise", rise_fit.LEAD_SHARE, "", _OWN),
        Constant("What a bin is worth at most (N), samples", rise_fit.CELL_WORTH, "", _OWN),
        Constant("First look: lower share of final torque", locate.LOW_SHARE, "", _PRACTICE),
        Constant("First look: upper share of final torque", locate.HIGH_SHARE, "", _PRACTICE),
        Constant("The rise has left the level by this share of its gain", locate.START_SHARE, "", _OWN),
        Constant("and starts within so many straight rises", locate.REACH, "", _OWN),
        Constant("Trend taken off from this share of the torque", rise_fit.TREND_SHARE, "", _OWN),
        Constant("Rundown that shows a trend", rise_fit.TREND_LEAST_DEG, "deg", _OWN),
        Constant("Turns that the ripple is fitted over", ripple.RIPPLE_TURNS, "turns", _OWN),
        Constant("Rundown that shows a ripple", ripple.RIPPLE_LEAST_DEG, "deg", _OWN),
        Constant("and one that comes twice a turn", ripple.RIPPLE_TWICE_DEG, "deg", _OWN),
        Constant("Ripple taken off from this share of final torque", rise_fit.RIPPLE_LEAST, "", _OWN),
        Constant("A ripple that fades is gone at this share of the gain", rise_fit.RIPPLE_GONE, "", _OWN),
        Constant(
            "Whether it goes on: power of the scale, share of the bins", rise_fit.RIPPLE_POWER, "", _OWN
        ),
        Constant("Share of a ripple that may change in the rise", rise_report.RIPPLE_CHANGE, "", _OWN),
        Constant("Ripple believed beyond so many variances", ripple.RIPPLE_BELIEF, "", _OWN),
        Constant("Ripple not seen: share of the level", ripple.UNSEEN_RIPPLE, "", _OWN),
    )


def _fit() -> tuple[Constant, ...]:
    """The bends, and whether the curve yields."""
    from analysis.curve import bend_fit, cells, least_squares, rise_fit, rise_report, shape_fits, yield_fit

    return (
        Constant(
            "Bisquare constant c", least_squares.BISQUARE, "", "95 % efficiency (Beaton and Tukey 1974)"
        ),
        Constant("Standard deviation over median deviation", cells.MAD_TO_SIGMA, "", "normal distribution"),
        Constant("Smallest scale, share of final torque", rise_fit.SCALE_FLOOR, "", _PRACTICE),
        Constant("Widest bend, rises", rise_fit.WIDEST_BEND, "", _OWN),
        Constant("Narrowest yielding, widest bends", bend_fit.NARROWEST_SHARE, "", "one bin of the rise"),
        Constant("Narrowest drawdown, bins", bend_fit.NARROWEST_DRAWDOWN, "", _OWN),
        Constant("Yielding looked for from this shortfall, share", yield_fit.SHORTFALL_SHARE, "", _OWN),
        Constant("and from so many standard deviations", yield_fit.SHORTFALL_SIGMAS, "", _OWN),
        Constant(
            "Gain from which yielding is believed", shape_fits.YIELD_GAIN, "", "odds of 1000 to 1 (BIC)"
        ),
        Constant("One bin counts at most, standard deviations", shape_fits.MOST_SIGMAS, "", _OWN),
        Constant("A further shape's first step: scales of the first", shape_fits.FIRST_SCALE, "", _MEASURED),
        Constant("Loss that a further round must promise to gain", shape_fits.WORTH_A_ROUND, "", _MEASURED),
        Constant("Fitted on where the loss is above the least by", shape_fits.NEAR, "", _MEASURED),
        Constant("less of both where losses are less than", shape_fits.USUAL_LOSS, "", "half the bins"),
        Constant("until a round promises to gain", shape_fits.WORTH_REFINING, "", _OWN),
        Constant("Flat behind the onset: last share looked at", rise_report.STILL_RISING_SHARE, "", _OWN),
        Constant("Wrong shape: scale over noise of a bin", yield_fit.WRONG_SHAPE, "", _OWN),
        Constant("Lower part left out then, share of the slope", yield_fit.UPPER_SHARE, "", _OWN),
    )


def _readings() -> tuple[Constant, ...]:
    """The mean over shapes, what is read off it, and how well it is known."""
    from analysis.curve import readings, rise_report, rundown, shape_fits

    return (
        Constant("Temperature t of the mean", readings.SHAPE_TEMPERATURE, "", _MEASURED),
        Constant("A width is known to at least so many bins, or itself", readings.WIDTH_KNOWN_TO, "", _OWN),
        Constant("No say beyond this loss above the best", shape_fits.NO_SAY, "", _OWN),
        Constant("Layers: loss added for the drawdown start", readings.LAYER_GAIN, "", "odds of 30 to 1"),
        Constant("Sustained: share of the rise", readings.SUSTAINED_SHARE, "", _PRACTICE),
        Constant("A bend is seen from this share of the slope", readings.START_SHARE, "", _OWN),
        Constant("and may begin unseen at this share", readings.TOUCH_SHARE, "", _OWN),
        Constant("Of the way between: where it is taken to start", readings.UNSEEN_SHARE, "", _MEASURED),
        Constant("Endless bends start at this many widths", readings.FARTHEST_TOUCH, "", _OWN),
        Constant("Snug: factor on its deviation", rise_report.SNUG_SPREAD, "", _MEASURED),
        Constant("Snug: least, share of the drawdown", rise_report.SNUG_SHAPE, "", _MEASURED),
        Constant("Elastic slope: factor on its deviation", rise_report.SLOPE_SPREAD, "", _MEASURED),
        Constant("Elastic slope: least, share of itself", rise_report.SLOPE_SHAPE, "", _MEASURED),
        Constant("Yield onset: factor on its deviation", rise_report.YIELD_SPREAD, "", _MEASURED),
        Constant("Yield onset: least, share of the rise up to it", rise_report.YIELD_SHAPE, "", _MEASURED),
        Constant("Drawdown start: factor on its deviation", rundown.START_SPREAD, "", _MEASURED),
        Constant("Drawdown start: least, share of the drawdown", rundown.START_SHAPE, "", _MEASURED),
    )


def _prevailing() -> tuple[Constant, ...]:
    """The level before the rise."""
    from analysis.curve import cells, prevailing, rise_report

    return (
        Constant("Prevailing torque: stretch", cells.HALF_TURN_DEG, "deg", "definition"),
        Constant("Start transient left out", prevailing.START_TRANSIENT_DEG, "deg", "real recordings"),
        Constant("but at most this share of a rundown", prevailing.START_SHARE, "", _OWN),
        Constant("Bins over the stretch", prevailing.LEVEL_CELLS, "", _OWN),
        Constant("A rundown is believed from this share of the rise", rise_report.SHORT_RUNDOWN, "", _OWN),
        Constant(
            "Error of a median over that of a mean", prevailing.MEDIAN_EFFICIENCY, "", "√(π/2), normal errors"
        ),
    )
