"""What to know before an index is used: few values, moving processes, missing rejects, values apart."""

from __future__ import annotations

import numpy as np

from analysis.capability.indices import MACHINE_TIGHTENINGS, capability_of, share_beyond
from analysis.capability.quantity import QuantityStudy
from analysis.capability.spread import Within, same_spread, step_of, without_gauge
from analysis.capability.stability import STABLE_CHANCE, unstable_words
from analysis.catalogue.sentences import Amount, Said, said
from analysis.figure_text import plural

#: A tail that ends at a limit, where so many values were to be expected beyond it, was cut off (own choice:
#: none where three are expected has a chance of one in twenty).
CUT_OFF = 3.0
#: Rounding is told where it makes so many percent of the variance (own choice).
TOLD_SHARE = 5.0
#: Values that may be named as standing apart (own choice).
MOST_STRAYS = 10


def notes_of(one: QuantityStudy, within: Within | None, strays: list[int], *, in_time: bool) -> list[Said]:
    """Sentences; the sample's own come first.

    Parameters
    ----------
    within : Within or None
        Deviation within subgroups.
    strays : list of int
        Values that stand apart.
    """
    assert one.shape is not None
    notes: list[Said] = list(one.notes)
    if one.n < MACHINE_TIGHTENINGS:
        notes.append(f"only {plural(one.n, 'value')}; studies of tools take {MACHINE_TIGHTENINGS} (recalled)")
    if one.shape.rival is not None or one.shape.family != "normal":
        notes.append(one.shape.words())
    if strays:
        notes.append(_stray_words(one, strays))
    if in_time and not one.stable:
        notes.append(unstable_words(one))
    if within is not None and same_spread(one.s_overall, one.n, within) < STABLE_CHANCE:
        notes.append("the spread overall exceeds that within the subgroups: the process moves between them")
    return [*notes, *_cut_off_words(one), *_gauge_words(one), *_step_words(one)]


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


def _gauge_words(one: QuantityStudy) -> list[Said]:
    gauge = one.asked.gauge_nm
    if gauge is None or one.unit != "N·m":
        return []
    own = without_gauge(one.s_overall, gauge)
    share = 100.0 * (gauge / one.s_overall) ** 2
    rest: Said = "nothing is left for the process"
    if own is not None:
        rest = said("{own} are the process's own", own=Amount(own, one.unit))
    return [
        said(f"the measuring chain makes {share:.0f} % of the variance; {{rest}} (not taken off)", rest=rest)
    ]


def _step_words(one: QuantityStudy) -> list[Said]:
    """A coarse record shows scatter of its own."""
    step = step_of(one.values)
    share = 100.0 * step**2 / 12.0 / one.s_overall**2
    if share < TOLD_SHARE:
        return []
    words = f"recorded in steps of {{step}}: rounding makes {share:.0f} % of the variance (not taken off)"
    return [said(words, step=Amount(step, one.unit))]


def _stray_words(one: QuantityStudy, odd: list[int]) -> str:
    """Single values that stand apart are looked at first: they alone can spoil a shape and an index."""
    rest = np.delete(one.values, odd)
    words = f"{len(odd)} {'value stands' if len(odd) == 1 else 'values stand'} apart from the others"
    if len(odd) == MOST_STRAYS:
        words = f"{len(odd)} values or more stand apart from the others"
    deviation = float(rest.std(ddof=1))
    nearer = capability_of(float(rest.mean()), deviation, *one.limits)[1] if deviation > 0.0 else None
    than = "" if nearer is None else f"; Cpk of the others is {nearer:.2f}, by the normal formula"
    decides = (
        "" if one.shape is None or one.shape.family == "normal" else "; the lower of Cpk and Ppk decides"
    )
    return f"{words} (Rosner's test), to be looked at first{than}{decides}"
