"""From broken limits, oddities and unevaluated rules to one verdict per trace."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.causes import CAUSE_OF
from analysis.catalogue.findings import FINDING_INDEX, FINDING_NAMES, FINDINGS, N_LIMITS
from analysis.catalogue.reasons import LOOSENING, NO_JOINT_NAMED, OPPOSITE_SIGN, UNKNOWN_JOINT
from analysis.catalogue.rules import RULES
from analysis.catalogue.verdicts import NOT_OK, OK, SUSPECT, UNEVALUATED
from analysis.verdict.rules import BROKEN_HIGH, BROKEN_LOW, NOT_EVALUATED, TORQUE, RuleTable

#: Which rule and which side of its window each limit finding stands for.
LIMIT_RULES: dict[str, tuple[int, int]] = {
    name: (k, side)
    for k, rule in enumerate(RULES)
    for name, side in ((rule.low, BROKEN_LOW), (rule.high, BROKEN_HIGH))
    if name
}


@dataclass(frozen=True, eq=False)
class Judgement:
    """Verdict and findings of n traces."""

    verdict: NDArray[np.int8]  #: Shape (n,). Index into `analysis.catalogue.verdicts.VERDICTS`.
    present: NDArray[np.bool_]  #: Shape (n, len(FINDING_NAMES)). Which findings each trace has.
    #: Shape (n, len(FINDING_NAMES)). Margin of a present finding in units of half its window (its threshold,
    #: for oddities); NaN elsewhere.
    relative_margin: NDArray[np.float64]
    #: Shape (n,). Index of the finding with the worst margin, broken limits before oddities; -1 where there
    #: is none.
    deciding: NDArray[np.int64]

    def findings_of(self, row: int) -> tuple[str, ...]:
        """Names of one trace's findings."""
        return tuple(FINDING_NAMES[index] for index in np.flatnonzero(self.present[row]))


#: Share of its threshold by which an oddity is beyond it from which it is strong, whatever it is: an outlier
#: score of 2 (own choice).
STRONG_MARGIN = -1.0
#: Oddities that say by themselves that something is wrong, and the one that claims nothing of the joint.
_STRONG = [
    finding.group in ("clamp", "joint") or (finding.group == "cause" and CAUSE_OF[finding.name].alarming)
    for finding in FINDINGS
]
_CLAIMS_NOTHING = FINDING_INDEX["incomplete-recording"]
#: Reasons of the torque rule with which there is no tightening of a known joint that could be suspected.
_NOTHING_TO_JUDGE = (NO_JOINT_NAMED, UNKNOWN_JOINT, LOOSENING, OPPOSITE_SIGN)


def judge(rules: RuleTable, odd: NDArray[np.bool_], odd_margin: NDArray[np.float64]) -> Judgement:
    """Precedence: a broken limit, a strong oddity, a rule that could not be evaluated, an oddity, ok.

    A trace that is surely odd is suspect even where a rule of it could not be evaluated, unless its recording
    is incomplete, shows no tightening, or names no known joint: then nothing is claimed.

    Parameters
    ----------
    odd : ndarray of bool, shape (n, len(FINDING_NAMES))
        Oddities that want a look; the columns of limit findings are ignored.
    odd_margin : ndarray of float64, same shape
        How far beyond its threshold each oddity is, negative, in units of the threshold.
    """
    present = odd.copy()
    margin = np.where(odd, odd_margin, np.nan)
    for name, (rule, side) in LIMIT_RULES.items():
        column = FINDING_INDEX[name]
        present[:, column] = rules.status[:, rule] == side
        margin[:, column] = np.where(present[:, column], rules.relative_margin[:, rule], np.nan)
    broken = present[:, :N_LIMITS].any(axis=1)
    verdict = np.full(len(present), OK, np.int8)
    verdict[present.any(axis=1)] = SUSPECT
    strong = (odd & (np.array(_STRONG) | (odd_margin <= STRONG_MARGIN))).any(axis=1)
    strong &= ~odd[:, _CLAIMS_NOTHING] & ~np.isin(rules.reason[:, TORQUE], _NOTHING_TO_JUDGE)
    verdict[(rules.status == NOT_EVALUATED).any(axis=1) & ~strong] = UNEVALUATED
    verdict[broken] = NOT_OK
    ranked = np.where(present, np.nan_to_num(margin, nan=0.0), np.inf)
    ranked[:, N_LIMITS:] += np.where(broken, np.inf, 0.0)[:, None]
    deciding = np.where(present.any(axis=1), ranked.argmin(axis=1), -1)
    return Judgement(verdict, present, margin, deciding)
