"""One quantity of one joint studied: spread, shape, stability, indices with their intervals, what would show
them."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.capability.control_charts import (
    MOST_CORRELATION,
    Chart,
    individuals_chart,
    neighbour_correlation,
    subgroup_charts,
    sum_chart,
    weighted_chart,
)
from analysis.capability.indices import (
    MACHINE_TIGHTENINGS,
    Index,
    Limits,
    capability_of,
    judge,
    percentile_indices,
    share_beyond,
)
from analysis.capability.intervals import (
    cp_interval,
    cpk_interval,
    draw_statistics,
    index_needed,
    one_limit_bound,
    one_limit_interval,
    values_needed,
)
from analysis.capability.settings import Asked
from analysis.capability.shape import FEWEST_SHAPED, Family, Shape, find_shape, percentiles_of
from analysis.capability.spread import (
    Components,
    Within,
    by_moving_range,
    same_spread,
    variance_components,
    within_groups,
    without_gauge,
)
from analysis.shift.outlier_tests import generalised_esd

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

#: A chart with so few alarms that chance gives as many at least this often is taken for stable (own choice).
STABLE_CHANCE = 0.01
#: A tail that ends at a limit, where so many values were to be expected beyond it, was cut off (own choice:
#: none where three are expected has a chance of one in twenty).
CUT_OFF = 3.0
FEWEST = 2
#: A draw of few values may be of one value only: its percentiles are taken to lie apart by this share of the
#: values' range (own choice: an index beyond any that counts, and finite).
LEAST_SPREAD = 1e-6
#: Values that may be named as standing apart (own choice).
MOST_STRAYS = 10


@dataclass(frozen=True)
class StreamStudy:
    """One stream (spindle, tool, programme, lot) on its own.

    Attributes
    ----------
    name : str
    n : int
    mean, deviation : float
    cpk : Index or None
    shown : str or None
    """

    name: str
    n: int
    mean: float
    deviation: float
    cpk: Index | None
    shown: str | None


@dataclass(frozen=True, eq=False)
class QuantityStudy:
    """What was found about one quantity of one joint; figures in its internal unit.

    Attributes
    ----------
    column, title, unit : str
    traces : str
        Which traces were studied.
    values : ndarray, shape (n,)
        In order.
    codes, names : ndarray of int, tuple of str
        Stream of each value.
    n : int
    mean, s_overall : float
    within : Within or None
    basis : str
        Which deviation Cp and Cpk stand on.
    limits : (low, high)
    cp, cpk, pp, ppk : Index or None
    decided_by : {"Cpk", "Ppk", ""}
        The index that is judged.
    bound : float or None
        Its lower one-sided bound.
    shown : str or None
        "shown", "met, not shown", "not met"; None with `reason`.
    needed : float or None
        Index that n values must give to show what is wanted.
    values_needed : int or None
        Values that would show it, should the index stay as it is.
    shape : Shape or None
    charts : tuple of Chart
    correlation : float
        Of neighbours in order.
    stable : bool
    streams : tuple of StreamStudy
    components : Components or None
    beyond : (int, int)
        Values below the low and above the high limit.
    sound : (int, float, Index or None)
        Traces judged ok alone: number, deviation, Cpk.
    notes : tuple of str
    reason : str
    """

    column: str
    title: str
    unit: str
    traces: str
    values: FloatArray
    codes: IntArray
    names: tuple[str, ...]
    asked: Asked
    limits: Limits
    n: int
    mean: float = math.nan
    s_overall: float = math.nan
    within: Within | None = None
    basis: str = ""
    cp: Index | None = None
    cpk: Index | None = None
    pp: Index | None = None
    ppk: Index | None = None
    decided_by: str = ""
    bound: float | None = None
    shown: str | None = None
    needed: float | None = None
    values_needed: int | None = None
    shape: Shape | None = None
    charts: tuple[Chart, ...] = ()
    correlation: float = math.nan
    stable: bool = False
    streams: tuple[StreamStudy, ...] = ()
    components: Components | None = None
    beyond: tuple[int, int] = (0, 0)
    sound: tuple[int, float, Index | None] | None = None
    notes: tuple[str, ...] = ()
    reason: str = ""

    @property
    def deciding(self) -> Index | None:
        """The index that is judged."""
        return {"Cpk": self.cpk, "Ppk": self.ppk}.get(self.decided_by)

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        figures = {
            "n": self.n, "mean": _plain(self.mean), "s_overall": _plain(self.s_overall),
            "s_within": None if self.within is None else self.within.deviation,
            "low_limit": self.limits[0], "high_limit": self.limits[1],
        }  # fmt: skip
        indices = {
            name: None if index is None else index.as_dict()
            for name, index in (("cp", self.cp), ("cpk", self.cpk), ("pp", self.pp), ("ppk", self.ppk))
        }
        return {
            **figures, **indices, "shown": self.shown, "wanted": self.asked.wanted_cpk,
            "decided_by": self.decided_by.lower() or None, "lower_bound": self.bound,
            "confidence": self.asked.confidence, "index_needed": self.needed,
            "traces": self.traces, "basis": self.basis,
            "shape": None if self.shape is None else self.shape.family, "stable": self.stable,
            "notes": list(self.notes), "reason": self.reason,
        }  # fmt: skip


def _plain(value: float) -> float | None:
    return value if math.isfinite(value) else None


@dataclass(frozen=True, eq=False)
class Sample:
    """Values of one quantity in order, with what groups them.

    Attributes
    ----------
    values : ndarray, shape (n,)
        Finite.
    streams : (codes, names)
    subgroups : ndarray of int or None
    sound : ndarray of bool
        Judged ok.
    in_time : bool
    traces : str
    notes : tuple of str
    """

    values: FloatArray
    streams: tuple[IntArray, tuple[str, ...]]
    subgroups: IntArray | None
    sound: NDArray[np.bool_]
    in_time: bool
    traces: str
    notes: tuple[str, ...] = ()


def study_quantity(name: tuple[str, str, str], sample: Sample, limits: Limits, asked: Asked) -> QuantityStudy:
    """Study one quantity.

    Parameters
    ----------
    name : (column, title, unit)
    sample : Sample
    limits : (low, high)
        Either may be None, not both.
    asked : Asked
    """
    values = sample.values
    n = len(values)
    known: dict[str, Any] = dict(
        zip(("column", "title", "unit"), name, strict=True),
        traces=sample.traces, values=values, codes=sample.streams[0], names=sample.streams[1],
        asked=asked, limits=limits, n=n, notes=sample.notes,
        beyond=(_count(values, limits[0], -1), _count(values, limits[1], 1)),
    )  # fmt: skip
    if n < FEWEST:
        return QuantityStudy(**known, reason="no trace has it" if not n else "one value alone has no spread")
    mean, overall = float(values.mean()), float(values.std(ddof=1))
    known |= {"mean": mean, "s_overall": overall}
    if not overall > 1e-12 * abs(mean):
        return QuantityStudy(**known, reason="all values are equal: the record is rounded, or not measured")
    within = None if sample.subgroups is None else within_groups(values, sample.subgroups)
    shape = find_shape(values, asked.shape)
    charts = _charts(values, within, sample)
    correlation = neighbour_correlation(values)
    known |= {
        "within": within or by_moving_range(values), "shape": shape, "charts": charts,
        "correlation": correlation, "stable": sample.in_time and _is_stable(charts[0], n, correlation),
        "components": variance_components(values, sample.streams[0]) if sample.streams[1] else None,
        "streams": _streams(sample, limits, asked), "sound": _sound(sample, limits, asked),
    }  # fmt: skip
    if shape.family == "two populations":
        return QuantityStudy(**known, reason=shape.words())
    if shape.family != "normal" and n < FEWEST_SHAPED:
        reason = f"{shape.words()}: {n} values are too few for its percentiles, {FEWEST_SHAPED} are needed"
        return QuantityStudy(**known, reason=reason)
    known |= _indices(values, (mean, overall), within, limits, asked, shape)
    fewer = min(MOST_STRAYS, n // 5)
    known["strays"] = [] if shape.family == "normal" else generalised_esd(values, fewer, STABLE_CHANCE)
    known |= _decided(known, n, shape, asked)
    known["notes"] = (*sample.notes, *_notes(known, values, within, asked, sample.in_time))
    del known["strays"]
    return QuantityStudy(**known)


def _count(values: FloatArray, limit: float | None, side: int) -> int:
    return 0 if limit is None else int(np.sum(side * (values - limit) > 0.0))


def _charts(values: FloatArray, within: Within | None, sample: Sample) -> tuple[Chart, ...]:
    """The chart that says whether the process stands still comes first."""
    shewhart: tuple[Chart, ...] = (individuals_chart(values),)
    if within is not None and sample.subgroups is not None:
        _, codes, count = np.unique(sample.subgroups, return_inverse=True, return_counts=True)
        if len(count) > 2 and count.min() == count.max() > 1:
            table = values[np.argsort(codes, kind="stable")].reshape(len(count), -1)
            first = np.array([np.flatnonzero(codes == k)[0] for k in range(len(count))])
            table = table[np.argsort(first, kind="stable")]
            shewhart = (*subgroup_charts(table.mean(axis=1), table.std(axis=1, ddof=1), count[0]), *shewhart)
    moving = by_moving_range(values)
    deviation = within.deviation if within is not None else moving.deviation if moving is not None else 0.0
    if not deviation > 0.0:
        return shewhart
    centre = float(values.mean())
    return (*shewhart, weighted_chart(values, centre, deviation), sum_chart(values, centre, deviation))


def _is_stable(chart: Chart, n: int, correlation: float) -> bool:
    from scipy.special import pdtrc

    alarms = int(chart.alarms.sum())
    chance = 1.0 if not alarms else float(pdtrc(alarms - 1, len(chart.points) / chart.run_length))
    return chance >= STABLE_CHANCE and not correlation > MOST_CORRELATION


def _indices(
    values: FloatArray,
    centre: tuple[float, float],
    within: Within | None,
    limits: Limits,
    asked: Asked,
    shape: Shape,
) -> dict[str, Any]:
    """Cp and Cpk by the normal formulas; Pp and Ppk by overall spread, or by shape where not normal."""
    mean, overall = centre
    n = len(values)
    if within is None:
        basis, spread, degrees = "overall standard deviation: no subgroups are given", overall, n - 1.0
    else:
        basis, spread, degrees = f"within {within.basis}", within.deviation, within.degrees
    cp, cpk = normal_indices(mean, spread, n, degrees, limits, asked.confidence)
    bound = None
    if shape.family == "normal":
        pp, ppk = normal_indices(mean, overall, n, n - 1.0, limits, asked.confidence)
        if shape.rival is not None:
            *others, bound = shaped_indices(
                values, replace(shape, family=shape.rival), limits, asked.confidence
            )
            pp, ppk = (_over_both(*pair) for pair in zip((pp, ppk), others, strict=True))
    else:
        pp, ppk, bound = shaped_indices(values, shape, limits, asked.confidence)
    return {"basis": basis, "cp": cp, "cpk": cpk, "pp": pp, "ppk": ppk, "bound": bound}


def normal_indices(
    mean: float, deviation: float, n: int, degrees: float, limits: Limits, confidence: float
) -> tuple[Index | None, Index | None]:
    """Cp and Cpk with two-sided intervals; exact against one limit, Bissell's against two."""
    width, nearer = capability_of(mean, deviation, *limits)
    cp = None if width is None else Index(width, *cp_interval(width, degrees, confidence), confidence)
    if nearer is None:
        return cp, None
    if None in limits and degrees == n - 1:
        return cp, Index(nearer, *one_limit_interval(nearer, n, confidence), confidence)
    return cp, Index(nearer, *cpk_interval(nearer, n, degrees, confidence), confidence)


