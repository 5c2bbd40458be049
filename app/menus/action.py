"""One action: its row in the menu, its keys, when it is enabled, and what it does."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Action:
    """One row of a menu; menus, keys, tooltips, enabling and the list of keys come from it.

    Attributes
    ----------
    name : str
        What tests and toolbars call it.
    text, tip : str
    run : callable
        What it does.
    keys : str
        Keys, separated by spaces.
    needs : str
        When it is enabled: "" always, "traces", "results", "selection", "current", "conditions".
    group : str
        Actions of one group are checkable and exclude each other; "check" stands alone.
    begins_part : bool
        A separator before it.
    """

    name: str
    text: str
    tip: str
    run: Callable[[], object]
    keys: str = ""
    needs: str = ""
    group: str = ""
    begins_part: bool = False
