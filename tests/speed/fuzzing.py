"""Reads mutated files of every layout for a given time: only traces and listed problems may come of it.

Run from the project's folder: ``python -m tests.speed.fuzzing --seconds 300`` (``--seed`` repeats a run). The
tests do the same with few files; this goes on for as long as wanted, and prints what it tried and the memory
that it took. A file over which anything else happened is kept in the folder that is named.
"""

from __future__ import annotations

import argparse
import random
import resource
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

from analysis.reading import read_paths
from tests.analysis.reading.conftest import SAMPLES
from tests.analysis.reading.test_damage import mangled
from tests.analysis.reading.test_extras import MAKERS


def peak_mb() -> float:
    """The largest memory of this process and of those that it started, megabytes."""
    own, children = (
        resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return max(own, children) / 1024.0


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 1 where something else than a listed problem came of a file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args(arguments)
    warnings.simplefilter("ignore")
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    files = [make(folder) for make in SAMPLES.values()]
    for name, make in MAKERS.items():
        make(folder / name)
        files.append(folder / name)
    contents = {path: path.read_bytes() for path in files}
    rng = random.Random(chosen.seed)
    tried: Counter[str] = Counter()
    listed: Counter[str] = Counter()
    failed = 0
    start, before = time.monotonic(), peak_mb()
    while time.monotonic() - start < chosen.seconds:
        path = rng.choice(files)
        content = mangled(contents[path], rng)
        path.write_bytes(content)
        tried[path.name] += 1
        try:
            reading = read_paths([path])
        except Exception as error:  # whatever it is, it is what this run looks for
            failed += 1
            kept = folder / f"failed-{failed}-{path.name}"
            kept.write_bytes(content)
            print(f"{kept}: {error!r}")
            continue
        finally:
            path.write_bytes(contents[path])
        listed[path.name] += bool(reading.problems)
        if not len(reading.traces) and not reading.problems:
            failed += 1
            print(f"{path.name}: neither traces nor a problem")
    for name in sorted(tried):
        print(f"{name:<16} {tried[name]:6d} files, {listed[name]:6d} with a listed problem")
    seconds = time.monotonic() - start
    print(f"{sum(tried.values())} files in {seconds:.0f} s; memory {before:.0f} to {peak_mb():.0f} MB")
    return 1 if failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
