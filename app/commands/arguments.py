"""What can be typed after ``tautograph``: the parsers and their help."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path
from typing import Literal, NoReturn

#: Exit code for wrong use, and where nothing could be read.
WRONG_USE = 3

OVERVIEW = """\
Reads torque-angle traces of bolted joints, finds the zones of every curve (rundown,
drawdown, elastic, plastic), judges each against its joint's limits, and says why.

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
  tautograph verify LOG [INPUT ...]     whether records of parts are what they were
  tautograph year ARCHIVE               what moved in an archive, which tools want care
  tautograph look-back ARCHIVE --joints J.toml --out OUT.xlsx
                                        what a tool, lot or time touched, judged again
  tautograph desktop-entry              put the program into a Linux desktop's menu
"""

OVERVIEW_END = """\
Start with `tautograph sample`: it needs no file. Then `tautograph analyse --help` and
`tautograph report --help`. A file that bears the name of a command is opened as ./sample.

Results support the judgement of a qualified engineer and never replace it.
"""

INPUT_HELP = """\
INPUT is a file, a folder (searched with its subfolders) or a pattern in quotes such as
"shift/**/*.csv". Read are Parquet, Arrow and CSV, one row a trace or a sample or one file a
trace, and joining results by OPC 40450-1 as JSON; other layouts with a mapping (--mapping).
A file that cannot be read is listed on standard error with its line, what was found and
what was expected; the others are judged all the same.
"""

ANALYSE_END = """\
exit codes:
  0   every trace is ok
  1   some are not ok or suspect
  2   some could not be evaluated, none is not ok or suspect
  3   wrong use, or nothing could be read
  70  a fault in this program (please report it); 130 stopped by the keyboard

examples:
  tautograph analyse shift.parquet --joints joints.toml --results results.parquet
  tautograph analyse monday/ tuesday/ --joints joints.toml --results results.xlsx
  tautograph analyse station4/ --joints joints.toml --joint hub --results hub.csv
  tautograph analyse archive/ --since 24h --pattern "*.csv" --joints joints.toml \\
      --results night.parquet --summary night.json --quiet

Estimated clamp force is not measured clamp force. Results support the judgement of a
qualified engineer and never replace it; local codes and the product's specification prevail.
"""

REPORT_END = """\
exit codes:
  0   the report was written
  3   wrong use, or nothing could be read or written
  70  a fault in this program (please report it); 130 stopped by the keyboard

examples:
  tautograph report shift.parquet --joints joints.toml --out shift.pdf
  tautograph report shift.parquet --joints joints.toml --out shift.html --per-joint
  tautograph report shift.parquet --joints joints.toml --out one.pdf --trace wheel-hub-009
  tautograph report shift.parquet --joints joints.toml --out lots.pdf \\
      --compare "lot = W-121" --against "lot = W-120"

Results support the judgement of a qualified engineer and never replace it; local codes and
the product's specification prevail.
"""


STUDY_END = """\
exit codes:
  0   every index that was studied is shown at least as high as wanted
  1   one is not met
  2   one is met but not shown: more tightenings, or a better index, would show it
  3   wrong use, or nothing could be read
  70  a fault in this program (please report it); 130 stopped by the keyboard

the study's file, every key optional:
  [study]
  kind = "process"              # or "machine", "tool-over-joints"
  only = 'lot = "W-120"'        # a filter, as the window has it
  traces = "first"              # or "last", "sound", "all"
  quantity = ["final_torque"]   # also angle, clamp_force, residual_torque
  wanted_cpk = 1.67             # to be shown at this confidence, one-sided:
  confidence = 0.95
  subgroup = "part"             # an attribute, a number of successive traces, or "none"
  shape = "auto"                # or "normal", "lognormal", "shifted lognormal", where it is known
  streams = "spindle"           # each of them is studied on its own too
  reference = "reference_torque_nm"                      # column with a reference reading
  gauge_nm = 0.2                # standard uncertainty of the measuring chain
  hard = 'joint = "testjoint-hard"'                      # tool over a hard and a soft joint
  soft = 'joint = "testjoint-soft"'
The same keys, but for kind, only, hard, soft and reference, stand under [joints.NAME.capability].

examples:
  tautograph study shift.parquet --joints joints.toml --out study.pdf
  tautograph study run.parquet --joints joints.toml --study study.toml --out study.json

