"""What a report needs of an analysis, and the part of it that belongs to one joint."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.account.joint import JointAccount
from analysis.catalogue.figures import Figure
from analysis.catalogue.findings import UNLIKE_DEFINITION
from analysis.catalogue.rules import window_of
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS, WORST_FIRST
from analysis.joint.definition import JointDefinition
from analysis.joint.joint_class import class_order
from analysis.report.decided import (
    PinnedSet,
    ReportedDecision,
    ReportedDecisions,
    decisions_by_trace,
    limits_by_hand,
    pinned_sets,
)

if TYPE_CHECKING:
    from analysis.analysed import Analysis


FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


#: Verdicts of the traces that a report lists with pages, in their order: what nobody judged comes first.
LISTED = ("not evaluated", "not ok", "suspect")


@dataclass(frozen=True, eq=False)
class JointData:
    """The traces of one joint within an analysis."""

    analysis: Analysis
    name: str  #: Empty for traces without a joint.
    rows: IntArray  #: Rows of the analysis that belong to the joint, in the order of the analysis.
    records: pa.Table  #: Their rows of the results table.
    decisions: Mapping[str, ReportedDecision]
    units: DisplayUnits
    pinned_set: PinnedSet | None = None  #: Reference set that a person pinned for the joint.
    #: Keys of the definition whose values a person set over those of the joints file.
    set_by_hand: frozenset[str] = frozenset()

    def __len__(self) -> int:
        return len(self.rows)

    @property
    def definition(self) -> JointDefinition | None:
        """The joint's definition, where the joints file has one."""
        return self.analysis.joints.get(self.name)

    @property
    def torque_unit(self) -> str:
        """Symbol of the torque unit that is shown."""
        return self.units.torque

    @property
    def title(self) -> str:
        """Title for people."""
        if not self.name:
            return "Traces without a joint"
        return (self.definition.title if self.definition else "") or self.name

    @cached_property
    def verdicts(self) -> NDArray[np.int8]:
        """Codes into `VERDICTS`, one a trace of the joint."""
        return self.analysis.verdict[self.rows]

    @cached_property
    def diagnosis(self) -> JointAccount | None:
        """What the traces say together; None for traces without a joint, and where there is none."""
        return self.analysis.diagnosis(self.name, self.rows) if self.name and len(self) else None

    @cached_property
    def counts(self) -> dict[str, int]:
        """Number of traces of each verdict, worst first."""
        return {name: int(np.sum(self.verdicts == VERDICTS.index(name))) for name in WORST_FIRST}

    @cached_property
    def lacking(self) -> IntArray:
        """Rows of the analysis that lack something to be evaluated: a loosening lacks nothing."""
        rows = self.rows_with("not evaluated")
        return rows[~self.analysis.operations.loosenings.is_loosening[rows]]

    def rows_with(self, *verdicts: str) -> IntArray:
        """Rows of the analysis with these verdicts: in the order of the names, then of the analysis."""
        parts = [self.rows[self.verdicts == VERDICTS.index(name)] for name in verdicts]
        return np.concatenate(parts) if parts else np.empty(0, np.int64)

    def flagged_rows(self) -> IntArray:
        """Rows not evaluated, not ok, then suspect, in each the worst margin first; loosenings, which lack
        nothing, last."""
        margin = self.values("deciding_margin")
        worst = np.argsort(np.where(np.isnan(margin), np.inf, margin), kind="stable")
        verdicts = self.verdicts[worst]
        parts = [worst[verdicts == VERDICTS.index(name)] for name in LISTED]
        ordered: IntArray = self.rows[np.concatenate(parts)]
        loosened = self.analysis.operations.loosenings.is_loosening[ordered]
        return np.concatenate([ordered[~loosened], ordered[loosened]])

    def flagged_alone(self) -> IntArray:
        """The flagged rows but those that carry only what is said of the joint as a whole."""
        of_joint = [list(found or ()) == [UNLIKE_DEFINITION] for found in self.texts("findings")]
        return self._without(self.rows[np.array(of_joint, bool)] if of_joint else self.rows)

    def _without(self, left_out: IntArray) -> IntArray:
        flagged = self.flagged_rows()
        return flagged[~np.isin(flagged, left_out)]

    def values(self, column: str) -> FloatArray:
        """A numeric column in internal units, NaN where absent; all NaN where there is no such column."""
        if column == "utilisation":
            return self.analysis.clamp.utilisation[self.rows]
        if column not in self.records.column_names:
            return np.full(len(self), np.nan)
        numbers = self.records.column(column).cast(pa.float64()).combine_chunks()
        return np.array(numbers.fill_null(np.nan).to_numpy(zero_copy_only=False), np.float64)

    def texts(self, column: str) -> list[Any]:
        """A column as Python values."""
        if column not in self.records.column_names:
            return [None] * len(self)
        return list(self.records.column(column).to_pylist())

    def limits(self, quantity: Figure) -> tuple[float, float] | None:
        """Limits of a quantity in the display unit, where the joint gives them."""
        limits, factor = self.given_limits(quantity), quantity.factor(self.units)
        return None if limits is None else (limits[0] * factor, limits[1] * factor)

    def given_limits(self, quantity: Figure) -> tuple[float, float] | None:
        """Limits of a quantity in the internal unit, where the joint gives them."""
        rule = window_of(quantity)
        if rule is None or self.definition is None:
            return None
        limits: tuple[float, float] | None = getattr(self.definition, rule.key)
        return limits

    def pinned(self) -> tuple[IntArray | None, str]:
        """Rows of the reference set that a person pinned for the joint, and its name; None where there is
        none."""
        if self.pinned_set is None:
            return None, ""
        known = {trace_id: row for row, trace_id in enumerate(self.analysis.traces.trace_ids)}
        rows = [known[trace_id] for trace_id in self.pinned_set.trace_ids if trace_id in known]
        words = (
            f"the reference {self.pinned_set.name}".strip() + f" (pinned {self.pinned_set.pinned_at[:10]})"
        )
        return np.array(rows, np.int64), words

    def torque(self, value_nm: Any) -> Any:
        """Torque (number or array, N·m) in the display unit."""
        return value_nm * self.units.factor("N·m")

    def trace_id(self, row: int) -> str:
        """Id of a row of the analysis."""
        return self.analysis.traces.trace_ids[row]


