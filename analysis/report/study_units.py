"""A study in the unit that is shown: indices have none, everything else is scaled."""

from __future__ import annotations

from dataclasses import replace

from analysis.capability.control_charts import Chart, ControlLimits
from analysis.capability.quantity import QuantityStudy
from analysis.capability.study import JointStudy
from analysis.catalogue.sentences import as_text
from analysis.catalogue.units import DisplayUnits


def joint_in_units(study: JointStudy, units: DisplayUnits) -> JointStudy:
    """The study with its quantities and readings as shown."""
    factor = units.factor("N·m")
    readings = tuple(
        replace(
            one,
            mean_nm=one.mean_nm * factor,
            deviation_nm=one.deviation_nm * factor,
            difference_nm=_scaled(one.difference_nm, factor),
            difference_low_nm=_scaled(one.difference_low_nm, factor),
            difference_high_nm=_scaled(one.difference_high_nm, factor),
        )
        for one in study.readings
    )
    quantities = {column: quantity_in_units(one, units) for column, one in study.quantities.items()}
    return replace(study, quantities=quantities, readings=readings)


def quantity_in_units(one: QuantityStudy, units: DisplayUnits) -> QuantityStudy:
    """One quantity as shown, with its sentences."""
    notes = tuple(as_text(note, units) for note in one.notes)
    one = replace(one, notes=notes, reason=as_text(one.reason, units))
    factor = units.factor(one.unit)
    if factor == 1.0:
        return one
    within = one.within
    return replace(
        one,
        unit=units.symbol(one.unit),
        values=one.values * factor,
        mean=one.mean * factor,
        s_overall=one.s_overall * factor,
        within=None if within is None else replace(within, deviation=within.deviation * factor),
        limits=(_scaled(one.limits[0], factor), _scaled(one.limits[1], factor)),
        charts=tuple(_chart(chart, factor) for chart in one.charts),
        streams=tuple(
            replace(stream, mean=stream.mean * factor, deviation=stream.deviation * factor)
            for stream in one.streams
        ),
    )


def _chart(chart: Chart, factor: float) -> Chart:
    """Sums are counted in deviations, and stay."""
    if chart.kind == "cumulative sum":
        return chart
    limits = chart.limits
    scaled = ControlLimits(limits.centre * factor, limits.low * factor, limits.high * factor)
    return replace(chart, points=chart.points * factor, limits=scaled)


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor
