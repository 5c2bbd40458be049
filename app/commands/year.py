"""``tautograph year``: an archive in, what moved in it and which tools need care out; no display."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.catalogue.units import DisplayUnits
from analysis.listener import Listener
from analysis.whole_file import whole_file
from app.commands.libraries import check_drawing
from app.commands.progress import Console
from app.commands.record_arguments import YearArguments
from app.commands.report import report_time, torque_unit_of, write_pages
from app.commands.run import CommandError, check_output

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.plant.calibration import Standing
    from analysis.plant.tool_care import ToolCare
    from analysis.plant.year import Event, Year

YEAR_ENDINGS = (".pdf", ".html", ".xlsx", ".csv", ".parquet")
#: Changes and tools that are printed; the table has them all (own choice).
_PRINTED = 20


def year_command(arguments: YearArguments) -> int:
    """Carry out ``tautograph year``; returns the exit code."""
    from analysis.plant.calibration import standings, untold_words
    from analysis.plant.reading_back import read_days, read_events, read_rows
    from analysis.plant.tool_care import care_of_tools
    from analysis.plant.weekly import OF_DAYS, weeks_of, weeks_of_days
    from analysis.plant.year import events_of, look_at_year, lots_of
    from analysis.plant.year_traces import NEEDED, traces_of

    units = DisplayUnits(torque_unit_of(arguments.torque_unit) or "N·m")
    if arguments.output is not None:
        check_output(arguments.output, YEAR_ENDINGS)
        if arguments.output.suffix.lower() == ".pdf":
            check_drawing()
    console = Console(quiet=arguments.quiet, verbose=arguments.verbose)
    with console.step("reading"):
        days = read_days(arguments.archive, [*OF_DAYS, "lot"])
        fast = arguments.from_days
        weeks = weeks_of_days(days) if fast else weeks_of(traces_of(read_rows(arguments.archive, NEEDED)))
    if not weeks.joints:
        raise CommandError(
            f"{arguments.archive}: no trace says its joint, its spindle (or tool) and when it started"
        )
    with console.step("looking"):
        written = read_events(arguments.archive)
        events, lots = events_of(written), lots_of(days)
        year = look_at_year(weeks, events, lots)
        calibrations = standings(written.to_pylist(), weeks.spindles, weeks.end)
        care = care_of_tools(year)
    console.say(year.control_sentence())
    for change in year.changes[:_PRINTED]:
        console.say(f"- {change.sentence(units)}")
    if not year.changes:
        console.say("- no step or drift found")
    for tool in [one for one in care if one.weeks_left is not None][:_PRINTED]:
        console.say(f"- {tool.sentence()}")
    for known in [one for one in calibrations if one.plan is not None][:_PRINTED]:
        console.say(f"- {known.words}")
    if untold := untold_words(calibrations):
        console.say(f"- {untold}")
    if arguments.output is not None:
        with console.step("writing"), whole_file(arguments.output) as unfinished:
            _write(
                year,
                care,
                unfinished,
                events=[*events, *lots],
                calibrations=calibrations,
                archive=arguments.archive.name,
                units=units,
            )
        console.say(f"written: {arguments.output}")
    return int(bool(year.changes))


def _write(
    year: Year,
    care: list[ToolCare],
    path: Path,
    *,
    events: list[Event],
    calibrations: list[Standing],
    archive: str,
    units: DisplayUnits,
) -> None:
    ending = path.suffix.lower()
    if ending in (".pdf", ".html"):
        from analysis.plant.year_report import year_report

        report = year_report(
            year, care, archive, report_time(), events=events, calibrations=calibrations, units=units
        )
        write_pages([report], path, ending, Listener())
    else:
        from analysis.plant.year_tables import write_year

        write_year(year, care, path, calibrations)
