"""The archive: results in Parquet by year, month and joint, each recording once, whatever interrupts it.

::

    FOLDER/year=2026/month=03/joint=hub/RUN.parquet     a row a trace
    FOLDER/_days/RUN.parquet    a row a day, see `analysis.plant.day_rows`: one file, for it is opened often
    FOLDER/_inputs/RUN.json     which files were judged, by their digests, how, and what came of them
    FOLDER/_unfinished/RUN/     work of a run that has not ended

RUN tells the inputs of a run, the joints and the settings by a digest: the same inputs make the same files.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import shutil
import time
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

import pyarrow as pa

from analysis import __version__
from analysis.checked_text import KEPT_WORK_BYTES, UnusableTextError, json_data, read_text
from analysis.errors import ReadProblem
from analysis.plant.day_rows import KEYS
from analysis.plant.joint_files import JointFiles, Run, write_joint, write_parquet
from analysis.plant.names import DAYS, INPUTS, LOOKING_BACK, UNFINISHED
from analysis.plant.one_writer import only_writer
from analysis.plant.pieces import Job, digests_of, find_recordings, plan_pieces
from analysis.plant.reading_back import ArchiveError
from analysis.plant.table_file import read_table
from analysis.plant.workers import Progress, Workers
from analysis.reading.source_file import SourceFile
from analysis.whole_file import whole_file, write_whole

if TYPE_CHECKING:
    from analysis.plant.engine import Judged

#: Work that was given up is cleared away after this time (own choice: a weekend and a long repair).
_LEFT_BEHIND_S = 14 * 86_400.0
#: Into so many tasks files are parted whose digests are wanted (own choice: a hundred steps of progress).
_DIGEST_TASKS = 100


@dataclass(frozen=True)
class Added:
    """What adding recordings to an archive came to."""

    #: Joint name (None: no joint) to Counter: of all named recordings, those that were there already
    #: included.
    verdicts: dict[str | None, Counter[str]]
    #: Files that were judged now, and those that were there already.
    new: int
    known: int
    other_way: int  #: Of the latter, files that were judged by other joints, settings or another version.
    without_time: int  #: New traces that do not say when they started.
    problems: tuple[ReadProblem, ...]
    unfamiliar: tuple[str, ...]


def add_recordings(
    folder: Path, paths: Iterable[str], job: Job, workers: Workers, progress: Progress | None = None
) -> Added:
    """Judge the recordings that the archive does not hold yet, and add their results.

    Raises TautographError or OSError.

    Parameters
    ----------
    folder : Path
        Made where it is not there.
    paths : iterable of str
        Files and folders.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with only_writer(folder):
        return _add(folder, paths, job, workers, progress)


def _add(folder: Path, paths: Iterable[str], job: Job, workers: Workers, progress: Progress | None) -> Added:
    from analysis.plant.engine import judge_pieces

    finish_interrupted(folder)
    files, problems = find_recordings(paths)
    digests, unread = _digests(files, job.base, workers, progress)
    problems += unread
    held = inputs_of(folder)
    fresh: dict[str, SourceFile] = {}
    for file, digest in digests:
        if digest not in held:
            fresh.setdefault(digest, file)
    way, without_time = _way(job), 0
    unfamiliar: tuple[str, ...] = ()
    if fresh:
        run = Run(_run_name(fresh, way), way)
        stage = folder / UNFINISHED / run.name
        stage.mkdir(parents=True, exist_ok=True)
        judged = judge_pieces(str(stage.resolve()), job, plan_pieces(list(fresh.values())), workers, progress)
        problems += judged.problems
        unfamiliar = judged.unfamiliar
        written = _write_results(stage, run, judged.groups, workers, progress)
        _make_ready(stage, run, job.base, judged, written)
        without_time = sum(one.without_time for _, one in written)
        _publish(folder, stage)
    held = inputs_of(folder)
    named = {digest for _, digest in digests}
    return Added(
        _counted(held[digest] for digest in named if digest in held),
        sum(digest in held for digest in fresh),
        len(named & held.keys()) - sum(digest in held for digest in fresh),
        sum(held[digest]["way"] != way for digest in named if digest in held and digest not in fresh),
        without_time,
        tuple(problems),
        unfamiliar,
    )


