"""Which explanation the curve supports, for every trace at once: strengths, weights, and the likeliest."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.catalogue.causes import CAUSE_INDEX, CAUSE_NAMES, CAUSES
from analysis.curve.reasons import (
    LOOSENING,
    NO_FORWARD_ROTATION,
    NO_RISE,
    NOT_FINITE,
    OPPOSITE_SIGN,
    TOO_FEW_SAMPLES,
)
from analysis.operation.table import OperationTable
from analysis.verdict.collapse import galling_strength, slip_strength, stripping_strength, yield_strength
from analysis.verdict.entry import already_tight_strength, cross_thread_strength, incomplete_strength
from analysis.verdict.evidence import CauseEvidence
from analysis.verdict.friction_stiffness import friction_stiffness_strengths
from analysis.verdict.seating import prevailing_strengths, seating_strengths

#: Share of another's sign that a cause takes away at most.
EXPLAINED_SHARE = 0.95
#: Weight from which a cause is named, and from which it is named for a trace that is flagged anyway.
NAMED_WEIGHT, NAMED_IF_FLAGGED = 0.45, 0.10
#: Reasons of the curve with which a recording says nothing about any cause.
NOT_A_TIGHTENING = (LOOSENING, NOT_FINITE, OPPOSITE_SIGN)
#: What can still be said of a recording that is too short for points, never leaves the rundown, or has its
#: highest torque at once and turns on: torque and angle of its two ends tell it.
TOLD_BY_ENDS = ("already-tight", "incomplete-recording")


@dataclass(frozen=True, eq=False)
class CauseTable:
    """Causes of n traces."""

    #: Shape (n, len(CAUSES)). Measured sign over its threshold: from 1 on the sign is there.
    strength: FloatArray
    weights: FloatArray  #: Shape (n, len(CAUSES)). 0 to 1, for ranking; not probabilities.
    #: Shape (n, len(CAUSES)). Signs that want a look by themselves, whatever the population says.
    alarming: NDArray[np.bool_]
    #: Shape (n,). Index into `analysis.catalogue.causes.CAUSES`; -1 where no cause is called for.
    likeliest: NDArray[np.int64]


def cause_strengths(evidence: CauseEvidence) -> FloatArray:
    """Sign over threshold for every trace and cause, shape (n, len(CAUSES))."""
    found = {
        **friction_stiffness_strengths(evidence),
        **seating_strengths(evidence),
        **prevailing_strengths(evidence),
        "cross-thread": cross_thread_strength(evidence),
        "already-tight": already_tight_strength(evidence),
        "incomplete-recording": incomplete_strength(evidence),
        "thread-stripping": stripping_strength(evidence),
        "yielded": yield_strength(evidence),
        "galling": galling_strength(evidence),
        "drive-slip": slip_strength(evidence),
    }
    return np.column_stack([found[name] for name in CAUSE_NAMES])


def presence(strength: FloatArray) -> FloatArray:
    """0 to 1 from a strength: s^4 / (1 + s^4), one half at the threshold."""
    fourth = np.minimum(strength, 100.0) ** 4
    return np.asarray(fourth / (1.0 + fourth))


def cause_weights(strength: FloatArray) -> FloatArray:
    """Presence of each sign, less what stronger causes explain of it."""
    there = presence(strength)
    weights = there.copy()
    for index, cause in enumerate(CAUSES):
        left = 1.0 - EXPLAINED_SHARE * there[:, index]
        for other in cause.explains:
            weights[:, CAUSE_INDEX[other]] *= left
    return weights


def find_causes(
    evidence: CauseEvidence, flagged: NDArray[np.bool_], operations: OperationTable | None = None
) -> CauseTable:
    """Causes of every trace.

    A tightening by blows is not steady enough for any sign; a loosening has one: the drive that slips.

    Parameters
    ----------
    flagged : ndarray of bool, shape (n,)
        Traces that an outlier score or a broken limit has flagged: for them a weaker sign is named too.
    operations : OperationTable, optional
        What was done in each trace; all tightened by steady rotation where it is not given.
    """
    strength = cause_strengths(evidence)
    reason = evidence.curves.slope_reason
    still = (reason == NO_FORWARD_ROTATION) & ~(evidence.signs.after_deg > 0.0)
    strength[np.isin(reason, NOT_A_TIGHTENING) | still] = 0.0
    told = np.array([name in TOLD_BY_ENDS for name in CAUSE_NAMES])
    strength[np.ix_(np.isin(reason, (TOO_FEW_SAMPLES, NO_FORWARD_ROTATION, NO_RISE)), ~told)] = 0.0
    if operations is not None:
        strength[operations.apart] = 0.0
        loosened = operations.loosenings.is_loosening
        strength[loosened, CAUSE_INDEX["drive-slip"]] = operations.loosenings.slip_strength[loosened]
    weights = cause_weights(strength)
    alarms = np.array([cause.alarming for cause in CAUSES])
    alarming = (strength >= 1.0) & (weights >= NAMED_WEIGHT) & alarms
    named = np.where(flagged, NAMED_IF_FLAGGED, NAMED_WEIGHT)
    likeliest = np.where(weights.max(axis=1) >= named, weights.argmax(axis=1), -1)
    return CauseTable(strength, weights, alarming, likeliest)
