"""Two sets of traces, chosen by filters, held against each other in a report of each joint; no Qt."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.errors import TautographError
from app.commands.progress import Console
from app.filtering.text import FilterError, evaluate, parse

if TYPE_CHECKING:
    from analysis.pipeline import Analysis
    from analysis.report import JointReport, ReportTemplate
    from app.display.columns import ColumnSet

Mask = NDArray[np.bool_]


class CompareError(TautographError):
    """Two sets that cannot be held against each other."""


def comparisons(
    analysis: Analysis,
    joints: Sequence[str],
    first: str,
    second: str | None,
    *,
    now: datetime,
    template: ReportTemplate | None,
    unit: str | None,
    console: Console,
) -> list[JointReport]:
    """One comparison for each joint that has traces in both sets.

    Parameters
    ----------
    joints : sequence of str
        Names of the joints that are reported on.
    first, second : str
        Filters as the window has them, such as ``lot = W-121``; without a second, all other traces of the
        joint are the second set. A trace that meets both belongs to the first.

    Raises
    ------
    CompareError
        Where a filter cannot be used, or no joint has traces in both sets.
    """
    from analysis.report import build_comparison
    from app.session.loading import results_columns

    columns = results_columns(analysis.results(), analysis.traces)
    ours = filter_mask("--compare", first, columns)
    others = ~ours if second is None else filter_mask("--against", second, columns) & ~ours
    labels = (first, second or "the others")
    of_trace = np.array(analysis.results().column("joint").to_pylist(), object)
    reports = []
    for name in joints:
        one, other = (np.flatnonzero(mask & (of_trace == name)).tolist() for mask in (ours, others))
        if one and other:
            report = build_comparison(
                analysis, one, other, labels, now=now, template=template, torque_unit=unit
            )
            reports.append(report)
        else:
            console.hint(f"{name}: {len(one)} and {len(other)} traces in the two sets; nothing to compare")
    if not reports:
        raise CompareError(
            f"no joint has traces in both sets: {int(ours.sum())} meet {first!r}, {int(others.sum())} are "
            f"{'the others' if second is None else f'in {second!r} alone'}"
        )
    return reports


def filter_mask(option: str, text: str, columns: ColumnSet) -> Mask:
    """Which traces meet a filter as it was typed.

    Raises
    ------
    CompareError
        Where it cannot be used.
    """
    try:
        node = parse(text, columns)
    except FilterError as error:
        known = ", ".join(column.name for column in columns)
        raise CompareError(
            f"{option} {text!r}: {error}; expected for example 'lot = A'; columns: {known}"
        ) from error
    if node is None:
        raise CompareError(f"{option}: expected a filter such as 'lot = A', found nothing")
    return evaluate(node, columns)
