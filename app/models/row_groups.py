"""Rows of the table in groups: a line ahead of each group that counts it, and groups that are folded."""

from __future__ import annotations

from collections.abc import Set as AbstractSet
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.verdicts import VERDICT_OF, VERDICTS, WORST_FIRST
from analysis.shown_text import one_line
from app.display.columns import Column
from app.display.group_colours import colours_of, group_codes
from app.display.messages import count_words, grouped, tr

Rows = NDArray[np.int64]


@dataclass(frozen=True)
class RowGroup:
    """The line of one group."""

    name: str  #: The value that its traces share; empty where they have none.
    #: Such as "Spindle H3"; "64 traces, ■ 2 not ok, ● 62 ok".
    title: str
    counts: str
    colour: str  #: What its curves have where they are coloured by the same attribute; else empty.
    folded: bool  #: Its traces are not shown.


class RowGroups:
    """The groups of one attribute; worked out once for each column.

    Examples
    --------
    >>> from app.display.columns import text_column
    >>> groups = RowGroups(text_column("lot", ["W-10", "W-9", "W-10"]), coloured=False)
    >>> order, lines, heads = groups.lines(np.arange(3), None, frozenset({"W-9"}))
    >>> order.tolist(), lines.tolist(), [head.title for head in heads]
    ([1, 0, 2], [-1, -2, 0, 2], ['Lot W-9', 'Lot W-10'])
    """

    def __init__(self, column: Column, *, coloured: bool) -> None:
        self.column = column
        self.coloured = coloured
        self.names, self.codes = group_codes(column.values.tolist())
        self._totals = np.bincount(self.codes, minlength=len(self.names))

    def name_of(self, row: int) -> str:
        """The group of a trace."""
        return self.names[int(self.codes[row])]

    def lines(
        self, order: Rows, verdicts: NDArray[np.int8] | None, folded: AbstractSet[str]
    ) -> tuple[Rows, Rows, list[RowGroup]]:
        """The rows group by group, in their order within each.

        Returns
        -------
        order : ndarray of int
            All rows.
        lines : ndarray of int
            What the table shows: rows, and ahead of each group -1 - k, of the k-th group.
        groups : list of RowGroup
        """
        order = order[np.argsort(self.codes[order], kind="stable")]
        colours = colours_of(self._totals, np.bincount(self.codes[order], minlength=len(self.names)))
        parts: list[Rows] = []
        groups: list[RowGroup] = []
        for code in np.unique(self.codes[order]).tolist():
            members = order[self.codes[order] == code]
            name = self.names[code]
            parts.append(np.array([-1 - len(groups)], np.int64))
            if name not in folded:
                parts.append(members)
            title = self.column.title
            words = f"{title[:1].upper()}{title[1:]} {one_line(name) or tr('not recorded')}"
            colour = colours[code] if self.coloured else ""
            groups.append(RowGroup(name, words, _counts(members, verdicts), colour, name in folded))
        return order, np.concatenate(parts) if parts else order, groups


def _counts(members: Rows, verdicts: NDArray[np.int8] | None) -> str:
    words = [count_words(len(members), "trace", "traces")]
    if verdicts is not None:
        found = np.bincount(verdicts[members], minlength=len(VERDICTS))
        words += [
            f"{VERDICT_OF[word].symbol} {grouped(int(found[VERDICTS.index(word)]))} {tr(word)}"
            for word in WORST_FIRST
            if found[VERDICTS.index(word)]
        ]
    return ", ".join(words)
