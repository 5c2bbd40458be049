"""What was done in one trace, in sentences, and what to draw of it: stages, pulses, breakaway."""

from __future__ import annotations

import numpy as np

from analysis.catalogue.sentences import Amount, Said, Sentence, plain, said
from analysis.curve.estimate import Estimate, Evidence
from analysis.figure_text import UNKNOWN, Uncertainty, plural
from analysis.operation.back_off_ratio import BackOff
from analysis.operation.back_off_words import back_off_sentences, explain_back_off
from analysis.operation.loosening_runs import BREAKAWAY_REASONS
from analysis.operation.pulse_course import PulseCourse
from analysis.operation.stages import BY_END, FOUND_BY, Stage
from analysis.operation.table import BACKED_OFF, IMPULSE, LOOSENED, OperationTable
from analysis.traces import Trace

#: With fewer samples than this a peak is said to be read coarsely: a half sine of four samples reads up to
#: 8 % low.
COARSE_PEAK = 5
#: Names by which the window asks for what is to be drawn.
STAGES, ENVELOPE, BREAKAWAY, BACK_OFF = "stages", "pulse envelope", "breakaway torque", "back-off"
#: What is to be drawn of an operation that is no plain tightening.
DRAWN = {IMPULSE: ENVELOPE, LOOSENED: BREAKAWAY, BACKED_OFF: BACK_OFF}


def operation_sentences(
    operations: OperationTable, row: int, torque: Uncertainty = UNKNOWN
) -> list[Sentence]:
    """What a colleague has to know about a trace that is no plain tightening; empty for one that is.

    Parameters
    ----------
    torque : Uncertainty
        How well a torque that is read from the samples is known.
    """
    if operations.operation[row] == IMPULSE:
        return [plain(text) for text in _of_pulses(operations, row)]
    if operations.operation[row] == LOOSENED:
        return _of_loosening(operations, row, torque)
    back_off = backed_off(operations, row)
    return [] if back_off is None else back_off_sentences(back_off, torque)


def backed_off(operations: OperationTable, row: int) -> BackOff | None:
    """The back-off that a trace shows: itself, or as one of several recordings that are none by themselves."""
    return operations.back_off_of(row) if operations.operation[row] == BACKED_OFF else None


def _of_pulses(operations: OperationTable, row: int) -> list[str]:
    pulses = operations.pulses
    k = int(np.searchsorted(pulses.rows, row))
    rate = f", {pulses.rate_per_s[k]:.0f} a second" if np.isfinite(pulses.rate_per_s[k]) else ""
    sentences = [
        f"Tightened by blows: {plural(int(pulses.count[k]), 'pulse')} up to the final point{rate}. The points are "
        "those of the envelope through the heights of the pulses.",
        "The height of a pulse is what the tool gave: the joint keeps as much or less. Whether the torque "
        "limits are met and whether the bolt yields cannot be told from it; it bounds the clamp force, which "
        "the angle gives, from above.",
        *_of_course(operations.course, row),
    ]
    if operations.sparse[row]:
        sentences.append(
            f"The pulses are sampled too sparsely to know their height: {pulses.high_samples[k]:.0f} "
            "samples above half of it."
        )
    return sentences


def _of_course(course: PulseCourse, row: int) -> list[str]:
    """Whether the pulses came to an end, and what the tool can be watched by."""
    told = []
    if np.isfinite(course.after_snug[row]):
        seconds = course.seconds[row]
        within = f" within {seconds:.2f} s" if np.isfinite(seconds) else ""
        told.append(f"{plural(int(course.after_snug[row]), 'pulse')} after snug, all of them{within}.")
    if np.isfinite(course.first_deg[row]):
        last, first = course.last_deg[row], course.first_deg[row]
        to_95 = course.to_95[row]
        ended = "" if course.converged[row] else "Not converged: further pulses would turn it on. "
        word = f"{ended}The last pulse turned {last:.2f} deg, the first three {first:.2f} deg each"
        when = f"; 95 % of the angle by pulse {to_95:.0f}" if np.isfinite(to_95) else ""
        told.append(f"{word}{when}{': converged' if course.converged[row] else ''}.")
    if told:
        told.append(
            "Such a tool can be watched by pulses, time and angle; a study of what it does takes angle and residual "
            "torque, not the height of its pulses."
        )
    return told