def examples(data: JointData, most: int) -> list[int]:
    """Rows that get a page: the worst of each likeliest cause in turn, up to `most`, in the list's order.

    A trace that carries only what is said of the joint as a whole has nothing of its own to show.
    """
    causes = dict(zip(data.rows.tolist(), data.texts("cause"), strict=True))
    queues: dict[Any, list[int]] = {}
    flagged = data.flagged_alone().tolist()
    for row in flagged:
        queues.setdefault(causes[row], []).append(row)
    taken: set[int] = set()
    while queues and len(taken) < most:
        for cause in list(queues):
            if len(taken) < most:
                taken.add(queues[cause].pop(0))
            if not queues[cause]:
                del queues[cause]
    return [row for row in flagged if row in taken]


def joint_data(
    analysis: Analysis,
    names: Sequence[str] | None,
    decisions: ReportedDecisions | Mapping[str, Any] | None,
    units: DisplayUnits,
    only_rows: Sequence[int] | None = None,
) -> list[JointData]:
    """The joints of an analysis, class A first, then as asked for or in the joints file; "" is no joint.

    Joints that no trace belongs to are left out unless they are asked for by name; with `only_rows` all other
    rows are, and the joints that have none of these.
    """
    results = analysis.results()
    of_trace = [name or "" for name in results.column("joint").to_pylist()]
    present = dict.fromkeys(of_trace)
    if names is None:
        names = [name for name in analysis.joints if name in present]
        names += [name for name in present if name not in analysis.joints]
    codes = {name: code for code, name in enumerate(present)}
    code_of_trace = np.fromiter((codes[name] for name in of_trace), np.int64, len(of_trace))
    chosen = []
    decided, pinned = decisions_by_trace(decisions), pinned_sets(decisions)
    by_hand = limits_by_hand(decisions)
    for name in sorted(names, key=lambda name: class_order(analysis.joints.get(name))):
        rows: IntArray = np.flatnonzero(code_of_trace == codes.get(name, -1)).astype(np.int64)
        if only_rows is not None:
            rows = rows[np.isin(rows, np.asarray(only_rows, np.int64))]
            if not len(rows):
                continue
        records = results.take(rows)
        keys = frozenset(by_hand.get(name, ()))
        chosen.append(JointData(analysis, name, rows, records, decided, units, pinned.get(name), keys))
    return chosen
