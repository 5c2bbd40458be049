"""Every action in one table, by menu: menus, keys, tooltips and enabling come from here and nowhere else."""

from __future__ import annotations

from app.menus.tables.compare_and_go import COMPARE, GO
from app.menus.tables.edit_and_decide import DECIDE, EDIT
from app.menus.tables.file_menu import FILE
from app.menus.tables.spec import ActionSpec
from app.menus.tables.tools_and_help import HELP, TOOLS
from app.menus.tables.view_menu import VIEW

__all__ = ["ACTIONS", "MENUS", "ActionSpec"]

MENUS = ("File", "Edit", "Decide", "Compare", "Go", "View", "Tools", "Help")
ACTIONS: tuple[ActionSpec, ...] = (*FILE, *EDIT, *DECIDE, *COMPARE, *GO, *VIEW, *TOOLS, *HELP)
