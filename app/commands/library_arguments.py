"""Arguments of the command about a library of joints."""

from __future__ import annotations

import argparse
from pathlib import Path

from app.commands.parsing import FAULT_EXIT, CommandParser, command_parser

LIBRARY_END = f"""\
The library is a joints file with a head of its own:
  [library]
  title = "Joints of the plant"
  revision = "7"
  [joints.hub]
  target_torque_nm = 65.0

A joints file takes a joint by name, revision and digest; its own values stand above the library's:
  [joints.hub]
  library = {{ file = "plant.toml", joint = "hub", revision = "7", digest = "5f0c…" }}
A library that says something else of a joint than when it was taken is noticed by every command and
by the window: nothing is judged until the joint is taken anew.

exit codes:
  0   listed, taken, or unchanged
  1   a joint that was taken has changed in the library
  3   wrong use, or a file that cannot be used
  {FAULT_EXIT}

examples:
  tautograph library plant.toml
  tautograph library plant.toml --joints joints.toml --take hub
  tautograph library plant.toml --joints joints.toml
"""


class LibraryArguments(argparse.Namespace):
    """What was typed."""

    library: Path
    joints: Path | None
    take: list[str]


def library_parser() -> CommandParser:
    """Parser of ``tautograph library``."""
    parser = command_parser(
        "tautograph library",
        "tautograph library L.toml [--joints J.toml [--take NAME ...]]",
        "Lists the joints of a library that a plant shares; takes some of them into a joints file; says\n"
        "whether those that were taken are still what the library has.",
        LIBRARY_END,
    )
    parser.add_argument("library", type=Path, metavar="L.toml", help="the library")
    parser.add_argument("--joints", type=Path, metavar="J.toml", help="the joints file that takes")
    parser.add_argument(
        "--take", nargs="+", default=[], metavar="NAME", help="joints to take, or to take anew after a change"
    )
    return parser
