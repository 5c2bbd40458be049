"""Files and folders to one set of traces; what cannot be read is listed, nothing stops the rest."""

from __future__ import annotations

import os
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, wait
from contextlib import contextmanager
from dataclasses import dataclass, field, replace

import pyarrow as pa

from analysis.errors import ReadError, ReadProblem, UnfamiliarLayoutError
from analysis.reading import isolated
from analysis.reading.batch import Batch, join_batches
from analysis.reading.csv_layouts import form_of, plan_text
from analysis.reading.csv_together import KnownHeader, Member, learn_header, match_header, read_together
from analysis.reading.damage import DAMAGE, damaged
from analysis.reading.import_mapping import ImportMapping
from analysis.reading.layouts import CSV_TRACE, choose_layout, endings
from analysis.reading.mapped import read_mapped
from analysis.reading.source_file import SourceFile, find_files
from analysis.traces import Source, TraceSet, row_ranges

Progress = Callable[[int, int, str], None]
Cancelled = Callable[[], bool]
SoFar = Callable[[TraceSet], None]

#: Files, and bytes, that are read as one piece of work (own choice: enough to spread the cost of a parse).
FILES_AT_ONCE = 64
BYTES_AT_ONCE = 4_000_000
THREADS = 2
#: Headers kept in mind while a folder is read (own choice; a folder seldom mixes more than a few exporters).
KNOWN_HEADERS = 16
_PIECES_AHEAD = 4
_SECONDS_BETWEEN_REPORTS = 0.05
#: Between two looks whether the user has stopped, while a file takes long.
_SECONDS_BETWEEN_LOOKS = 0.1
#: What was read so far is shown first after this time, then each time twice as much time has passed: the
#: joining then costs less than the reading (own choice).
_FIRST_SHOWN_AFTER_S = 0.8
#: Larger sets are shown only when all is read: two copies of them would be in memory (own choice, 120 MB).
_SHOWN_UP_TO_SAMPLES = 5_000_000


@dataclass(frozen=True)
class Reading:
    """What came of the files."""

    traces: TraceSet
    #: In order of the files. Fatal ones stand for a file or a trace that was left out, the others are notes.
    problems: tuple[ReadProblem, ...] = ()
    unfamiliar: tuple[str, ...] = ()  #: Files that need an import mapping; each is also among the problems.
    sources: tuple[Source, ...] = ()  #: Files that traces came from, with digests.
    #: True where the user cancelled; the traces are then those of the files read before.
    cancelled: bool = False


@dataclass(frozen=True)
class _Mappings:
    """The mapping given by hand, and those found by pattern."""

    given: ImportMapping | None
    found: tuple[ImportMapping, ...]

    def first(self, file: SourceFile) -> ImportMapping | None:
        """The mapping that goes before the project's own layouts."""
        fits = self.given is not None and (not self.given.file_patterns or self.given.matches(file.path))
        return self.given if fits else None

    def second(self, file: SourceFile) -> ImportMapping | None:
        """The mapping that helps where no layout recognises the file."""
        return next((mapping for mapping in self.found if mapping.matches(file.path)), None)


@dataclass
class _Known:
    """What the pieces of work share: mappings, a thread for digests of large files, headers met so far."""

    mappings: _Mappings
    digests: ThreadPoolExecutor
    headers: list[KnownHeader] = field(default_factory=list)
    ended: threading.Event = field(default_factory=threading.Event)


@dataclass
class _Showing:
    """Hands on what was read so far, ever more seldom."""

    files: Sequence[SourceFile]
    so_far: SoFar
    started_s: float = field(default_factory=time.monotonic)
    due_s: float = field(default_factory=lambda: _FIRST_SHOWN_AFTER_S)

    def show(self, outcomes: Sequence[_Outcome]) -> None:
        """Show it where it is time to; the batches stay whole for the final joining."""
        if time.monotonic() - self.started_s < self.due_s:
            return
        batches = [batch for outcome in outcomes for batch in outcome.batches if len(batch)]
        if not batches or sum(int(batch.offsets[-1]) for batch in batches) > _SHOWN_UP_TO_SAMPLES:
            return
        traces, _ = join_batches([replace(b, channels=dict(b.channels)) for b in batches], self.files)
        self.due_s = 2.0 * (time.monotonic() - self.started_s)
        self.so_far(traces)


