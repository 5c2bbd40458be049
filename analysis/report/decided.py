"""What people decided about traces, as far as a report shows it."""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from analysis.catalogue.points import MOVABLE_POINTS
from analysis.figure_text import number_text


class ReportedDecision(Protocol):
    """One decision; who and when are read from `changes` (at, by, text) or from `by` and `at`, where it has
    them."""

    @property
    def disposition(self) -> str:
        """What is to become of the joint."""

    @property
    def note(self) -> str:
        """Free text."""

    @property
    def edges(self) -> Mapping[str, float]:
        """Points moved by hand, degrees on the trace's own axis."""


class PinnedSet(Protocol):
    """A reference set that a person pinned."""

    @property
    def trace_ids(self) -> Sequence[str]:
        """Its traces; those that are not in the analysis are left out."""

    @property
    def name(self) -> str:
        """Its name; may be empty."""

    @property
    def pinned_at(self) -> str:
        """When, ISO 8601."""


class ReportedDecisions(Protocol):
    """All decisions, by trace."""

    @property
    def traces(self) -> Mapping[str, Any]:
        """`trace_id` to a `ReportedDecision`."""


def decisions_by_trace(
    decisions: ReportedDecisions | Mapping[str, Any] | None,
) -> Mapping[str, ReportedDecision]:
    """The decisions that say something, by `trace_id`; a plain mapping is taken as it is."""
    if decisions is None:
        return {}
    given = decisions if isinstance(decisions, Mapping) else decisions.traces
    return {
        key: one
        for key, one in given.items()
        if one.disposition or one.note or one.edges or getattr(one, "joint", "")
    }


def moved_words(decision: ReportedDecision) -> str:
    """Points that were moved by hand, and where to; empty where none was."""
    return ", ".join(
        f"{MOVABLE_POINTS.get(point, point)} to {number_text(angle, 1)} deg as recorded"
        for point, angle in decision.edges.items()
    )


def history_of(decision: ReportedDecision) -> tuple[str, ...]:
    """Who decided what and when, one line a change."""
    changes = getattr(decision, "changes", ())
    if changes:
        return tuple(
            f"{_moment(change.at)}, {change.by or 'name not given'}: {change.text}" for change in changes
        )
    by, at = getattr(decision, "by", ""), getattr(decision, "at", None)
    if not by and at is None:
        return ()
    moment = "time not given" if at is None else at.strftime("%Y-%m-%d %H:%M UTC")
    return (f"{moment}, {by or 'name not given'}",)


def _moment(text: str) -> str:
    """A time in ISO 8601 as people read it; any other text as it is."""
    try:
        at = datetime.datetime.fromisoformat(text)
    except ValueError:
        return text
    return at.strftime("%Y-%m-%d %H:%M %Z").strip()


def pinned_sets(decisions: ReportedDecisions | Mapping[str, Any] | None) -> Mapping[str, PinnedSet]:
    """Reference sets by joint name, where the decisions hold any (`references`)."""
    found: Mapping[str, PinnedSet] = getattr(decisions, "references", None) or {}
    return found


def limits_by_hand(
    decisions: ReportedDecisions | Mapping[str, Any] | None,
) -> Mapping[str, Mapping[str, Any]]:
    """Limits that a person set over the joints file, by joint and key, where the decisions hold any."""
    found: Mapping[str, Mapping[str, Any]] = getattr(decisions, "limits", None) or {}
    return found
