"""Every choice that a figure depends on, with name, default, unit and source; frozen, and part of each
result."""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from analysis.errors import SettingsFileError

#: Least and greatest value that makes sense (own choice; the defaults lie well within).
_RANGES = {
    "snug_slope_ratio": (0.01, 1.0),
    "snug_threshold_nm": (0.0, 1e6),
    "yield_offset_deg": (0.0, 3600.0),
    "hard_limit_deg": (0.1, 1e5),
    "soft_limit_deg": (0.1, 1e5),
    "smallest_population": (3, 1_000_000),
    "outlier_share": (1e-6, 0.5),
}


@dataclass(frozen=True)
class CurveSettings:
    """How points and zones are found on a curve."""

    #: Slope ratio: first angle from which the local slope stays at or above `snug_slope_ratio` of the elastic
    #: slope. Threshold torque: first angle at which the torque passes `snug_threshold_nm` for good. Elastic
    #: line: the elastic origin.
    snug_rule: Literal["slope-ratio", "threshold-torque", "elastic-line"] = "slope-ratio"
    snug_slope_ratio: float = 0.80  #: Default 0.80.
    snug_threshold_nm: float | None = None
    #: Half: slope fallen to `yield_slope_ratio` = 0.50 of the elastic slope. Two thirds: Johnson's
    #: approximate method, MSFC-STD-486B Fig. 1. Offset: the angle by which the curve lies right of the
    #: elastic line equals 0.2 % permanent elongation of the free length.
    yield_rule: Literal["half-slope", "two-thirds-slope", "offset"] = "half-slope"
    #: Angle offset that stands for 0.2 % of the free length, degrees: 360 x 0.002 x free length / pitch.
    #: None: taken per joint from clamp length and pitch where both are known.
    yield_offset_deg: float | None = None
    #: Joint rate, degrees: hard at most 30, soft at least 720 (common practice, as first given in ISO 5393,
    #: recalled; the 2017 edition is recalled as 360).
    hard_limit_deg: float = 30.0
    soft_limit_deg: float = 720.0
    #: Joint rate that these limits are held against: degrees from snug to final, or of the straight line from
    #: 10 (50) % of final torque to the final point, drawn to zero. Standards for tools count from 10 or from
    #: 50 % (trade pages).
    hardness_basis: Literal["snug-to-final", "10-100 %", "50-100 %"] = "snug-to-final"

    @property
    def yields_by_offset(self) -> bool:
        """Whether the yield onset is where the curve leaves the elastic line by an angle offset."""
        return self.yield_rule == "offset"

    @property
    def offset_by_joint(self) -> bool:
        """Whether that offset is each joint's own."""
        return self.yields_by_offset and self.yield_offset_deg is None

    @property
    def yield_slope_ratio(self) -> float:
        """Share of the elastic slope at which the local slope counts as yielding."""
        return 2.0 / 3.0 if self.yield_rule == "two-thirds-slope" else 0.5


@dataclass(frozen=True)
class PopulationSettings:
    """How a trace is compared with the others of its joint."""

    smallest_population: int = 20  #: Below this number of traces a joint has no population statistics; 20.
    #: Share of good traces that may be called outliers over the whole joint (multiplicity controlled); 0.006,
    #: so that chance alone seldom takes a shift of some hundred traces beyond 1 %.
    outlier_share: float = 0.006


@dataclass(frozen=True)
class Settings:
    """All settings of an analysis.

    Examples
    --------
    >>> Settings().curve.snug_slope_ratio
    0.8
    """

    curve: CurveSettings = field(default_factory=CurveSettings)
    population: PopulationSettings = field(default_factory=PopulationSettings)

    def as_dict(self) -> dict[str, Any]:
        """Plain nested dictionaries, for reports and results files."""
        return asdict(self)

    def with_values(self, values: Mapping[str, Any], place: str) -> Settings:
        """These settings with values laid over them, each checked against its kind and its range.

        Raises
        ------
        SettingsFileError
            Names the place, the key, and what is expected.
        """
        return typing.cast(Settings, _filled(self, values, place))


def _filled(record: Any, values: Mapping[str, Any], place: str) -> Any:
    """The frozen record with these values in place of its own, each checked against its declared type."""
    hints = typing.get_type_hints(type(record))
    changes: dict[str, Any] = {}
    for name, value in values.items():
        if name not in hints:
            raise SettingsFileError(f"{place}: unknown key {name!r}; known: {', '.join(hints)}")
        old = getattr(record, name)
        if dataclasses.is_dataclass(old):
            if not isinstance(value, Mapping):
                raise SettingsFileError(f"{place}: {name!r} is a table: write [{name}] above its keys")
            changes[name] = _filled(old, value, f"{place} [{name}]")
        else:
            changes[name] = _in_range(name, _checked(value, hints[name], f"{place}: {name}"), place)
    return dataclasses.replace(record, **changes)


def _checked(value: Any, hint: Any, place: str) -> Any:
    if typing.get_origin(hint) is typing.Literal:
        choices = typing.get_args(hint)
        if value in choices:
            return value
        raise SettingsFileError(f"{place}: found {value!r}; expected one of {', '.join(map(str, choices))}")
    allowed = [kind for kind in _kinds(hint) if kind is not types.NoneType]
    if float in allowed and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if type(value) not in allowed:
        words = " or ".join(
            {float: "a number", int: "a whole number", bool: "true or false"}.get(k, "text") for k in allowed
        )
        raise SettingsFileError(f"{place}: found {value!r}; expected {words}")
    return value


def _in_range(name: str, value: Any, place: str) -> Any:
    low, high = _RANGES.get(name, (-math.inf, math.inf))
    if isinstance(value, float | int) and not low <= value <= high:
        raise SettingsFileError(f"{place}: {name}: found {value:g}; expected {low:g} to {high:g}")
    return value


def _kinds(hint: Any) -> tuple[Any, ...]:
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return typing.get_args(hint)
    return (hint,)
