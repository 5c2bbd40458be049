"""Traces of a text table that hold a line with a fault: set aside and listed, so that the others can be
read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from analysis.errors import ReadProblem
from analysis.reading.source_file import SourceFile
from analysis.reading.text_form import TextForm, cells_of

#: Share of the traces with a fault from which the file as a whole is not what it was taken for (own choice).
_MOST_SHARE = 0.5

Numbered = tuple[int, str]
Fault = tuple[str, str]


@dataclass(frozen=True)
class SetAside:
    """What is left of a file's lines, and what is not."""

    kept: list[Numbered]  #: (line number, text)
    problems: list[ReadProblem]  #: One for each trace that was set aside, at its first line with a fault.


def set_aside(
    file: SourceFile,
    form: TextForm,
    id_position: int,
    numbered: Sequence[Numbered],
    faults: Mapping[int, Fault],
) -> SetAside | None:
    """The lines without those of traces that hold a fault.

    A trace is set aside as a whole: without one of its samples it would be another curve. Which trace a line
    belongs to is its own trace_id, or, where its number of columns is wrong, the trace_id that the lines
    before and after it both have and that stands in it as well.

    Parameters
    ----------
    id_position : int
        Column of the trace_id.
    numbered : sequence of (line number, text)
        All lines with samples.
    faults : Mapping of line number to (found, expected)

    Returns
    -------
    SetAside, or None where a line belongs to no one trace for certain, or most traces hold a fault: then the
    file as a whole cannot be trusted.
    """
    ids = [_id(line, form, id_position) for _, line in numbered]
    first: dict[str, int] = {}
    for k, (number, line) in enumerate(numbered):
        if number in faults:
            whole = len(cells_of(line, form.separator)) == len(form.headers)
            trace_id = _trace_of(k, ids, faults, numbered, whole=whole)
            if trace_id is None:
                return None
            first.setdefault(trace_id, number)
    if len(first) > _MOST_SHARE * len(set(ids)):
        return None
    kept = [row for row, trace_id in zip(numbered, ids, strict=True) if trace_id not in first]
    problems = [_problem(file, trace_id, number, faults[number]) for trace_id, number in first.items()]
    return SetAside(kept, problems)


def _id(line: str, form: TextForm, position: int) -> str:
    cells = cells_of(line, form.separator)
    return cells[position].strip() if position < len(cells) else ""


def _trace_of(
    k: int,
    ids: Sequence[str],
    faults: Mapping[int, Fault],
    numbered: Sequence[Numbered],
    *,
    whole: bool,
) -> str | None:
    """The trace that a line with a fault belongs to; None where that is unclear."""
    if whole:
        return ids[k] or None
    sound = [j for j in range(k - 1, -1, -1) if numbered[j][0] not in faults][:1]
    sound += next(([j] for j in range(k + 1, len(ids)) if numbered[j][0] not in faults), [])
    around = {ids[j] for j in sound}
    return ids[k] if around == {ids[k]} and len(sound) == 2 and ids[k] else None


def _problem(file: SourceFile, trace_id: str, number: int, fault: Fault) -> ReadProblem:
    found, expected = fault
    return file.problem(
        number,
        f"{found} in trace {trace_id!r}, which was left out as a whole",
        expected,
        "correct the line or export the trace again; the other traces of the file were read",
    )
