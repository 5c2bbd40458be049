"""Actions of the menus Compare and Go: many traces against each other; from one trace to the next."""

from __future__ import annotations

from app.menus.tables.spec import ActionSpec

COMPARE: tuple[ActionSpec, ...] = (
    ActionSpec(
        "show-reasons",
        "Compare",
        "The trace in words",
        "Why the trace that is looked at was judged so",
        ("Ctrl+Shift+Y",),
        "traces",
    ),
    ActionSpec(
        "show-joint",
        "Compare",
        "The joint in words",
        "How many, why, what they share, what moved over time",
        ("Ctrl+D",),
        "results",
    ),
    ActionSpec(
        "show-shared",
        "Compare",
        "What do they share?",
        "Attribute values that the selected (or all flagged) share and the others do not",
        ("Ctrl+H",),
        "results",
    ),
    ActionSpec(
        "show-order",
        "Compare",
        "In order of time, with steps",
        "The chosen figure of one joint in order of time; levels between its steps",
        ("Ctrl+Shift+H",),
        "results",
    ),
    ActionSpec(
        "set-a",
        "Compare",
        "Take the selection as set A",
        "The first of two sets that are compared",
        ("Ctrl+Alt+1",),
        "selection",
        begins_part=True,
    ),
    ActionSpec(
        "set-b",
        "Compare",
        "Take the selection as set B",
        "The second of two sets that are compared",
        ("Ctrl+Alt+2",),
        "selection",
    ),
    ActionSpec(
        "compare-sets",
        "Compare",
        "Compare sets A and B …",
        "Curves, figures with the difference and its interval, what B shares; and the report of it",
        ("Ctrl+Shift+K",),
        "results",
    ),
    ActionSpec(
        "compare-rest",
        "Compare",
        "Compare the selection with the rest …",
        "The selected traces with the others of their joint",
        ("Ctrl+Alt+K",),
        "selection",
    ),
    ActionSpec(
        "compare-before-after",
        "Compare",
        "Compare before and after this trace …",
        "What was tightened before the trace that is looked at with what followed",
        ("Ctrl+Shift+B",),
        "current",
    ),
    ActionSpec(
        "propose-limits",
        "Compare",
        "Limits from good traces …",
        "Proposed windows with the false alarms to expect and what they catch; applied when you say so",
        ("Ctrl+Shift+G",),
        "results",
        begins_part=True,
    ),
)
GO: tuple[ActionSpec, ...] = (
    ActionSpec(
        "next-flagged", "Go", "Next flagged", "Next trace that is not ok or suspect", ("F8",), "results"
    ),
    ActionSpec("previous-flagged", "Go", "Previous flagged", "The one before", ("Shift+F8",), "results"),
    ActionSpec("next-trace", "Go", "Next trace", "Next row of the table", ("Alt+Down",), "traces"),
    ActionSpec("previous-trace", "Go", "Previous trace", "Row above", ("Alt+Up",), "traces"),
    ActionSpec(
        "find",
        "Go",
        "Find a trace",
        "By a part of its name or of an attribute",
        ("Ctrl+F",),
        "traces",
        begins_part=True,
    ),
    ActionSpec("find-next", "Go", "Find the next", "The next trace with the same words", ("F3",), "traces"),
    ActionSpec("filter", "Go", "Write a filter", "To the filter line", ("Ctrl+L",), "traces"),
    ActionSpec(
        "show-selected",
        "Go",
        "Show the selected only",
        "As a condition that can be removed",
        ("Ctrl+Shift+L",),
        "selection",
    ),
    ActionSpec(
        "clear-conditions", "Go", "Show all", "Remove all conditions", ("Ctrl+Shift+X",), "conditions"
    ),
    ActionSpec("next-area", "Go", "Next area", "Move the keyboard on", ("F6",), begins_part=True),
    ActionSpec("previous-area", "Go", "Previous area", "Move the keyboard back", ("Shift+F6",)),
)
