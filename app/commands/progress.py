"""What a command tells on the terminal while it works and when something is wrong."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

from analysis.errors import ReadProblem

#: Notes on files that were read are cut after this many lines unless --verbose asks for all.
NOTES_SHOWN = 20
#: Seconds between two progress lines: often enough to be seen moving, too rare to cost anything.
PROGRESS_INTERVAL_S = 0.1


class Console:
    """Words on standard output and standard error, by the loudness that was asked for.

    Parameters
    ----------
    quiet, verbose : bool
        Quiet prints only what went wrong; verbose adds every note and the time of each step.
    """

    def __init__(self, *, quiet: bool = False, verbose: bool = False) -> None:
        self.quiet = quiet
        self.verbose = verbose
        self._on_terminal = sys.stderr.isatty() and not quiet
        self._line_length = 0
        self._told_at = 0.0

    def say(self, text: str) -> None:
        """A result, on standard output."""
        self._wipe()
        if not self.quiet:
            print(text, flush=True)

    def warn(self, text: str) -> None:
        """Something that went wrong or must be known, on standard error, whatever the loudness."""
        self._wipe()
        print(text, file=sys.stderr, flush=True)

    def hint(self, text: str) -> None:
        """Something worth knowing, on standard error, unless quiet."""
        if not self.quiet:
            self.warn(text)

    def progress(self, done: int, total: int, text: str) -> None:
        """One line that is overwritten; on a terminal only."""
        now = time.monotonic()
        if not self._on_terminal or (done < total and now - self._told_at < PROGRESS_INTERVAL_S):
            return
        self._told_at = now
        share = f"{100 * done // total:3d} %" if total else "     "
        line = f"{share}  {text}"[:78]
        sys.stderr.write("\r" + line.ljust(self._line_length))
        sys.stderr.flush()
        self._line_length = len(line)

    @contextmanager
    def step(self, name: str) -> Iterator[None]:
        """Time a step; printed when verbose."""
        start = time.perf_counter()
        yield
        self._wipe()
        if self.verbose:
            self.warn(f"{name}: {time.perf_counter() - start:.2f} s")

    def problems(self, problems: Sequence[ReadProblem]) -> None:
        """List what could not be read, every line of it, and the notes on what was."""
        for problem in problems:
            if problem.fatal:
                self.warn(f"not read: {problem.sentence()}")
        notes = [problem for problem in problems if not problem.fatal]
        shown = notes if self.verbose else notes[:NOTES_SHOWN]
        for note in shown:
            self.hint(f"note: {note.sentence()}")
        if len(notes) > len(shown):
            self.hint(
                f"note: {len(notes) - len(shown)} more notes on files that were read; --verbose lists them"
            )

    def _wipe(self) -> None:
        if self._line_length:
            sys.stderr.write("\r" + " " * self._line_length + "\r")
            sys.stderr.flush()
            self._line_length = 0
