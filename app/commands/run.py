"""From what was typed to an analysis: read, choose, judge. Shared by `analyse` and `report`; no Qt."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from analysis.errors import TautographError
from app.commands.inputs import input_paths, moment, rows_since
from app.commands.output import refuse_overwriting
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.settings import read_settings, with_options
from app.session.reference_file import read_references, reference_file

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.errors import ReadProblem
    from analysis.joint import JointDefinition
    from analysis.pipeline import Analysis
    from analysis.reading import ImportMapping, Reading
    from analysis.settings import Settings
    from analysis.shift.reference import ReferenceSet
    from analysis.traces import Source, TraceSet


class CommandError(TautographError):
    """A command that cannot be carried out as it was typed."""


@dataclass(frozen=True)
class Run:
    """What a command found out."""

    analysis: Analysis
    problems: tuple[ReadProblem, ...]  #: Files that were not read, and notes on files that were.
    left_out: int  #: Traces that started before --since.
    inputs: tuple[Path, ...]  #: Every file that was read; none of them is ever written to.

    @property
    def results(self) -> pa.Table:
        """The results table."""
        return self.analysis.results()

    @property
    def settings(self) -> Settings:
        """What points and verdicts were found by."""
        return self.analysis.settings

    @property
    def sources(self) -> tuple[Source, ...]:
        """Files that traces came from."""
        return self.analysis.traces.sources


@dataclass(frozen=True)
class Asked:
    """What was typed, read and checked before any recording is opened."""

    joints: dict[str, JointDefinition]
    settings: Settings
    since: datetime | None
    paths: list[Path]


def read_asked(arguments: BatchArguments) -> Asked:
    """Joints, settings, and which files to work on.

    Raises
    ------
    TautographError, OSError
        Where the joints file, the settings or an input cannot be used.
    """
    joints = read_joints(arguments)
    settings = read_settings_of(arguments)
    since = None if arguments.since is None else moment(arguments.since, datetime.now(UTC))
    return Asked(joints, settings, since, input_paths(arguments.inputs, arguments.patterns, since))


def run(
    arguments: BatchArguments, endings: tuple[str, ...], console: Console, *, in_fixed_order: bool = False
) -> Run:
    """Read and judge what was typed.

    Parameters
    ----------
    in_fixed_order : bool
        Traces by their ids, so that no figure hangs on the order of files or rows, not even its last digit.

    Raises
    ------
    TautographError, OSError
        Where the joints file, the settings, a mapping or the output cannot be used, or no trace was read.
    """
    check_output(arguments.output, endings)
    asked = read_asked(arguments)
    with console.step("reading"):
        reading = _read(asked.paths, arguments, console)
    console.problems(reading.problems)
    inputs = (*named_files(arguments), *(Path(source.path) for source in reading.sources))
    refuse_overwriting(output_files(arguments), inputs)
    traces, since = reading.traces, asked.since
    if since is not None:
        traces = traces.take(rows_since(traces, since))
    left_out = len(reading.traces) - len(traces)
    if in_fixed_order:
        traces = traces.take(sorted(range(len(traces)), key=traces.trace_ids.__getitem__))
    tell_left_out(left_out, arguments, console)
    if not len(traces):
        raise CommandError(
            nothing_read(left_out, unfamiliar=bool(reading.unfamiliar), problems=reading.problems)
        )
    with console.step("analysis"):
        references = read_pinned(arguments, console)
        analysis = _judge(
            traces,
            asked.joints,
            asked.settings,
            default_joint=arguments.joint,
            references=references,
            console=console,
        )
    return Run(analysis, tuple(reading.problems), left_out, inputs)


def tell_left_out(left_out: int, arguments: BatchArguments, console: Console) -> None:
    """Say how many traces are older than --since."""
    if left_out:
        one = left_out == 1
        words = "1 trace" if one else f"{left_out} traces"
        console.hint(f"{words} started before {arguments.since} and {'is' if one else 'are'} left out")


def named_files(arguments: BatchArguments) -> tuple[Path, ...]:
    """Files that were named one by one, whether they could be read or not."""
    kept = reference_file(str(arguments.joints))
    others = (
        arguments.joints,
        kept,
        arguments.settings,
        vars(arguments).get("template"),
        *arguments.mappings,
    )
    named = (*map(Path, arguments.inputs), *(Path(path) for path in others if path is not None))
    return tuple(path for path in named if path.is_file())


def output_files(arguments: BatchArguments) -> tuple[Path, ...]:
    """Files that will be written."""
    summary = vars(arguments).get("summary")
    return (arguments.output,) if summary in (None, "-") else (arguments.output, Path(str(summary)))


def check_output(path: Path, endings: tuple[str, ...]) -> None:
    """Refuse an output that could not be written, before any work is done.

    Raises
    ------
    CommandError
        Where the ending is unknown, the folder does not exist, or the output is a folder.
    """
    if path.suffix.lower() not in endings:
        raise CommandError(f"{path}: the ending says what to write; expected {', '.join(endings)}")
    if path.is_dir():
        raise CommandError(f"{path}: is a folder; name a file in it")
    if not path.parent.is_dir():
        raise CommandError(f"{path}: the folder {path.parent} does not exist; make it first")


def read_toml(option: str, path: Path) -> dict[str, Any]:
    """A TOML file that an option names.

    Raises
    ------
    CommandError
        Where it is none.
    OSError
    """
    from analysis.checked_text import UnusableTextError, read_text, toml

    try:
        return toml(read_text(path))
    except UnusableTextError as error:
        raise CommandError(f"{option} {path}: {error}") from None


def read_joints(arguments: BatchArguments) -> dict[str, JointDefinition]:
    """The joints file; a joint that was named must be in it. Raises TautographError."""
    from analysis.joint import load_joints

    if not arguments.joints.is_file():
        raise CommandError(f"--joints {arguments.joints}: there is no such file")
    joints = load_joints(arguments.joints)
    if arguments.joint is not None and arguments.joint not in joints:
        raise CommandError(
            f"--joint {arguments.joint}: no such joint in {arguments.joints}; it has {', '.join(joints)}"
        )
    return joints


def read_pinned(arguments: BatchArguments, console: Console) -> dict[str, ReferenceSet]:
    """Reference sets that are kept beside the joints file; what is judged by them is said."""
    kept, problem = read_references(str(arguments.joints))
    if problem:
        raise CommandError(problem)
    for joint, reference in kept.items():
        console.hint(f"{joint} is judged against its reference: {reference.words()}")
    return {joint: one.figures for joint, one in kept.items() if one.figures is not None}


def read_settings_of(arguments: BatchArguments) -> Settings:
    """Settings from their file, options laid over them."""
    from analysis.catalogue.point_rules import POINT_OPTIONS
    from analysis.settings import Settings

    chosen = Settings() if arguments.settings is None else read_settings(arguments.settings)
    return with_options(
        chosen,
        {option.key: getattr(arguments, option.key) for option in POINT_OPTIONS},
    )


def _read(paths: list[Path], arguments: BatchArguments, console: Console) -> Reading:
    from analysis.reading import read_paths

    given, found = read_mappings(arguments)
    return read_paths(paths, mapping=given, mappings=found, progress=console.progress)


def read_mappings(arguments: BatchArguments) -> tuple[ImportMapping | None, tuple[ImportMapping, ...]]:
    """The mapping given for all files, or those of which each file takes the first that fits.

    Raises TautographError or OSError.
    """
    mappings = [mapping for path in arguments.mappings for mapping in _mappings(path)]
    if len(mappings) == 1 and arguments.mappings[0].is_file():
        return mappings[0], ()
    return None, tuple(mappings)


def _mappings(path: Path) -> tuple[ImportMapping, ...]:
    """The mapping of a file, or those of a folder that colleagues share."""
    from analysis.reading import MappingLibrary, load_mapping

    if not path.is_dir():
        return (load_mapping(path),)
    library = MappingLibrary(path)
    if library.problems:
        raise library.problems[0]
    if not len(library):
        raise CommandError(f"--mapping {path}: a folder without a mapping (a file ending in .toml)")
    return library.mappings


def _judge(
    traces: TraceSet,
    joints: dict[str, JointDefinition],
    settings: Settings,
    *,
    default_joint: str | None,
    references: Mapping[str, ReferenceSet],
    console: Console,
) -> Analysis:
    from analysis.first_run import first_run_is_told
    from analysis.pipeline import analyse

    with first_run_is_told(console.warn):
        return analyse(
            traces,
            joints,
            settings,
            default_joint=default_joint,
            reference=references,
            progress=console.progress,
        )


def nothing_read(left_out: int, *, unfamiliar: bool, problems: Sequence[ReadProblem]) -> str:
    """Why there is no trace to judge."""
    if left_out:
        words = "the only trace" if left_out == 1 else f"all {left_out} traces"
        return f"nothing to judge: {words} started earlier"
    if unfamiliar:
        return (
            "nothing could be read: no known layout fits; open one of the files in the window to say which "
            "column is what, save that as a mapping, and give it with --mapping"
        )
    if problems:
        return "nothing could be read: every file has a problem, listed above"
    return "nothing could be read: there is no trace file in what was named"
