"""Pictures of the rules that snug and yield are found by, and of stages, blows and loosening."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np

from app.views.help.sheet import PREVAILING, SLOPE, SNUG, Sheet, schematic_curve, torque_at

#: The schematic curve that yields: onset of the bend, and the degrees over which its slope falls to 1/e.
_BENDS_FROM, _BEND_DEG = SNUG + 55.0, 14.0
_THRESHOLD = 20.0
#: The offset that is drawn, degrees; a schematic one.
_OFFSET = 12.0
#: The breakaway that is drawn, N·m; a schematic one.
_OVERSHOOT = 9.0


def _line_torque(angle: float) -> float:
    """Torque of the elastic line of the schematic curve."""
    curve = schematic_curve()
    return float(curve[1][-1]) + SLOPE * (angle - float(curve[0][-1]))


def _snug_ratio(sheet: Sheet) -> None:
    curve = schematic_curve()
    sheet.line(*curve)
    snug = SNUG - 0.2 * (SNUG - 360.0)
    height, half = torque_at(curve, snug), 55.0
    sheet.straight((snug - half, height - 0.8 * SLOPE * half), (snug + half, height + 0.8 * SLOPE * half))
    sheet.mark(snug, height, "snug: 0.80 of the elastic slope")


def _snug_threshold(sheet: Sheet) -> None:
    curve = schematic_curve()
    sheet.line(*curve)
    sheet.straight((0.0, _THRESHOLD), (640.0, _THRESHOLD))
    snug = float(np.interp(_THRESHOLD, curve[1], curve[0]))
    sheet.mark(snug, _THRESHOLD, "snug: the threshold is passed for good")


def _snug_line(sheet: Sheet) -> None:
    curve = schematic_curve()
    sheet.line(*curve)
    top = float(curve[0][-1])
    origin = top - (float(curve[1][-1]) - PREVAILING) / SLOPE
    sheet.straight((origin, PREVAILING), (top, float(curve[1][-1])))
    sheet.straight((0.0, PREVAILING), (top, PREVAILING))
    sheet.mark(origin, PREVAILING, "snug: the elastic line's foot")


def _yields(share: float, words: str) -> Callable[[Sheet], None]:
    def draw(sheet: Sheet) -> None:
        curve = schematic_curve(yields=True)
        sheet.line(*curve)
        onset = _BENDS_FROM + _BEND_DEG * float(np.log(1.0 / share))
        height = torque_at(curve, onset)
        sheet.straight(
            (onset - 40.0, height - 40.0 * share * SLOPE), (onset + 40.0, height + 40.0 * share * SLOPE)
        )
        sheet.mark(onset, height, words)

    return draw


def _yields_offset(sheet: Sheet) -> None:
    angle, torque = schematic_curve(yields=True)
    sheet.line(angle, torque)
    for shift in (0.0, _OFFSET):
        sheet.straight((440.0 + shift, _line_torque(440.0)), (520.0 + shift, _line_torque(520.0)))
    right = np.array([_line_torque(a - _OFFSET) for a in angle])
    onset = float(angle[np.flatnonzero((angle > _BENDS_FROM) & (torque < right))[0]])
    sheet.span(470.0, 470.0 + _OFFSET, _line_torque(470.0) - 6.0, "")
    sheet.mark(onset, torque_at((angle, torque), onset), "yield onset: the curve crosses the shifted line")


def _stages(sheet: Sheet) -> None:
    angle, torque = schematic_curve()
    stop = SNUG + 30.0
    height = torque_at((angle, torque), stop)
    before, after = angle <= stop, angle > stop
    over = np.where(after, _OVERSHOOT * np.exp(-(angle - stop) / 8.0), 0.0)
    sheet.line(
        np.concatenate([angle[before], [stop, stop], angle[after]]),
        np.concatenate([torque[before], [height * 0.3, height + _OVERSHOOT], (torque + over)[after]]),
    )
    sheet.mark(stop, height * 0.3, "lowest in the pause", right=True)
    sheet.mark(stop, height + _OVERSHOOT, "breakaway: overshoot over the end torque")


def _pulses(sheet: Sheet) -> None:
    angle, torque = schematic_curve()
    steady = angle <= 400.0
    parts_a, parts_t = [angle[steady]], [torque[steady]]
    reached, envelope = 400.0, [(400.0, torque_at((angle, torque), 400.0))]
    for step in np.linspace(14.0, 6.0, 12):
        last = reached
        reached = min(last + float(step), float(angle[-1]))
        height = torque_at((angle, torque), reached)
        parts_a += [np.array([last, reached, reached])]
        parts_t += [np.array([0.0, height, 0.0])]
        envelope.append((reached, height))
    sheet.line(np.concatenate(parts_a), np.concatenate(parts_t))
    for first, second in pairwise(envelope):
        sheet.straight(first, second)
    sheet.mark(*envelope[7], "envelope through the heights of the pulses")


def _loosening(sheet: Sheet) -> None:
    angle = np.linspace(0.0, 600.0, 601)
    wound = np.clip((angle - 60.0) / 30.0, 0.0, 1.0)
    held = np.where(angle < 90.0, 60.0 * wound, 8.0 + 52.0 * np.exp(-(angle - 90.0) / 22.0))
    slips = np.where(angle < 90.0, 30.0 * wound, 16.0 + 14.0 * np.cos(np.deg2rad(6.0 * (angle - 90.0))))
    sheet.line(angle, slips, usual=True)
    sheet.line(angle, held)
    sheet.mark(90.0, 60.0, "breakaway torque", right=True)
    sheet.span(270.0, 330.0, 34.0, "dashed: a drive that slips, at its pitch")


def _back_off(sheet: Sheet) -> None:
    """Torque against the thread upward too: both ways stand on one scale."""
    on = np.array([60.0, 140.0, 460.0])
    back = np.array([455.0, 440.0, 435.0, 420.0, 200.0])
    sheet.line(back, np.array([0.0, 49.0, 45.0, 40.5, 13.0]), usual=True)
    sheet.line(on, np.array([3.0, 5.0, 62.0]))
    sheet.mark(440.0, 49.0, "breakaway", right=True)
    sheet.mark(260.0, 20.5, "dashed: against the thread", right=True)
    sheet.mark(300.0, 33.5, "way on: steeper by k P/π")


def _residual(sheet: Sheet) -> None:
    """Wind-up, peak, dip, moving on; the line drawn back to the first movement."""
    wound, turned = np.array([40.0, 300.0]), np.linspace(0.0, 160.0, 60)
    ongoing = 46.0 + 0.07 * turned
    sheet.line(np.array([300.0, 460.0]), np.array([46.0, 57.2]), usual=True)
    sheet.line(wound, np.array([0.0, 53.0]))
    sheet.line(300.0 + turned, ongoing + 7.0 * np.exp(-turned / 18.0))
    sheet.mark(300.0, 53.0, "first movement")
    sheet.mark(300.0, 46.0, "residual torque: drawn back", right=True)


RULE_PICTURES: dict[str, Callable[[Sheet], None]] = {
    "snug by slope ratio": _snug_ratio,
    "snug by threshold torque": _snug_threshold,
    "snug by elastic line": _snug_line,
    "yield by half slope": _yields(0.5, "yield onset: slope fallen to 1/2"),
    "yield by two thirds": _yields(2.0 / 3.0, "yield onset: slope fallen to 2/3"),
    "yield by offset": _yields_offset,
    "stages": _stages,
    "impulse tool": _pulses,
    "loosening": _loosening,
    "back-off": _back_off,
    "residual torque": _residual,
}
