"""What tightening, turning back and tightening again say together: the ratio of the two levers."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray

if TYPE_CHECKING:
    from analysis.operation.straight_line import StraightLine
    from analysis.operation.turning_runs import Run


#: Standard uncertainty of slopes and torques that no noise shows: friction both ways, relaxation in between
#: (own choice, as shares).
LEAST_UNCERTAINTY = 0.004
#: Prevailing torque that was not read is taken as none, give or take this share of the end torque.
UNREAD_PREVAILING = 0.01
#: Loading and unloading are told apart from this difference of stiffness and so many standard uncertainties on.
HYSTERESIS_SHARE, HYSTERESIS_SIGMAS = 0.08, 2.5
#: The second tightening is taken for the first one's friction within this difference of slope.
SAME_SLOPE = 0.04

#: A fastener that keeps this share of its clamp force was backed off, not loosened (own choice).
HELD_SHARE = 0.1
#: A line is drawn on to a turning point over so many degrees at least: past the breakaway, 2.5, and two samples
#: of the coarsest recordings, 2 each (own choice).
REACH_DEG = 7.0

YIELDED = "the bolt yielded before it was turned back"
NO_LINE = "no straight stretch on the way {0}"
HELD_MORE = "turning back started from more torque than the tightening before it reached"
NOT_LESS = "turning back took as much torque as tightening"


@dataclass(frozen=True, eq=False)
class Turn:
    """One run of a fastener, for the table of runs."""

    run: Run
    forward: bool
    end_torque_nm: float  #: Of a run forward: highest; of one back: at its end, against the thread.
    turned_deg: float
    #: Highest torque within the first degrees of movement; NaN for the run that starts loose.
    breakaway_nm: float
    #: Where the fastener first moved, on the recording's axis; NaN for the run that starts loose.
    moved_at_deg: float
    place_deg: float  #: Standard uncertainty of where the run ends and begins, degrees.
    #: Over degrees turned: back from the highest angle forward, on from the first movement otherwise.
    line: StraightLine | None
    #: (angle, torque): both ends of the straight stretch, as the recording counts them.
    drawn: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True, eq=False)
class BackOff:
    """A fastener that was tightened, turned back, and perhaps tightened again."""

    rows: tuple[int, ...]  #: Recordings that hold it, in order.
    #: First tightening, back-off, and second tightening where there is one; then what came after.
    turns: tuple[Turn, ...]
    prevailing_nm: float = float("nan")  #: Taken off every torque; NaN where it was not read.
    #: Of tightening, in the straight stretch.
    slope_nm_per_deg: float = float("nan")
    slope_uncertainty: float = float("nan")
    #: Torque per clamp force of loosening over that of tightening; NaN with a reason.
    ratio: float = float("nan")
    ratio_uncertainty: float = float("nan")
    #: The same from the torques at the first movement, and from the slopes.
    by_levels: float = float("nan")
    by_slopes: float = float("nan")
    #: Stiffness of unloading over that of loading; 1 where they are not told apart.
    stiffness_ratio: float = 1.0
    #: From which it was turned back: the line's, prevailing torque not taken off.
    end_torque_nm: float = float("nan")
    #: Clamp force left after the back-off over that before; NaN where not known.
    left_share: float = float("nan")
    #: Torque of loosening drawn back to the first movement; NaN where not known.
    running_nm: float = float("nan")
    reason: str = ""

    @property
    def tightening_row(self) -> int:
        """The recording whose clamp force was turned back from."""
        return self.turns[0].run.row

    @property
    def back_rows(self) -> tuple[int, ...]:
        """Recordings that were a back-off; none where the fastener was loosened for good."""
        loosened = len(self.turns) == 2 and self.turns[1].run.start == 0 and not self.left_share >= HELD_SHARE
        return () if loosened else (self.turns[1].run.row,)

    @property
    def hysteresis(self) -> bool:
        """Whether loading and unloading have stiffnesses of their own."""
        return self.stiffness_ratio != 1.0


@dataclass(frozen=True)
class _Equations:
    """Pairs of a figure on the way back and one on the way on, at one stiffness or one clamp force."""

    #: Shape (m,).
    back: FloatArray
    on: FloatArray
    #: Shape (m, m).
    back_cov: FloatArray
    on_cov: FloatArray
    level: NDArray[np.bool_]  #: Shape (m,). Torques; the others are slopes.

    def only(self, keep: NDArray[np.bool_]) -> _Equations:
        """Some of them."""
        both = np.ix_(keep, keep)
        return _Equations(
            self.back[keep], self.on[keep], self.back_cov[both], self.on_cov[both], self.level[keep]
        )

    def ratio(self, prevailing_uncertainty: float) -> tuple[float, float]:
        """Generalised least squares of back = ratio x on; the uncertainty grows with contradiction."""
        ratio = float(np.median(self.back / self.on))
        variance, miss = np.inf, 0.0
        for _ in range(3):
            shared = (1.0 - ratio) * prevailing_uncertainty * self.level
            covariance = self.back_cov + ratio**2 * self.on_cov + np.outer(shared, shared)
            weight = np.linalg.inv(covariance)
            variance = 1.0 / float(self.on @ weight @ self.on)
            ratio = variance * float(self.on @ weight @ self.back)
            rest = self.back - ratio * self.on
            miss = float(rest @ weight @ rest)
        birge = max(1.0, miss / max(len(self.back) - 1, 1))
        return ratio, float(np.sqrt(variance * birge))


def compare_turns(found: BackOff, *, yielded: bool) -> BackOff:
    """Ratio, slope and what is left, from the lines of the turns; the reason where they do not give it.

    Parameters
    ----------
    yielded : bool
        The first tightening ended past the yield onset: only the second one's line counts then.
    """
    first, back = found.turns[0], found.turns[1]
    again = found.turns[2] if len(found.turns) > 2 else None
    if back.line is None:
        return replace(found, reason=NO_LINE.format("back"))
    ons = [] if yielded or first.line is None else [first]
    if again is not None and again.line is not None and (not ons or _alike(first, again)):
        ons.append(again)
    if not ons:
        return replace(found, reason=YIELDED if yielded else NO_LINE.format("on"))
    taken = 0.0 if np.isnan(found.prevailing_nm) else found.prevailing_nm
    top = first.end_torque_nm if first.line is None else first.line.level
    unread = UNREAD_PREVAILING * top if np.isnan(found.prevailing_nm) else 0.0
    equations = _equations(ons, first, back, taken)
    by_levels, levels_u = _of(equations, equations.level, unread)
    by_slopes, slopes_u = _of(equations, ~equations.level, unread)
    stiffness = _stiffness_ratio(by_levels, levels_u, by_slopes, slopes_u)
    running = back.line.level
    rest = back.line.at(back.turned_deg) - taken
    left = float(np.clip(rest / (running - taken), 0.0, 1.0)) if running > taken else np.nan
    read = replace(found, by_levels=by_levels, by_slopes=by_slopes, left_share=left, running_nm=running)
    # No joint gives back more work than it took: a softer way back began at another clamp force.
    if stiffness < 1.0:
        return replace(read, reason=HELD_MORE)
    # With a stiffness of its own each way only the torques at one clamp force speak of friction alone.
    chosen = equations.only(equations.level) if stiffness != 1.0 else equations
    ratio, ratio_u = chosen.ratio(unread)
    if not 0.0 < ratio < 1.0:
        return replace(found, by_levels=by_levels, by_slopes=by_slopes, reason=NOT_LESS)
    slope, slope_u = _slope(ons)
    return replace(
        read,
        slope_nm_per_deg=slope,
        slope_uncertainty=slope_u,
        ratio=ratio,
        ratio_uncertainty=ratio_u,
        stiffness_ratio=stiffness,
        end_torque_nm=top,
    )


def _slope_of(turn: Turn) -> tuple[float, float]:
    assert turn.line is not None
    return abs(turn.line.slope), turn.line.slope_uncertainty


def _alike(first: Turn, again: Turn) -> bool:
    """Whether the second tightening has the first one's slope, and so its friction."""
    (one, u_one), (other, u_other) = _slope_of(first), _slope_of(again)
    return abs(other / one - 1.0) <= SAME_SLOPE + 2.0 * float(np.hypot(u_one, u_other)) / one