def shaped_indices(
    values: FloatArray, shape: Shape, limits: Limits, confidence: float
) -> tuple[Index | None, Index | None, float | None]:
    """Pp and Ppk by percentiles of the shape with the bootstrap's intervals, and Ppk's lower bound."""
    found = percentiles_of(shape.family, values)(np.ones((1, len(values))))[:, 0]
    width, nearer = percentile_indices(tuple(found.tolist()), *limits)
    if nearer is None:
        return None, None, None
    both, one = draw_statistics(values, partial(_shaped, shape.family, limits), seed_of(values))
    tail = (1.0 - confidence) / 2.0
    pp = None if width is None else Index(width, both.quantile(tail), both.quantile(1.0 - tail), confidence)
    ppk = Index(nearer, one.quantile(tail), one.quantile(1.0 - tail), confidence)
    return pp, ppk, one.quantile(1.0 - confidence)


def _over_both(index: Index | None, other: Index | None) -> Index | None:
    """An index whose interval also holds another shape's."""
    if index is None or other is None:
        return index
    return replace(index, low=min(index.low, other.low), high=max(index.high, other.high))


def _shaped(family: Family, limits: Limits, values: FloatArray) -> Callable[[FloatArray], FloatArray]:
    """Pp (zero against one limit) and Ppk of weighted values."""
    percentiles = percentiles_of(family, values)
    low, high = limits
    least = LEAST_SPREAD * float(np.ptp(values))

    def indices(weights: FloatArray) -> FloatArray:
        below, middle, above = percentiles(weights)
        sides = []
        if high is not None:
            sides.append((high - middle) / np.maximum(above - middle, least))
        if low is not None:
            sides.append((middle - low) / np.maximum(middle - below, least))
        width = 0.0 if low is None or high is None else high - low
        return np.stack([width / np.maximum(above - below, least), np.min(sides, axis=0)])

    return indices


