"""Which traces may say what is usual: those that keep the limits, and the slope that the joint leads to
expect.

Most of a shift can be wrong together. Where friction and stiffness of the joint are known and the middle of
its traces lies outside the slopes that they allow, while a whole group lies inside, that group says what is
usual.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.catalogue.rules import RULES
from analysis.curve.curve_table import CurveTable
from analysis.joint.expected import ExpectedFan, expected_fan
from analysis.spread import robust_deviation
from analysis.verdict.joint_rows import JointRows
from analysis.verdict.rules import RuleTable, keeps_limits

#: Share of the traces that a group needs, or that has to lie outside the expected range, before the
#: expectation speaks (common practice, no source).
MANY_OUTSIDE = 0.2
#: Standard deviations by which the middles of two groups lie apart, and the smallest one, of the logarithm,
#: that is believed (common practice, no source). One normal group of 40 cut in its middle stays below 3.6
#: (measured).
APART_SIGMAS, LEAST_SPREAD = 4.2, 0.01


def trusted_traces(
    curves: CurveTable, rules: RuleTable, rows: JointRows, smallest: int
) -> tuple[NDArray[np.bool_], dict[str, str]]:
    """Mask of the traces that may say what is usual, and what to know about each joint where something is.

    Parameters
    ----------
    smallest : int
        Traces that a group needs before it says what is usual.
    """
    trusted = keeps_limits(rules)
    notes = _mostly_broken(rules, rows)
    for code, (name, definition) in enumerate(zip(rows.names, rows.definitions, strict=True)):
        fan = expected_fan(definition) if definition is not None else ""
        keepers = np.flatnonzero((rows.codes == code) & trusted)
        slopes = curves.elastic_slope_nm_per_deg[keepers]
        if isinstance(fan, str) or not np.isfinite(slopes).any():
            continue
        inside, note = _against(fan, slopes, smallest)
        if note:
            notes[name] = f"{notes[name]}; {note}" if name in notes else note
        if inside is not None:
            trusted[keepers[~inside]] = False
    return trusted, notes


def _mostly_broken(rules: RuleTable, rows: JointRows) -> dict[str, str]:
    notes = {}
    broken = np.any([rules.broken(rule) for rule in range(len(RULES))], axis=0)
    for code, name in enumerate(rows.names):
        of_joint = rows.codes == code
        n, bad = int(of_joint.sum()), int((of_joint & broken).sum())
        if 2 * bad > n:
            notes[name] = (
                f"{bad} of {n} traces break a limit: what most of them have in common is no proof that it "
                f"is right; "
                f"pin a reference set"
            )
    return notes


def _against(fan: ExpectedFan, slopes: FloatArray, smallest: int) -> tuple[NDArray[np.bool_] | None, str]:
    """Mask of the slopes that say what is usual, or None where all do; and what to know."""
    low, high = fan.slope_range_nm_per_deg
    middle, known = float(np.nanmedian(slopes)), int(np.isfinite(slopes).sum())
    outside = int(((slopes < low) | (slopes > high)).sum())
    group = expected_group(slopes, fan.slope_nm_per_deg[1], max(smallest, int(MANY_OUTSIDE * known)))
    if group is not None:
        return group, (
            f"the elastic slopes form two groups; the {int(group.sum())} of {known} traces that lie "
            "nearer to the slope expected from the joint's friction and stiffness say what is usual"
        )
    if low <= middle <= high and outside < MANY_OUTSIDE * known:
        return None, ""
    where = "inside that range"
    if not low <= middle <= high:
        share = 100.0 * (1.0 - middle / low if middle < low else middle / high - 1.0)
        where = f"{share:.0f} % {'below' if middle < low else 'above'} that range"
    return None, (
        f"{outside} of {known} elastic slopes lie outside the range expected from the joint's friction and "
        f"stiffness (their median lies {where}); check the joint's data, or pin a reference set"
    )


def expected_group(slopes: FloatArray, expected: float, smallest: int) -> NDArray[np.bool_] | None:
    """Of two groups of slopes the one nearer to the expected slope; None where they are one group.

    The logarithms are cut in two where the squares within are least; these are two groups where each has
    `smallest` members and their middles lie apart by `APART_SIGMAS` of the wider group's robust standard
    deviation.
    """
    positive = slopes > 0
    level = np.sort(np.log(slopes[positive]))
    n = len(level)
    if n < 2 * smallest:
        return None
    total, at = np.cumsum(level), np.arange(smallest, n - smallest + 1)
    between = total[at - 1] ** 2 / at + (total[-1] - total[at - 1]) ** 2 / (n - at)
    cut = int(at[np.argmax(between)])
    parts = (level[:cut], level[cut:])
    middles = [float(np.median(part)) for part in parts]
    if middles[1] - middles[0] < APART_SIGMAS * max(*map(robust_deviation, parts), LEAST_SPREAD):
        return None
    chosen = int(abs(middles[1] - np.log(expected)) < abs(middles[0] - np.log(expected)))
    edge = np.exp((level[cut - 1] + level[cut]) / 2.0)
    return np.asarray(positive & ((slopes > edge) == bool(chosen)))
