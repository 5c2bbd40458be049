"""``tautograph look-back``: an archive in, what was touched judged again and listed out; no display."""

from __future__ import annotations

import math
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from analysis.listener import Listener
from analysis.whole_file import whole_file
from app.commands.inputs import moment
from app.commands.libraries import check_drawing
from app.commands.progress import Console
from app.commands.record_arguments import LookBackArguments
from app.commands.report import report_time, template_of, write_pages
from app.commands.run import CommandError, check_output, read_joints, read_settings_of

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.plant.look_back import LookBack

LOOK_BACK_ENDINGS = (".pdf", ".html", ".xlsx", ".csv", ".parquet")
#: Errors of more than this are no calibration's, but a wrong unit or sign (own choice).
_LARGEST_PERCENT = 50.0


def look_back_command(arguments: LookBackArguments) -> int:
    """Carry out ``tautograph look-back``; returns the exit code."""
    check_output(arguments.output, LOOK_BACK_ENDINGS)
    if arguments.output.suffix.lower() == ".pdf":
        check_drawing()
    error = arguments.error_percent
    if error is not None and not (math.isfinite(error) and abs(error) <= _LARGEST_PERCENT):
        raise CommandError(
            f"--error-percent {error:g}: expected -{_LARGEST_PERCENT:g} to {_LARGEST_PERCENT:g}"
        )
    arguments.joint = None
    console = Console(quiet=arguments.quiet, verbose=arguments.verbose)
    joints, settings = read_joints(arguments), read_settings_of(arguments)
    from analysis.first_run import first_run_is_told
    from analysis.plant.look_back import Touched, look_back
    from analysis.plant.pieces import Job
    from analysis.plant.workers import Alone

    now = datetime.now(UTC)
    touched = Touched(
        arguments.tool,
        arguments.spindle,
        arguments.lot,
        arguments.only_joint,
        None if arguments.since is None else moment(arguments.since, now),
        None if arguments.until is None else moment(arguments.until, now),
    )
    if touched == Touched():
        raise CommandError("say what was touched: --tool, --spindle, --lot, --only-joint, --from or --to")
    with console.step("looking back"), first_run_is_told(console.warn):
        found = look_back(
            arguments.archive, touched, error, Job(joints, settings), Alone(), progress=console.progress
        )
    for sentence in found.sentences():
        console.say(sentence)
    with console.step("writing"), whole_file(arguments.output) as unfinished:
        _write(found, unfinished, arguments)
    console.say(f"written: {arguments.output}")
    return int(found.contained.num_rows > 0)


def _write(found: LookBack, path: Path, arguments: LookBackArguments) -> None:
    from analysis.plant.look_back_record import look_back_report, write_table

    ending = path.suffix.lower()
    if ending in (".pdf", ".html"):
        report = look_back_report(
            found, arguments.archive.name, report_time(), template_of(arguments.template)
        )
        write_pages([report], path, ending, Listener())
    else:
        write_table(found, path)