def finish_interrupted(folder: Path) -> None:
    """Put in place what an interrupted run had ready; clear away work that was given up long ago.

    Raises ArchiveError or OSError.
    """
    for stage in sorted([*(folder / UNFINISHED).glob("*"), *folder.glob(f"{LOOKING_BACK}*")]):
        if stage.is_symlink() or not stage.is_dir():  # none of ours
            continue
        if (stage / _READY).exists():
            _publish(folder, stage)
        elif time.time() - stage.stat().st_mtime > _LEFT_BEHIND_S:
            shutil.rmtree(stage)


def inputs_of(folder: Path) -> dict[str, dict[str, Any]]:
    """What is kept of each recording that the archive holds, by its digest.

    Raises ArchiveError or OSError.
    """
    held: dict[str, dict[str, Any]] = {}
    for file in sorted((folder / INPUTS).glob("*.json")):
        run = _read_story(file)
        for one in run["inputs"]:
            held[one["digest"]] = one | {"way": run["way"], "run": run["run"]}
    return held


_READY = "ready.json"
#: What a run's story must hold.
_STORY = {"run": str, "way": dict, "inputs": list, "files": list}


def _read_story(file: Path) -> dict[str, Any]:
    """What a run wrote down of itself. Raises ArchiveError or OSError."""
    try:
        story = json_data(read_text(file, KEPT_WORK_BYTES))
    except UnusableTextError as error:
        raise ArchiveError(f"{file}: {error}; put back a copy of this file") from None
    if not (
        isinstance(story, dict)
        and all(isinstance(story.get(key), kind) for key, kind in _STORY.items())
        and all(map(_is_input, story["inputs"]))
        and all(map(_inside, (story["run"], *story["files"])))
    ):
        raise ArchiveError(f"{file}: is no list of what a run judged; put back a copy of this file")
    return story


def _is_input(one: Any) -> bool:
    """Whether it names a file, its digest, and how many traces of each joint have which verdict."""
    return (
        isinstance(one, dict)
        and all(isinstance(one.get(key), str) for key in ("path", "digest"))
        and isinstance(counts := one.get("verdicts"), list)
        and all(isinstance(count, list) and len(count) == 3 for count in counts)
        and all(
            isinstance(joint, str | None) and isinstance(verdict, str) and isinstance(n, int)
            for joint, verdict, n in counts
        )
    )


def _inside(name: object) -> bool:
    """Whether a name that stands in a file leads nowhere but into the archive."""
    place = PurePath(str(name))
    return (
        isinstance(name, str)
        and "\0" not in name
        and not place.is_absolute()
        and not place.drive
        and ".." not in place.parts
    )