def _slope(ons: list[Turn]) -> tuple[float, float]:
    values = np.array([_slope_of(turn) for turn in ons])
    slopes, spread = values[:, 0], np.hypot(values[:, 1], LEAST_UNCERTAINTY * values[:, 0])
    weight = 1.0 / spread**2
    mean = float(slopes @ weight / weight.sum())
    birge = max(1.0, float(weight @ (slopes - mean) ** 2) / max(len(ons) - 1, 1))
    return mean, float(np.sqrt(birge / weight.sum()))


def _equations(ons: list[Turn], first: Turn, back: Turn, prevailing_nm: float) -> _Equations:
    """Slopes, and torques at the turning points, of every tightening against those of the way back."""
    line = back.line
    assert line is not None
    depth = back.turned_deg
    rows: list[tuple[float, float, FloatArray, FloatArray, int, bool]] = []
    for number, turn in enumerate(ons):
        assert turn.line is not None
        slope = abs(turn.line.slope)
        rows.append((line.slope, slope, np.array([0.0, 1.0]), np.array([0.0, 1.0]), number, False))
        at_top = turn is first
        if _reaches(turn.line, 0.0) and _reaches(line, 0.0 if at_top else depth):
            way = np.array([1.0, 0.0 if at_top else -depth])
            level = line.at(0.0 if at_top else depth) - prevailing_nm
            rows.append((level, turn.line.level - prevailing_nm, way, np.array([1.0, 0.0]), number, True))
    back_way = np.stack([row[2] for row in rows])
    back_cov = back_way @ line.covariance @ back_way.T
    on_cov = np.zeros_like(back_cov)
    for number, turn in enumerate(ons):
        assert turn.line is not None
        mine = np.array([row[4] == number for row in rows])
        way = np.stack([row[3] for row in rows]) * mine[:, None]
        on_cov += way @ turn.line.covariance @ way.T
    back_values, on_values = np.array([row[0] for row in rows]), np.array([row[1] for row in rows])
    levels = np.array([row[5] for row in rows], np.bool_)
    back_cov += np.diag((back.place_deg * line.slope * levels) ** 2 + (LEAST_UNCERTAINTY * back_values) ** 2)
    placed = np.array([ons[row[4]].place_deg * _slope_of(ons[row[4]])[0] for row in rows])
    on_cov += np.diag((placed * levels) ** 2)
    return _Equations(back_values, on_values, back_cov, on_cov, levels)


def _reaches(line: StraightLine, place: float) -> bool:
    """Whether the line's own stretch comes near a place: drawn on no farther than half its length."""
    beyond = max(line.start - place, place - line.stop, 0.0)
    return beyond <= max(REACH_DEG, (line.stop - line.start) / 2.0)


def _of(equations: _Equations, keep: NDArray[np.bool_], unread: float) -> tuple[float, float]:
    return equations.only(keep).ratio(unread) if keep.any() else (float("nan"), float("nan"))


def _stiffness_ratio(by_levels: float, levels_u: float, by_slopes: float, slopes_u: float) -> float:
    """Unloading over loading stiffness where it is not one; 1 where noise alone could make the difference."""
    if not (by_levels > 0.0 and by_slopes > 0.0):
        return 1.0
    ratio = by_slopes / by_levels
    sigma = float(np.hypot(levels_u / by_levels, slopes_u / by_slopes))
    apart = abs(ratio - 1.0)
    return ratio if apart > HYSTERESIS_SHARE and apart > HYSTERESIS_SIGMAS * sigma else 1.0
