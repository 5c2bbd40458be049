"""Arguments of the commands about parts, their records, looking back and a plant's year."""

from __future__ import annotations

import argparse
from pathlib import Path

from analysis.catalogue.cautions import JUDGEMENT, NOT_MEASURED
from app.commands.parsing import (
    FAULT_EXIT,
    INPUT_HELP,
    BatchArguments,
    CommandParser,
    add_choices,
    add_inputs,
    add_loudness,
    add_output,
    add_rules,
    add_torque_unit,
    command_parser,
)

PARTS_END = f"""\
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
  {FAULT_EXIT}

examples:
  tautograph parts shift.parquet --joints joints.toml --out parts.xlsx
  tautograph parts shift.parquet --joints joints.toml --out records.pdf --log records.jsonl
  tautograph verify records.jsonl shift.parquet

A part with a missing record is never ok. {NOT_MEASURED}
{JUDGEMENT}
"""

VERIFY_END = f"""\
exit codes:
  0   nothing was changed
  1   a record, or a recording that it stands on, was changed
  3   wrong use, or the log cannot be read
  {FAULT_EXIT}

Lines cut off at the end leave a chain that is whole: compare the last digest with a printed record.
"""

LOOK_BACK_END = f"""\
exit codes:
  0   no part has to be contained
  1   some have to
  3   wrong use, or no archive
  {FAULT_EXIT}

examples:
  tautograph look-back year/ --joints joints.toml --out spindle-7.xlsx --spindle 7 \\
      --from 2026-03-02 --to 2026-04-11 --error-percent 3
  tautograph look-back year/ --joints joints.toml --out lot.pdf --lot W-130

Whoever contains parts decides on their own judgement; a torque that was corrected by a calibration's
finding is an estimate of what was there.
"""

YEAR_END = f"""\
exit codes:
  0   no step or drift found
  1   some are
  3   wrong use, or no archive
  {FAULT_EXIT}

events: a file _events.csv (or .parquet) in the archive's folder with the columns time, tool, kind,
text is read with it; kind is calibration, service, bit, programme, lot or shift, an empty tool
means all. First uses of lots are found by themselves. Calibrations may have two more columns,
as_found_percent and tolerance_percent (4 where it has none): then it is said when each tool is due.

A drift that is forecast goes on only if nothing else changes.
{JUDGEMENT}
"""


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
    torque_unit: str | None
    from_days: bool
    quiet: bool
    verbose: bool


class VerifyArguments(argparse.Namespace):
    """Which log is verified, against which recordings."""

    log: Path
    inputs: list[str]


def look_back_parser() -> CommandParser:
    """Parser of ``tautograph look-back``."""
    parser = command_parser(
        "tautograph look-back",
        "tautograph look-back ARCHIVE --joints J.toml --out OUT.xlsx [--tool T ...] [options]",
        "Finds every trace of an archive (analyse ... --results ARCHIVE/) that a tool, a spindle, a lot or\n"
        "a time touched, judges it again with the torque that was really there, and lists the parts to\n"
        "contain.",
        LOOK_BACK_END,
    )
    parser.add_argument("archive", type=Path, metavar="ARCHIVE", help="the archive's folder")
    parser.add_argument("--joints", type=Path, required=True, metavar="J.toml", help="the joints")
    add_output(parser, "the record to write: .pdf, .html, .xlsx, .csv or .parquet by its ending")
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
    add_rules(parser)
    add_loudness(parser.add_argument_group("output"))
    return parser


def year_parser() -> CommandParser:
    """Parser of ``tautograph year``."""
    parser = command_parser(
        "tautograph year",
        "tautograph year ARCHIVE [--out OUT.xlsx] [options]",
        "What moved in an archive (analyse ... --results ARCHIVE/): steps and drifts of joints and tools,\n"
        "with false alarms kept rare and their number said; which tools need care, and when.",
        YEAR_END,
    )
    parser.add_argument("archive", type=Path, metavar="ARCHIVE", help="the archive's folder")
    parser.add_argument(
        "--out",
        dest="output",
        type=Path,
        metavar="OUT",
        help="also write pages with charts (.pdf, .html), changes, tools and weeks (.xlsx), or the weeks "
        "alone (.csv, .parquet)",
    )
    parser.add_argument(
        "--from-days",
        action="store_true",
        help="from the rows of days, at once for any number of traces, a little less sharp",
    )
    add_torque_unit(parser)
    add_loudness(parser.add_argument_group("output"))
    return parser


def parts_parser() -> CommandParser:
    """Parser of ``tautograph parts``."""
    parser = command_parser(
        "tautograph parts",
        "tautograph parts INPUT ... --joints J.toml --out OUT.xlsx [options]",
        "Puts the traces of each part together: which positions have a record, how often each was\n"
        "tightened, what state it is in, and what its bolts do together.\n\n" + INPUT_HELP,
        PARTS_END,
    )
    add_inputs(parser)
    add_output(
        parser,
        "a table as .xlsx, .csv or .parquet; a page for each part as .pdf or .html; recordings with their "
        "place in the history as joining results by OPC 40450-1 as .json",
    )
    add_torque_unit(parser)
    parser.add_argument(
        "--log",
        type=Path,
        metavar="LOG.jsonl",
        help="add the records to this file, each with the digest of the one before",
    )
    add_choices(parser, None)
    return parser


def verify_parser() -> CommandParser:
    """Parser of ``tautograph verify``."""
    text = (
        "Checks a log of records that `tautograph parts --log` wrote: whether a line was changed, taken\n"
        "out or put in; and with INPUT, whether the recordings are those that the records stand on."
    )
    parser = command_parser("tautograph verify", "tautograph verify LOG [INPUT ...]", text, VERIFY_END)
    parser.add_argument("log", type=Path, metavar="LOG", help="the log of records")
    parser.add_argument("inputs", nargs="*", metavar="INPUT", help="recordings to compare with")
    return parser
