"""What finding a rise leaves for its fit, and the fit for the report of the points: one row a trace."""

from __future__ import annotations

from analysis.curve.frame import FRAME_VALUES
from analysis.curve.model import MOST_PARAMETERS
from analysis.curve.readings import READINGS
from analysis.curve.ripple import RIPPLE_VALUES

#: Cells over the whole trace, for the rundown and a first look at the rise.
COARSE_CELLS = 128
#: Cells over the rise; more adds nothing to a fit of seven parameters and costs time.
RISE_CELLS = 64
#: First sample (-1: there is no rise), filled coarse cells; of the rise the filled cells, highest torque and level
#: without trend (N·m), degrees of the straight part, and slope (N·m/deg), middle (deg) and height (N·m) of its steepest
#: stretch; of the fit the number of parameters, best bend shape and falling shape; then the readings, what the fits share,
#: the ripple, and the parameters of the best shape.
(
    FIRST,
    N_COARSE,
    N_CELLS,
    FOUND_TOP,
    FOUND_LEVEL,
    STRAIGHT,
    STEEPEST,
    CENTRE,
    HEIGHT,
    N_PAR,
    BEST,
    FALLING,
    AVERAGED,
) = range(13)
FRAME = AVERAGED + READINGS
RIPPLE = FRAME + FRAME_VALUES
PARAMETERS = RIPPLE + RIPPLE_VALUES
FITTED_VALUES = PARAMETERS + MOST_PARAMETERS
