"""Arguments of the commands about capability and ways of tightening."""

from __future__ import annotations

from pathlib import Path

from analysis.catalogue.cautions import JUDGEMENT
from app.commands.parsing import (
    FAULT_EXIT,
    INPUT_HELP,
    CommandParser,
    add_choices,
    add_classes,
    add_inputs,
    add_output,
    add_torque_unit,
    command_parser,
)

STUDY_END = f"""\
exit codes:
  0   every index that was studied is shown at least as high as wanted
  1   one is not met
  2   one is met but not shown: more tightenings, or a better index, would show it
  3   wrong use, or nothing could be read
  {FAULT_EXIT}

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

An index judges the traces studied, against the limits given, and nothing else.
{JUDGEMENT}
"""

STRATEGY_END = f"""\
settings, each one standard deviation; what is stated goes before what traces show:
  snug_torque_nm = 20.0
  torque_scatter_percent = 1.0
  snug_torque_scatter_percent = 3.0
  angle_scatter_deg = 1.0
  stiffness_scatter_percent = 3.0
  friction_correlation = 0.0    # of thread and bearing friction

exit codes:
  0   written
  3   wrong use, or the joint does not say enough
  {FAULT_EXIT}

examples:
  tautograph strategy --joints joints.toml --joint hub --out hub.pdf
  tautograph strategy shift.parquet --joints joints.toml --joint hub --settings s.toml --out hub.json

Clamp force is computed from friction, stiffness and strength as stated, not measured.
{JUDGEMENT}
"""


def study_parser() -> CommandParser:
    """Parser of ``tautograph study``."""
    parser = command_parser(
        "tautograph study",
        "tautograph study INPUT ... --joints J.toml --out OUT.pdf [options]",
        "Studies what process and tool are capable of: every index with its interval, what would show\n"
        "it, and which traces it stands on. No display is needed.\n\n" + INPUT_HELP,
        STUDY_END,
    )
    add_inputs(parser)
    add_output(parser, "the study to write: .pdf, .html, .xlsx or .json by its ending")
    add_torque_unit(parser)
    parser.add_argument("--study", type=Path, metavar="S.toml", help="what is studied; see below")
    add_classes(parser)
    parser.add_argument(
        "--events",
        type=Path,
        metavar="E.csv",
        help="calibrations of the tools, as an archive's _events.csv has them (columns time, tool, kind, "
        "text, as_found_percent, tolerance_percent): a class asks whether they were in time",
    )
    add_choices(parser, None)
    return parser


def strategy_parser() -> CommandParser:
    """Parser of ``tautograph strategy``."""
    parser = command_parser(
        "tautograph strategy",
        "tautograph strategy [INPUT ...] --joints J.toml --joint NAME --out OUT.pdf [options]",
        "How far the clamp force of a joint scatters with each way of tightening it, what to set, and\n"
        "what fails. With INPUT, scatter of torque, friction and stiffness is read off its own traces.\n\n"
        + INPUT_HELP,
        STRATEGY_END,
    )
    add_inputs(parser, "*")
    add_output(parser, "the advice to write: .pdf, .html or .json by its ending")
    add_torque_unit(parser)
    add_choices(parser, None)
    return parser
