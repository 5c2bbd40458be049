"""Many traces in bounded memory: read in pieces, by this process or several, judged by joint. No Qt."""

from __future__ import annotations

import os
import re
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from app.commands.inputs import input_paths
from app.commands.output import refuse_overwriting
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.run import (
    Asked,
    CommandError,
    check_output,
    named_files,
    nothing_read,
    output_files,
    read_asked,
    read_mappings,
    read_pinned,
    tell_left_out,
)

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.errors import ReadProblem
    from analysis.plant.periods import UsualPer
    from analysis.plant.pieces import Job
    from analysis.plant.workers import Workers
    from analysis.settings import Settings
    from analysis.traces import Source

#: Bytes of samples in memory from which on recordings are read in pieces, and of files that are surely fewer
#: (own choices: 15 000 traces of 1500 samples; no file packs them tighter).
MANY_BYTES, FEW_BYTES = 375_000_000, 20_000_000
_TIME_OF_DAY = re.compile(r"([01]\d|2[0-3]):[0-5]\d")


@dataclass(frozen=True)
class RunInPieces:
    """What a run in pieces found out; as `app.commands.run.Run`, but that no curve is kept."""

    results: pa.Table
    settings: Settings
    sources: tuple[Source, ...]
    problems: tuple[ReadProblem, ...]
    left_out: int
    inputs: tuple[Path, ...]


def needs_pieces(arguments: BatchArguments) -> bool:
    """Whether the traces are too many for one piece, or something was asked for that only pieces give."""
    if arguments.workers is not None or arguments.scheduler is not None or arguments.usual_per != "all":
        return True
    files = [
        file
        for path in input_paths(arguments.inputs, arguments.patterns, None)
        for file in (path.rglob("*") if path.is_dir() else [path])
        if file.is_file()
    ]
    if sum(file.stat().st_size for file in files) < FEW_BYTES:
        return False
    from analysis.plant.pieces import bytes_in_memory

    return sum(bytes_in_memory(str(file)) for file in files) > MANY_BYTES


def run_in_pieces(arguments: BatchArguments, endings: tuple[str, ...], console: Console) -> RunInPieces:
    """Read and judge what was typed, piece by piece.

    Raises
    ------
    TautographError, OSError
        As `app.commands.run.run`.
    """
    check_output(arguments.output, endings)
    asked = read_asked(arguments)
    # Workers elsewhere see what lies beside the output, not this machine's own folder for such things.
    place = None if arguments.scheduler is None else arguments.output.resolve().parent
    with (  # workers begin first: they load what they need while this process does
        workers_asked(arguments, console) as workers,
        tempfile.TemporaryDirectory(prefix=".tautograph-", dir=place) as folder,
    ):
        from analysis.plant.engine import judge_pieces
        from analysis.plant.pieces import find_recordings, plan_pieces

        job = job_of(arguments, asked, console)
        files, problems = find_recordings([str(path) for path in asked.paths])
        inputs = (*named_files(arguments), *(Path(file.path) for file in files))
        refuse_overwriting(output_files(arguments), inputs)
        with console.step("analysis"):
            judged = judge_pieces(folder, job, plan_pieces(files), workers, console.progress)
        problems += judged.problems
        console.problems(problems)
        tell_left_out(judged.too_early, arguments, console)
        if not judged.traces:
            raise CommandError(
                nothing_read(judged.too_early, unfamiliar=bool(judged.unfamiliar), problems=problems)
            )
        table = judged.table(asked.settings)
    return RunInPieces(table, asked.settings, judged.sources, tuple(problems), judged.too_early, inputs)


def job_of(arguments: BatchArguments, asked: Asked, console: Console) -> Job:
    """What is asked of every trace."""
    from analysis.plant.pieces import Job

    mapping, mappings = read_mappings(arguments)
    return Job(
        asked.joints,
        asked.settings,
        _usual(arguments),
        arguments.joint,
        mapping,
        mappings,
        asked.since,
        dict(read_pinned(arguments, console)),
        base="" if arguments.scheduler is None else os.getcwd(),
    )


@contextmanager
def workers_asked(arguments: BatchArguments, console: Console) -> Iterator[Workers]:
    """Whoever was asked to do the work. Raises CommandError or WorkersError."""
    from analysis.first_run import first_run_is_told
    from analysis.plant.worker_start import load_tasks
    from analysis.plant.workers import workers_of

    if arguments.workers is not None and arguments.workers < 1:
        raise CommandError(f"--workers {arguments.workers}: at least 1")
    with (
        first_run_is_told(console.warn),
        workers_of(arguments.workers, arguments.scheduler, load_tasks) as workers,
    ):
        yield workers


def _usual(arguments: BatchArguments) -> UsualPer:
    from zoneinfo import ZoneInfo

    from analysis.plant.periods import UsualPer

    starts = tuple(one.strip() for one in arguments.shift_starts.split(","))
    wrong = [one for one in starts if not _TIME_OF_DAY.fullmatch(one)]
    if wrong:
        raise CommandError(f"--shift-starts {arguments.shift_starts}: write 06:00,14:00,22:00")
    try:
        ZoneInfo(arguments.time_zone)
    except (KeyError, ValueError, OSError):
        raise CommandError(
            f"--time-zone {arguments.time_zone}: not known; write Europe/Vienna or UTC"
        ) from None
    return UsualPer(arguments.usual_per, starts, arguments.time_zone)