def seed_of(values: FloatArray) -> int:
    """Seed of everything that is drawn: the same values give the same figures, on every machine."""
    digest = hashlib.sha256(np.ascontiguousarray(values, "<f8").tobytes()).digest()
    return int.from_bytes(digest[:8], "little")


def _decided(known: dict[str, Any], n: int, shape: Shape, asked: Asked) -> dict[str, Any]:
    """Which index decides, its lower bound, the judgement, and what would show what is wanted."""
    by_shape = shape.family != "normal"
    name = "Cpk" if known["stable"] and not by_shape else "Ppk"
    if known["strays"] and known["cpk"].value < known["ppk"].value:
        # With values apart no shape fits them all, and a long tail on one side must not excuse the other.
        by_shape, name = False, "Cpk"
    index: Index | None = known[name.lower()]
    if index is None:
        return {"reason": "no limit is given"}
    if by_shape:
        bound = known["bound"]
    elif name == "Cpk" and known["basis"].startswith("within"):
        degrees = known["within"].degrees
        bound = cpk_interval(index.value, n, degrees, 2.0 * asked.confidence - 1.0)[0]
    else:
        bound = one_limit_bound(index.value, n, asked.confidence)
    if not by_shape and shape.rival is not None and known["bound"] is not None:
        bound, by_shape = min(bound, known["bound"]), True
    return {
        "decided_by": name,
        "bound": bound,
        "shown": judge(index.value, bound, asked.wanted_cpk),
        "needed": None if by_shape else index_needed(asked.wanted_cpk, n, asked.confidence),
        "values_needed": None if by_shape else values_needed(asked.wanted_cpk, index.value, asked.confidence),
    }


