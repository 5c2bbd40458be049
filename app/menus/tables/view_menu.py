"""Actions of the menu View: alignment, axes, ranges, what the mouse does, colours and units, look."""

from __future__ import annotations

from app.menus.tables.spec import ActionSpec

#: What the mouse does on the curves: name of the tool, words, tip.
_TOOL_WORDS = (
    ("move", "Mouse moves the view", "Drag moves, a click selects the curve next to it"),
    ("zoom", "Mouse enlarges a rectangle", "Drag a rectangle to enlarge it"),
    ("line", "Mouse draws a line", "Every curve that crosses the line is selected"),
    ("box", "Mouse draws a box", "Every curve that passes through the box is selected"),
    ("freehand", "Mouse draws a stroke", "Every curve that crosses the stroke is selected"),
)
VIEW: tuple[ActionSpec, ...] = (
    ActionSpec("align-none", "View", "Angles as recorded", "No alignment", (), "", "align"),
    ActionSpec("align-start", "View", "Align at the start", "First sample at 0", (), "", "align"),
    ActionSpec("align-snug", "View", "Align at snug", "Snug point at 0", (), "", "align"),
    ActionSpec("align-final", "View", "Align at the final point", "Final point at 0", (), "", "align"),
    ActionSpec(
        "axes-torque-angle",
        "View",
        "Torque over angle",
        "The usual picture",
        (),
        "",
        "axes",
        begins_part=True,
    ),
    ActionSpec("axes-torque-time", "View", "Torque over time", "Where time was recorded", (), "", "axes"),
    ActionSpec("axes-slope-angle", "View", "Slope over angle", "Local slope per degree", (), "", "axes"),
    ActionSpec(
        "fit",
        "View",
        "Show everything",
        "Fit the view to the shown curves",
        ("Alt+0",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "fit-selected",
        "View",
        "Show the selected",
        "Fit the view to the selected curves",
        ("Alt+Shift+0",),
        "selection",
    ),
    ActionSpec(
        "fit-rise",
        "View",
        "Show the rise",
        "Fit the view to the rise of the shown curves, without the long rundown",
        ("Alt+9",),
        "traces",
    ),
    ActionSpec(
        "zoom-back", "View", "View before", "One step back in the zoom history", ("Alt+Left",), "traces"
    ),
    ActionSpec("zoom-forward", "View", "View after", "One step forward", ("Alt+Right",), "traces"),
    *(
        ActionSpec(f"tool-{tool}", "View", text, tip, (f"Alt+{number}",), "", "tool", begins_part=number == 1)
        for number, (tool, text, tip) in enumerate(_TOOL_WORDS, 1)
    ),
    ActionSpec(
        "cursors",
        "View",
        "Cursors",
        "Two cursors that read values, differences and slope",
        ("Ctrl+K",),
        "traces",
        "check",
        begins_part=True,
    ),
    ActionSpec(
        "expected-fan",
        "View",
        "Expected slopes of the joint",
        "Lines for the joint's friction range",
        (),
        "traces",
        "check",
    ),
    ActionSpec(
        "choose-colour",
        "View",
        "Colour by …",
        "To the list of attributes that the curves can be coloured by",
        ("Ctrl+B",),
        "traces",
        begins_part=True,
    ),
    ActionSpec(
        "choose-unit",
        "View",
        "Torque unit …",
        "To the list of torque units",
        ("Ctrl+U",),
    ),
    ActionSpec(
        "choose-quantity",
        "View",
        "Quantity of the histogram …",
        "To the list of figures that the histogram and the order of time can show",
        ("Ctrl+G",),
        "results",
    ),
    ActionSpec(
        "sort-table",
        "View",
        "Sort the table by …",
        "To the list of columns; the same column again turns the order round",
        ("Ctrl+Alt+S",),
        "traces",
    ),
    ActionSpec(
        "look-system",
        "View",
        "Look of the system",
        "Light or dark as the system says",
        (),
        "",
        "look",
        begins_part=True,
    ),
    ActionSpec("look-light", "View", "Light", "Light background", (), "", "look"),
    ActionSpec("look-dark", "View", "Dark", "Dark background", (), "", "look"),
    ActionSpec("reset-layout", "View", "Reset the layout", "Areas as they came", begins_part=True),
)