An index judges the traces studied, against the limits given, and nothing else. Results support
the judgement of a qualified engineer and never replace it.
"""

STRATEGY_END = """\
settings, each one standard deviation:
  snug_torque_nm = 20.0
  torque_scatter_percent = 1.0
  snug_torque_scatter_percent = 3.0
  angle_scatter_deg = 1.0
  stiffness_scatter_percent = 3.0
  friction_correlation = 0.0    # of thread and bearing friction

exit codes:
  0   written
  3   wrong use, or the joint does not say enough
  70  a fault in this program (please report it); 130 stopped by the keyboard

examples:
  tautograph strategy --joints joints.toml --joint hub --out hub.pdf
  tautograph strategy shift.parquet --joints joints.toml --joint hub --settings s.toml --out hub.json

Clamp force is computed from friction, stiffness and strength as stated, not measured. Results
support the judgement of a qualified engineer and never replace it.
"""


PARTS_END = """\
A row is one part and one joint. Columns: part, joint, verdict (worst final state of all expected
positions), positions_expected, positions_found, missing_positions, attempts (tightenings begun
anew, over all positions), reworked_positions, first_pass_ok, clamp_force_sum_low_kn,
clamp_force_sum_high_kn, evenness (highest over lowest clamp force); then, in .xlsx, one for each
position. The part is the attribute part (or serial, VIN), its order that of started_at.

keys of a joint, all optional; without positions no part is ok, for a record may be missing:
  positions = [1, 2, 3, 4]
  layout = "circle"             # or [[x, y], ...]
  group_window_s = 3600         # recordings further apart are of another part of the same name
  final_spread_s = 0.5          # of spindles that tighten together
  reuse_limit = 1               # how often a bolt may be used again
  passes = 2                    # rounds that are meant, else told from the recordings
  wanted_sum_kn = 120.0
  evenness_limit = 1.3
  interaction = [0.10, 0.02]    # of the next bolt's gain, the next but one ...; or a square

exit codes:
  0   every part is ok
  1   some are not ok or suspect
  2   some could not be evaluated, none is not ok or suspect
  3   wrong use, or nothing could be read
  70  a fault in this program (please report it); 130 stopped by the keyboard

examples:
  tautograph parts shift.parquet --joints joints.toml --out parts.xlsx
  tautograph parts shift.parquet --joints joints.toml --out records.pdf --log records.jsonl
  tautograph verify records.jsonl shift.parquet

A part with a missing record is never ok. Estimated clamp force is not measured clamp force. Results
support the judgement of a qualified engineer and never replace it.
"""

VERIFY_END = """\
exit codes:
  0   nothing was changed
  1   a record, or a recording that it stands on, was changed
  3   wrong use, or the log cannot be read
  70  a fault in this program (please report it)

Lines cut off at the end leave a chain that is whole: compare the last digest with a printed record.
"""


LOOK_BACK_END = """\
exit codes:
  0   no part has to be contained
  1   some have to
  3   wrong use, or no archive
  70  a fault in this program (please report it); 130 stopped by the keyboard

examples:
  tautograph look-back year/ --joints joints.toml --out spindle-7.xlsx --spindle 7 \\
      --from 2026-03-02 --to 2026-04-11 --error-percent 3
  tautograph look-back year/ --joints joints.toml --out lot.pdf --lot W-130

Whoever contains parts decides on their own judgement; a torque that was corrected by a calibration's
finding is an estimate of what was there.
"""


YEAR_END = """\
exit codes:
  0   no step and no drift is shown
  1   some are
  3   wrong use, or no archive
  70  a fault in this program (please report it); 130 stopped by the keyboard

events: a file _events.csv (or .parquet) in the archive's folder with the columns time, tool, kind,
text is read with it; kind is calibration, service, bit, programme, lot or shift, an empty tool
means all. First uses of lots are found by themselves.

