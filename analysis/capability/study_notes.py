"""What to know before an index is used: few values, moving processes, missing rejects, values apart."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray
from analysis.capability.indices import MACHINE_TIGHTENINGS, Limits, capability_of, share_beyond
from analysis.capability.quantity import QuantityStudy
from analysis.capability.spread import Within, same_spread, without_gauge
from analysis.capability.stability import STABLE_CHANCE, unstable_words
from analysis.figure_text import plural

#: A tail that ends at a limit, where so many values were to be expected beyond it, was cut off (own choice:
#: none where three are expected has a chance of one in twenty).
CUT_OFF = 3.0
#: Values that may be named as standing apart (own choice).
MOST_STRAYS = 10


def notes_of(one: QuantityStudy, within: Within | None, strays: list[int], *, in_time: bool) -> list[str]:
    """Sentences; the sample's own come first.

    Parameters
    ----------
    within : Within or None
        Deviation within subgroups.
    strays : list of int
        Values that stand apart.
    """
    assert one.shape is not None
    notes = list(one.notes)
    if one.n < MACHINE_TIGHTENINGS:
        notes.append(f"only {plural(one.n, 'value')}; studies of tools take {MACHINE_TIGHTENINGS} (recalled)")
    if one.shape.rival is not None or one.shape.family != "normal":
        notes.append(one.shape.words())
    if strays:
        notes.append(_stray_words(one.values, strays, one.limits))
    if in_time and not one.stable:
        notes.append(unstable_words(one))
    if within is not None and same_spread(one.s_overall, one.n, within) < STABLE_CHANCE:
        notes.append("the spread overall exceeds that within the subgroups: the process moves between them")
    return [*notes, *_cut_off_words(one), *_gauge_words(one)]


def _cut_off_words(one: QuantityStudy) -> list[str]:
    words = []
    for limit, side, beyond, name in zip(one.limits, (-1, 1), one.beyond, ("low", "high"), strict=True):
        if limit is None or beyond:
            continue
        expected = one.n * share_beyond(side * (limit - one.mean) / (3.0 * one.s_overall))
        if expected >= CUT_OFF:
            words.append(
                f"no value beyond the {name} limit, where {expected:.0f} would be expected: rejects are "
                "missing, or were tightened again, and the index is flattered"
            )
    return words


def _gauge_words(one: QuantityStudy) -> list[str]:
    gauge = one.asked.gauge_nm
    if gauge is None or one.unit != "N·m":
        return []
    own = without_gauge(one.s_overall, gauge)
    share = 100.0 * (gauge / one.s_overall) ** 2
    rest = "nothing is left for the process" if own is None else f"{own:.3g} N·m are the process' own"
    return [f"the measuring chain makes {share:.0f} % of the variance; {rest} (not taken off)"]


def _stray_words(values: FloatArray, odd: list[int], limits: Limits) -> str:
    """Single values that stand apart are looked at first: they alone can spoil a shape and an index."""
    rest = np.delete(values, odd)
    words = f"{len(odd)} {'value stands' if len(odd) == 1 else 'values stand'} apart from the others"
    if len(odd) == MOST_STRAYS:
        words = f"{len(odd)} values or more stand apart from the others"
    deviation = float(rest.std(ddof=1))
    nearer = capability_of(float(rest.mean()), deviation, *limits)[1] if deviation > 0.0 else None
    than = "" if nearer is None else f"; Cpk of the others is {nearer:.2f}, by the normal formula"
    return f"{words} (Rosner's test), to be looked at first{than}; the lower of Cpk and Ppk decides"
