"""What scatters, by how much, and who says so."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from analysis.errors import TautographError

#: Torque at which the angle begins to count, as a share of the target, where nobody says (own choice).
SNUG_SHARE = 0.3


class StrategyError(TautographError):
    """Settings, or a joint, that no strategy can be worked out from."""


@dataclass(frozen=True)
class StrategySettings:
    """Scatter of tool and joint, each one standard deviation; defaults are own choices until studied."""

    #: Torque from which the angle counts; `SNUG_SHARE` of the target where None.
    snug_torque_nm: float | None = None
    #: Of the tool, at the target and at the snug torque.
    torque_scatter_percent: float = 1.0
    snug_torque_scatter_percent: float = 3.0
    angle_scatter_deg: float = 1.0  #: Of the tool's stop, with the wind-up of tool and parts.
    stiffness_scatter_percent: float = 3.0  #: Clamp force per degree from joint to joint.
    friction_correlation: float = 0.0  #: Of thread and bearing friction.


#: Least and largest value of each setting that makes sense (common practice, no source).
_BOUNDS = {
    "snug_torque_nm": (0.0, 1e6),
    "torque_scatter_percent": (0.0, 50.0),
    "snug_torque_scatter_percent": (0.0, 50.0),
    "angle_scatter_deg": (0.0, 90.0),
    "stiffness_scatter_percent": (0.0, 50.0),
    "friction_correlation": (-1.0, 1.0),
}


def with_values(settings: StrategySettings, values: Mapping[str, Any], place: str) -> StrategySettings:
    """The settings with some of a file's laid over them.

    Raises
    ------
    StrategyError
        Names place and key.

    Examples
    --------
    >>> with_values(StrategySettings(), {"angle_scatter_deg": 2}, "S.toml").angle_scatter_deg
    2.0
    """
    known = [field.name for field in fields(StrategySettings)]
    checked: dict[str, float] = {}
    for key, value in values.items():
        if key not in known:
            raise StrategyError(f"{place}: unknown key {key!r}; known: {', '.join(known)}")
        low, high = _BOUNDS[key]
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise StrategyError(f"{place}: {key}: found {value!r}; expected a number, {low:g} to {high:g}")
        if not math.isfinite(value):
            raise StrategyError(f"{place}: {key}: found {value!r}; expected a finite number")
        checked[key] = float(value)
    return replace(settings, **checked)
