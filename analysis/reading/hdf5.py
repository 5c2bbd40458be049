"""HDF5: each group that holds data sets for angle and torque is a trace (optional package h5py).

Links that lead to other groups or out of the file are not followed.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from analysis.errors import ReadError
from analysis.reading.channel_groups import CurveGroup, GroupedContent
from analysis.reading.claims import check_claim
from analysis.reading.grouped_format import GroupedFormat
from analysis.reading.source_file import SourceFile

#: Loaded before a file has its budget.
LIBRARY = "h5py"
FORMAT = GroupedFormat("HDF5", LIBRARY, "h5py", (b"\x89HDF\r\n\x1a\n",), __name__)
_UNIT_ATTRIBUTES = ("unit", "units", "Unit", "Units")
#: Groups within each other that are gone into (own choice; recordings nest a few deep).
_LARGEST_DEPTH = 16


def groups_here(file: SourceFile) -> GroupedContent:
    """What the file holds, group by group, read in this process."""
    with FORMAT.loaded(file) as (h5py, said), h5py.File(file.path, "r") as content:
        budget = _Budget(file)
        return GroupedContent(list(_groups(h5py, content, "", {}, budget, seen=set(), depth=0)), said)


class _Budget:
    """Values claimed so far; refuses what no recording of this size can hold."""

    def __init__(self, file: SourceFile) -> None:
        self.file = file
        self._claimed = 0

    def take(self, data: Any) -> None:
        if data.is_virtual or data.external:
            raise ReadError(
                self.file.problem(
                    None, f"data set {data.name!r} that keeps its values in another file",
                    "values in this file", "export it into one file",
                )
            )  # fmt: skip
        self._claimed += int(data.size or 0)
        check_claim(self.file, self._claimed)


def _groups(
    h5py: Any, group: Any, name: str, above: dict[str, Any], budget: _Budget, *, seen: set[int], depth: int
) -> Iterator[CurveGroup]:
    address = h5py.h5o.get_info(group.id).addr
    if address in seen or depth > _LARGEST_DEPTH:
        return
    seen.add(address)
    made = CurveGroup(name, {}, {}, {**above, **dict(group.attrs.items())})
    below = []
    for key in group:
        if not isinstance(group.get(key, getlink=True), h5py.HardLink):
            continue
        item = group[key]
        if isinstance(item, h5py.Group):
            below.append((key, item))
        elif isinstance(item, h5py.Dataset) and item.ndim <= 1:
            _add(made, key, item, budget)
    yield made
    for key, item in below:
        yield from _groups(
            h5py, item, f"{name}/{key}" if name else key, made.attributes, budget, seen=seen, depth=depth + 1
        )


def _add(made: CurveGroup, key: str, data: Any, budget: _Budget) -> None:
    budget.take(data)
    if data.ndim == 0:
        made.attributes[key] = data[()]
        return
    made.columns[key] = data.asstr()[:] if data.dtype.kind == "O" else data[:]
    made.units[key] = next((_text(data.attrs[name]) for name in _UNIT_ATTRIBUTES if name in data.attrs), "")


def _text(value: Any) -> str:
    return value.decode("utf-8", "replace") if isinstance(value, bytes) else str(value)
