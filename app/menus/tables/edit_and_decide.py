"""Actions of the menus Edit and Decide: undo, copy, select; dispositions, notes, joints, references."""

from __future__ import annotations

from app.menus.tables.spec import ActionSpec
from app.session.state import DISPOSITIONS

EDIT: tuple[ActionSpec, ...] = (
    ActionSpec("undo", "Edit", "Undo", "Take the last decision back", ("Ctrl+Z",)),
    ActionSpec("redo", "Edit", "Redo", "Take the decision again", ("Ctrl+Shift+Z", "Ctrl+Y")),
    ActionSpec(
        "copy-table",
        "Edit",
        "Copy the rows",
        "Selected rows (or all shown) with titles",
        ("Ctrl+C",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "copy-picture", "Edit", "Copy the picture", "The curves on white paper", ("Ctrl+Shift+C",), "traces"
    ),
    ActionSpec(
        "select-shown",
        "Edit",
        "Select all shown",
        "All traces that meet the conditions",
        ("Ctrl+A",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "select-flagged",
        "Edit",
        "Select all flagged",
        "All shown that are not ok or suspect",
        ("Ctrl+Shift+A",),
        "results",
    ),
    ActionSpec(
        "invert-selection",
        "Edit",
        "Swap the selection",
        "Select the shown traces that are not selected",
        ("Ctrl+I",),
        "traces",
    ),
    ActionSpec("clear-selection", "Edit", "Select nothing", "Clear the selection", ("Esc",), "selection"),
    ActionSpec(
        "preferences",
        "Edit",
        "Preferences …",
        "Your name on decisions, rules for points",
        ("Ctrl+,",),
        begins_part=True,
    ),
)
DECIDE: tuple[ActionSpec, ...] = (
    *(
        ActionSpec(
            f"disposition-{number}",
            "Decide",
            f"Set: {value}" if value else "Clear the disposition",
            "For all selected traces",
            (f"Ctrl+{number}",),
            "selection",
        )
        for number, value in enumerate(DISPOSITIONS)
    ),
    ActionSpec(
        "write-note", "Decide", "Write a note", "A note on all selected traces", ("Ctrl+M",), "selection"
    ),
    ActionSpec(
        "give-back-points",
        "Decide",
        "Give moved points back",
        "Points as the program found them",
        (),
        "current",
    ),
    ActionSpec(
        "assign-joint",
        "Decide",
        "Give a joint …",
        "To the selected traces that name none",
        (),
        "selection",
        begins_part=True,
    ),
    ActionSpec(
        "default-joint",
        "Decide",
        "Joint for traces that name none …",
        "A choice of yours, never a guess",
        (),
        "traces",
    ),
    ActionSpec(
        "pin-reference",
        "Decide",
        "Pin the selection as reference",
        "Judge the joint's others against these",
        ("Ctrl+R",),
        "selection",
        begins_part=True,
    ),
    ActionSpec(
        "unpin-reference", "Decide", "Unpin the reference", "Of the joint that is looked at", (), "current"
    ),
    ActionSpec(
        "select-outside-reference",
        "Decide",
        "Select what falls outside the reference",
        "Count and select them",
        ("Ctrl+Shift+R",),
        "results",
    ),
    ActionSpec(
        "keep-references",
        "Decide",
        "Keep the references with the joints",
        "In a file beside the joints file, from where they come back with it",
        (),
        "results",
    ),
)
