"""Groups of traces of which it is asked what they share, and the filter for what is shared; no Qt."""

from __future__ import annotations

import datetime
import html
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from analysis.account.joint import LEAST_GROUP
from analysis.catalogue.verdicts import FLAGGED
from app.display.columns import ColumnSet
from app.display.messages import grouped, tr
from app.filtering.text import equals

if TYPE_CHECKING:
    from analysis.shift.sharing import Coded, Shared
    from analysis.traces import TraceSet
    from app.session.session import Session

Mask = NDArray[np.bool_]

#: A filter on an hour of day names at most so many days; more make it unreadable (own choice).
_MOST_DAYS = 8
#: What the attributes of each open set of traces say.
_CODED: WeakKeyDictionary[TraceSet, Mapping[str, Coded]] = WeakKeyDictionary()


@dataclass(frozen=True, eq=False)
class SharingGroup:
    """A group: a key that stays the same while its members change, words with their number, and the rows."""

    key: str
    words: str
    chosen: Mask  #: Shape (n,).
    #: Shape (n,). What the others are: all traces of the joints that occur among the chosen ones.
    within: Mask
    left_out: tuple[str, ...] = ()  #: Attributes that the group was formed by: sharing them says nothing.


def sharing_groups(session: Session, joint: str = "") -> Iterator[SharingGroup]:
    """The groups that can be asked about now, one after the other.

    Selected, flagged, outside the reference, by cause, since a time.

    Parameters
    ----------
    joint : str
        Only its traces count; empty: those of every joint that has a chosen one.
    """
    everywhere = np.ones(len(session.traces), bool)
    names = session.columns.get("joint")
    inside = np.asarray(names.values == joint) if joint and names is not None else everywhere
    for key, words, mask, left_out in _found(session, inside):
        chosen = mask & inside
        within = inside & _of_same_joints(session, chosen)
        yield SharingGroup(key, f"{words} ({grouped(int(chosen.sum()))})", chosen, within, left_out)


def _found(session: Session, inside: Mask) -> Iterator[tuple[str, str, Mask, tuple[str, ...]]]:
    """Key, words, traces, and the attributes that formed the group."""
    if int(session.selected.sum()) > 1:  # one trace shares everything with itself
        yield "selected", tr("the selected traces"), session.selected, ()
    verdicts = session.verdicts
    if verdicts is not None:
        yield "flagged", tr("all flagged"), np.isin(verdicts, FLAGGED), ()
    outside = session.outside_reference()
    if outside is not None:
        yield "outside", tr("outside the reference"), outside, ()
    cause = session.columns.get("cause")
    if cause is not None:
        causes, counts = np.unique(cause.values[(cause.values != "") & inside], return_counts=True)
        for k in np.argsort(-counts, kind="stable"):
            if counts[k] >= LEAST_GROUP:
                name = str(causes[k])
                words = tr("likely cause {0}", name.replace("-", " "))
                yield f"cause:{name}", words, cause.values == name, ()
    since = _since_current(session)
    if since is not None:
        yield since


def _since_current(session: Session) -> tuple[str, str, Mask, tuple[str, ...]] | None:
    """What was tightened from the moment of the trace that is looked at, in its joint."""
    times, joint = session.columns.get("started_at"), session.columns.get("joint")
    row = session.current_row
    if times is None or times.kind != "time" or joint is None or row < 0 or bool(times.missing[row]):
        return None
    chosen = (joint.values == joint.values[row]) & (times.values >= times.values[row])
    moment = session.units.clock(float(times.values[row]))[:16]
    return "since", tr("from {0} on", moment), chosen, ("started_at",)


def _of_same_joints(session: Session, chosen: Mask) -> Mask:
    joint = session.columns.get("joint")
    if joint is None:
        return np.ones(len(chosen), bool)
    return np.isin(joint.values, np.unique(joint.values[chosen]))


def shared_by(session: Session, group: SharingGroup) -> list[Shared]:
    """What the group shares, most telling first; the joint and what formed the group are left out."""
    from analysis.shift.sharing import find_shared_codes

    left_out = {one for name in group.left_out for one in (name, f"hour of {name}")}
    left_out |= {"hour"} if "started_at" in left_out else set()
    kept = {name: coded for name, coded in _coded_of(session.traces).items() if name not in left_out}
    return find_shared_codes(kept, group.chosen, group.within)


def _coded_of(traces: TraceSet) -> Mapping[str, Coded]:
    """Once for all selections of the same traces: their texts are many."""
    from analysis.facts import attribute_values
    from analysis.shift.sharing import coded_attributes

    if traces not in _CODED:
        _CODED[traces] = coded_attributes(attribute_values(traces))
    return _CODED[traces]


def rows_with(session: Session, shared: Shared, within: Mask) -> Mask:
    """All traces within these that have the shared value."""
    columns = session.columns
    if shared.attribute == "hour":
        times = columns["started_at"]
        hour = int(shared.value[:2])
        with np.errstate(invalid="ignore"):
            return np.asarray(within & ((times.values % 86400.0) // 3600.0 == hour))
    column = columns[shared.attribute]
    texts = (
        column.values if column.kind == "text" else np.array([column.words(r) for r in range(len(within))])
    )
    return np.asarray(within & (texts == shared.value))


def filter_of(shared: Shared, columns: ColumnSet, rows: Mask) -> str:
    """The filter text that shows the traces with the shared value; empty where none can say it.

    An hour of day is written as its hours on the days on which these rows have it.
    """
    if shared.attribute != "hour":
        column = columns.get(shared.attribute)
        return equals(shared.attribute, shared.value) if column is not None else ""
    hours = sorted({int(second // 3600) for second in columns["started_at"].values[rows]})
    if not hours or len(hours) > _MOST_DAYS:
        return ""
    parts = []
    for hour in hours:
        start, stop = (
            datetime.datetime.fromtimestamp(3600 * (hour + k), datetime.UTC).strftime("%Y-%m-%dT%H:%MZ")
            for k in (0, 1)
        )
        parts.append(f'started_at >= "{start}" and started_at < "{stop}"')
    return parts[0] if len(parts) == 1 else " or ".join(f"({part})" for part in parts)


def words_of(attribute: str) -> str:
    """An attribute for people: washer_lot is a washer lot."""
    return attribute.replace("_", " ")


def shared_sentence(group: SharingGroup, shared: list[Shared]) -> str:
    """What stands above the table: the findings, or why there is none."""
    n = int(group.chosen.sum())
    if not n:
        return tr("No traces are selected: select some, or choose another group.")
    if n == int(group.within.sum()):
        return tr("These are all traces of their joint: there are no others to compare with.")
    found = [one for one in shared if one.is_significant]
    if not found:
        return tr(
            "No attribute value is more frequent among these than chance explains "
            "(p at least 0.01, corrected)."
        )
    return " ".join(f"<b>{html.escape(one.sentence())}.</b>" for one in found[:2])
