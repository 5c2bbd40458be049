"""Tries every mutation against the tests that are to notice it, and prints what survives.

Run from the project's folder: ``python -m tests.mutations`` (``--help`` lists the choices). Ends with 1 where
fewer than 85 % are noticed.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import time
from collections.abc import Sequence

from tests.mutations.changed_import import VARIABLE
from tests.mutations.mutation import ROOT, Mutation
from tests.mutations.records import MUTATIONS

#: Share that is to be noticed.
NOTICED_SHARE = 0.85
#: Exit code of pytest where tests failed; where it hangs, the change is noticed too.
_TESTS_FAILED = 1
#: Seconds after which a mutation is taken to hang.
_LONGEST_S = 600


def notices(number: int | None, mutation: Mutation) -> bool:
    """Whether a test fails with the mutation in place (None: with none in place).

    Raises
    ------
    RuntimeError
        Where the tests could not be run at all.
    """
    environment = dict(os.environ)
    environment.pop(VARIABLE, None)
    if number is not None:
        environment[VARIABLE] = str(number)
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-m", "not slow", "-p", "no:cacheprovider"]
    if mutation.interpreted:
        environment["NUMBA_DISABLE_JIT"] = "1"
        # Compiled, a division by zero is silent.
        command += ["-W", "ignore::RuntimeWarning"]
    command += ["-p", "tests.mutations.changed_import", *mutation.tests]
    try:
        done = subprocess.run(
            command, cwd=ROOT, env=environment, capture_output=True, encoding="utf-8", timeout=_LONGEST_S
        )
    except subprocess.TimeoutExpired:
        return True
    if done.returncode not in (0, _TESTS_FAILED):
        # A change that no module can be imported with is noticed; anything else is a mistake of the record.
        if "error" in done.stdout.lower() and number is not None:
            return True
        raise RuntimeError(f"{mutation}\n{done.stdout[-3000:]}{done.stderr[-1000:]}")
    return done.returncode == _TESTS_FAILED


def main(arguments: Sequence[str] | None = None) -> int:
    """Try them, print survivors and the share that is noticed."""
    parser = argparse.ArgumentParser(
        prog="python -m tests.mutations",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--only", default="", help="only files whose name holds this text")
    parser.add_argument("--numbers", default="", help="only these, such as 3,7,20-30")
    parser.add_argument("--list", action="store_true", help="print the mutations and end")
    chosen = parser.parse_args(arguments)
    wanted = numbers_of(chosen.numbers, len(MUTATIONS))
    picked = [(k, m) for k, m in enumerate(MUTATIONS) if k in wanted and chosen.only in m.file]
    survivors, begun = [], time.monotonic()
    passing: dict[tuple[tuple[str, ...], bool], bool] = {}
    for k, mutation in picked:
        if chosen.list:
            print(f"{k:3} {mutation}")
            continue
        start = time.monotonic()
        run = (mutation.tests, mutation.interpreted)
        if run not in passing:
            passing[run] = not notices(None, mutation)
        # Tests that fail without any change notice nothing.
        noticed = passing[run] and notices(k, mutation)
        if not noticed:
            survivors.append((k, mutation))
        word = "noticed " if noticed else "SURVIVES"
        print(f"{k:3} {word} {time.monotonic() - start:5.0f} s  {mutation}", flush=True)
    if chosen.list or not picked:
        return 0
    share = 1.0 - len(survivors) / len(picked)
    print(f"\n{len(picked)} mutations, {100 * share:.0f} % noticed, {time.monotonic() - begun:.0f} s")
    for k, mutation in survivors:
        print(f"survives: {k:3} {mutation}")
    return 0 if share >= NOTICED_SHARE else 1


def numbers_of(text: str, n: int) -> set[int]:
    """Numbers of a list such as ``3,7,20-30``; all where it is empty.

    Examples
    --------
    >>> sorted(numbers_of("1,3-5", 9))
    [1, 3, 4, 5]
    """
    if not text:
        return set(range(n))
    ends = [part.split("-") for part in text.split(",")]
    return {k for part in ends for k in range(int(part[0]), int(part[-1]) + 1)}


if __name__ == "__main__":
    raise SystemExit(main())
