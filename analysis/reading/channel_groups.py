"""Files that hold named groups of channels: what was read of one, before anything is made of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from numpy.typing import NDArray


@dataclass
class CurveGroup:
    """Channels that were recorded together."""

    name: str  #: Of the group within the file; empty where the file has one only.
    columns: dict[str, NDArray[Any]]  #: By the name that the file gives.
    units: dict[str, str] = field(default_factory=dict)  #: Where the file states them.
    attributes: dict[str, Any] = field(default_factory=dict)

    def stated_units(self) -> list[str]:
        """The unit of each column, in order; empty where none is stated."""
        return [self.units.get(name, "") for name in self.columns]


@dataclass
class GroupedContent:
    """All groups of a file, and what the format's library had to say about it."""

    groups: list[CurveGroup]
    said: list[str] = field(default_factory=list)
