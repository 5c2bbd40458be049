"""What the lists of choices offer: figures by their groups, and what traces are grouped by."""

from __future__ import annotations

from analysis.catalogue.figure_groups import RECORDED, in_groups
from analysis.catalogue.figures import CONTRACT
from app.display.columns import ColumnSet
from app.display.messages import tr

#: Words and column name; without a name, the heading of those that follow.
Entry = tuple[str, str | None]
_FOUND = frozenset(figure.name for figure in CONTRACT) | {"operation", "reference"}


def offered_figures(columns: ColumnSet) -> list[Entry]:
    """The figures that a plot can show."""
    known = {column.name: column for column in columns.quantities}
    entries: list[Entry] = []
    for title, names in in_groups(known):
        entries += [(tr(title), None), *((known[name].title, name) for name in names)]
    return entries


def offered_groups(columns: ColumnSet) -> list[Entry]:
    """What was recorded of the traces first, then what was found."""
    recorded = [(c.title.lower(), c.name) for c in columns.groupings if c.name not in _FOUND]
    found = [(c.title.lower(), c.name) for c in columns.groupings if c.name in _FOUND]
    return [
        entry
        for title, group in ((RECORDED, recorded), ("As found", found))
        if group
        for entry in ((tr(title), None), *group)
    ]
