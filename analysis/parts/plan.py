"""What a part shall have of one joint: its positions, where they are, and what its bolts do together."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

import numpy as np

from analysis.arrays import FloatArray
from analysis.joint.definition import JointDefinition


@dataclass(frozen=True, eq=False)
class PartPlan:
    """The keys of a joint that are about the part; None where the joints file says nothing."""

    joint: str
    title: str = ""
    positions: tuple[str, ...] | None = None
    #: Shape (n, 2). Where each position is; a circle has radius 1, the first position at its top, clockwise.
    places: FloatArray | None = None
    window_s: float | None = None  #: Traces further apart than that are of another part of the same name.
    #: Largest spread of the final moments of spindles that tighten together.
    final_spread_s: float | None = None
    reuse_limit: int | None = None
    passes: int | None = None
    wanted_sum_kn: float | None = None
    evenness_limit: float | None = None
    #: Shape (n, n). Stated: share of a bolt's gain (column) that another one (row) loses.
    interaction: FloatArray | None = None
    torque_limits_nm: tuple[float, float] | None = None  #: (low, high)


def plan_of(name: str, definition: JointDefinition | None) -> PartPlan:
    """What the joints file says of the part; nothing where it does not know the joint."""
    if definition is None:
        return PartPlan(name, name)
    parts = definition.parts
    positions = parts.get("positions")
    n = 0 if positions is None else len(positions)
    return PartPlan(
        joint=name,
        title=definition.title or name,
        positions=positions,
        places=places_of(parts.get("layout"), n),
        window_s=parts.get("group_window_s"),
        final_spread_s=parts.get("final_spread_s"),
        reuse_limit=parts.get("reuse_limit"),
        passes=parts.get("passes"),
        wanted_sum_kn=parts.get("wanted_sum_kn"),
        evenness_limit=parts.get("evenness_limit"),
        interaction=_interaction(parts.get("interaction"), n),
        torque_limits_nm=definition.torque_limits_nm,
    )


def places_of(layout: Any, n: int) -> FloatArray | None:
    """Coordinates of n positions.

    Examples
    --------
    >>> places_of("circle", 4).round(3).tolist()
    [[0.0, 1.0], [1.0, 0.0], [0.0, -1.0], [-1.0, -0.0]]
    """
    if layout is None or n == 0:
        return None
    if layout != "circle":
        return np.asarray(layout, np.float64)
    angle = 2.0 * np.pi * np.arange(n) / n
    return np.column_stack((np.sin(angle), np.cos(angle)))


def _interaction(rows: tuple[tuple[float, ...], ...] | None, n: int) -> FloatArray | None:
    """A square as it is; one row holds what the next bolt on the circle takes, the next but one ..."""
    if rows is None:
        return None
    if len(rows) > 1:
        return np.asarray(rows, np.float64)
    by_steps = np.zeros(n // 2 + 1)
    given = rows[0][: n // 2]
    by_steps[1 : len(given) + 1] = given
    steps = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    return np.asarray(by_steps[np.minimum(steps, n - steps)])


def position_name(value: object) -> str | None:
    """A position as text, whether the recording has it as number or as text; None where it has none.

    Examples
    --------
    >>> position_name(3), position_name("3.0"), position_name(" left "), position_name("")
    ('3', '3', 'left', None)
    """
    text = "" if value is None else str(value).strip()
    whole = re.fullmatch(r"(\d+)\.0+", text)
    return (whole[1] if whole else text) or None


def natural(text: str) -> tuple[tuple[int, int, str], ...]:
    """A key that sorts names as people do.

    Examples
    --------
    >>> sorted(["truck-10", "truck-9", "a"], key=natural)
    ['a', 'truck-9', 'truck-10']
    """
    cut = re.split(r"(\d+)", text)
    return (*((0, int(one), "") if k % 2 else (1, 0, one) for k, one in enumerate(cut) if one), (2, 0, text))
