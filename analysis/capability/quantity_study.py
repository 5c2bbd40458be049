"""One quantity of one joint studied: spread, shape, stability, indices with their intervals, what would show
them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from analysis.arrays import FloatArray
from analysis.capability.indices import Limits
from analysis.capability.judged_index import with_indices
from analysis.capability.quantity import QuantityStudy, Sample
from analysis.capability.settings import Asked
from analysis.capability.shape import FEWEST_SHAPED, Shape, find_shape
from analysis.capability.spread import (
    COARSEST_STEP,
    Within,
    by_moving_range,
    step_of,
    variance_components,
    within_groups,
)
from analysis.capability.stability import STABLE_CHANCE, stability_of
from analysis.capability.streams import sound_alone, stream_studies
from analysis.capability.study_notes import MOST_STRAYS, notes_of
from analysis.catalogue.sentences import Amount, Said, said
from analysis.shift.outlier_tests import generalised_esd

#: Least spread of values that were measured and not rounded to one, as a share of their mean (own choice).
_LEAST_SPREAD = 1e-12


def study_quantity(name: tuple[str, str, str], sample: Sample, limits: Limits, asked: Asked) -> QuantityStudy:
    """Study one quantity.

    Parameters
    ----------
    name : (column, title, unit)
    limits : (low, high)
        Either may be None, not both.
    """
    values, n = sample.values, len(sample.values)
    below, above = (
        0 if limit is None else int(np.sum(side * (values - limit) > 0.0))
        for limit, side in zip(limits, (-1, 1), strict=True)
    )
    one = QuantityStudy(
        *name, sample.traces, values, *sample.streams, asked, limits, n, beyond=(below, above),
        notes=sample.notes, yielded=sample.yielded,
    )  # fmt: skip
    if n < 2:
        return replace(one, reason="no trace has it" if not n else "one value alone has no spread")
    one = replace(one, mean=float(values.mean()), s_overall=math.hypot(values.std(ddof=1), sample.unseen))
    if not values.std(ddof=1) > _LEAST_SPREAD * abs(one.mean):
        return replace(one, reason="all values are equal: the record is rounded, or not measured")
    within = _with_unseen(
        None if sample.subgroups is None else within_groups(values, sample.subgroups), sample
    )
    one = _described(one, sample, within)
    reason = _too_coarse(one) or _no_index(one.shape, n)
    if reason:
        return replace(one, reason=reason)
    strays, skewed = _strays(values), one.shape is not None and one.shape.family != "normal"
    one = with_indices(one, within, strays=bool(strays) and skewed)
    return replace(one, notes=tuple(notes_of(one, within, strays, in_time=sample.in_time)))


def _with_unseen(within: Within | None, sample: Sample) -> Within | None:
    return None if within is None else within.with_unseen(sample.unseen)


def _described(one: QuantityStudy, sample: Sample, within: Within | None) -> QuantityStudy:
    """With its shape, charts and parts; no index yet."""
    charts, correlation, stable = stability_of(sample, within)
    codes, names = sample.streams
    return replace(
        one,
        within=within or _with_unseen(by_moving_range(sample.values), sample),
        shape=find_shape(sample.values, "normal" if sample.unseen else one.asked.shape),
        charts=charts,
        correlation=correlation,
        stable=stable,
        components=variance_components(sample.values, codes) if names else None,
        streams=stream_studies(sample, one.limits, one.asked),
        sound=sound_alone(sample, one.limits, one.asked),
    )


def _too_coarse(one: QuantityStudy) -> Said:
    """Why values recorded in wide steps say nothing of their spread; empty where they do."""
    step = step_of(one.values)
    if step <= COARSEST_STEP * one.s_overall:
        return ""
    words = "recorded in steps of {step}, too wide to tell a spread of {deviation}"
    return said(words, step=Amount(step, one.unit), deviation=Amount(one.s_overall, one.unit))


def _no_index(shape: Shape | None, n: int) -> str:
    """Why no index stands for the values; empty where one does."""
    if shape is None or shape.family == "two populations":
        return "" if shape is None else shape.words()
    if shape.family == "normal" or n >= FEWEST_SHAPED:
        return ""
    return f"{shape.words()}: {n} values are too few for its percentiles, {FEWEST_SHAPED} are needed"


def _strays(values: FloatArray) -> list[int]:
    if len(values) < FEWEST_SHAPED:
        return []
    return generalised_esd(values, min(MOST_STRAYS, len(values) // 5), STABLE_CHANCE)