def _of_loosening(operations: OperationTable, row: int, torque: Uncertainty) -> list[Sentence]:
    loosenings = operations.loosenings
    highest, angle = (
        Amount(float(loosenings.highest_torque_nm[row]), "N·m", torque),
        loosenings.highest_angle_deg[row],
    )
    if loosenings.slipped[row]:
        return [
            said(
                "Loosened, and the drive slipped: the torque repeats every {pitch} deg and swings by {swing} % "
                "of its highest value. The breakaway torque is not known: the drive carried at most {highest}.",
                pitch=f"{loosenings.pitch_deg[row]:.0f}",
                swing=f"{100.0 * loosenings.swing_share[row]:.0f}",
                highest=highest,
            )
        ]
    coarse = (
        f" The peak was read from {plural(int(loosenings.peak_samples[row]), 'sample')}: the true one may be higher."
        if loosenings.peak_samples[row] < COARSE_PEAK
        else ""
    )
    template = "Loosened: the fastener broke away at {highest}, at {angle} deg.{coarse}"
    return [said(template, highest=highest, angle=f"{angle:.1f}", coarse=coarse)]


def stage_texts(stage: Stage, torque: Uncertainty) -> tuple[Said, Said, Said]:
    """Pause, torque lost and overshoot of one stage; the reason where one is absent.

    A dash for the last stage, which no stop ended.
    """
    if stage.ended_by == FOUND_BY[BY_END]:
        return "–", "–", "–"
    pause = stage.pause_reason if stage.pause_s is None else f"{stage.pause_s:.3f} s"
    lost = stage.loss_reason if stage.torque_lost_nm is None else Amount(stage.torque_lost_nm, "N·m", torque)
    over = stage.overshoot_reason if stage.overshoot_nm is None else Amount(stage.overshoot_nm, "N·m", torque)
    return pause, lost, over


def explain_operation(trace: Trace, operations: OperationTable, row: int) -> dict[str, Estimate]:
    """What only this kind of operation has, with what to draw of it.

    Returns
    -------
    dict
        "stages" of a tightening with more than one; "pulse envelope" of one by blows; "breakaway torque" of a
        loosening. Values in s, 1/s and N·m; absent with a reason.
    """
    if operations.operation[row] == IMPULSE:
        return {ENVELOPE: _explain_envelope(operations, row)}
    if operations.operation[row] == LOOSENED:
        return {BREAKAWAY: _explain_breakaway(trace, operations, row)}
    back_off = backed_off(operations, row)
    if back_off is not None:
        return {BACK_OFF: explain_back_off(back_off, row)}
    stages = operations.stages.of(row)
    return {STAGES: _explain_stages(trace, stages)} if len(stages) > 1 else {}


def _explain_envelope(operations: OperationTable, row: int) -> Estimate:
    pulses = operations.pulses
    k = int(np.searchsorted(pulses.rows, row))
    angle, torque = pulses.points_of(k)
    rate = float(pulses.rate_per_s[k])
    known = np.isfinite(rate)
    return Estimate(
        rate if known else None,
        "1/s",
        "a pulse ends where the torque falls to a quarter of its height without new angle",
        None,
        Evidence(
            float(angle[0]),
            float(angle[-1]),
            tuple(zip(angle.tolist(), torque.tolist(), strict=True)),
            f"The line joins the heights of the {len(angle)} pulses, each at the angle that it reached.",
        ),
        "" if known else "the recording has no time",
    )


def _explain_breakaway(trace: Trace, operations: OperationTable, row: int) -> Estimate:
    loosenings = operations.loosenings
    value, angle = float(loosenings.breakaway_torque_nm[row]), float(loosenings.highest_angle_deg[row])
    known = bool(np.isfinite(value))
    sentence = operation_sentences(operations, row)[0]
    # Drawn from zero to the peak, whichever way the recording counts the torque.
    at = int(np.nanargmin(np.abs(trace.angle_deg - angle)))
    return Estimate(
        value if known else None,
        "N·m",
        "largest torque against the thread",
        None,
        Evidence(angle, angle, ((angle, 0.0), (angle, float(trace.torque_nm[at]))), sentence),
        BREAKAWAY_REASONS[int(loosenings.breakaway_reason[row])],
    )


def _explain_stages(trace: Trace, stages: list[Stage]) -> Estimate:
    line: list[tuple[float, float]] = []
    for stage in stages:
        at = stage.end_angle_deg
        line.append((at, stage.end_torque_nm))
        if stage.rest_torque_nm is not None:
            line.append((at, stage.rest_torque_nm))
        if stage.overshoot_nm is not None:
            line.append((at, stage.end_torque_nm + stage.overshoot_nm))
    pauses = [stage.pause_s for stage in stages if stage.pause_s]
    last = stages[-2]
    return Estimate(
        max(pauses) if pauses else None,
        "s",
        "by the tool's steps, and by stops: the torque falls by 15 % or more without new angle, and comes "
        "back",
        None,
        Evidence(
            last.end_angle_deg,
            float(trace.angle_deg[stages[-1].start]),
            tuple(line),
            f"{len(stages)} stages; the line joins where they ended, what was read during each stop, and the "
            f"breakaway after it.",
        ),
        "" if pauses else last.pause_reason or "the tool went on without a stop",
    )
