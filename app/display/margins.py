"""What decided each verdict, and how far from the limit it is, for all traces at once; no Qt."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray
from analysis.catalogue.findings import FINDINGS
from analysis.catalogue.rules import RULES

if TYPE_CHECKING:
    from analysis.verdict.judgement import Judgement
    from analysis.verdict.rules import RuleTable
    from app.display.columns import ColumnSet


@dataclass(frozen=True, eq=False)
class Margins:
    """What decided each trace: the finding that the judgement names, else the limit that is nearest."""

    #: Shape (n,). The figure that decides, or the finding where it is a sign of the whole curve; "" where
    #: there is none.
    title: NDArray[np.str_]
    quantity: NDArray[np.str_]  #: Results column of the figure; "" where there is none.
    value: FloatArray  #: The trace's value of that column, internal unit; NaN where absent.
    #: Distance to the nearer limit over half the width between the limits: 1 in the middle, 0 on the limit,
    #: negative outside; NaN where there is none. Of other findings: beyond their threshold, over it.
    share: FloatArray
    #: The same distance to the limit in the figure's unit, as the list of rules has it; NaN for findings that
    #: no limit of the joint stands behind.
    margin: FloatArray
    limit: FloatArray  #: The limit itself; NaN where none was given.


def work_out_margins(columns: ColumnSet, rules: RuleTable, judgement: Judgement) -> Margins:
    """Read off what decided; nothing is judged anew."""
    from analysis.verdict.judgement import LIMIT_RULES

    n, rows = columns.n_rows, np.arange(columns.n_rows)
    shares = np.where(np.isnan(rules.relative_margin), np.inf, rules.relative_margin)
    nearest = shares.argmin(axis=1)
    decided = judgement.deciding >= 0
    figures = [*(rule.figure for rule in RULES), *(finding.figure for finding in FINDINGS)]
    titles = [rule.figure.title for rule in RULES]
    titles += [one.figure.title if one.figure else one.words[0].upper() + one.words[1:] for one in FINDINGS]
    code = np.where(decided, len(RULES) + judgement.deciding, nearest)
    share = np.where(
        decided, judgement.relative_margin[rows, np.maximum(judgement.deciding, 0)], shares[rows, nearest]
    )
    share[~np.isfinite(share)] = np.nan
    rule_of = np.array([LIMIT_RULES[one.name][0] if one.name in LIMIT_RULES else -1 for one in FINDINGS])
    rule = np.where(decided, rule_of[judgement.deciding], nearest)
    margin = np.where(rule >= 0, rules.margin[rows, np.maximum(rule, 0)], np.nan)
    known = decided | ~np.isnan(share)
    value = np.full(n, np.nan)
    for position, figure in enumerate(figures):
        column = columns.get(figure.name) if figure else None
        if column is not None:
            value[code == position] = column.values[code == position]
    names = np.array([figure.name if figure else "" for figure in figures])
    return Margins(
        title=np.where(known, np.array(titles)[code], ""),
        quantity=np.where(known, names[code], ""),
        value=np.where(known, value, np.nan),
        share=share,
        margin=np.where(known, margin, np.nan),
        limit=np.where(known & (rule >= 0), _nearer_limit(rules, np.maximum(rule, 0)), np.nan),
    )


def _nearer_limit(rules: RuleTable, rule: NDArray[np.int64]) -> FloatArray:
    """The limit of one rule of each trace that its margin is told to; NaN where none was given."""
    rows = np.arange(len(rule))
    measured, low, high, margin = (
        table[rows, rule] for table in (rules.measured, rules.low, rules.high, rules.margin)
    )
    to_low = np.isclose(measured - low, margin)
    limit: FloatArray = np.where(to_low, low, high)
    limit[np.array([one.kind == "flag" for one in RULES])[rule]] = np.nan
    return limit
