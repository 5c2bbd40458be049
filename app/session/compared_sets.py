"""Two sets of traces and what tells them apart: figures with intervals, verdicts, shared values; no Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.figures import figures_for
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS, WORST_FIRST
from analysis.shift.comparison import Comparison, compare
from app.display.columns import Column, ColumnSet
from app.display.messages import count_words, grouped, tr
from app.session.state import ChosenSet

if TYPE_CHECKING:
    from analysis.shift.sharing import Shared
    from app.session.session import Session

Rows = NDArray[np.int64]

#: Fewer values of a set give no interval that is worth its name (common practice, no source).
FEWEST = 5


@dataclass(frozen=True)
class TwoSets:
    """What is compared; `left_out` are the attributes that the sets were formed by."""

    first: ChosenSet
    second: ChosenSet
    left_out: tuple[str, ...] = ()

    def swapped(self) -> TwoSets:
        """The other way round."""
        return TwoSets(self.second, self.first, self.left_out)


@dataclass(frozen=True, eq=False)
class JointSets:
    """The rows of both sets in one joint; `in_both` were in both and are left out of both."""

    joint: str
    first: Rows
    second: Rows
    in_both: int

    @property
    def smaller(self) -> int:
        """Traces of the smaller set."""
        return min(len(self.first), len(self.second))


@dataclass(frozen=True, eq=False)
class ComparedFigure:
    """One figure of both sets in the shown unit."""

    column: Column
    comparison: Comparison


def by_joint(sets: TwoSets, trace_ids: Sequence[str], columns: ColumnSet) -> list[JointSets]:
    """The sets joint by joint, the one with the most traces to compare first; joints of one set only fall
    out."""
    ids = np.array(trace_ids)
    first, second = (np.isin(ids, one.trace_ids) for one in (sets.first, sets.second))
    both = first & second
    column = columns.get("joint")
    joints = column.values if column is not None else np.full(len(ids), "")
    found = []
    for name in np.unique(joints[first & ~both]):
        inside = joints == name
        rows = [np.flatnonzero(inside & mask & ~both) for mask in (first, second)]
        if len(rows[1]):
            found.append(JointSets(str(name), rows[0], rows[1], int((inside & both).sum())))
    return sorted(found, key=lambda one: (-one.smaller, one.joint))


def not_open(sets: TwoSets, trace_ids: Sequence[str]) -> int:
    """Traces of either set that are not open."""
    return len({*sets.first.trace_ids, *sets.second.trace_ids}.difference(trace_ids))


def compare_figures(
    sets: JointSets, columns: ColumnSet, units: DisplayUnits, labels: tuple[str, str]
) -> list[ComparedFigure]:
    """Every figure that both sets have, in the order of the catalogue, in the unit that is shown."""
    found = []
    for name in (figure.name for figure in figures_for("sets")):
        column = columns.get(name)
        if column is None or column.kind != "number":
            continue
        factor = units.factor(column.unit)
        values = [column.values[rows] * factor for rows in (sets.first, sets.second)]
        result = compare(values[0], values[1], column.title, units.symbol(column.unit), labels)
        if min(result.n) >= FEWEST:
            found.append(ComparedFigure(column, result))
    return found


def lead_sentence(figures: Sequence[ComparedFigure], labels: tuple[str, str]) -> str:
    """How many differ, and the one that differs most beside its spread."""
    if not figures:
        return tr("Nothing to compare: each set needs at least {0} traces that have a figure.", FEWEST)
    differing = [one for one in figures if one.comparison.differs]
    if not differing:
        return tr("No difference between {0} and {1} is shown in any of {2} figures.", *labels, len(figures))
    text = tr("{0} of {1} figures differ between {2} and {3}.", len(differing), len(figures), *labels)
    return f"{text} {max(differing, key=_strength).comparison.sentence()}."


def _strength(figure: ComparedFigure) -> float:
    one = figure.comparison
    spread = max(*one.spreads, 1e-12)
    return abs(one.difference) / spread


def set_words(name: str, rows: Rows, verdicts: NDArray[np.int8] | None) -> str:
    """A set with its number and its verdicts: selected: 31 traces, 27 suspect, 4 ok."""
    text = f"{name}: {count_words(len(rows), 'trace', 'traces')}"
    if verdicts is None:
        return text
    numbers = np.bincount(verdicts[rows], minlength=len(VERDICTS))
    named = [
        f"{grouped(int(numbers[VERDICTS.index(word)]))} {tr(word)}"
        for word in WORST_FIRST
        if numbers[VERDICTS.index(word)]
    ]
    return f"{text}, {', '.join(named)}"


def shared_by_second(session: Session, sets: JointSets, left_out: Sequence[str]) -> list[Shared]:
    """What is more frequent in the second set than in the first, beyond chance."""
    from analysis.facts import attribute_values
    from analysis.shift.sharing import find_shared

    n = len(session.traces)
    chosen, within = np.zeros(n, bool), np.zeros(n, bool)
    chosen[sets.second] = True
    within[sets.first] = within[sets.second] = True
    values = {name: texts for name, texts in attribute_values(session.traces).items() if name not in left_out}
    return [one for one in find_shared(values, chosen, within) if one.is_significant]
