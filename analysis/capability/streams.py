"""Parts of the values on their own: each stream, and the traces judged ok."""

from __future__ import annotations

import math

from analysis.arrays import FloatArray
from analysis.capability.indices import Index, Limits, judge
from analysis.capability.intervals import normal_indices, one_limit_bound
from analysis.capability.quantity import Sample, StreamStudy
from analysis.capability.settings import Asked


def stream_studies(sample: Sample, limits: Limits, asked: Asked) -> tuple[StreamStudy, ...]:
    """Each stream by the normal formulas, worst first; none where there is only one."""
    codes, names = sample.streams
    if len(names) < 2:
        return ()
    found = [
        _stream(name, sample.values[codes == k], sample.unseen, limits, asked) for k, name in enumerate(names)
    ]
    return tuple(sorted(found, key=lambda one: math.inf if one.cpk is None else one.cpk.value))


def sound_alone(sample: Sample, limits: Limits, asked: Asked) -> tuple[int, float, Index | None] | None:
    """Traces judged ok: number, deviation, Cpk; None where all are."""
    if sample.sound.all():
        return None
    found = _stream("", sample.values[sample.sound], sample.unseen, limits, asked)
    return found.n, found.deviation, found.cpk


def _stream(name: str, values: FloatArray, unseen: float, limits: Limits, asked: Asked) -> StreamStudy:
    n = len(values)
    mean = float(values.mean()) if n else math.nan
    deviation = float(values.std(ddof=1)) if n > 1 else math.nan
    if not deviation > 1e-12 * abs(mean):
        return StreamStudy(name, n, mean, deviation, None, None)
    deviation = math.hypot(deviation, unseen)
    _, cpk = normal_indices(mean, deviation, n, n - 1.0, limits=limits, confidence=asked.confidence)
    bound = None if cpk is None else one_limit_bound(cpk.value, n, asked.confidence)
    shown = judge(None if cpk is None else cpk.value, bound, asked.wanted_cpk)
    return StreamStudy(name, n, mean, deviation, cpk, shown)
