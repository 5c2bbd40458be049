"""``tautograph analyse``: traces in, a table of results out, an exit code that says how it went. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.catalogue.figures import FINAL_TORQUE
from analysis.catalogue.rules import WINDOWS
from analysis.joint.definition import finite_ends
from analysis.results import RESULT_ENDINGS, write_results
from analysis.whole_file import whole_file
from app.commands.output import path_for_joint, refuse_overwriting
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.run import Run, check_output, run
from app.commands.summary import as_json, as_text, counts_by_joint, exit_code, rows_of_joint

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.joint import JointDefinition
    from analysis.reading import ValueLimits
    from app.commands.in_pieces import RunInPieces

#: Ending for joining results by OPC 40450-1, traces and values together.
JOINING_RESULTS = ".json"


@dataclass(frozen=True)
class _Rows:
    """Some rows of the results, in the form that `write_results` takes."""

    table: pa.Table

    def results(self) -> pa.Table:
        return self.table


def analyse_command(arguments: BatchArguments) -> int:
    """Carry out ``tautograph analyse``; returns the exit code."""
    summary = None if arguments.summary in (None, "-") else Path(str(arguments.summary))
    if summary is not None:
        check_output(summary, (".json",))
    on_output = arguments.summary == "-"
    console = Console(quiet=arguments.quiet or on_output, verbose=arguments.verbose)
    if arguments.into_folder:
        from app.commands.archive import archive_command

        return archive_command(arguments, console, summary)
    found: Run | RunInPieces = _run(arguments, console)
    results = found.results
    with console.step("writing"):
        written = _write(found, results, arguments)
    code = exit_code(map(str, results.column("verdict").to_pylist()))
    console.say(as_text(counts_by_joint(results)))
    for path in written:
        console.say(f"written: {path}")
    if arguments.summary is not None:
        story = as_json(found, results, [str(path) for path in written], code)
        if summary is None:
            print(story, end="", flush=True)
        else:
            with whole_file(summary) as unfinished:
                unfinished.write_text(story, encoding="utf-8", newline="\n")
    return code


def _run(arguments: BatchArguments, console: Console) -> Run | RunInPieces:
    """All traces at once; in pieces where they are many, work is shared, or periods are told apart."""
    from app.commands.in_pieces import needs_pieces, run_in_pieces

    if arguments.output.suffix.lower() != JOINING_RESULTS and needs_pieces(arguments):
        return run_in_pieces(arguments, RESULT_ENDINGS, console)
    return run(arguments, (*RESULT_ENDINGS, JOINING_RESULTS), console)


def _write(found: Run | RunInPieces, results: pa.Table, arguments: BatchArguments) -> list[Path]:
    path = arguments.output
    parts = _parts(results, path) if arguments.per_joint else {path: None}
    refuse_overwriting(parts, found.inputs)
    for target, rows in parts.items():
        # Taking rows loads all of Arrow's compute functions, and pandas with them.
        table = results.combine_chunks() if rows is None else results.take(rows)
        with whole_file(target) as unfinished:
            if isinstance(found, Run) and path.suffix.lower() == JOINING_RESULTS:
                _write_joining_results(found, table, rows, unfinished, arguments.joint)
            else:
                write_results(_Rows(table), unfinished)
    return list(parts)


def _parts(results: pa.Table, path: Path) -> dict[Path, list[int] | None]:
    names = sorted(set(results.column("joint").to_pylist()), key=lambda name: (name is None, name or ""))
    return {path_for_joint(path, name): rows_of_joint(results, name) for name in names}


def _write_joining_results(
    found: Run, results: pa.Table, rows: list[int] | None, path: Path, default_joint: str | None
) -> None:
    from analysis.reading import write_joining_results

    limits = {name: limits_of(joint) for name, joint in found.analysis.joints.items()}
    if default_joint is not None:
        limits[""] = limits[default_joint]
    traces = found.analysis.traces if rows is None else found.analysis.traces.take(rows)
    write_joining_results(traces, path, results=results, limits=limits)


def limits_of(joint: JointDefinition) -> dict[str, ValueLimits]:
    """The joint's limits by the results column that they hold for."""
    from analysis.reading import ValueLimits

    def limits(pair: tuple[float, float] | None, target: float | None = None) -> ValueLimits:
        return ValueLimits(*finite_ends(pair), target)

    found = {rule.figure.name: limits(getattr(joint, key)) for key, rule in WINDOWS.items()}
    return found | {FINAL_TORQUE.name: limits(joint.torque_limits_nm, joint.target_torque_nm)}
