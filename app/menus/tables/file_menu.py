"""Actions of the menu File: open, follow, save, export, report."""

from __future__ import annotations

from app.menus.tables.spec import ActionSpec

FILE: tuple[ActionSpec, ...] = (
    ActionSpec("open-files", "File", "Open files …", "Open recordings afresh", ("Ctrl+O",)),
    ActionSpec(
        "open-folder", "File", "Open a folder …", "Open all recordings below a folder", ("Ctrl+Shift+O",)
    ),
    ActionSpec(
        "add-files", "File", "Add files …", "Open recordings beside those that are open", ("Ctrl+Alt+O",)
    ),
    ActionSpec("open-sample", "File", "Show the sample shift", "A made-up shift with faults put in"),
    ActionSpec(
        "open-joints",
        "File",
        "Open a joints file …",
        "Targets, limits and engineering data of the joints",
        ("Ctrl+J",),
    ),
    ActionSpec(
        "reload",
        "File",
        "Read again",
        "Read the same files again; view, selection and decisions stay",
        ("F5",),
        "traces",
    ),
    ActionSpec(
        "follow-folder",
        "File",
        "Follow a folder …",
        "New recordings appear as they are written",
        (),
        "",
        "check",
    ),
    ActionSpec(
        "close-all",
        "File",
        "Close",
        "Close what is open; files on disk stay as they are",
        ("Ctrl+W",),
        "traces",
    ),
    ActionSpec(
        "open-workspace",
        "File",
        "Open a workspace …",
        "Files, decisions and view as they were saved",
        (),
        begins_part=True,
    ),
    ActionSpec(
        "save-workspace",
        "File",
        "Save the workspace",
        "Files, decisions and view in one small file",
        ("Ctrl+S",),
        "traces",
    ),
    ActionSpec(
        "save-workspace-as",
        "File",
        "Save the workspace as …",
        "The same under another name",
        ("Ctrl+Shift+S",),
        "traces",
    ),
    ActionSpec(
        "export-table",
        "File",
        "Export the table …",
        "CSV, XLSX or Parquet: all, filtered or selected",
        ("Ctrl+E",),
        "results",
        begins_part=True,
    ),
    ActionSpec(
        "export-picture",
        "File",
        "Export the picture …",
        "PNG, SVG or PDF on white paper",
        ("Ctrl+Shift+E",),
        "traces",
    ),
    ActionSpec(
        "report",
        "File",
        "Report and print preview …",
        "The report of each joint as it will print",
        ("Ctrl+P",),
        "results",
    ),
    ActionSpec(
        "command-line",
        "File",
        "Show as a command …",
        "The command that gives the same results without a window",
        (),
        "traces",
    ),
    ActionSpec(
        "quit", "File", "Quit", "Leave the program; your work is saved", ("Ctrl+Q",), begins_part=True
    ),
)
