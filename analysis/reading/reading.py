"""Files and folders to one set of traces; what cannot be read is listed, nothing stops the rest."""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import pyarrow as pa

from analysis.errors import ReadError, ReadProblem, UnfamiliarLayoutError
from analysis.reading.batch import Batch, join_batches
from analysis.reading.layouts import choose_layout, endings
from analysis.reading.source_file import SourceFile, find_files
from analysis.traces import Source, TraceSet

Progress = Callable[[int, int, str], None]
Cancelled = Callable[[], bool]

#: Files, and bytes, that are read as one piece of work (own choice: enough to spread the cost of a parse).
FILES_AT_ONCE = 64
BYTES_AT_ONCE = 4_000_000
THREADS = 2
_PIECES_AHEAD = 4
_SECONDS_BETWEEN_REPORTS = 0.05
#: What damaged bytes make the format libraries raise.
DAMAGE = (pa.ArrowException, OSError, ValueError, LookupError, ArithmeticError, MemoryError, EOFError)


@dataclass(frozen=True)
class Reading:
    """What came of the files.

    Attributes
    ----------
    traces : TraceSet
    problems : tuple of ReadProblem
        In order of the files. Fatal ones stand for a file or a trace that was left out, the others are notes.
    unfamiliar : tuple of str
        Files that need an import mapping; each is also among the problems.
    sources : tuple of Source
        Files that traces came from, with digests.
    cancelled : bool
        True where the user cancelled; the traces are then those of the files read before.
    """

    traces: TraceSet
    problems: tuple[ReadProblem, ...] = ()
    unfamiliar: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()
    cancelled: bool = False


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
    progress: Progress | None = None,
    cancelled: Cancelled | None = None,
) -> Reading:
    """Read files and folders.

    Parameters
    ----------
    paths : iterable of path
        Files, and folders that are searched to any depth.
    progress : callable (done, total, text), optional
        Called at most twenty times a second, from the calling thread; counts files.
    cancelled : callable, optional
        Asked between pieces of work; True stops, and what was read so far is returned.

    Returns
    -------
    Reading
        Bad input never raises: it is listed.
    """
    files, problems = find_files(paths, endings())
    outcomes, stopped = _work(files, progress, cancelled)
    listed = [problem for outcome in outcomes for problem in outcome.problems]
    batches = [batch for outcome in outcomes for batch in outcome.batches]
    traces, joined = join_batches(batches, files)
    if stopped:
        done = sum(outcome.n_files for outcome in outcomes)
        problems.append(
            ReadProblem(
                "", None, f"reading cancelled after {done} of {len(files)} files", "all files",
                "open the rest again", fatal=False,
            )
        )  # fmt: skip
    return Reading(
        traces,
        (*problems, *(problem for _, problem in sorted(listed, key=lambda pair: pair[0])), *joined),
        tuple(path for outcome in outcomes for path in outcome.unfamiliar),
        traces.sources,
        stopped,
    )


def _work(
    files: Sequence[SourceFile], progress: Progress | None, cancelled: Cancelled | None
) -> tuple[list[_Outcome], bool]:
    outcomes: list[_Outcome] = []
    waiting: deque[Future[_Outcome]] = deque()
    done, last_report = 0, 0.0
    with ThreadPoolExecutor(THREADS) as pool:
        pieces = _pieces(files)
        while True:
            if cancelled is not None and cancelled():
                for future in waiting:
                    future.cancel()
                return outcomes, True
            while len(waiting) < _PIECES_AHEAD and (piece := next(pieces, None)) is not None:
                waiting.append(pool.submit(_read_piece, piece))
            if not waiting:
                return outcomes, False
            outcomes.append(waiting.popleft().result())
            done += outcomes[-1].n_files
            now = time.monotonic()
            if progress is not None and (now - last_report > _SECONDS_BETWEEN_REPORTS or done == len(files)):
                last_report = now
                progress(done, len(files), files[done - 1].path)


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


def _read_piece(files: Sequence[SourceFile]) -> _Outcome:
    outcome = _Outcome(len(files))
    for file in files:
        _read_one(file, outcome)
    return outcome


def _read_one(file: SourceFile, outcome: _Outcome) -> None:
    """Read one file, or list why not: the one place where a file's trouble is caught."""
    try:
        layout = choose_layout(file)
        file.layout = layout.name
        outcome.batches.append(layout.read(file))
        _ = file.digest
    except UnfamiliarLayoutError as error:
        outcome.unfamiliar.append(file.path)
        outcome.problems.append((file.index, error.problem))
    except ReadError as error:
        outcome.problems.append((file.index, error.problem))
    except DAMAGE as error:
        text = (str(error).splitlines() or [type(error).__name__])[0]
        problem = file.problem(
            None, f"damaged content ({text[:200]})", "a sound file", "export the file again"
        )
        outcome.problems.append((file.index, problem))
    finally:
        file.forget()
