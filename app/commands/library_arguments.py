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
Every command and the window notice where the library has changed a joint since it was taken: nothing is
judged until the change is taken over.

Several people may put joints into one library: what others put meanwhile stays, and each gets a revision
of its own. A joint of the same name that was not taken from there is never overwritten without asking.

exit codes:
  0   listed, taken, or unchanged
  1   a joint that was taken has changed in the library
  3   wrong use, or a file that cannot be used
  {FAULT_EXIT}

examples:
  tautograph library plant.toml
  tautograph library plant.toml --joints joints.toml --take hub
  tautograph library plant.toml --joints joints.toml
  tautograph library plant.toml --joints joints.toml --put hub
"""


class LibraryArguments(argparse.Namespace):
    """What was typed."""

    library: Path
    joints: Path | None
    take: list[str]
    put: list[str]
    revision: str | None
    instead: bool


def library_parser() -> CommandParser:
    """Parser of ``tautograph library``."""
    parser = command_parser(
        "tautograph library",
        "tautograph library L.toml [--joints J.toml [--take NAME ...] [--put NAME ...]]",
        "Lists the joints of a library that a plant shares; takes some of them into a joints file, or puts\n"
        "some of the file there; says whether those that were taken are still what the library has.",
        LIBRARY_END,
    )
    parser.add_argument("library", type=Path, metavar="L.toml", help="the library")
    parser.add_argument("--joints", type=Path, metavar="J.toml", help="the joints file that takes")
    parser.add_argument(
        "--take",
        nargs="+",
        default=[],
        metavar="NAME",
        help="joints to take, or to take over again after a change",
    )
    parser.add_argument(
        "--put", nargs="+", default=[], metavar="NAME",
        help="joints of the file to put into the library, made where there is none, and to take from there",
    )  # fmt: skip
    parser.add_argument(
        "--revision", metavar="R", help="of the library with them; one more than before if left out"
    )
    parser.add_argument(
        "--instead",
        action="store_true",
        help="replace a joint of the library that was not taken from there",
    )
    return parser
