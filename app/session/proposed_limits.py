"""Limits proposed for a joint from its good traces, with what they would flag; no Qt."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.rules import WINDOWS
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICTS
from analysis.shift.tolerance import ProposedLimits, propose_limits
from app.display.messages import grouped, tr
from app.session.deciding import Step
from app.session.state import Decisions, Limits

if TYPE_CHECKING:
    from app.session.session import Session

Mask = NDArray[np.bool_]

#: Proposed limits are rounded outward to this share of their width, at most: more digits say nothing.
_ROUNDED_TO = 0.01


@dataclass(frozen=True, eq=False)
class GoodTraces:
    """A population that limits may be proposed from: a key, words with their number, and the rows."""

    key: str
    words: str
    rows: Mask


@dataclass(frozen=True, eq=False)
class Proposal:
    """One window for one limit."""

    #: Limit key of a joint definition, the results column it judges, its internal unit.
    key: str
    quantity: str
    unit: str
    limits: Limits | None  #: (low, high): rounded outward; None where so few values give no such window.
    now: Limits | None  #: (low, high): what applies now.
    found: ProposedLimits
    #: Flagged traces that lie outside or lack the figure, of all flagged ones.
    caught: int
    faults: int
    flags_good: int  #: Good traces that would lie outside.

    @property
    def name(self) -> str:
        """What identifies it among the proposals: limit and basis."""
        return f"{self.key} {self.found.basis}"


def good_populations(session: Session, joint: str) -> list[GoodTraces]:
    """What may be called good in a joint: its ok traces, its reference set, the selected."""
    column = session.columns.get("joint")
    verdicts = session.verdicts
    if column is None or verdicts is None:
        return []
    inside = np.asarray(column.values == joint)
    found = [("ok", tr("traces that are ok"), inside & (verdicts == VERDICTS.index("ok")))]
    reference = session.decisions.references.get(joint)
    if reference is not None:
        members = np.isin(np.array(session.traces.trace_ids), reference.trace_ids)
        found.append(("reference", tr("the reference set"), inside & members))
    if session.selected.any():
        found.append(("selected", tr("the selected traces"), inside & session.selected))
    return [GoodTraces(key, f"{words} ({grouped(int(rows.sum()))})", rows) for key, words, rows in found]


def propose(
    session: Session, joint: str, good: Mask, coverage: float, confidence: float
) -> tuple[list[Proposal], str]:
    """Two windows for each limit, normal and distribution-free, or the reason why there are none.

    The faults that they would catch are the traces of the joint that are flagged now and not among the good.
    """
    analysis, column = session.analysis, session.columns.get("joint")
    assert analysis is not None
    assert column is not None
    smallest = analysis.settings.population.smallest_population
    n = int(good.sum())
    if n < smallest:
        return [], tr("{0} good traces are too few to propose limits from; at least {1}.", n, smallest)
    flagged = np.isin(analysis.verdict, [VERDICTS.index("not ok"), VERDICTS.index("suspect")])
    bad = np.asarray(column.values == joint) & flagged & ~good
    definition = analysis.joints.get(joint)
    found: list[Proposal] = []
    for key, rule in WINDOWS.items():
        quantity, unit = rule.figure.name, rule.figure.unit
        values = session.columns[quantity].values if quantity in session.columns else np.empty(0)
        if not np.isfinite(values[good]).any():
            continue
        now: Limits | None = getattr(definition, key, None)
        windows = propose_limits(
            values[good], quantity, unit, faults=values[bad], coverage=coverage, confidence=confidence
        )
        for window in windows:
            limits = None
            if window.low is not None and window.high is not None:
                limits = rounded_outward(window.low, window.high)
            found.append(
                Proposal(
                    key, quantity, unit, limits, now, window,
                    caught=0 if limits is None else int(_outside(values[bad], limits).sum()),
                    faults=int(bad.sum()),
                    flags_good=0 if limits is None else int(_outside(values[good], limits).sum()),
                )
            )  # fmt: skip
    return found, ""


def rounded_outward(low: float, high: float) -> Limits:
    """A window with as many decimals as its width deserves, no narrower than it was.

    Examples
    --------
    >>> rounded_outward(61.2374, 68.7681)
    (61.23, 68.77)
    """
    width = max(high - low, 1e-9)
    digits = -math.floor(math.log10(_ROUNDED_TO * width))
    scale = 10.0**digits
    return round(math.floor(low * scale) / scale, digits), round(math.ceil(high * scale) / scale, digits)


def _outside(values: NDArray[np.float64], limits: Limits) -> Mask:
    """A trace without the figure is outside: nobody can say that it is inside."""
    return ~((values >= limits[0]) & (values <= limits[1]))


def consequence_words(proposal: Proposal, units: DisplayUnits) -> str:
    """What a proposal would do, before it is applied."""
    if proposal.limits is None:
        return proposal.found.note
    low, high = (units.given(value, proposal.unit) for value in proposal.limits)
    expected = 100.0 * proposal.found.expected_false_alarms
    return tr(
        "{0} {1} to {2} {3}: {4} false alarms expected, catches {5} of {6} flagged now",
        WINDOWS[proposal.key].limits,
        low,
        high,
        units.symbol(proposal.unit),
        percent(expected),
        grouped(proposal.caught),
        grouped(proposal.faults),
    )


def percent(value: float) -> str:
    """Per cent with two digits that count.

    Examples
    --------
    >>> percent(0.1234), percent(12.34), percent(float("nan"))
    ('0.12 %', '12 %', '–')
    """
    return "–" if value != value else f"{value:.2g} %"


def apply_proposals(decisions: Decisions, joint: str, chosen: Mapping[str, Limits], good: int) -> Step:
    """All chosen limits as one step that can be undone."""
    after = decisions
    for key, limits in chosen.items():
        after = after.with_limits(joint, key, limits)
    words = ", ".join(WINDOWS[key].limits.removesuffix(" limits") for key in chosen)
    return Step(tr("limits of {0} from {1} good traces ({2})", joint, grouped(good), words), after)
