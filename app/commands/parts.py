"""``tautograph parts``: traces in, one row (or one page) a part out, without a display."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.listener import Listener
from analysis.whole_file import whole_file
from app.commands.analyse import JOINING_RESULTS, limits_of
from app.commands.libraries import check_drawing
from app.commands.output import refuse_overwriting
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.report import known_joints, report_time, template_of, torque_unit_of, write_pages
from app.commands.run import CommandError, Run, run
from app.commands.summary import exit_code

if TYPE_CHECKING:
    from analysis.parts.part import Part, Parts

PARTS_ENDINGS = (".xlsx", ".csv", ".parquet", ".pdf", ".html", ".json")
PAGES = (".pdf", ".html")


def parts_command(arguments: BatchArguments) -> int:
    """Carry out ``tautograph parts``; returns the exit code."""
    from analysis.parts.part import find_parts
    from analysis.parts.shares import shares_of, shares_sentence, without_any_record

    ending = arguments.output.suffix.lower()
    if ending == ".pdf":
        check_drawing()
    template, unit = template_of(arguments.template), torque_unit_of(arguments.torque_unit)
    console = Console(quiet=arguments.quiet, verbose=arguments.verbose)
    found = run(arguments, PARTS_ENDINGS, console, in_fixed_order=True)
    known_joints(found.analysis, console)
    results = found.analysis.results()
    with console.step("parts"):
        parts = find_parts(found.analysis, results)
    _tell_left_out(parts, console)
    if not parts.parts:
        raise CommandError("no part: no trace names a part, by an attribute part (or serial, VIN)")
    for shares in shares_of(parts.parts):
        console.say(shares_sentence(shares))
    for part, joint in without_any_record(parts.parts):
        console.hint(f"note: {part} has no record at all of {joint}, which nearly all other parts have")
    outputs = [arguments.output] if arguments.log is None else [arguments.output, arguments.log]
    refuse_overwriting(outputs, found.inputs)
    digests, head = _recorded(parts.parts, found, arguments, console)
    with console.step("writing"), whole_file(arguments.output) as unfinished:
        if ending in PAGES:
            from analysis.catalogue.units import DisplayUnits
            from analysis.report.part_pages import part_reports

            units = None if unit is None else DisplayUnits(unit)
            reports = part_reports(
                parts.parts,
                found.analysis,
                digests,
                now=report_time(),
                template=template,
                units=units,
                head_digest=head,
            )
            write_pages(reports, unfinished, ending, Listener(console.progress))
        elif ending == JOINING_RESULTS:
            _write_joining_results(parts.parts, digests, found, unfinished)
        else:
            from analysis.parts.table import write_parts

            write_parts(parts.parts, unfinished, digests)
    console.say(f"written: {arguments.output}")
    return exit_code(one.verdict for one in parts.parts)


def _tell_left_out(parts: Parts, console: Console) -> None:
    if parts.named_by != "part":
        console.hint(f"parts are told by the attribute {parts.named_by}")
    for count, what in ((parts.without_part, "part"), (parts.without_joint, "joint")):
        if count:
            traces = "1 trace names" if count == 1 else f"{count} traces name"
            console.warn(f"{traces} no {what} and {'is' if count == 1 else 'are'} in no row")


def _write_joining_results(parts: Sequence[Part], digests: Sequence[str], found: Run, path: Path) -> None:
    """Every recording of every part by OPC 40450-1, each with its place in the history of its position."""
    from analysis.reading import write_joining_results

    rows, further = [], {}
    for part, digest in zip(parts, digests, strict=True):
        for history in part.histories:
            for number, step in enumerate(history.steps, 1):
                rows.append(step.event.row)
                details = (
                    f"{step.kind}; position {history.position or 1}: {history.words}; part: {part.verdict}"
                )
                further[step.event.trace_id] = {
                    "PartId": part.part, "JobId": digest, "SequenceNumber": number,
                    "ResultEvaluationDetails": details,
                }  # fmt: skip
    analysis = found.analysis
    limits = {name: limits_of(joint) for name, joint in analysis.joints.items()}
    traces, results = analysis.traces.take(rows), analysis.results().take(rows)
    write_joining_results(traces, path, results=results, limits=limits, further=further)


def _recorded(
    parts: Sequence[Part], found: Run, arguments: BatchArguments, console: Console
) -> tuple[list[str], str]:
    """Digest of each part's record, and of the log's last line where there is a log."""
    from analysis.parts.digests import digest_of, record_of
    from analysis.parts.record_log import add_records

    traces, results = found.analysis.traces, found.analysis.results()
    records = [record_of(one, traces, results) for one in parts]
    head = ""
    if arguments.log is not None:
        added, head = add_records(arguments.log, records)
        console.say(f"{added} new of {len(records)} records in {arguments.log}, last digest {head}")
    return [digest_of(one) for one in records], head
