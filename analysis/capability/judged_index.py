"""The indices of one quantity, which of them decides, and what would show what is wanted."""

from __future__ import annotations

from dataclasses import replace

from analysis.capability.indices import Index, judge
from analysis.capability.intervals import (
    cpk_interval,
    index_needed,
    normal_indices,
    one_limit_bound,
    values_needed,
)
from analysis.capability.quantity import QuantityStudy
from analysis.capability.shaped_indices import shaped_indices
from analysis.capability.spread import Within

_OVERALL = "overall standard deviation: no subgroups are given"


def with_indices(one: QuantityStudy, within: Within | None, *, strays: bool) -> QuantityStudy:
    """The study with its indices and what they show.

    Parameters
    ----------
    one : QuantityStudy
        With figures and shape.
    within : Within or None
        Deviation within subgroups, for Cp and Cpk; the overall one where None.
    strays : bool
        Whether single values stand apart.

    Notes
    -----
    Cp and Cpk by the normal formulas; Pp and Ppk by overall spread, or by shape where not normal.
    """
    spread = Within(one.s_overall, one.n - 1.0, _OVERALL) if within is None else within
    basis = spread.basis if within is None else f"within {within.basis}"
    limits, confidence = one.limits, one.asked.confidence
    cp, cpk = normal_indices(
        one.mean, spread.deviation, one.n, spread.degrees, limits=limits, confidence=confidence
    )
    pp, ppk, bound = _overall_indices(one)
    found = replace(one, basis=basis, cp=cp, cpk=cpk, pp=pp, ppk=ppk)
    return _judged(found, within, bound, strays)


def _overall_indices(one: QuantityStudy) -> tuple[Index | None, Index | None, float | None]:
    """Pp, Ppk, and Ppk's lower bound where it is by shape."""
    shape, confidence = one.shape, one.asked.confidence
    assert shape is not None
    if shape.family != "normal":
        return shaped_indices(one.values, shape, one.limits, confidence)
    pp, ppk = normal_indices(
        one.mean, one.s_overall, one.n, one.n - 1.0, limits=one.limits, confidence=confidence
    )
    if shape.rival is None:
        return pp, ppk, None
    *others, bound = shaped_indices(one.values, replace(shape, family=shape.rival), one.limits, confidence)
    return _over_both(pp, others[0]), _over_both(ppk, others[1]), bound


def _over_both(index: Index | None, other: Index | None) -> Index | None:
    """An index whose interval also holds another shape's."""
    if index is None or other is None:
        return index
    return replace(index, low=min(index.low, other.low), high=max(index.high, other.high))


def _judged(one: QuantityStudy, within: Within | None, shaped: float | None, strays: bool) -> QuantityStudy:
    """The study with the index that decides, its lower bound and the judgement."""
    shape = one.shape
    assert shape is not None
    by_shape = shape.family != "normal"
    name = "Cpk" if one.stable and not by_shape else "Ppk"
    if strays and one.cpk is not None and one.ppk is not None and one.cpk.value < one.ppk.value:
        # With values apart no shape fits them all, and a long tail on one side must not excuse the other.
        by_shape, name = False, "Cpk"
    one = replace(one, decided_by=name)
    if one.deciding is None:
        return replace(one, decided_by="", reason="no limit is given")
    asked, value = one.asked, one.deciding.value
    bounds = [] if by_shape else [_normal_bound(one, within, value)]
    if shaped is not None and (by_shape or shape.rival is not None):
        bounds, by_shape = [*bounds, shaped], True
    bound = min(bounds, default=None)
    return replace(
        one,
        bound=bound,
        shown=judge(value, bound, asked.wanted_cpk),
        needed=None if by_shape else index_needed(asked.wanted_cpk, one.n, asked.confidence),
        values_needed=None if by_shape else values_needed(asked.wanted_cpk, value, asked.confidence),
    )


def _normal_bound(one: QuantityStudy, within: Within | None, value: float) -> float:
    """Bissell's where Cpk stands on the deviation within subgroups, else exact."""
    if one.decided_by == "Cpk" and within is not None:
        return cpk_interval(value, one.n, within.degrees, 2.0 * one.asked.confidence - 1.0)[0]
    return one_limit_bound(value, one.n, one.asked.confidence)
