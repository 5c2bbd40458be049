"""The fit of a rise with or without yielding: does the curve fall short of its elastic line, and is that yielding?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inner
from analysis.curve.arrays import (
    NORMAL,
    PLAIN_FIT,
    UPPER_CELLS,
    YIELD_FIT,
    YIELD_START,
    copy_columns,
    copy_into,
)
from analysis.curve.bend_fit import RIGHT, fit_bends, robust_scale
from analysis.curve.cells import ANGLE, MAD_TO_SIGMA, TORQUE, WEIGHT, smallest_at
from analysis.curve.frame import END, FLOOR, WIDEST
from analysis.curve.model import (
    BEND_PARAMETERS,
    MOST_PARAMETERS,
    ORIGIN,
    WIDTH,
    bend_inverse,
)
from analysis.curve.readings import START_SHARE
from analysis.curve.shape_fits import start_yield, try_yield

FloatArray = NDArray[np.float64]

#: A curve is looked at for yielding where it falls short of its elastic line by this share of the torque above
#: prevailing, or by so many standard deviations of a cell.
SHORTFALL_SHARE = 0.02
SHORTFALL_SIGMAS = 4.0
#: A fit whose residuals hang together by this variance inflation has the wrong shape somewhere: look again above the
#: first part of the bend, where two-step gaskets and the like have their own corner.
WRONG_SHAPE = 2.5
UPPER_SHARE = 0.15
FEWEST_UPPER = 16


@inner
def cells_below(p: FloatArray, cells: FloatArray, n: int, bend: FloatArray) -> int:
    """Number of cells below the part of a bend that has reached `UPPER_SHARE` of the slope."""
    from_deg = p[ORIGIN] + bend_inverse(UPPER_SHARE, bend) * p[WIDTH]
    skip = 0
    while skip < n and cells[ANGLE, skip] < from_deg:
        skip += 1
    return skip


@inner
def _step_noise(cells: FloatArray, n: int, scratch: FloatArray) -> float:
    """Noise of a cell by the second differences of its torque, which neither slope nor a wide bend enters."""
    for k in range(n - 2):
        second = cells[TORQUE, k] - 2.0 * cells[TORQUE, k + 1] + cells[TORQUE, k + 2]
        scratch[k] = abs(second) * np.sqrt(cells[WEIGHT, k + 1])
    return float(MAD_TO_SIGMA * smallest_at(scratch, n - 2, (n - 2) // 2) / np.sqrt(6.0))


@inner
def bend_or_yield(
    p: FloatArray,
    cells: FloatArray,
    n: int,
    gain: float,
    slope: float,
    centre: float,
    height: float,
    straight: float,
    frame: FloatArray,
    shapes: FloatArray,
    work: FloatArray,
) -> tuple[int, int, float, float, int]:
    """Fit the parabola, and yielding where the curve falls short of its line; `p` is what was fitted.

    Returns parameters, falling shape, scale; and where the parabola does not fit its lower part, so that only the
    upper part was used for the yielding, the drawdown start and the number of cells below, else NaN and 0.
    """
    yield_p, normal = work[YIELD_FIT, :MOST_PARAMETERS], work[NORMAL : NORMAL + RIGHT + 1]
    copy_into(yield_p, p)
    floor, widest = frame[FLOOR], frame[WIDEST]
    _, sigma = fit_bends(
        p, BEND_PARAMETERS, cells, n, shapes[0], shapes[0], floor, 0.0, widest, 8, 0.0, np.inf, work, normal
    )
    shortfall = height + slope * (frame[END] - centre) - max(cells[TORQUE, n - 1], cells[TORQUE, n - 2])
    if shortfall <= SHORTFALL_SHARE * gain:
        return BEND_PARAMETERS, 0, sigma, np.nan, 0
    noise = max(floor, _step_noise(cells, n, work[0]))
    if shortfall <= SHORTFALL_SIGMAS * min(sigma, WRONG_SHAPE * noise):
        return BEND_PARAMETERS, 0, sigma, np.nan, 0
    yield_start, plain = work[YIELD_START, :MOST_PARAMETERS], work[PLAIN_FIT, :MOST_PARAMETERS]
    copy_into(yield_start, yield_p)
    copy_into(plain, p)
    plain_sigma, start = sigma, np.nan
    used, m = cells, n
    skip = cells_below(p, cells, n, shapes[0])
    if sigma > WRONG_SHAPE * noise and skip > 1 and n - skip >= FEWEST_UPPER:
        start = p[ORIGIN] + bend_inverse(START_SHARE, shapes[0]) * p[WIDTH]
        used, m = work[UPPER_CELLS : UPPER_CELLS + 3], n - skip
        copy_columns(used, cells, skip, n)
        _, plain_sigma = fit_bends(
            plain,
            BEND_PARAMETERS,
            used,
            m,
            shapes[0],
            shapes[0],
            floor,
            0.0,
            widest,
            8,
            0.0,
            np.inf,
            work,
            normal,
        )
        plain_sigma = min(plain_sigma, WRONG_SHAPE * noise)
    start_yield(yield_start, used, m, straight)
    falling = try_yield(
        yield_start, plain, plain_sigma, shortfall, used, m, floor, widest, shapes, work, normal, yield_p
    )
    if falling < 0:
        return BEND_PARAMETERS, 0, sigma, np.nan, 0
    # The scale of what was fitted without yielding is none of this fit's.
    own = robust_scale(yield_p, MOST_PARAMETERS, used, m, shapes[0], shapes[falling], work[6])
    plain_sigma = min(plain_sigma, max(floor, own))
    # Its line too: what was fitted without yielding over a long plastic part is no line of the elastic one.
    copy_into(p, yield_p)
    return MOST_PARAMETERS, falling, plain_sigma, start, 0 if np.isnan(start) else skip
