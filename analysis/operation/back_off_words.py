"""What a back-off shows, in sentences, its table of runs, and what to draw of it."""

from __future__ import annotations

import math

import numpy as np

from analysis.catalogue.sentences import Amount, Sentence, joined, said
from analysis.curve.estimate import Estimate, Evidence
from analysis.figure_text import UNKNOWN, Uncertainty
from analysis.operation.back_off_ratio import BackOff, Turn

#: Headings of the table of runs; torque and slope in the unit that is shown.


def slope_of(turn: Turn) -> float:
    """Size of a run's slope, N·m/deg; NaN where it has no straight stretch."""
    return math.nan if turn.line is None else abs(turn.line.slope)


def back_off_sentences(back_off: BackOff, torque: Uncertainty = UNKNOWN) -> list[Sentence]:
    """What a colleague has to know of it; stiffness and friction need the thread and stand elsewhere."""
    back = back_off.turns[1]
    again = "" if len(back_off.turns) < 3 else ", and tightened again"
    told = [
        said(
            "Tightened to {end}, turned back by {turned} deg{again}.",
            end=Amount(back_off.turns[0].end_torque_nm, "N·m", torque),
            turned=f"{back.turned_deg:.1f}",
            again=again,
        )
    ]
    if back_off.reason:
        return [*told, said("Nothing is measured by it: {reason}.", reason=back_off.reason)]
    told.append(
        said(
            "It broke away at {peak}, and ran back with {running}, drawn back to the first movement: {ratio} of "
            "the tightening torque; {left} % of the clamp force was left.",
            peak=Amount(back.breakaway_nm, "N·m", torque),
            running=Amount(back_off.running_nm, "N·m", torque),
            ratio=f"{back_off.ratio:.3f}",
            left=f"{100.0 * back_off.left_share:.0f}",
        )
    )
    if back_off.hysteresis:
        told.append(
            said(
                "Loading and unloading differ, as a gasket's do: the slopes want {more} % more stiffness in "
                "unloading; two fits, and only the torques at the first movement tell friction.",
                more=f"{100.0 * (back_off.stiffness_ratio - 1.0):.0f}",
            )
        )
    return told


def explain_back_off(back_off: BackOff, row: int) -> Estimate:
    """Ratio of the levers, with the straight stretches that one recording shows of it."""
    # One stretch after the other: what joins them is the play of the tool.
    line = [point for turn in back_off.turns if turn.run.row == row for point in turn.drawn]
    angles = [angle for angle, _ in line]
    known = bool(np.isfinite(back_off.ratio))
    evidence = None
    if angles:
        sentence = joined(back_off_sentences(back_off))
        evidence = Evidence(min(angles), max(angles), tuple(line), sentence)
    return Estimate(
        back_off.ratio if known else None,
        "",
        "slopes of both ways, and the torques where the fastener turns",
        back_off.ratio_uncertainty if known else None,
        evidence,
        back_off.reason,
    )