def _streams(sample: Sample, limits: Limits, asked: Asked) -> tuple[StreamStudy, ...]:
    """Each stream by the normal formulas, worst first; none where there is only one."""
    codes, names = sample.streams
    if len(names) < 2:
        return ()
    found = [_stream(name, sample.values[codes == k], limits, asked) for k, name in enumerate(names)]
    return tuple(sorted(found, key=lambda one: math.inf if one.cpk is None else one.cpk.value))


def _stream(name: str, values: FloatArray, limits: Limits, asked: Asked) -> StreamStudy:
    n = len(values)
    mean = float(values.mean()) if n else math.nan
    deviation = float(values.std(ddof=1)) if n > 1 else math.nan
    if not deviation > 1e-12 * abs(mean):
        return StreamStudy(name, n, mean, deviation, None, None)
    _, cpk = normal_indices(mean, deviation, n, n - 1.0, limits, asked.confidence)
    bound = None if cpk is None else one_limit_bound(cpk.value, n, asked.confidence)
    shown = judge(None if cpk is None else cpk.value, bound, asked.wanted_cpk)
    return StreamStudy(name, n, mean, deviation, cpk, shown)


def _sound(sample: Sample, limits: Limits, asked: Asked) -> tuple[int, float, Index | None] | None:
    if sample.sound.all():
        return None
    found = _stream("", sample.values[sample.sound], limits, asked)
    return found.n, found.deviation, found.cpk


