"""What the parsers of all commands share: one manner of help and of wrong use, and common options."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from analysis.plant.periods import Period

#: Exit code for wrong use, and where nothing could be read.
WRONG_USE = 3
#: What every command says of the exit codes that none asks for.
FAULT_EXIT = "70  a fault in this program (please report it); 130 stopped by the keyboard"

INPUT_HELP = """\
INPUT is a file, a folder (searched with its subfolders) or a pattern in quotes such as
"shift/**/*.csv". It can be Parquet, Arrow or CSV (one row per trace, one row per sample, or
one file per trace) or joining results by OPC 40450-1 as JSON; other layouts need a mapping
(--mapping). A file that cannot be read is listed on standard error with its line, what was
found and what was expected; the others are still judged.
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
    usual_per: Period
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
    events: Path | None
    log: Path | None
    quiet: bool
    verbose: bool


class CommandParser(argparse.ArgumentParser):
    """argparse, with the exit code that the commands promise for wrong use."""

    def error(self, message: str) -> NoReturn:
        """Print the usage and what is wrong with it, and leave with `WRONG_USE`."""
        self.print_usage(sys.stderr)
        self.exit(WRONG_USE, f"{self.prog}: {message}\nTry: {self.prog} --help\n")


def command_parser(prog: str, usage: str, description: str, epilog: str) -> CommandParser:
    """A parser whose help and errors look as all others do."""
    return CommandParser(
        prog=prog,
        usage=usage,
        description=description,
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )


def add_output(parser: CommandParser, text: str) -> None:
    """Where it is written, and the texts of the site."""
    parser.add_argument("--out", dest="output", type=Path, required=True, metavar="OUT", help=text)
    parser.add_argument(
        "--template", type=Path, metavar="T.toml", help="the site's own texts, logo and order data"
    )


def add_torque_unit(parser: CommandParser) -> None:
    """The unit that torque is shown in."""
    parser.add_argument(
        "--torque-unit", metavar="UNIT", help="unit that torque is shown in: Nm, ft-lbf, in-lbf, kgf-cm ..."
    )


def add_classes(parser: CommandParser) -> None:
    """The table of what risk classes ask."""
    parser.add_argument(
        "--classes", type=Path, metavar="C.toml", help="the plant's own table of what each risk class asks"
    )


def add_inputs(parser: CommandParser, how_many: str = "+") -> None:
    """Recordings, joints, and how their columns are read."""
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


def add_choices(parser: CommandParser, per_joint_help: str | None) -> None:
    """Which traces are taken, and what is printed."""
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
    add_rules(parser)
    told = parser.add_argument_group("output")
    if per_joint_help is not None:
        told.add_argument("--per-joint", action="store_true", help=per_joint_help)
    add_loudness(told)


def add_loudness(told: argparse._ArgumentGroup) -> None:
    """How much is printed."""
    loudness = told.add_mutually_exclusive_group()
    loudness.add_argument("--quiet", action="store_true", help="print errors only")
    loudness.add_argument("--verbose", action="store_true", help="print every note and the time of each step")


def add_rules(parser: CommandParser) -> None:
    """The rules that points are found by."""
    from analysis.catalogue.point_rules import POINT_OPTIONS

    rules = parser.add_argument_group("how points are found (each choice is kept with the results)")
    rules.add_argument(
        "--settings",
        type=Path,
        metavar="S.toml",
        help="all settings from a file; the options below take precedence",
    )
    for option in POINT_OPTIONS:
        if option.choices:
            rules.add_argument(option.flag, choices=option.choices, help=option.help)
        else:
            rules.add_argument(option.flag, type=float, metavar=option.metavar, help=option.help)