@dataclass
class _Outcome:
    """What one piece of work gave."""

    n_files: int
    batches: list[Batch] = field(default_factory=list)
    problems: list[tuple[int, ReadProblem]] = field(default_factory=list)
    unfamiliar: list[str] = field(default_factory=list)


def read_paths(
    paths: Iterable[str | os.PathLike[str]],
    *,
    mapping: ImportMapping | None = None,
    mappings: Iterable[ImportMapping] = (),
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
    so_far: SoFar | None = None,
) -> Reading:
    """Read files and folders.

    Parameters
    ----------
    paths : iterable of path
        Files, and folders that are searched to any depth.
    mapping : ImportMapping, optional
        For the files that its patterns match (all files where it has none).
    mappings : iterable of ImportMapping, optional
        Such as a `MappingLibrary`: for files that no layout of the project's own recognises, the first whose
        pattern matches.
    progress : callable (done, total, text), optional
        Called at most twenty times a second, from the calling thread; counts files.
    cancelled : callable, optional
        Asked between pieces of work; True stops, and what was read so far is returned.
    so_far : callable (traces), optional
        Given what was read so far while the rest is still read, where that takes a while; from the calling
        thread.

    Returns
    -------
    Reading
        Bad input never raises: it is listed.

    Raises
    ------
    ImportMappingError
        Where the mapping given by hand is incomplete or contradicts itself.
    """
    if mapping is not None:
        mapping.check()
    files, problems = find_files(paths, endings())
    try:
        showing = None if so_far is None else _Showing(files, so_far)
        outcomes, stopped = _work(files, _Mappings(mapping, tuple(mappings)), progress, cancelled, showing)
    finally:
        isolated.close()
    listed = [problem for outcome in outcomes for problem in outcome.problems]
    batches = [batch for outcome in outcomes for batch in outcome.batches]
    traces, joined = join_batches(batches, files)
    # What Arrow's pool keeps for more pages would stand beside the analysis (95 MB with
    # 10 000 traces of 1 500 samples).
    pa.default_memory_pool().release_unused()
    if stopped:
        problems.append(_cancelled_after(sum(outcome.n_files for outcome in outcomes), len(files)))
    return Reading(
        traces,
        (*problems, *(problem for _, problem in sorted(listed, key=lambda pair: pair[0])), *joined),
        tuple(path for outcome in outcomes for path in outcome.unfamiliar),
        traces.sources,
        stopped,
    )


def _cancelled_after(done: int, n_files: int) -> ReadProblem:
    found = f"reading cancelled after {done} of {n_files} files"
    return ReadProblem("", None, found, "all files", "open the rest again", fatal=False)


def _work(
    files: Sequence[SourceFile],
    mappings: _Mappings,
    progress: Progress | None,
    cancelled: Cancelled | None,
    showing: _Showing | None,
) -> tuple[list[_Outcome], bool]:
    outcomes: list[_Outcome] = []
    waiting: deque[Future[_Outcome]] = deque()
    done, last_report = 0, 0.0
    with (
        ThreadPoolExecutor(min(THREADS, row_ranges.most_threads)) as pool,
        ThreadPoolExecutor(1) as digests,
        _ended(known := _Known(mappings, digests)),
    ):
        pieces = _pieces(files)
        while True:
            if cancelled is not None and cancelled():
                return outcomes, True
            while len(waiting) < _PIECES_AHEAD and (piece := next(pieces, None)) is not None:
                waiting.append(pool.submit(_read_piece, piece, known))
            if not waiting:
                return outcomes, False
            if not wait([waiting[0]], _SECONDS_BETWEEN_LOOKS).done:
                continue
            outcomes.append(waiting.popleft().result())
            done += outcomes[-1].n_files
            now = time.monotonic()
            if progress is not None and (now - last_report > _SECONDS_BETWEEN_REPORTS or done == len(files)):
                last_report = now
                progress(done, len(files), files[done - 1].path)
            if showing is not None and done < len(files):
                showing.show(outcomes)


