"""``tautograph analyse ... --results FOLDER/``: recordings that are new to the archive are added. No Qt."""

from __future__ import annotations

import json
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis import __version__
from analysis.catalogue.verdicts import VERDICTS
from analysis.whole_file import write_whole
from app.commands.in_pieces import job_of, workers_asked
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.run import CommandError, nothing_read, read_asked
from app.commands.summary import NO_JOINT, as_text, exit_code, place_of

if TYPE_CHECKING:
    from analysis.plant.archive import Added


def archive_command(arguments: BatchArguments, console: Console, summary: Path | None) -> int:
    """Carry out ``tautograph analyse`` into an archive; returns the exit code.

    Raises TautographError or OSError.
    """
    from dataclasses import replace

    folder = arguments.output
    if folder.exists() and not folder.is_dir():
        raise CommandError(f"{folder}: is a file; an archive is a folder")
    if not folder.parent.is_dir():
        raise CommandError(f"{folder}: the folder {folder.parent} does not exist; make it first")
    inside = [name for name in arguments.inputs if folder.resolve().is_relative_to(Path(name).resolve())]
    if inside:
        raise CommandError(f"{folder}: lies in {inside[0]}, which is read; name a folder outside of it")
    if arguments.per_joint:
        raise CommandError("--per-joint: an archive has a folder for each joint already")
    asked = read_asked(arguments)
    paths = [str(path) for path in asked.paths]
    with console.step("analysis"), workers_asked(arguments, console) as workers:
        from analysis.plant.archive import add_recordings

        # Which files are looked at may depend on the clock, what is said of their traces may not.
        job = replace(job_of(arguments, asked, console), since=None)
        added = add_recordings(folder, paths, job, workers, console.progress)
    console.problems(added.problems)
    if not added.verdicts:
        raise CommandError(nothing_read(0, unfamiliar=bool(added.unfamiliar), problems=added.problems))
    counts = _by_name(added)
    _tell(added, folder, arguments, console)
    console.say(as_text(counts))
    code = exit_code(verdict for one in counts.values() for verdict in one)
    if arguments.summary is not None:
        story = json.dumps(_story(added, folder, code), ensure_ascii=False, indent=2) + "\n"
        if summary is None:
            print(story, end="", flush=True)
        else:
            write_whole(summary, story.encode("utf-8"))
    return code


def _tell(added: Added, folder: Path, arguments: BatchArguments, console: Console) -> None:
    console.say(f"{folder}: {_files(added.new)} added, {_files(added.known)} already there")
    if added.other_way:
        console.hint(
            f"{_files(added.other_way)} already there were judged by other joints, settings or another "
            "version of the program; a new folder judges them anew"
        )
    if added.without_time:
        console.hint(
            f"{added.without_time} traces do not say when they started; they stand under year=without-time"
        )
    if added.new and arguments.usual_per == "all":
        console.hint("what is usual was told per joint, among all traces added now; see --usual-per")


def _files(n: int) -> str:
    return "1 recording" if n == 1 else f"{n} recordings"


def _by_name(added: Added) -> dict[str, Counter[str]]:
    ordered = sorted(added.verdicts.items(), key=lambda item: (item[0] is None, item[0] or ""))
    return {NO_JOINT if name is None else name: counts for name, counts in ordered}


def _story(added: Added, folder: Path, code: int) -> dict[str, Any]:
    total = sum(added.verdicts.values(), Counter[str]())
    return {
        "program": "tautograph",
        "version": __version__,
        "exit_code": code,
        "traces": total.total(),
        "verdicts": {verdict: total[verdict] for verdict in VERDICTS},
        "joints": {
            name: {"traces": n.total(), "verdicts": {verdict: n[verdict] for verdict in VERDICTS}}
            for name, n in _by_name(added).items()
        },
        "recordings_added": added.new,
        "recordings_already_there": added.known,
        "not_read": [place_of(problem) for problem in added.problems if problem.fatal],
        "notes": [place_of(problem) for problem in added.problems if not problem.fatal],
        "written": [str(folder)],
    }
