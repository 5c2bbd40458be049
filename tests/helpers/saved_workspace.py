"""A workspace of what is open, with two decisions."""

from __future__ import annotations

from pathlib import Path

from app.main_window import MainWindow
from app.session.deciding import Signature, set_disposition
from app.workspace.workspace_file import Workspace, read_workspace

_WHO = Signature("Tester", "2026-03-02T06:00:00Z")


def saved(window: MainWindow, file: Path) -> Workspace:
    """As it reads."""
    session = window.session
    ids = session.traces.trace_ids
    session.decide(set_disposition(session.decisions, ids[:2], "accepted as it is", _WHO))
    assert window.menus.files.save_to(file)
    return read_workspace(file)
