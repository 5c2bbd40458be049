"""Arguments of the window's command, and of the commands that judge and report."""

from __future__ import annotations

import argparse
import os
from pathlib import Path

from analysis.catalogue.cautions import JUDGEMENT, NOT_MEASURED, PREVAIL
from analysis.plant.periods import PERIODS
from app.commands.parsing import (
    FAULT_EXIT,
    INPUT_HELP,
    CommandParser,
    add_choices,
    add_inputs,
    add_output,
    add_torque_unit,
    command_parser,
)

OVERVIEW = """\
Reads torque-angle traces of bolted joints, finds the zones of every curve (rundown,
drawdown, elastic, plastic), judges each against its joint's limits, and gives the reasons.

  tautograph                            open the window
  tautograph FILE_OR_FOLDER ...         open the window on these traces
  tautograph sample                     open the window on the built-in sample shift
  tautograph analyse INPUT ... --joints J.toml --results OUT.parquet
                                        judge traces without a display; write a table
  tautograph report INPUT ... --joints J.toml --out OUT.pdf
                                        write the per-joint report without a display
  tautograph study INPUT ... --joints J.toml --out OUT.pdf
                                        capability of a process or a tool
  tautograph strategy --joints J.toml --joint NAME --out OUT.pdf
                                        clamp-force scatter of each way of tightening
  tautograph parts INPUT ... --joints J.toml --out OUT.xlsx
                                        one row a part: verdict, missing, rework
  tautograph library L.toml [--joints J.toml --take NAME]
                                        joints that a plant shares: list, take, check
  tautograph verify LOG [INPUT ...]     whether records of parts are what they were
  tautograph year ARCHIVE               what moved in an archive, which tools need care
  tautograph look-back ARCHIVE --joints J.toml --out OUT.xlsx
                                        what a tool, lot or time touched, judged again
  tautograph desktop-entry              put the program into a Linux desktop's menu
"""

OVERVIEW_END = f"""\
Start with `tautograph sample`: it needs no file. Then `tautograph analyse --help` and
`tautograph report --help`. A file that bears the name of a command is opened as ./sample.

{JUDGEMENT}
"""

ANALYSE_END = f"""\
exit codes:
  0   every trace is ok
  1   some are not ok or suspect
  2   some could not be evaluated, none is not ok or suspect
  3   wrong use, or nothing could be read
  {FAULT_EXIT}

examples:
  tautograph analyse shift.parquet --joints joints.toml --results results.parquet
  tautograph analyse monday/ tuesday/ --joints joints.toml --results results.xlsx
  tautograph analyse station4/ --joints joints.toml --joint hub --results hub.csv
  tautograph analyse archive/ --since 24h --pattern "*.csv" --joints joints.toml \\
      --results night.parquet --summary night.json --quiet

{NOT_MEASURED}
{JUDGEMENT}
{PREVAIL}
"""

REPORT_END = f"""\
exit codes:
  0   the report was written
  3   wrong use, or nothing could be read or written
  {FAULT_EXIT}

examples:
  tautograph report shift.parquet --joints joints.toml --out shift.pdf
  tautograph report shift.parquet --joints joints.toml --out shift.html --per-joint
  tautograph report shift.parquet --joints joints.toml --out one.pdf --trace wheel-hub-009
  tautograph report shift.parquet --joints joints.toml --out lots.pdf \\
      --compare "lot = W-121" --against "lot = W-120"

{JUDGEMENT}
{PREVAIL}
"""


class WindowArguments(argparse.Namespace):
    """What the window was asked to open."""

    inputs: list[str]
    joints: Path | None


class DesktopArguments(argparse.Namespace):
    """Where the desktop entry goes."""

    folder: Path | None
    remove: bool


def window_parser(version: str) -> CommandParser:
    """Parser of ``tautograph [FILE_OR_FOLDER ...]``; its help is the overview."""
    parser = command_parser("tautograph", "tautograph [FILE_OR_FOLDER ...]", OVERVIEW, OVERVIEW_END)
    parser.add_argument("inputs", nargs="*", metavar="FILE_OR_FOLDER", help="traces to open in the window")
    parser.add_argument("--joints", type=Path, metavar="J.toml", help="joints file to judge them by")
    parser.add_argument("--version", action="version", version=f"tautograph {version}")
    return parser


def sample_parser() -> CommandParser:
    """Parser of ``tautograph sample``."""
    text = (
        "Opens the window on the built-in sample shift: an invented plant that builds electric\n"
        "pallet trucks, six joints, with faults put in on purpose. No other file is needed."
    )
    return command_parser("tautograph sample", "tautograph sample", text, "")