def _notes(
    known: dict[str, Any], values: FloatArray, within: Within | None, asked: Asked, in_time: bool
) -> list[str]:
    """What to know before using the indices."""
    n, mean, overall = known["n"], known["mean"], known["s_overall"]
    notes = []
    if n < MACHINE_TIGHTENINGS:
        notes.append(f"only {n} values; studies of tools take {MACHINE_TIGHTENINGS} (recalled)")
    if known["shape"].rival is not None:
        notes.append(known["shape"].words())
    if known["shape"].family != "normal":
        notes += [known["shape"].words(), *_stray_words(values, known["strays"], known["limits"])]
    if in_time and not known["stable"]:
        notes.append(_unstable_words(known))
    if within is not None and same_spread(overall, n, within) < STABLE_CHANCE:
        notes.append("the spread overall exceeds that within the subgroups: the process moves between them")
    for limit, side, words in zip(known["limits"], (-1, 1), ("low", "high"), strict=True):
        if limit is None or _count(values, limit, side):
            continue
        expected = n * share_beyond(side * (limit - mean) / (3.0 * overall))
        if expected >= CUT_OFF:
            notes.append(
                f"no value beyond the {words} limit, where {expected:.0f} would be expected: rejects are "
                "missing, or were tightened again, and the index is flattered"
            )
    if asked.gauge_nm is not None and known["unit"] == "N·m":
        own = without_gauge(overall, asked.gauge_nm)
        share = 100.0 * (asked.gauge_nm / overall) ** 2
        rest = "nothing is left for the process" if own is None else f"{own:.3g} N·m are the process' own"
        notes.append(f"the measuring chain makes {share:.0f} % of the variance; {rest} (not taken off)")
    return notes


def _stray_words(values: FloatArray, odd: list[int], limits: Limits) -> list[str]:
    """Single values that stand apart are looked at first: they alone can spoil a shape and an index."""
    if not odd:
        return []
    rest = np.delete(values, odd)
    words = f"{len(odd)} {'value stands' if len(odd) == 1 else 'values stand'} apart from the others"
    if len(odd) == MOST_STRAYS:
        words = f"{len(odd)} values or more stand apart from the others"
    deviation = float(rest.std(ddof=1))
    nearer = capability_of(float(rest.mean()), deviation, *limits)[1] if deviation > 0.0 else None
    than = "" if nearer is None else f"; Cpk of the others is {nearer:.2f}, by the normal formula"
    return [f"{words} (Rosner's test), to be looked at first{than}; the lower of Cpk and Ppk decides"]


def _unstable_words(known: dict[str, Any]) -> str:
    chart: Chart = known["charts"][0]
    alarms = int(chart.alarms.sum())
    words = (
        f"performance: not shown to be stable ({alarms} alarms among {len(chart.points)} points of the chart"
    )
    expected = len(chart.points) / chart.run_length
    if known["correlation"] > MOST_CORRELATION:
        words += f", neighbours correlated by {known['correlation']:.2f}: its limits do not hold"
    return f"{words}; {expected:.1f} expected by chance)"
