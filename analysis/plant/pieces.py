"""Files in pieces of bounded size, each read as one set whose traces lie joint by joint."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analysis.errors import ReadError, ReadProblem
from analysis.joint.definition import JointDefinition
from analysis.plant.periods import UsualPer
from analysis.reading.parquet_footer import claimed_numbers
from analysis.reading.source_file import SourceFile, find_files
from analysis.settings import Settings
from analysis.shift.reference import ReferenceSet
from analysis.traces import TraceSet
from analysis.verdict.joint_rows import JointRows, find_joint_rows

if TYPE_CHECKING:
    from analysis.reading import ImportMapping, Reading

#: Bytes of samples in memory that make one piece; a larger file is a piece of its own (own choice: 5000
#: traces of 1500 samples).
PIECE_BYTES = 125_000_000
#: Angle and torque of one sample. Of smaller files the size on disk is taken for what they hold.
_SAMPLE_BYTES, _SMALL_BYTES = 16, 1_000_000


@dataclass(frozen=True)
class Correction:
    """Torques that were read wrong."""

    factor: float  #: True torque over the torque that was read.
    traces: dict[str, frozenset[str]]


@dataclass(frozen=True)
class Job:
    """What is asked of every trace, whoever works on it."""

    joints: dict[str, JointDefinition]
    settings: Settings = field(default_factory=Settings)
    usual: UsualPer = field(default_factory=UsualPer)
    default_joint: str | None = None  #: Of traces that name none.
    mapping: ImportMapping | None = None  #: Given by hand.
    mappings: tuple[ImportMapping, ...] = ()  #: Of which each file takes the first that fits.
    since: datetime | None = None  #: Traces that started before are left out.
    reference: dict[str, ReferenceSet] = field(default_factory=dict)
    correction: Correction | None = None
    base: str = ""  #: Folder that the names of files count from; empty: the current one.


@dataclass(frozen=True)
class Piece:
    """Some files that are read together."""

    number: int  #: Place among the pieces.
    paths: tuple[str, ...]
    left_out: tuple[str, ...] = ()  #: Ids of traces that an earlier piece holds already.

    @property
    def name(self) -> str:
        """Of the folder that holds what was found out about it."""
        return f"piece-{self.number:05d}"


@dataclass(frozen=True)
class Group:
    """Neighbouring traces of one joint and one stretch of time within a piece."""

    joint: str | None
    period: str
    #: Rows.
    start: int
    stop: int


@dataclass(frozen=True, eq=False)
class ReadPiece:
    """A piece as read: its traces joint by joint."""

    traces: TraceSet
    order: NDArray[np.int64]  #: Shape (n,). Place of each trace in the files.
    groups: tuple[Group, ...]
    rows: JointRows
    problems: tuple[ReadProblem, ...]
    unfamiliar: tuple[str, ...]  #: Files that need an import mapping.
    too_early: int  #: Traces that started before `Job.since`.


def find_recordings(paths: Iterable[str]) -> tuple[list[SourceFile], list[ReadProblem]]:
    """The files behind the named paths, and what is wrong with the names."""
    from analysis.reading.layouts import endings

    return find_files(paths, endings())


def digests_of(paths: Sequence[str], base: str) -> list[str | ReadProblem]:
    """The digest of each file, or why there is none."""
    found: list[str | ReadProblem] = []
    for path in paths:
        try:
            found.append(SourceFile(os.path.join(base, path)).digest)
        except ReadError as error:
            found.append(replace(error.problem, path=SourceFile(path).shown_path))
    return found


def plan_pieces(files: Sequence[SourceFile], most_bytes: int = PIECE_BYTES) -> list[Piece]:
    """The files in order, in pieces of up to `most_bytes`."""
    pieces: list[list[str]] = []
    room = 0
    for file in files:
        size = bytes_in_memory(file.path)
        if not pieces or size > room:
            pieces.append([])
            room = most_bytes
        pieces[-1].append(file.path)
        room -= size
    return [Piece(number, tuple(paths)) for number, paths in enumerate(pieces)]


def bytes_in_memory(path: str) -> int:
    """About how much the samples of a file take; 0 where it is gone, which is told when it is read."""
    try:
        size = os.stat(path).st_size
        if size > _SMALL_BYTES and path.lower().endswith(".parquet"):
            groups = claimed_numbers(path)
            return _SAMPLE_BYTES * sum(max(columns.values(), default=0) for columns in groups)
        return size
    except (OSError, ValueError):
        return 0


def read_piece(job: Job, piece: Piece) -> ReadPiece:
    """Read the files of a piece; the same files give the same order of traces each time."""
    reading = _read(job, piece)
    traces, kept = reading.traces, np.arange(len(reading.traces))
    started = traces.column("started_at")
    if job.since is not None:
        since = job.since
        kept = np.flatnonzero([one is None or one >= since for one in started])
    too_early = len(traces) - len(kept)
    if piece.left_out:
        known = set(piece.left_out)
        kept = kept[[traces.trace_ids[row] not in known for row in kept.tolist()]]
    if job.correction is not None:
        traces = _corrected(traces, job.correction)
    rows = find_joint_rows(traces, job.joints, job.default_joint)
    labels = job.usual.labels(started)
    by_name = sorted(range(len(rows.names)), key=lambda code: rows.names[code])
    rank = np.argsort([*by_name, len(by_name)])  # a code of -1 takes the last one
    keys = [(int(rank[rows.codes[row]]), labels[row]) for row in kept.tolist()]
    order = np.array(sorted(range(len(kept)), key=lambda k: keys[k]), np.int64)
    chosen = kept[order]
    if len(chosen) != len(traces) or np.any(np.diff(chosen) < 0):
        traces = traces.take(chosen)
    codes = rows.codes[chosen]
    groups = _groups(
        [keys[k] for k in order.tolist()], [(*rows.names, None)[code] for code in codes.tolist()]
    )
    return ReadPiece(
        traces,
        chosen,
        groups,
        JointRows(rows.names, codes, rows.definitions),
        reading.problems,
        reading.unfamiliar,
        too_early,
    )


def _read(job: Job, piece: Piece) -> Reading:
    """The files, from wherever this process runs; told by the names that they were given."""
    from analysis.reading import read_paths

    named = {os.path.join(job.base, path): path for path in piece.paths}
    found = read_paths(named, mapping=job.mapping, mappings=job.mappings)

    def told(one: Any) -> Any:
        return replace(one, path=named.get(one.path, one.path))

    sources = tuple(told(source) for source in found.sources)
    return replace(
        found,
        traces=replace(found.traces, sources=sources),
        sources=sources,
        problems=tuple(told(problem) for problem in found.problems),
        unfamiliar=tuple(named.get(path, path) for path in found.unfamiliar),
    )


def _corrected(traces: TraceSet, correction: Correction) -> TraceSet:
    of_source = [correction.traces.get(source.digest, frozenset()) for source in traces.sources]
    wrong = [
        k >= 0 and trace_id in of_source[k]
        for trace_id, k in zip(traces.trace_ids, traces.source_index.tolist(), strict=True)
    ]
    factor = np.repeat(np.where(wrong, correction.factor, 1.0), traces.n_samples)
    return replace(traces, torque_nm=traces.torque_nm * factor)


def _groups(keys: Sequence[tuple[int, str]], joints: Sequence[str | None]) -> tuple[Group, ...]:
    starts = [row for row in range(len(keys)) if row == 0 or keys[row] != keys[row - 1]]
    stops = [*starts[1:], len(keys)]
    return tuple(
        Group(joints[start], keys[start][1], start, stop)
        for start, stop in zip(starts, stops, strict=False)
        if stop > start
    )
