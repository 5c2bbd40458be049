"""``tautograph report``: traces in, the per-joint report out, without a display."""

from __future__ import annotations

import os
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.listener import Listener
from analysis.whole_file import whole_file
from app.commands.chosen import chosen_traces
from app.commands.libraries import check_drawing
from app.commands.output import path_for_joint, refuse_overwriting
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.run import CommandError, run
from app.commands.summary import as_text, counts_by_joint
from app.session.report_work import write_report

if TYPE_CHECKING:
    from analysis.pipeline import Analysis
    from analysis.report import JointReport, ReportTemplate

REPORT_ENDINGS = (".pdf", ".html", ".xlsx")


def report_command(arguments: BatchArguments) -> int:
    """Carry out ``tautograph report``; returns the exit code."""
    ending = arguments.output.suffix.lower()
    if ending == ".pdf":
        check_drawing()
    if arguments.against is not None and arguments.compare is None:
        raise CommandError("--against FILTER needs --compare FILTER: what is to be held against it")
    template, unit = template_of(arguments.template), torque_unit_of(arguments.torque_unit)
    console = Console(quiet=arguments.quiet, verbose=arguments.verbose)
    found = run(arguments, REPORT_ENDINGS, console)
    console.say(as_text(counts_by_joint(found.analysis.results())))
    with console.step("report"):
        parts = _parts(found.analysis, template, unit, arguments, console)
        refuse_overwriting(parts, found.inputs)
        for path, part in parts.items():
            with whole_file(path) as unfinished:
                write_pages(part, unfinished, ending, Listener(console.progress))
    for path in parts:
        console.say(f"written: {path}")
    return 0


def report_time() -> datetime:
    """The time that a report bears: now, or SOURCE_DATE_EPOCH where reproducible files are wanted."""
    fixed = os.environ.get("SOURCE_DATE_EPOCH")
    if fixed is None:
        return datetime.now().astimezone()
    try:
        return datetime.fromtimestamp(int(fixed), UTC)
    except (ValueError, OverflowError, OSError):
        raise CommandError(f"SOURCE_DATE_EPOCH is {fixed!r}; expected seconds since 1970") from None


def _parts(
    analysis: Analysis,
    template: ReportTemplate | None,
    unit: str | None,
    arguments: BatchArguments,
    console: Console,
) -> dict[Path, Sequence[JointReport]]:
    """The reports of each file."""
    from analysis.report import build_document

    known = known_joints(analysis, console)
    now, path = report_time(), arguments.output
    if arguments.compare is not None:
        from app.commands.compare import comparisons

        compared = comparisons(
            analysis, known, arguments.compare, arguments.against,
            now=now, template=template, unit=unit, console=console,
        )  # fmt: skip
        if not arguments.per_joint:
            return {path: compared}
        return {path_for_joint(path, report.joint or None): [report] for report in compared}
    chosen = chosen_traces(analysis, arguments.joint, arguments.only, arguments.traces)
    files = {path_for_joint(path, name): [name] for name in known} if arguments.per_joint else {path: known}
    documents = {
        file: build_document(
            analysis, names, chosen_rows=chosen.pages, only_rows=chosen.rows, covers=chosen.words,
            revision=arguments.revision, now=now, template=template, torque_unit=unit,
            listener=Listener(console.progress),
        )
        for file, names in files.items()
    }  # fmt: skip
    return {file: document for file, document in documents.items() if document}


def known_joints(analysis: Analysis, console: Console) -> list[str]:
    """Joints of the joints file that have traces; how many traces belong to none is told."""
    names = analysis.results().column("joint").to_pylist()
    known = [name for name in analysis.joints if name in set(names)]
    if not known:
        raise CommandError(
            "no trace belongs to a joint of the joints file; --joint NAME gives one to traces that name none"
        )
    without = sum(name not in analysis.joints for name in names)
    if without:
        words = "1 trace belongs" if without == 1 else f"{without} traces belong"
        where = "is in no report" if without == 1 else "are in no report"
        console.warn(f"{words} to no joint of the joints file and {where}")
    return known


def torque_unit_of(text: str | None) -> str | None:
    """Symbol of the torque unit that was typed, where one was."""
    from analysis.traces.units import TORQUE_UNITS, find_unit

    unit = None if text is None else find_unit(text)
    if text is not None and (unit is None or unit.symbol not in TORQUE_UNITS):
        raise CommandError(f"--torque-unit {text}: no unit of torque; known: {', '.join(TORQUE_UNITS)}")
    return None if unit is None else unit.symbol


def template_of(path: Path | None) -> ReportTemplate | None:
    """The site's template, where one was named."""
    from analysis.report import load_template

    return None if path is None else load_template(path)


def write_pages(reports: Sequence[JointReport], path: Path, ending: str, listener: Listener) -> None:
    """Write reports as the ending says."""
    if ending == ".pdf":
        # No screen is needed, and none may change the result: the fonts are the program's own.
        os.environ["QT_QPA_PLATFORM"] = "offscreen"
    write_report(reports, path, listener)
