"""A new joint from traces that have none: which traces, what is proposed and how it was found; no Qt."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.rules import WINDOWS
from analysis.catalogue.units import DisplayUnits
from analysis.shift.joint_proposal import UsualWindow, rounded_target, usual_window
from analysis.shift.tolerance import CONFIDENCE, COVERAGE
from app.display.messages import count_words, tr
from app.session.proposed_limits import percent, rounded_outward

if TYPE_CHECKING:
    from app.session.session import Session

Mask = NDArray[np.bool_]
#: Limits that are proposed.
KEYS = ("torque_limits_nm", "angle_limits_deg")


@dataclass(frozen=True, eq=False)
class NewJoint:
    """What is proposed; figures in internal units."""

    name: str  #: The joint that the traces name and nobody has defined; or a suggestion from the file's name.
    named: bool  #: True where the traces name it themselves.
    rows: Mask
    target_nm: float
    target_how: str
    limits: dict[str, tuple[float, float] | None]  #: (low, high) or None
    how: dict[str, str]  #: By limit: how it was found, or why there is none.
    values: dict[str, NDArray[np.float64]]

    def outside(self, key: str, low: float, high: float) -> int:
        """Traces that would lie outside a window; one without the figure does not lie in it."""
        values = self.values[key]
        return int((~((values >= low) & (values <= high))).sum())


def rows_without_joint(session: Session) -> Mask:
    """Traces whose joint nobody has defined: those that name none, or else those of the undefined one."""
    column = session.columns.get("joint")
    if column is None or len(column.values) != len(session.traces):
        return np.zeros(len(session.traces), bool)
    names = np.asarray(column.values, object)
    nameless = np.array([not name for name in names], bool)
    if nameless.any():
        return nameless
    undefined = [str(name) for name in names if str(name) not in session.joints]
    wanted = session.current_joint if session.current_joint in undefined else next(iter(undefined), "")
    return np.array([name == wanted for name in names], bool) if wanted else nameless


def new_joint(session: Session) -> NewJoint | None:
    """The proposal for these traces; None where every trace has a joint, or nothing was worked out yet."""
    rows = rows_without_joint(session)
    if session.analysis is None or not rows.any():
        return None
    smallest = session.analysis.settings.population.smallest_population
    units = session.units
    names = {str(name) for name in np.asarray(session.columns["joint"].values, object)[rows] if name}
    values = {key: session.columns[WINDOWS[key].figure.name].values[rows] for key in KEYS}
    usual = {key: usual_window(one, smallest) for key, one in values.items()}
    torque = usual["torque_limits_nm"]
    shown = units.shown(torque.centre, "N·m")
    target = units.internal(rounded_target(shown), "N·m") if torque.n else float("nan")
    return NewJoint(
        names.pop() if len(names) == 1 else _free_name(session),
        bool(names),
        rows,
        target,
        _target_words(torque, units),
        {key: None if one.limits is None else rounded_outward(*one.limits) for key, one in usual.items()},
        {key: _how(one, WINDOWS[key].figure.unit, smallest, units) for key, one in usual.items()},
        values,
    )


def _free_name(session: Session) -> str:
    """The file's name as far as a joint may be called so; another number behind it where it is taken."""
    stem = Path(session.paths[0]).stem if session.paths else ""
    name = re.sub(r"[^\w-]+", "-", stem).strip("-_") or "joint"
    taken = set(session.joints)
    return next(
        one for n in range(1, len(taken) + 3) if (one := name if n == 1 else f"{name}-{n}") not in taken
    )


def _target_words(torque: UsualWindow, units: DisplayUnits) -> str:
    if not torque.n:
        return tr("No final torque could be read: type the target.")
    mean = units.text(torque.centre, "N·m", with_symbol=True)
    return tr("mean final torque of {0}: {1}, rounded", count_words(torque.n, "trace", "traces"), mean)


def _how(one: UsualWindow, unit: str, smallest: int, units: DisplayUnits) -> str:
    aside = "" if not one.n_aside else tr("; {0} far from the others set aside", one.n_aside)
    absent = "" if not one.n_absent else tr("; {0} without it", one.n_absent)
    if one.limits is None:
        return tr("too few to propose limits from: {0}, at least {1}", one.n, smallest) + aside + absent
    mean, spread = (units.text(value, unit, with_symbol=True) for value in (one.centre, one.spread))
    return (
        tr(
            "holds {0} of such joints with {1} confidence: mean {2}, standard deviation {3}, n = {4}",
            percent(100.0 * COVERAGE),
            percent(100.0 * CONFIDENCE),
            mean,
            spread,
            one.n,
        )
        + aside
        + absent
    )