def desktop_parser() -> CommandParser:
    """Parser of ``tautograph desktop-entry``."""
    text = (
        "Puts the program into the menu of a Linux desktop, with its icon and the kinds of file\n"
        "that it opens, for this user alone."
    )
    parser = command_parser("tautograph desktop-entry", "tautograph desktop-entry [options]", text, "")
    parser.add_argument("--remove", action="store_true", help="remove it again")
    parser.add_argument(
        "--folder",
        type=Path,
        metavar="FOLDER",
        help="folder for data instead of the user's, such as /usr/local/share for everybody",
    )
    return parser


def analyse_parser() -> CommandParser:
    """Parser of ``tautograph analyse``."""
    parser = command_parser(
        "tautograph analyse",
        "tautograph analyse INPUT ... --joints J.toml --results OUT.parquet [options]",
        "Judges every trace without a display and writes one row for each.\n\n" + INPUT_HELP,
        ANALYSE_END,
    )
    add_inputs(parser)
    parser.add_argument(
        "--results",
        dest="output",
        action=_ResultsAction,
        required=True,
        metavar="OUT",
        help="the table to write: .parquet, .csv or .xlsx by its ending; .json writes joining results by "
        "OPC 40450-1, traces included; FOLDER/ is an archive of Parquet files by year, month and "
        "joint, to which recordings that it does not hold yet are added",
    )
    parser.add_argument(
        "--summary",
        metavar="OUT.json",
        help="also write counts, unread files, settings and digests for a machine; - is standard output",
    )
    add_choices(parser, "write one table for each joint, named OUT.JOINT.ending")
    _add_workers(parser)
    return parser


def _add_workers(parser: CommandParser) -> None:
    many = parser.add_argument_group("many traces: what is usual, and how the work is spread")
    many.add_argument(
        "--usual-per",
        choices=PERIODS,
        default=PERIODS[0],
        help="which traces say what is usual in a joint: all that this run judges, or those of the same "
        "day or shift; a pinned reference takes precedence",
    )
    many.add_argument(
        "--shift-starts",
        default="06:00,14:00,22:00",
        metavar="HH:MM,...",
        help="when shifts begin (default %(default)s)",
    )
    many.add_argument(
        "--time-zone", default="UTC", metavar="ZONE", help="of days and shifts, such as Europe/Vienna"
    )
    workers = many.add_mutually_exclusive_group()
    workers.add_argument(
        "--workers", type=int, metavar="N", help="spread the work over so many processes, a processor each"
    )
    workers.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="spread it over a running Dask cluster, such as tcp://server:8786, whose workers see the same "
        "files by the same names",
    )


class _ResultsAction(argparse.Action):
    """Keeps whether a folder was meant: by a stroke at the end, or since it is one."""

    def __call__(
        self, parser: object, namespace: argparse.Namespace, values: object, flag: object = None
    ) -> None:
        text = str(values)
        namespace.output = Path(text)
        namespace.into_folder = text.endswith(("/", os.sep)) or Path(text).is_dir()


def report_parser() -> CommandParser:
    """Parser of ``tautograph report``."""
    parser = command_parser(
        "tautograph report",
        "tautograph report INPUT ... --joints J.toml --out OUT.pdf [options]",
        "Judges every trace and writes the report (overview, each joint, method), without a display.\n\n"
        + INPUT_HELP,
        REPORT_END,
    )
    add_inputs(parser)
    add_output(parser, "the report to write: .pdf, .html or .xlsx by its ending")
    add_torque_unit(parser)
    parser.add_argument(
        "--only",
        metavar="FILTER",
        help='restrict the report to the traces that meet the filter, for example "lot = W-121"; --joint '
        "NAME restricts it to a joint",
    )
    parser.add_argument(
        "--trace",
        dest="traces",
        action="append",
        default=[],
        metavar="ID",
        help="restrict it to this trace, with a page of its own; repeatable",
    )
    parser.add_argument(
        "--revision",
        default="",
        metavar="TEXT",
        help="revision of the report, on its first page; left blank to fill in by hand where not given",
    )
    parser.add_argument(
        "--compare",
        metavar="FILTER",
        help="instead of the report on each joint, compare the traces that meet the filter with the others "
        'of their joint, for example "spindle = 3" or "started_at >= 2026-03-02 and lot = B"',
    )
    parser.add_argument(
        "--against", metavar="FILTER", help="compare them with these traces instead of with all others"
    )
    add_choices(parser, "write one report for each joint, named OUT.JOINT.ending")
    return parser
