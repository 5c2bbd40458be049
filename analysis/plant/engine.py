"""Traces in pieces of bounded memory: points and features of each piece, then verdicts joint by joint.

First every piece is read and measured, and its samples are dropped. Then it is known what is usual in each
joint, and every piece is read once more for the two things that need it: teeth in the rise, by the joint's
noise, and the rise itself, over the joint's usual climb. Then each joint is judged by what was kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pyarrow as pa

from analysis.errors import ReadProblem
from analysis.plant.measured_file import RowRange, load_attributes, load_sources
from analysis.plant.names import PLACE
from analysis.plant.pieces import Job, Piece
from analysis.plant.table_file import read_table
from analysis.plant.tasks import Story, Wanted, judge_group, look_at_piece, measure_piece, wanted_of
from analysis.plant.workers import Progress, Workers
from analysis.results import build_table, results_schema
from analysis.settings import Settings
from analysis.traces import Source
from analysis.verdict.rise_signs import ToothMeasure

#: A group of traces by its joint and its stretch of time.
GroupKey = tuple[str | None, str]


@dataclass(frozen=True)
class Judged:
    """What came of the pieces."""

    #: (joint or None, path): results of each group, as `analysis.plant.table_file.read_table` reads them.
    groups: tuple[tuple[str | None, str], ...]
    sources: tuple[Source, ...]  #: Files that traces came from, in order.
    problems: tuple[ReadProblem, ...]
    unfamiliar: tuple[str, ...]
    too_early: int  #: Traces that started before `Job.since`.
    traces: int

    def table(self, settings: Settings) -> pa.Table:
        """The results of all traces in their order in the files."""
        parts = pa.concat_tables([read_table(Path(path)) for _, path in self.groups])
        ordered = parts.sort_by(PLACE)
        values = {name: ordered.column(name).combine_chunks() for name in results_schema().names}
        return build_table(values, settings=settings, sources=self.sources)


def judge_pieces(
    folder: str, job: Job, pieces: Sequence[Piece], workers: Workers, progress: Progress | None = None
) -> Judged:
    """Judge every trace of the pieces; what is found on the way is kept in `folder`, and not done twice.

    Raises TautographError or OSError.
    """
    stories = workers.run(measure_piece, [(folder, job, piece) for piece in pieces], progress, "points")
    stories, doubles = _without_doubles(folder, job, stories, workers, progress)
    ranges = _ranges(folder, stories)
    wanted = _wanted(folder, job, stories, ranges)
    # The last ones first: they may still be in memory.
    looks = [
        (folder, job, story.piece, wanted[story.piece.number]) for story in reversed(stories) if story.groups
    ]
    workers.run(look_at_piece, looks, progress, "what is usual")
    keys = sorted(ranges, key=lambda key: (key[0] is None, key[0] or "", key[1]))
    tasks = [
        (str(Path(folder, f"judged-{number:05d}")), job, tuple(ranges[key]))
        for number, key in enumerate(keys)
    ]
    paths = workers.run(judge_group, tasks, progress, "verdicts")
    return Judged(
        tuple((key[0], path) for key, path in zip(keys, paths, strict=True)),
        tuple(source for story in stories for source in load_sources(Path(folder, story.piece.name))),
        (*(problem for story in stories for problem in story.problems), *doubles),
        tuple(path for story in stories for path in story.unfamiliar),
        sum(story.too_early for story in stories),
        sum(group.stop - group.start for story in stories for group in story.groups),
    )


def _ranges(folder: str, stories: Iterable[Story]) -> dict[GroupKey, list[RowRange]]:
    found: dict[GroupKey, list[RowRange]] = {}
    for story in stories:
        place = str(Path(folder, story.piece.name))
        for group in story.groups:
            found.setdefault((group.joint, group.period), []).append(RowRange(place, group.start, group.stop))
    return found


def _wanted(
    folder: str, job: Job, stories: Sequence[Story], ranges: dict[GroupKey, list[RowRange]]
) -> dict[int, Wanted]:
    """What the second look at each piece, by its number, needs to know."""
    of_range = {
        one: wanted
        for (joint, _), those in ranges.items()
        for one, wanted in zip(those, wanted_of(job, joint, those), strict=True)
    }
    found = {}
    for story in stories:
        place = str(Path(folder, story.piece.name))
        parts = [of_range[RowRange(place, group.start, group.stop)] for group in story.groups]
        if parts:
            by = ToothMeasure(
                np.concatenate([part.by.reach_nm for part in parts]),
                np.concatenate([part.by.usual_nm for part in parts]),
            )
            found[story.piece.number] = Wanted(by, np.concatenate([part.span_deg for part in parts]))
    return found


def _without_doubles(
    folder: str, job: Job, stories: Sequence[Story], workers: Workers, progress: Progress | None
) -> tuple[list[Story], list[ReadProblem]]:
    """Stories without the traces whose id an earlier piece has; doubles within a piece its reader finds."""
    if len(stories) < 2:
        return list(stories), []
    first: dict[str, str] = {}
    again, problems = [], []
    for story in stories:
        ids = _ids(folder, story)
        doubles = sorted(one for one in set(ids) if one in first)
        problems += [_double(story.piece, one, first[one]) for one in doubles]
        left_out = tuple(sorted({*story.piece.left_out, *doubles}))
        first |= dict.fromkeys(ids, story.piece.paths[0])
        if doubles:
            again.append(replace(story.piece, left_out=left_out))
    measured = workers.run(measure_piece, [(folder, job, piece) for piece in again], progress, "points")
    anew = {story.piece.number: story for story in measured}
    return [anew.get(story.piece.number, story) for story in stories], problems


def _ids(folder: str, story: Story) -> list[str]:
    if not story.groups:
        return []
    return [
        str(one) for one in load_attributes(Path(folder, story.piece.name)).column("trace_id").to_pylist()
    ]


def _double(piece: Piece, trace_id: str, first: str) -> ReadProblem:
    place = piece.paths[0] if len(piece.paths) == 1 else f"{piece.paths[0]} and the files read with it"
    return ReadProblem(
        place,
        None,
        f"trace_id {trace_id!r} a second time (first in {first} or a file read with it)",
        "every trace_id once",
        "rename one of the two; the first one was kept",
    )
