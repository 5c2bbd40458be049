"""One action: its row in the menu, its keys, when it is enabled, and what it does, in one place."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, TypeVar

Method = TypeVar("Method", bound=Callable[..., object])


@dataclass(frozen=True)
class Action:
    """One row of a menu; menus, keys, tooltips, enabling and the list of keys come from it."""

    name: str  #: What tests and toolbars call it.
    text: str
    tip: str
    run: Callable[[], object]  #: What it does.
    keys: str = ""  #: Keys, separated by spaces.
    #: When it is enabled: "" always, "traces", "results", "selection", "selection or work", "current",
    #: "conditions".
    needs: str = ""
    group: str = ""  #: Actions of one group are checkable and exclude each other; "check" stands alone.
    begins_part: bool = False  #: A separator before it.
    part: str = ""  #: Which part of a class's rows it belongs to, where those stand in several places.


def action(name: str, text: str, tip: str, keys: str = "", **more: Any) -> Callable[[Method], Method]:
    """Write the row of an action above the method that does it; `more` are further fields of `Action`."""

    def mark(method: Method) -> Method:
        method.action = Action(name, text, tip, method, keys, **more)  # type: ignore[attr-defined]
        return method

    return mark


def actions_of(menu: object, part: str = "") -> list[Action]:
    """The rows of a menu's class, tied to this instance, in the order of its methods."""
    rows = [(name, getattr(value, "action", None)) for name, value in vars(type(menu)).items()]
    return [
        replace(row, run=getattr(menu, name))
        for name, row in rows
        if isinstance(row, Action) and row.part == part
    ]