A drift that is forecast goes on only if nothing else changes. Results support the judgement of a
qualified engineer and never replace it.
"""


class BatchArguments(argparse.Namespace):
    """What `analyse`, `report`, `study`, `strategy` and `parts` were asked for."""

    inputs: list[str]
    joints: Path
    output: Path
    joint: str | None
    mappings: list[Path]
    settings: Path | None
    patterns: list[str]
    since: str | None
    per_joint: bool
    summary: str | None
    into_folder: bool
    usual_per: Literal["all", "day", "shift"]
    shift_starts: str
    time_zone: str
    workers: int | None
    scheduler: str | None
    template: Path | None
    torque_unit: str | None
    only: str | None
    traces: list[str]
    revision: str
    compare: str | None
    against: str | None
    study: Path | None
    classes: Path | None
    log: Path | None
    quiet: bool
    verbose: bool


class LookBackArguments(BatchArguments):
    """What `look-back` was asked for."""

    archive: Path
    tool: str | None
    spindle: str | None
    lot: str | None
    only_joint: str | None
    until: str | None
    error_percent: float | None


class YearArguments(argparse.Namespace):
    """What `year` was asked for."""

    archive: Path
    output: Path | None
    from_days: bool
    quiet: bool
    verbose: bool


class WindowArguments(argparse.Namespace):
    """What the window was asked to open."""

    inputs: list[str]
    joints: Path | None


class VerifyArguments(argparse.Namespace):
    """Which log is verified, against which recordings."""

    log: Path
    inputs: list[str]


class DesktopArguments(argparse.Namespace):
    """Where the desktop entry goes."""

    folder: Path | None
    remove: bool


class CommandParser(argparse.ArgumentParser):
    """argparse, with the exit code that the commands promise for wrong use."""

    def error(self, message: str) -> NoReturn:
        """Print the usage and what is wrong with it, and leave with `WRONG_USE`."""
        self.print_usage(sys.stderr)
        self.exit(WRONG_USE, f"{self.prog}: {message}\nTry: {self.prog} --help\n")


def _parser(prog: str, usage: str, description: str, epilog: str) -> CommandParser:
    return CommandParser(
        prog=prog,
        usage=usage,
        description=description,
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )


def window_parser(version: str) -> CommandParser:
    """Parser of ``tautograph [FILE_OR_FOLDER ...]``; its help is the overview."""
    parser = _parser("tautograph", "tautograph [FILE_OR_FOLDER ...]", OVERVIEW, OVERVIEW_END)
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
    return _parser("tautograph sample", "tautograph sample", text, "")


def desktop_parser() -> CommandParser:
    """Parser of ``tautograph desktop-entry``."""
    text = (
        "Puts the program into the menu of a Linux desktop, with its icon and the kinds of file\n"
        "that it opens, for this user alone."
    )
    parser = _parser("tautograph desktop-entry", "tautograph desktop-entry [options]", text, "")
    parser.add_argument("--remove", action="store_true", help="take it out again")
    parser.add_argument(
        "--folder",
        type=Path,
        metavar="FOLDER",
        help="folder for data instead of the user's, such as /usr/local/share for everybody",
    )
    return parser


def analyse_parser() -> CommandParser:
    """Parser of ``tautograph analyse``."""
    parser = _parser(
        "tautograph analyse",
        "tautograph analyse INPUT ... --joints J.toml --results OUT.parquet [options]",
        "Judges every trace without a display and writes one row for each.\n\n" + INPUT_HELP,
        ANALYSE_END,
    )
    _add_inputs(parser)
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
    _add_choices(parser, "write one table for each joint, named OUT.JOINT.ending")
    _add_crew(parser)
    return parser


def _add_crew(parser: CommandParser) -> None:
    many = parser.add_argument_group("many traces: what is usual, and who does the work")
    many.add_argument(
        "--usual-per",
        choices=("all", "day", "shift"),
        default="all",
        help="traces of a joint whose company says what is usual: all that this run judges, or those of one "
        "day or shift; a pinned reference goes before",
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
    workers.add_argument("--workers", type=int, metavar="N", help="spread the work over so many processes")
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
    parser = _parser(
        "tautograph report",
        "tautograph report INPUT ... --joints J.toml --out OUT.pdf [options]",
        "Judges every trace and writes the report (overview, each joint, method), without a display.\n\n"
        + INPUT_HELP,
        REPORT_END,
    )
    _add_inputs(parser)
    _add_output(parser, "the report to write: .pdf, .html or .xlsx by its ending")
    _add_torque_unit(parser)
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
        help="of the report, on its first page; default to be filled in",
    )
    parser.add_argument(
        "--compare",
        metavar="FILTER",
        help="instead of the report on each joint, hold the traces that meet the filter against the others "
        'of their joint, for example "spindle = 3" or "started_at >= 2026-03-02 and lot = B"',
    )
    parser.add_argument(
        "--against", metavar="FILTER", help="hold them against these traces instead of against all others"
    )
    _add_choices(parser, "write one report for each joint, named OUT.JOINT.ending")
    return parser


def study_parser() -> CommandParser:
    """Parser of ``tautograph study``."""
    parser = _parser(
        "tautograph study",
        "tautograph study INPUT ... --joints J.toml --out OUT.pdf [options]",
        "Studies what process and tool are capable of: every index with its interval, what would show\n"
        "it, and which traces it stands on. No display is needed.\n\n" + INPUT_HELP,
        STUDY_END,
    )
    _add_inputs(parser)
    _add_output(parser, "the study to write: .pdf, .html, .xlsx or .json by its ending")
    _add_torque_unit(parser)
    parser.add_argument("--study", type=Path, metavar="S.toml", help="what is studied; see below")
    _add_classes(parser)
    _add_choices(parser, None)
    return parser


def strategy_parser() -> CommandParser:
    """Parser of ``tautograph strategy``."""
    parser = _parser(
        "tautograph strategy",
        "tautograph strategy [INPUT ...] --joints J.toml --joint NAME --out OUT.pdf [options]",
        "How far the clamp force of a joint scatters with each way of tightening it, what to set, and\n"
        "what fails. With INPUT, scatter of torque, friction and stiffness is read off its own traces.\n\n"
        + INPUT_HELP,
        STRATEGY_END,
    )
    _add_inputs(parser, "*")
    _add_output(parser, "the advice to write: .pdf, .html or .json by its ending")
    _add_choices(parser, None)
    return parser


def look_back_parser() -> CommandParser:
    """Parser of ``tautograph look-back``."""
    parser = _parser(
        "tautograph look-back",
        "tautograph look-back ARCHIVE --joints J.toml --out OUT.xlsx [--tool T ...] [options]",
        "Finds every trace of an archive (analyse ... --results ARCHIVE/) that a tool, a spindle, a lot or\n"
        "a time touched, judges it again with the torque that was really there, and lists the parts to\n"
        "contain.",
        LOOK_BACK_END,
    )
    parser.add_argument("archive", type=Path, metavar="ARCHIVE", help="the archive's folder")
    parser.add_argument("--joints", type=Path, required=True, metavar="J.toml", help="the joints")
    _add_output(parser, "the record to write: .pdf, .html, .xlsx, .csv or .parquet by its ending")
    which = parser.add_argument_group("what was touched (all that is given must hold)")
    which.add_argument("--tool", metavar="NAME")
    which.add_argument("--spindle", metavar="NAME")
    which.add_argument("--lot", metavar="NAME")
    which.add_argument("--only-joint", metavar="NAME")
    which.add_argument("--from", dest="since", metavar="WHEN", help="started then or later: 2026-03-02T06:00")
    which.add_argument("--to", dest="until", metavar="WHEN", help="started before then")
    which.add_argument(
        "--error-percent",
        type=float,
        metavar="E",
        help="the tool read so many percent more than the true torque (less: a negative number); without it "
        "nothing is judged again",
    )
    _add_rules(parser)
    _add_loudness(parser.add_argument_group("what is told"))
    return parser


def year_parser() -> CommandParser:
    """Parser of ``tautograph year``."""
    parser = _parser(
        "tautograph year",
        "tautograph year ARCHIVE [--out OUT.xlsx] [options]",
        "What moved in an archive (analyse ... --results ARCHIVE/): steps and drifts of joints and tools,\n"
        "with false alarms kept rare and their number said; which tools want care, and when.",
        YEAR_END,
    )
    parser.add_argument("archive", type=Path, metavar="ARCHIVE", help="the archive's folder")
    parser.add_argument(
        "--out",
        dest="output",
        type=Path,
        metavar="OUT",
        help="also write changes, tools and weeks (.xlsx), or the weeks (.csv, .parquet)",
    )
    parser.add_argument(
        "--from-days",
        action="store_true",
        help="from the rows of days, at once for any number of traces, a little less sharp",
    )
    _add_loudness(parser.add_argument_group("what is told"))
    return parser


def parts_parser() -> CommandParser:
    """Parser of ``tautograph parts``."""
    parser = _parser(
        "tautograph parts",
        "tautograph parts INPUT ... --joints J.toml --out OUT.xlsx [options]",
        "Puts the traces of each part together: which positions have a record, how often each was\n"
        "tightened, what state it is in, and what its bolts do together.\n\n" + INPUT_HELP,
        PARTS_END,
    )
    _add_inputs(parser)
    _add_output(
        parser,
        "a table as .xlsx, .csv or .parquet; a page for each part as .pdf or .html; recordings with their "
        "place in the history as joining results by OPC 40450-1 as .json",
    )
    _add_torque_unit(parser)
    parser.add_argument(
        "--log",
        type=Path,
        metavar="LOG.jsonl",
        help="add the records to this file, each with the digest of the one before",
    )
    _add_choices(parser, None)
    return parser


def verify_parser() -> CommandParser:
    """Parser of ``tautograph verify``."""
    text = (
        "Checks a log of records that `tautograph parts --log` wrote: whether a line was changed, taken\n"
        "out or put in; and with INPUT, whether the recordings are those that the records stand on."
    )
    parser = _parser("tautograph verify", "tautograph verify LOG [INPUT ...]", text, VERIFY_END)
    parser.add_argument("log", type=Path, metavar="LOG", help="the log of records")
    parser.add_argument("inputs", nargs="*", metavar="INPUT", help="recordings to compare with")
    return parser


def _add_output(parser: CommandParser, text: str) -> None:
    parser.add_argument("--out", dest="output", type=Path, required=True, metavar="OUT", help=text)
    parser.add_argument(
        "--template", type=Path, metavar="T.toml", help="the site's own texts, logo and order data"
    )


def _add_torque_unit(parser: CommandParser) -> None:
    parser.add_argument(
        "--torque-unit", metavar="UNIT", help="unit that torque is shown in: Nm, ft-lbf, in-lbf, kgf-cm ..."
    )


def _add_classes(parser: CommandParser) -> None:
    parser.add_argument(
        "--classes", type=Path, metavar="C.toml", help="the plant's own table of what each risk class asks"
    )


def _add_inputs(parser: CommandParser, how_many: str = "+") -> None:
    parser.add_argument("inputs", nargs=how_many, metavar="INPUT", help="file, folder, or pattern in quotes")
    parser.add_argument(
        "--joints", type=Path, required=True, metavar="J.toml", help="the joints: targets, limits, bolts"
    )
    parser.add_argument("--joint", metavar="NAME", help="the joint of traces that name none themselves")
    parser.add_argument(
        "--mapping",
        dest="mappings",
        action="append",
        type=Path,
        default=[],
        metavar="M.toml",
        help="columns and units of an unfamiliar layout, as saved by the import preview; repeatable, or a "
        "folder of them: each file then takes the first whose pattern fits",
    )


def _add_choices(parser: CommandParser, per_joint_help: str | None) -> None:
    which = parser.add_argument_group("which traces")
    which.add_argument(
        "--pattern",
        dest="patterns",
        action="append",
        default=[],
        metavar="GLOB",
        help='of the files in folders, only those with such a name, for example "*.csv"; repeatable',
    )
    which.add_argument(
        "--since",
        metavar="WHEN",
        help="only what was recorded since then: 2026-03-02, 2026-03-02T06:00 (local time), "
        "2026-03-02T06:00+01:00, or back from now: 90m, 24h, 7d. Files last changed before are not opened; "
        "a trace that does not say when it started is kept",
    )
    _add_rules(parser)
    told = parser.add_argument_group("what is written and told")
    if per_joint_help is not None:
        told.add_argument("--per-joint", action="store_true", help=per_joint_help)
    _add_loudness(told)


def _add_loudness(told: argparse._ArgumentGroup) -> None:
    loudness = told.add_mutually_exclusive_group()
    loudness.add_argument("--quiet", action="store_true", help="print only what went wrong")
    loudness.add_argument("--verbose", action="store_true", help="print every note and the time of each step")


def _add_rules(parser: CommandParser) -> None:
    from analysis.catalogue.point_rules import POINT_OPTIONS

    rules = parser.add_argument_group("how points are found (each choice is kept with the results)")
    rules.add_argument(
        "--settings", type=Path, metavar="S.toml", help="all settings from a file; the options below win"
    )
    for option in POINT_OPTIONS:
        if option.choices:
            rules.add_argument(option.flag, choices=option.choices, help=option.help)
        else:
            rules.add_argument(option.flag, type=float, metavar=option.metavar, help=option.help)
