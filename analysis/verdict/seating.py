"""Where the parts meet, and the prevailing torque before they do."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray
from analysis.catalogue.rules import RULE_INDEX
from analysis.verdict.evidence import CauseEvidence, at_least_zero
from analysis.verdict.rules import BROKEN_HIGH, BROKEN_LOW

#: Smallest difference in rundown that is called early or late, degrees: a quarter of a 0.4 mm shim on a
#: pitch of 1.5 mm (common practice, no source).
LEAST_SEATING_DEG = 24.0
#: Smallest difference in prevailing torque that matters, as a share of the target (common practice, no
#: source).
LEAST_PREVAILING_SHARE = 0.03
#: A locking element is called missing below this share of the usual prevailing torque (common practice, no
#: source).
MISSING_SHARE = 0.4
#: Strength given to a limit of the joint definition that is broken.
BROKEN_STRENGTH = 1.5


def seating_strengths(evidence: CauseEvidence) -> dict[str, FloatArray]:
    """Rundown shorter (a part doubled, wrong length) or longer (a part missing) than the joint's others."""
    difference = evidence.of("rundown_deg") - evidence.typical_of("rundown_deg")
    size = evidence.z_of("rundown_deg") / evidence.limit
    counted = np.minimum(np.abs(size), np.abs(difference) / LEAST_SEATING_DEG)
    return {
        "seated-early": at_least_zero(np.where(difference < 0, counted, 0.0)),
        "seated-late": at_least_zero(np.where(difference > 0, counted, 0.0)),
    }


def prevailing_strengths(evidence: CauseEvidence) -> dict[str, FloatArray]:
    """Prevailing torque missing where the joint has one, or higher than usual; the joint's limits speak
    first.

    A joint whose usual level is below `LEAST_PREVAILING_SHARE` of the target lacks little where it is
    missing: the sign counts in proportion. Where the slope is steeper than usual, friction may have raised
    both: only what exceeds the usual level times the slope's ratio counts.
    """
    level, usual = evidence.of("prevailing_torque_nm"), evidence.typical_of("prevailing_torque_nm")
    z = evidence.z_of("prevailing_torque_nm") / evidence.limit
    least_nm = LEAST_PREVAILING_SHARE * evidence.target_nm()
    ratio = np.clip(
        np.nan_to_num(np.exp(evidence.departure_of("elastic_slope_nm_per_deg")), nan=1.0), 1.0, 2.0
    )
    high = np.minimum(z, (level - usual * ratio) / least_nm)
    belongs = np.clip(usual / least_nm, 0.0, 1.0)
    # A joint without prevailing torque lacks none.
    lost = (usual - level) / np.where(usual > 0.0, (1.0 - MISSING_SHARE) * usual, np.inf)
    missing = belongs * np.minimum(-z, lost)
    status = evidence.rules.status[:, RULE_INDEX["prevailing"]]
    high, missing = at_least_zero(high), at_least_zero(missing)
    return {
        "prevailing-high": np.where(status == BROKEN_HIGH, np.maximum(high, BROKEN_STRENGTH), high),
        "prevailing-missing": np.where(status == BROKEN_LOW, np.maximum(missing, BROKEN_STRENGTH), missing),
    }
