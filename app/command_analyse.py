"""``tautograph analyse``: traces in, a table of results out, an exit code that says how it went. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.results import RESULT_ENDINGS, write_results
from app.command_arguments import BatchArguments
from app.command_output import path_for_joint, whole_file
from app.command_progress import Teller
from app.command_run import check_output, run
from app.command_summary import as_json, as_text, counts_by_joint, exit_code, rows_of_joint

if TYPE_CHECKING:
    import pyarrow as pa


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
    teller = Teller(quiet=arguments.quiet or on_output, verbose=arguments.verbose)
    found = run(arguments, RESULT_ENDINGS, teller)
    results = found.analysis.results()
    with teller.step("writing"):
        written = _write(results, arguments.output, arguments.per_joint)
    code = exit_code(map(str, results.column("verdict").to_pylist()))
    teller.say(as_text(counts_by_joint(results)))
    for path in written:
        teller.say(f"written: {path}")
    if arguments.summary is not None:
        story = as_json(found, results, [str(path) for path in written], code)
        if summary is None:
            print(story, end="", flush=True)
        else:
            with whole_file(summary) as unfinished:
                unfinished.write_text(story, encoding="utf-8", newline="\n")
    return code


def _write(results: pa.Table, path: Path, per_joint: bool) -> list[Path]:
    parts = _parts(results, path) if per_joint else {path: results}
    for target, table in parts.items():
        with whole_file(target) as unfinished:
            write_results(_Rows(table), unfinished)
    return list(parts)


def _parts(results: pa.Table, path: Path) -> dict[Path, pa.Table]:
    names = sorted(set(results.column("joint").to_pylist()), key=lambda name: (name is None, name or ""))
    return {path_for_joint(path, name): rows_of_joint(results, name) for name in names}