def _digests(
    files: Sequence[SourceFile], base: str, workers: Workers, progress: Progress | None
) -> tuple[list[tuple[SourceFile, str]], list[ReadProblem]]:
    """Files with their digests; where they are many, a task takes several."""
    most = max(1, len(files) // _DIGEST_TASKS)
    parts = [files[k : k + most] for k in range(0, len(files), most)]
    tasks = [([file.path for file in part], base) for part in parts]
    told = [
        one for part in workers.run(digests_of, tasks, progress, "which recordings are new") for one in part
    ]
    found = [(file, one) for file, one in zip(files, told, strict=True) if isinstance(one, str)]
    return found, [one for one in told if not isinstance(one, str)]


def _way(job: Job) -> dict[str, Any]:
    """How traces are judged, so that results of two ways can be told apart."""
    definitions = hashlib.sha256(repr(sorted(job.joints.items())).encode())
    for name, pinned in sorted(job.reference.items()):
        definitions.update(repr((name, pinned)).encode())
    return {
        "version": __version__,
        "settings": job.settings.as_dict(),
        "usual": job.usual.words(),
        "default_joint": job.default_joint,
        "definitions": definitions.hexdigest(),
    }


def _run_name(fresh: Mapping[str, SourceFile], way: Mapping[str, Any]) -> str:
    text = json.dumps([sorted(fresh), way], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def _write_results(
    stage: Path,
    run: Run,
    groups: Iterable[tuple[str | None, str]],
    workers: Workers,
    progress: Progress | None,
) -> list[tuple[str | None, JointFiles]]:
    """Write the results of each joint beside each other; gives what was written of which joint."""
    shutil.rmtree(stage / "ready", ignore_errors=True)
    paths: dict[str | None, list[str]] = {}
    for joint, path in groups:
        paths.setdefault(joint, []).append(path)
    tasks = [(str(stage.resolve()), k, run, joint, paths[joint]) for k, joint in enumerate(paths)]
    return list(zip(paths, workers.run(write_joint, tasks, progress, "files"), strict=True))


def _make_ready(
    stage: Path, run: Run, base: str, judged: Judged, written: Sequence[tuple[str | None, JointFiles]]
) -> None:
    """Write a run's day rows beside its results, and last the list of all of its files."""
    names = [name for _, one in written for name in one.names]
    if written:
        names.append(f"{DAYS}/{run.name}.parquet")
        # Many small files, of a run each, are opened at once: what tells of each column would take longest.
        plain = {"write_statistics": False, "use_dictionary": list(KEYS)}
        days = pa.concat_tables([read_table(Path(one.days)) for _, one in written])
        write_parquet(stage / "ready" / names[-1], days, run, plain)
    counts: dict[str, Counter[tuple[str | None, str]]] = {}
    for joint, one in written:
        for (digest, verdict), n in one.counts.items():
            counts.setdefault(digest, Counter())[joint, verdict] += n
    inputs = [
        {
            "path": os.path.abspath(os.path.join(base, source.path)),
            "digest": source.digest,
            "verdicts": _listed(counts.get(source.digest, Counter())),
        }
        for source in judged.sources
    ]
    story = {"run": run.name, "way": run.way, "inputs": inputs, "files": sorted(names)}
    write_whole(stage / _READY, json.dumps(story, ensure_ascii=False, indent=1, sort_keys=True).encode())


def _publish(folder: Path, stage: Path) -> None:
    """Move what is ready into its places; what was moved before an interruption stays where it is."""
    story = _read_story(stage / _READY)
    for name in story["files"]:
        ready = stage / "ready" / name
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        if ready.exists():
            _move(ready, folder / name)
    (folder / INPUTS).mkdir(exist_ok=True)
    write_whole(folder / INPUTS / f"{story['run']}.json", (stage / _READY).read_bytes())
    shutil.rmtree(stage)
    if not any((folder / UNFINISHED).iterdir()):
        (folder / UNFINISHED).rmdir()


def _move(source: Path, target: Path) -> None:
    """Put a file in its place, whole, also where that lies on another file system."""
    try:
        os.replace(source, target)
    except OSError as error:
        if error.errno != errno.EXDEV:
            raise
        with whole_file(target) as unfinished:
            shutil.copyfile(source, unfinished)
        source.unlink()


def _listed(counts: Counter[tuple[str | None, str]]) -> list[list[Any]]:
    ordered = sorted(counts.items(), key=lambda item: (item[0][0] is None, item[0][0] or "", item[0][1]))
    return [[joint, verdict, n] for (joint, verdict), n in ordered]


def _counted(inputs: Iterable[Mapping[str, Any]]) -> dict[str | None, Counter[str]]:
    counts: dict[str | None, Counter[str]] = {}
    for one in inputs:
        for joint, verdict, n in one["verdicts"]:
            counts.setdefault(joint, Counter())[verdict] += n
    return counts
