"""What an audit shows, in sentences, and what to draw of it."""

from __future__ import annotations

import math

import numpy as np

from analysis.audit.definitions import DEFINITION_OF
from analysis.audit.readings import AuditReading
from analysis.audit.settings import AuditSettings
from analysis.audit.table import AuditTable
from analysis.catalogue.reasons import NOT_MOVED, REASONS
from analysis.catalogue.sentences import Amount, Sentence, joined, plain, said
from analysis.curve.estimate import Estimate, Evidence
from analysis.figure_text import UNKNOWN, Uncertainty
from analysis.traces import TraceSet

#: Name by which the window asks for what is to be drawn.
RESIDUAL = "residual torque"
#: Noise of the torque, as a share of it, from which a pull is called uneven (own choice).
UNEVEN = 0.02


def audit_sentences(
    audits: AuditTable,
    traces: TraceSet,
    row: int,
    torque: Uncertainty = UNKNOWN,
    angle: Uncertainty = UNKNOWN,
) -> list[Sentence]:
    """What a colleague has to know about one audit; empty for what is none.

    Parameters
    ----------
    torque, angle : Uncertainty
        How well what is read from its samples is known.
    """
    k = audits.index_of(row)
    if k is None:
        return []
    own, settings = audits.of[k], audits.settings[k]
    return [
        _result(audits, row, own, settings, torque),
        *_by_hand(own, settings, angle),
        *_what_it_did(audits, row, own),
        *_before(audits, traces, row),
    ]


def _result(
    audits: AuditTable, row: int, own: AuditReading, settings: AuditSettings, torque: Uncertainty
) -> Sentence:
    value = float(audits.residual_torque_nm[row])
    if math.isfinite(value):
        sigma = float(audits.residual_torque_uncertainty_nm[row])
        return said(
            "Residual torque {value}, {how}.",
            value=Amount(value, "N·m", Uncertainty(sigma)),
            how=DEFINITION_OF[settings.definition].words,
        )
    if own.reason == NOT_MOVED:
        return said(
            "Not moved: the residual torque is above {peak}.", peak=Amount(own.peak_nm, "N·m", torque)
        )
    return said(
        "No residual torque: {why}. Highest torque {peak}.",
        why=REASONS[own.reason],
        peak=Amount(own.peak_nm, "N·m", torque),
    )


def _by_hand(own: AuditReading, settings: AuditSettings, angle: Uncertainty) -> list[Sentence]:
    """How the wrench was handled."""
    told = []
    if math.isfinite(own.moved_deg):
        moved: Sentence = said("turned {moved} after the movement", moved=Amount(own.moved_deg, "deg", angle))
        if own.moved_deg > settings.max_turn_deg:
            most = Amount(settings.max_turn_deg, "deg", given=True)
            moved = said("{moved}, more than the {most} of an audit", moved=moved, most=most)
        told.append(moved)
    if math.isfinite(own.speed_deg_per_s):
        told.append(plain(f"at {own.speed_deg_per_s:.0f} deg/s"))
    if math.isfinite(own.seconds_to_movement):
        told.append(plain(f"{own.seconds_to_movement:.1f} s of wind-up"))
    if own.fit is not None and own.fit.moved:
        noise = own.fit.noise_nm / own.peak_nm
        told.append(plain(f"{'uneven' if noise > UNEVEN else 'even'} to {100.0 * noise:.1f} %"))
    return [said("How it was pulled: {how}.", how=joined(told, ", "))] if told else []


def _what_it_did(audits: AuditTable, row: int, own: AuditReading) -> list[Sentence]:
    if own.turned_back:
        again = "" if "return-to-mark" in own.readings else ": it has to be tightened again"
        return [plain(f"The audit itself turned the fastener back{again}.")]
    raised = float(audits.raised_kn[row])
    if not math.isfinite(raised):
        return []
    return [
        said(
            "The audit itself raised the clamp force by about {raised} (estimated by the joint's stiffness).",
            raised=Amount(raised, "kN"),
        )
    ]


def _before(audits: AuditTable, traces: TraceSet, row: int) -> list[Sentence]:
    before = int(audits.dynamic_row[row])
    if before < 0:
        return [plain("No sound tightening of the same joint, part and position before it.")]
    minutes = float(audits.minutes_since[row])
    since = f", {minutes:.0f} min before" if math.isfinite(minutes) else ""
    ratio = float(audits.ratio_to_dynamic[row])
    held = f": {ratio:.3f} of its final torque" if math.isfinite(ratio) else ""
    return [plain(f"Tightened in {traces.trace_ids[before]}{since}{held}.")]


def explain_audit(audits: AuditTable, row: int) -> dict[str, Estimate]:
    """The residual torque of one audit, with the line of moving on drawn back to the first movement."""
    k = audits.index_of(row)
    if k is None:
        return {}
    own, settings = audits.of[k], audits.settings[k]
    value = float(audits.residual_torque_nm[row])
    known = math.isfinite(value)
    how = DEFINITION_OF[settings.definition].words
    if own.turned_back:
        return {}
    fit, line = own.fit, own.readings.get("ongoing")
    if fit is None or not fit.moved or line is None:
        return {RESIDUAL: Estimate(None, "N·m", how, None, None, REASONS[own.reason])}
    at, end = fit.at_deg, own.end_deg
    points = (
        (at - fit.static_nm / fit.wrench_slope, 0.0),
        (at, fit.static_nm),
        (at, line.value),
        (end, line.value + fit.slope * (end - at)),
    )
    words = (
        f"Wound up to the first movement at {at:.1f} deg; the line of moving on, drawn back to it, is the "
        "torque that holds the joint."
    )
    sigma = float(audits.residual_torque_uncertainty_nm[row])
    return {
        RESIDUAL: Estimate(
            value if known else None,
            "N·m",
            how,
            sigma if np.isfinite(sigma) else None,
            Evidence(at, end, points, words),
            "" if known else REASONS[own.reason],
        )
    }
