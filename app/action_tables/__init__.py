"""Every action in one table, by menu: menus, keys, tooltips and enabling come from here and nowhere else."""

from __future__ import annotations

from app.action_tables.compare_and_go import COMPARE, GO
from app.action_tables.edit_and_decide import DECIDE, EDIT
from app.action_tables.file_menu import FILE
from app.action_tables.spec import ActionSpec
from app.action_tables.tools_and_help import HELP, TOOLS
from app.action_tables.view_menu import VIEW

__all__ = ["ACTIONS", "MENUS", "ActionSpec"]

MENUS = ("File", "Edit", "Decide", "Compare", "Go", "View", "Tools", "Help")
ACTIONS: tuple[ActionSpec, ...] = (*FILE, *EDIT, *DECIDE, *COMPARE, *GO, *VIEW, *TOOLS, *HELP)
