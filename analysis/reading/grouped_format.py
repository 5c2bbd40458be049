"""Formats of named groups of channels that an optional library reads, in a process of its own."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from analysis.reading.batch import Batch
from analysis.reading.channel_groups import GroupedContent
from analysis.reading.curve_groups import GroupPlanner, group_batch, plan_group
from analysis.reading.extras import import_extra, library_errors, require_extra
from analysis.reading.source_file import SourceFile


@dataclass(frozen=True)
class GroupedFormat:
    """One such format."""

    kind: str  #: For people.
    #: Module that reads it, and what it is installed as.
    library: str
    package: str
    beginnings: tuple[bytes, ...]  #: First bytes of such a file.
    reader: str  #: The module whose ``groups_here`` reads it.

    def sniff(self, file: SourceFile) -> bool:
        """Known by its first bytes."""
        return file.head.startswith(self.beginnings)

    def read(self, file: SourceFile, planner: GroupPlanner = plan_group) -> Batch:
        """The traces of all groups.

        Raises
        ------
        UnfamiliarLayoutError
            Where no group is a curve, or one is unclear.
        ReadError
            Where the file is damaged, or the package is missing.
        """
        return group_batch(file, self.groups(file), planner)

    def groups(self, file: SourceFile) -> GroupedContent:
        """What the file holds, group by group.

        Raises
        ------
        ReadError
            Where the file is damaged or the package is missing.
        """
        # Imported late: most recordings are in other formats and need no process of their own.
        from analysis.reading.isolated import read_groups_apart

        require_extra(file, self.library, self.package, self.kind)
        return read_groups_apart(file, self.reader)

    @contextmanager
    def loaded(self, file: SourceFile) -> Iterator[tuple[Any, list[str]]]:
        """The library and what it logs, with whatever it raises turned into a listed problem."""
        library = import_extra(file, self.library, self.package, self.kind)
        with library_errors(file, self.kind, self.library) as said:
            yield library, said
