"""``tautograph ...``: which command was typed, and the one place where its errors are told."""

from __future__ import annotations

import difflib
import importlib
import os
import sys
import traceback
from argparse import Namespace
from collections.abc import Callable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import ClassVar, TextIO, cast

from analysis import __version__
from analysis.errors import TautographError
from app.commands.arguments import (
    DesktopArguments,
    WindowArguments,
    analyse_parser,
    desktop_parser,
    report_parser,
    sample_parser,
    window_parser,
)
from app.commands.library_arguments import LibraryArguments, library_parser
from app.commands.parsing import WRONG_USE, BatchArguments, CommandParser
from app.commands.record_arguments import (
    LookBackArguments,
    VerifyArguments,
    YearArguments,
    look_back_parser,
    parts_parser,
    verify_parser,
    year_parser,
)
from app.commands.study_arguments import strategy_parser, study_parser

#: A fault of the program: unlike every code that says something about joints (EX_SOFTWARE of sysexits).
FAULT = 70
#: Stopped from the keyboard: 128 and the number of the signal, as shells have it.
INTERRUPTED = 130


def main(argv: Sequence[str] | None = None) -> int:
    """Carry out a command line; returns the exit code, and never raises for anything a user can do wrong.

    Parameters
    ----------
    argv : sequence of str or None
        What stands after ``tautograph``; by default what this process was started with.
    """
    _tolerate_any_terminal()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # its others would wait in circles, on small matrices
    with redirect_stdout(cast(TextIO, _Plain(sys.stdout))), redirect_stderr(cast(TextIO, _Plain(sys.stderr))):
        return _carry_out(list(sys.argv[1:] if argv is None else argv))


def _carry_out(words: list[str]) -> int:
    try:
        return _command(words) if words and words[0] in _COMMANDS else _window(words)
    except SystemExit as stop:  # argparse: help was printed, or the use was wrong
        return stop.code if isinstance(stop.code, int) else WRONG_USE
    except (TautographError, OSError) as error:
        return _tell(_words(error), WRONG_USE)
    except MemoryError:
        return _tell("not enough memory for all of these traces at once; give fewer files", WRONG_USE)
    except KeyboardInterrupt:
        return _tell("stopped", INTERRUPTED)
    except Exception as error:  # whatever else: a fault, told as one, and never mistaken for a verdict
        traceback.print_exception(error)
        return _tell("this is a fault in the program; please report it with the lines above", FAULT)


def _window(words: Sequence[str]) -> int:
    parser = window_parser(__version__)
    arguments = parser.parse_args(words, namespace=WindowArguments())
    for name in arguments.inputs:
        if not Path(name).exists():
            parser.error(_no_such(name))
    from app.commands.window import window_command

    return window_command(arguments)


#: Parser, what it fills, and where the command stands: its module is loaded once its words are understood.
_COMMANDS: dict[str, tuple[Callable[[], CommandParser], Callable[[], Namespace], str]] = {
    "analyse": (analyse_parser, BatchArguments, "analyse.analyse_command"),
    "report": (report_parser, BatchArguments, "report.report_command"),
    "study": (study_parser, BatchArguments, "study.study_command"),
    "strategy": (strategy_parser, BatchArguments, "strategy.strategy_command"),
    "parts": (parts_parser, BatchArguments, "parts.parts_command"),
    "look-back": (look_back_parser, LookBackArguments, "look_back.look_back_command"),
    "year": (year_parser, YearArguments, "year.year_command"),
    "verify": (verify_parser, VerifyArguments, "verify.verify_command"),
    "library": (library_parser, LibraryArguments, "library.library_command"),
    "sample": (sample_parser, Namespace, "window.sample_command"),
    "desktop-entry": (desktop_parser, DesktopArguments, "desktop.desktop_command"),
}


def _command(words: Sequence[str]) -> int:
    parser, arguments, place = _COMMANDS[words[0]]
    understood = parser().parse_args(words[1:], namespace=arguments())
    module, _, command = place.partition(".")
    return int(getattr(importlib.import_module(f"app.commands.{module}"), command)(understood))


def _no_such(name: str) -> str:
    meant = difflib.get_close_matches(name, _COMMANDS, n=1)
    if meant:
        return f"{name}: there is no such file or folder; the command is {meant[0]}"
    return f"{name}: there is no such file or folder, and no such command ({', '.join(_COMMANDS)})"


def _words(error: TautographError | OSError) -> str:
    if isinstance(error, OSError) and error.strerror:
        return f"{error.filename}: {error.strerror}" if error.filename is not None else error.strerror
    return str(error)


def _tell(text: str, code: int) -> int:
    print(f"tautograph: {text}", file=sys.stderr, flush=True)
    return code


class _Plain:
    """A terminal, or a file, that control characters in names do not reach: they are written out."""

    _SHOWN: ClassVar = {
        code: f"\\x{code:02x}" for code in (*range(32), *range(127, 160)) if chr(code) not in "\n\r\t"
    } | {code: f"\\u{code:04x}" for code in (*range(0x202A, 0x202F), *range(0x2066, 0x206A))}

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        """Write, and give the number of characters that were asked for."""
        self._stream.write(text.translate(self._SHOWN))
        return len(text)

    def __getattr__(self, name: str) -> object:
        return getattr(self._stream, name)


def _tolerate_any_terminal() -> None:
    """A terminal that lacks a sign (· or °) shows a question mark rather than ending the run."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")


if __name__ == "__main__":
    sys.exit(main())
