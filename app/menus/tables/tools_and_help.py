"""Actions of the menus Tools and Help."""

from __future__ import annotations

from app.menus.tables.spec import ActionSpec

TOOLS: tuple[ActionSpec, ...] = (
    ActionSpec(
        "joint-form", "Tools", "Joints …", "Edit a joint and see what follows from it", ("Ctrl+Shift+J",)
    ),
    ActionSpec(
        "calculator",
        "Tools",
        "Torque and clamp force …",
        "A small calculator with the formulae written out",
        ("Ctrl+T",),
    ),
    ActionSpec(
        "clamp-force",
        "Tools",
        "Clamp force of the trace …",
        "Estimate, torque budget, expectation, what is left, measured force",
        ("Ctrl+Shift+T",),
        "results",
    ),
    ActionSpec(
        "laboratory",
        "Tools",
        "Laboratory …",
        "K and friction from a load cell; clamp force from tightening and loosening",
        (),
        "results",
    ),
    ActionSpec("import-mapping", "Tools", "Import mapping …", "Say which column is what"),
    ActionSpec(
        "skipped-files",
        "Tools",
        "Skipped files …",
        "What could not be read, as a list to copy",
        (),
        begins_part=True,
    ),
)
HELP: tuple[ActionSpec, ...] = (
    ActionSpec("help", "Help", "Help", "What every figure and rule means: formula, picture, source", ("F1",)),
    ActionSpec("first-steps", "Help", "First steps", "The way through the window by the sample"),
    ActionSpec("shortcuts", "Help", "Keys", "All actions with their keys", ("Ctrl+F1",)),
    ActionSpec("about", "Help", "About", "Version and cautions"),
)