@contextmanager
def _ended(known: _Known) -> Iterator[None]:
    """Whatever ends the reading early (a stop, Ctrl+C) also ends what other threads and processes read."""
    try:
        yield
    finally:
        known.ended.set()
        isolated.stop()


def _pieces(files: Sequence[SourceFile]) -> Iterator[list[SourceFile]]:
    piece: list[SourceFile] = []
    n_bytes = 0
    for file in files:
        try:
            size = file.size
        except ReadError:
            size = 0  # gone since it was listed: reported when it is read
        if piece and (len(piece) == FILES_AT_ONCE or n_bytes + size > BYTES_AT_ONCE):
            yield piece
            piece, n_bytes = [], 0
        piece.append(file)
        n_bytes += size
    if piece:
        yield piece


def _read_piece(files: Sequence[SourceFile], known: _Known) -> _Outcome:
    """Read some files; small text files whose header is known already are read together."""
    outcome = _Outcome(len(files))
    groups: dict[KnownHeader, list[Member]] = {}
    for file in files:
        if known.ended.is_set():
            return outcome
        found = _match(file, known)
        if found is None:
            _read_one(file, outcome, known)
        else:
            groups.setdefault(found[0], []).append(found[1])
    for header, members in groups.items():
        _read_group(header, members, outcome, known)
    return outcome


def _match(file: SourceFile, known: _Known) -> tuple[KnownHeader, Member] | None:
    if not known.headers or known.mappings.first(file) is not None:
        return None
    try:
        return match_header(file, tuple(known.headers)) if file.is_small else None
    except ReadError:
        return None  # listed when it is read alone


def _read_group(header: KnownHeader, members: Sequence[Member], outcome: _Outcome, known: _Known) -> None:
    """Files with one header; where one is bad, each is parsed alone and the bad one read line by line."""
    batch = read_together(header, members)
    if batch is None and len(members) > 1:
        for member in members:
            _read_group(header, [member], outcome, known)
    elif batch is None:
        _read_one(members[0].file, outcome, known)
    else:
        for member in members:
            member.file.layout = CSV_TRACE.name
            _ = member.file.digest
            member.file.forget()
        outcome.batches.append(batch)


def _read_one(file: SourceFile, outcome: _Outcome, known: _Known) -> None:
    """Read one file, or list why not: the one place where a file's trouble is caught."""
    digest = None if _is_small(file) else known.digests.submit(lambda: file.digest)
    try:
        batch = _batch(file, known)
        if len(batch) == 0:
            outcome.problems += [(file.index, problem) for problem in batch.problems]
            problem = file.problem(None, "no trace", "at least one", "check that the export was finished")
            outcome.problems.append((file.index, problem))
        outcome.batches.append(batch)
        _ = file.digest if digest is None else digest.result()
    except UnfamiliarLayoutError as error:
        outcome.unfamiliar.append(file.path)
        outcome.problems.append((file.index, error.problem))
    except ReadError as error:
        outcome.problems.append((file.index, error.problem))
    except DAMAGE as error:
        outcome.problems.append((file.index, damaged(file, error)))
    finally:
        file.forget()


def _is_small(file: SourceFile) -> bool:
    try:
        return file.is_small
    except ReadError:
        return True  # gone since it was listed: told when it is read


def _batch(file: SourceFile, known: _Known) -> Batch:
    """The file's traces: by the mapping given for it, the project's own layouts, or a mapping found."""
    mapping = known.mappings.first(file)
    if mapping is None:
        try:
            layout = choose_layout(file)
            file.layout = layout.name
            batch = layout.read(file)
        except UnfamiliarLayoutError:
            mapping = known.mappings.second(file)
            if mapping is None:
                raise
        else:
            if layout is CSV_TRACE and file.is_small:
                _learn(file, known)
            return batch
    file.layout = f"import mapping {mapping.name}".rstrip()
    return read_mapped(file, mapping)


def _learn(file: SourceFile, known: _Known) -> None:
    form = form_of(file)
    header = None if form is None else learn_header(file, form, plan_text(file, form))
    if header is not None and header not in known.headers:
        known.headers.insert(0, header)
        del known.headers[KNOWN_HEADERS:]
