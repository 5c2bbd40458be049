"""How much hangs on a joint: its risk class, and what the plant's table asks of such a joint."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib import resources
from pathlib import Path

from analysis.checked_text import UnusableTextError, read_text, toml
from analysis.errors import TautographError
from analysis.joint.definition import JointDefinition

#: Heaviest first, as they stand in every order; a joint without a class comes last.
CLASSES = ("A", "B", "C")
CLASS_WORDS = {"A": "life and limb or the environment", "B": "function, a stop", "C": "nuisance"}
#: What a class can ask, in the order of the page.
ITEMS = ("decision", "control", "monitor", "sensor", "record", "capability", "audit", "rework", "limits")
RECALLED = "recalled, confirm with the guideline"


class ClassTableError(TautographError):
    """A table of classes that cannot be used; names the file and the place."""


@dataclass(frozen=True)
class ClassTable:
    """What each class asks."""

    asks: Mapping[str, Mapping[str, str | float]]
    #: Such as ``A.control``: lines that the plant held against the guideline.
    confirmed: frozenset[str] = frozenset()

    def note(self, risk_class: str, item: str) -> str:
        """ "recalled ..." until the line was confirmed, then empty."""
        return "" if f"{risk_class}.{item}" in self.confirmed else RECALLED


def load_classes(path: Path) -> ClassTable:
    """A plant's own table. Raises ClassTableError or OSError."""
    try:
        return _table(read_text(path), str(path))
    except UnusableTextError as error:
        raise ClassTableError(f"{path}: {error}") from None


@cache
def default_classes() -> ClassTable:
    """The table that comes with the program."""
    return _table(resources.files("resources").joinpath("classes.toml").read_text("utf-8"), "classes.toml")


def _table(text: str, place: str) -> ClassTable:
    try:
        document = toml(text)
    except UnusableTextError as error:
        raise ClassTableError(f"{place}: {error}") from None
    confirmed = document.pop("confirmed", [])
    for name, asks in document.items():
        if name not in CLASSES or not isinstance(asks, dict):
            raise ClassTableError(f"{place}: {name}: expected tables {', '.join(CLASSES)}, and confirmed")
        for item, value in asks.items():
            kind = int | float if item == "capability" else str
            if item not in ITEMS or not isinstance(value, kind):
                raise ClassTableError(
                    f"{place} [{name}] {item}: is {value!r}; expected texts for {', '.join(ITEMS)}, "
                    "and a number for capability"
                )
    return ClassTable(
        {
            name: {k: float(v) if k == "capability" else v for k, v in asks.items()}
            for name, asks in document.items()
        },
        frozenset(str(one) for one in confirmed),
    )


def class_order(definition: JointDefinition | None) -> int:
    """Place of a joint in every order: class A first, those without one last."""
    found = None if definition is None else definition.parts.get("risk_class")
    return CLASSES.index(found) if found in CLASSES else len(CLASSES)


def asked_of(definition: JointDefinition, item: str, table: ClassTable | None = None) -> str | float | None:
    """What the joint's class asks under one item; None where it asks nothing or no class is given.

    Examples
    --------
    >>> asked_of(JointDefinition("a", 10.0, parts={"risk_class": "B"}), "capability")
    1.33
    """
    asks = (table or default_classes()).asks.get(str(definition.parts.get("risk_class")), {})
    return asks.get(item)
