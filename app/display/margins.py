"""What decided each verdict, and how far from the limit it is, for all traces at once; no Qt."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from app.display.columns import ColumnSet

if TYPE_CHECKING:
    from analysis.joint.definition import JointDefinition

FloatArray = NDArray[np.float64]

#: Limit key of a joint definition, the results column that it judges, that column's unit, and the column of
#: its margin, which is absent where the rule could not be evaluated.
JUDGED = (
    ("torque_limits_nm", "final_torque_nm", "N·m", "torque_margin_nm"),
    ("angle_limits_deg", "joint_rate_deg", "deg", "angle_margin_deg"),
    ("prevailing_limits_nm", "prevailing_torque_nm", "N·m", "prevailing_margin_nm"),
)
#: Findings that name a quantity which has no limit in the joint definition.
_OTHER_QUANTITY = {"yield": ("yield_torque_nm", "N·m"), "outlier": ("outlier_score", "")}


@dataclass(frozen=True, eq=False)
class Margins:
    """The tightest limit of each trace.

    Attributes
    ----------
    quantity : ndarray of text, shape (n,)
        Column that decides: the broken limit's, else the one nearest to its limit; "" where no limit is
        given.
    unit : ndarray of text
    value : ndarray
        The trace's value of that column, internal unit; NaN where absent.
    share : ndarray
        Distance to the nearer limit over half the width between the limits: 1 in the middle, 0 on the limit,
        negative outside; NaN where there is none. Where a finding decided, the margin of that finding.
    """

    quantity: NDArray[np.str_]
    unit: NDArray[np.str_]
    value: FloatArray
    share: FloatArray


def work_out_margins(columns: ColumnSet, joints: Mapping[str, JointDefinition]) -> Margins:
    """The tightest limit of each trace, from the results columns and the joints' limits."""
    n = columns.n_rows
    names = columns["joint"].values if "joint" in columns else np.full(n, "")
    shares = np.full((len(JUDGED), n), np.nan)
    for position, (key, quantity, _unit, margin) in enumerate(JUDGED):
        column, judged = columns.get(quantity), columns.get(margin)
        if column is not None:
            low, high = _limits_of(names, joints, key)
            shares[position] = share_of_margin(column.values, low, high)
            if judged is not None:
                shares[position, judged.missing] = np.nan
    tightest = np.where(np.isnan(shares), np.inf, shares).argmin(axis=0) if n else np.empty(0, np.int64)
    given = ~np.isnan(shares).all(axis=0)
    rows = np.arange(n)
    quantity_names = np.array([quantity for _, quantity, *_ in JUDGED])
    units = np.array([unit for _, _, unit, _ in JUDGED])
    values = np.array([columns[q].values if q in columns else np.full(n, np.nan) for q in quantity_names])
    margins = Margins(
        quantity=np.where(given, quantity_names[tightest], ""),
        unit=np.where(given, units[tightest], ""),
        value=np.where(given, values[tightest, rows], np.nan),
        share=np.where(given, shares[tightest, rows], np.nan),
    )
    return _with_other_quantities(margins, columns)


def _with_other_quantities(margins: Margins, columns: ColumnSet) -> Margins:
    """Where something without a limit decided (yield, outlier), that quantity and value instead."""
    deciding = columns.get("deciding")
    if deciding is None:
        return margins
    for word, (quantity, unit) in _OTHER_QUANTITY.items():
        column = columns.get(quantity)
        hit = np.strings.find(deciding.values, word) >= 0
        if column is not None and bool(hit.any()):
            margins = Margins(
                quantity=np.where(hit, quantity, margins.quantity),
                unit=np.where(hit, unit, margins.unit),
                value=np.where(hit, column.values, margins.value),
                share=margins.share,
            )
    decided = columns.get("deciding_margin")
    if decided is None:
        return margins
    return replace(margins, share=np.where(np.isnan(decided.values), margins.share, decided.values))


def share_of_margin(values: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """Distance to the nearer limit over half the width; 1 in the middle, negative outside.

    Examples
    --------
    >>> import numpy as np
    >>> share_of_margin(np.array([65.0, 58.0, 75.5]), np.full(3, 58.0), np.full(3, 72.0)).tolist()
    [1.0, 0.0, -0.5]
    """
    half = (high - low) / 2.0
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.minimum(values - low, high - values) / half
    return np.where(half > 0, share, np.nan)


def _limits_of(
    names: NDArray[np.str_], joints: Mapping[str, JointDefinition], key: str
) -> tuple[FloatArray, FloatArray]:
    low, high = np.full(len(names), np.nan), np.full(len(names), np.nan)
    for name, joint in joints.items():
        limits = getattr(joint, key)
        if limits is not None:
            rows = names == name
            low[rows], high[rows] = limits
    return low, high
