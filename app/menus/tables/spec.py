"""One row of the tables of actions."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ActionSpec:
    """One action.

    Attributes
    ----------
    name : str
        What handlers, tests and toolbars call it.
    menu, text, tip : str
    keys : tuple of str
    needs : str
        When it is enabled: "" always, "traces", "results", "selection", "current", "conditions", "joints".
    group : str
        Actions of one group are checkable and exclude each other; "check" stands alone.
    begins_part : bool
        A separator before it.
    """

    name: str
    menu: str
    text: str
    tip: str
    keys: tuple[str, ...] = ()
    needs: str = ""
    group: str = ""
    begins_part: bool = False
