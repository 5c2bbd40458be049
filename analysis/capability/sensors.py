"""Whether traces name a second sensor, and whether their tools were calibrated in time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

import pyarrow as pa

from analysis.arrays import IntArray

#: Attributes of a trace: name of the sensor that watches beside the one that controls; day on which the
#: tool is to be calibrated next.
SECOND_SENSOR, CALIBRATION_DUE = "second_sensor", "calibration_due"
#: What a recording without a second sensor writes there.
_NONE = ("", "none", "no", "false", "0")

#: Days of each tool's calibrations, each with the day on which the next is due.
Calibrated = Mapping[str, Sequence[tuple[date, date]]]


@dataclass(frozen=True)
class SensorFacts:
    """What n traces say of the sensors and tools that made them."""

    n: int
    second: int | None  #: Traces that name a second sensor; None where no recording has such an attribute.
    dated: int  #: Traces of which it is known whether the tool's calibration was due.
    overdue: Mapping[str, tuple[int, date]]  #: By tool: traces made when it was overdue, and since when.


def sensor_facts(attributes: pa.Table, rows: IntArray, calibrated: Calibrated | None = None) -> SensorFacts:
    """Of these traces; by the attribute, or by the last calibration before each of them."""

    def texts(name: str) -> list[object]:
        if name not in attributes.column_names:
            return [None] * len(rows)
        values: list[object] = attributes.column(name).take(rows).to_pylist()
        return values

    named = [str(one).strip().lower() not in _NONE for one in texts(SECOND_SENSOR) if one is not None]
    second = sum(named) if SECOND_SENSOR in attributes.column_names else None
    dated, overdue = 0, dict[str, tuple[int, date]]()
    columns = map(texts, ("started_at", CALIBRATION_DUE, "tool", "spindle"))
    for moment, stated, tool, spindle in zip(*columns, strict=True):
        day, whose = _day(moment), str(tool or spindle or "a tool without a name")
        due = _day(stated) or (_due(calibrated or {}, (tool, spindle), day) if day is not None else None)
        if day is None or due is None:
            continue
        dated += 1
        if day > due:
            count, since = overdue.get(whose, (0, due))
            overdue[whose] = count + 1, min(since, due)
    return SensorFacts(len(rows), second, dated, overdue)


def _due(calibrated: Calibrated, names: tuple[object, object], day: date) -> date | None:
    known = next(
        (calibrated[str(name)] for name in names if name is not None and str(name) in calibrated), ()
    )
    return max(((done, due) for done, due in known if done <= day), default=(day, None))[1]


def _day(value: object) -> date | None:
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date) or value is None:
        return value
    try:
        return date.fromisoformat(str(value).strip()[:10])
    except ValueError:
        return None
