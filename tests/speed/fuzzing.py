"""Mutated files of every kind that the program reads, for a given time: read errors only may come of them.

Run from the project's folder: ``python -m tests.speed.fuzzing --seconds 300`` (``--seed`` repeats a run;
``--only joints`` takes one kind; ``--files 10000000`` ends at that number; ``--processes 4`` shares it out).
Recordings of every layout, the same judged, joints, mappings, templates, settings, limits, studies, class
tables, references, workspaces, their journals, filters and the window's settings are changed in their bytes,
values, types and structure, and read in this process, many at a time; where something is wrong, one by one. A
file fails over which anything else happens than a listed problem, that takes `MOST_SECONDS` of work, or
more memory than `MOST_MB` beyond the beginning. In the folder of ``--corpus`` stay those that failed and the
first of each kind of answer; the next run begins with them. There stands too how many of each kind were
tried in all runs, whatever stopped them.
"""

from __future__ import annotations

import argparse
import faulthandler
import hashlib
import random
import re
import resource
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter, defaultdict
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from tests.speed.fuzz_totals import Totals
from tests.speed.mutated_files import Target, mutated, targets

MOST_SECONDS, MOST_MB = 10.0, 500.0
#: A file that never ends ends the run after this time, with the places of all threads; it is left there.
_HANGS_AFTER_S = 900.0
#: Files of one kind that further ones are made of.
_MOST_KEPT = 200
_IN_MEMORY = Path("/dev/shm")


def reset_peak() -> None:
    """Let the highest memory count from now on, where the system can (Linux)."""
    with suppress(OSError):
        Path("/proc/self/clear_refs").write_text("5")


def peak_mb() -> float:
    """The highest memory since `reset_peak`, MB: of this process, or the largest of its own that still runs.

    Not what the system says of those that have ended: begun by a fork, they count the memory of this one.
    """
    with suppress(OSError):
        own = Path("/proc/self")
        children = " ".join(one.read_text() for one in own.glob("task/*/children")).split()
        return max(_high_water_mb(own), 0.0, *(_high_water_mb(Path("/proc", one)) for one in children))
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0


def _high_water_mb(process: Path) -> float:
    with suppress(OSError):
        for line in (process / "status").read_text().splitlines():
            if line.startswith("VmHWM"):
                return int(line.split()[1]) / 1024.0
    return 0.0


class Run:
    """Tries files, counts, and keeps what is worth keeping."""

    def __init__(self, folder: Path, corpus: Path | None) -> None:
        self.folder = folder
        self.corpus = corpus
        self.tried: Counter[str] = Counter()
        self.refused: Counter[str] = Counter()
        self.failed: list[str] = []
        self.pool: dict[str, list[bytes]] = defaultdict(list)
        self.most_mb = 0.0
        self.totals = Totals(corpus)
        self._seen: set[tuple[str, str]] = set()
        self._before_mb = 0.0

    def attempt(self, target: Target, contents: Sequence[bytes]) -> None:
        """Read them as this kind of file: all at once, and where something is wrong, each alone."""
        paths = [self.folder / f"{k}-{target.name}" for k in range(len(contents))]
        for path, content in zip(paths, contents, strict=True):
            path.write_bytes(content)
        reset_peak()
        self._before_mb = self._before_mb or peak_mb()
        faulthandler.dump_traceback_later(_HANGS_AFTER_S, exit=True, file=sys.__stderr__)
        start, wrong, answers = time.process_time(), "", [""] * len(paths)
        try:
            answers = target.read(paths)
        except Exception as error:  # whatever it is, it is what this run looks for
            wrong = repr(error)
        faulthandler.cancel_dump_traceback_later()
        taken_s, grown_mb = time.process_time() - start, peak_mb() - self._before_mb
        self.most_mb = max(self.most_mb, grown_mb)
        if taken_s > MOST_SECONDS:
            wrong = wrong or f"{taken_s:.0f} s"
        if grown_mb > MOST_MB:
            wrong = wrong or f"{grown_mb:.0f} MB"
        if wrong and len(contents) > 1:
            for content in contents:
                self.attempt(target, [content])
            return
        self.tried[target.name] += len(contents)
        for content, answer in zip(contents, answers, strict=True):
            self.refused[target.name] += bool(answer or wrong)
            self._keep(target, content, wrong or answer, wrong)

    def _keep(self, target: Target, content: bytes, answer: str, wrong: str) -> None:
        kind = re.sub(r"[\d'\"].*", "", answer.replace(str(self.folder), ""))[:60]
        is_known = (target.name, kind) in self._seen or len(self.pool[target.name]) >= _MOST_KEPT
        if is_known and not wrong:
            return
        self._seen.add((target.name, kind))
        if not wrong:
            self.pool[target.name].append(content)
        if wrong or self.corpus is not None:
            name = f"{target.name}--{hashlib.sha256(content).hexdigest()[:12]}"
            kept = (self.corpus or Path(tempfile.gettempdir())) / name
            kept.write_bytes(content)
            if wrong:
                self.failed.append(f"{kept}: {wrong}")
                print(self.failed[-1], flush=True)

    def begin(self, kinds: Sequence[Target]) -> None:
        """The sound files, and what earlier runs kept."""
        for target in kinds:
            kept = sorted(self.corpus.glob(f"{target.name}--*")) if self.corpus is not None else []
            self.attempt(target, [target.sound, *(file.read_bytes() for file in kept)])
            self.pool[target.name] = [target.sound, *self.pool[target.name]]

    def go_on(self, kinds: Sequence[Target], rng: random.Random, ends_at: float, files: int) -> None:
        """Mutated ones, until the time is over or there were so many."""
        shares, begun = [target.share for target in kinds], self.tried.copy()
        while time.monotonic() < ends_at and self.tried.total() < files:
            (target,) = rng.choices(kinds, shares)
            sound, *kept = self.pool[target.name]  # what is broken already is broken further half the time
            chosen = [
                rng.choice(kept) if kept and rng.random() < 0.5 else sound for _ in range(target.at_once)
            ]
            self.attempt(target, [mutated(target, content, rng) for content in chosen])
            self.totals.keep(self.tried - begun)
        self.totals.keep(self.tried - begun, now=True)


def shared(chosen: argparse.Namespace) -> int:
    """The same in several processes, each with a seed of its own."""
    words = [
        sys.executable,
        "-m",
        "tests.speed.fuzzing",
        "--seconds",
        str(chosen.seconds),
        "--only",
        chosen.only,
    ]
    words += ["--files", str(-(-chosen.files // chosen.processes))]
    words += ["--corpus", str(chosen.corpus)] if chosen.corpus else []
    seeds = range(chosen.seed, chosen.seed + chosen.processes)
    started = [subprocess.Popen([*words, "--seed", str(seed)]) for seed in seeds]
    return max(process.wait() for process in started)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 1 where something else than a read error came of a file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--files", type=int, default=10**9, help="end after so many files in any case")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="a part of the name of the kinds that are tried")
    parser.add_argument("--corpus", type=Path, help="files that are tried first, and kept for the next run")
    parser.add_argument("--processes", type=int, default=1)
    chosen = parser.parse_args(arguments)
    if chosen.corpus is not None:
        chosen.corpus.mkdir(parents=True, exist_ok=True)
    if chosen.processes > 1:
        return shared(chosen)
    warnings.simplefilter("ignore")
    place = _IN_MEMORY if _IN_MEMORY.is_dir() else None
    with tempfile.TemporaryDirectory(prefix="fuzz-", dir=place) as made:
        folder = Path(made)
        kinds = [target for target in targets(folder) if chosen.only in target.name]
        run = Run(folder, chosen.corpus)
        run.begin(kinds)
        begun, start, work_s = run.tried.total(), time.monotonic(), time.process_time()
        run.go_on(kinds, random.Random(chosen.seed), start + chosen.seconds, chosen.files)
    for name in sorted(run.tried):
        print(f"{name:<24} {run.tried[name]:9d} files, {run.refused[name]:9d} refused or noted")
    seconds, work_s = time.monotonic() - start, time.process_time() - work_s
    total = run.tried.total()
    print(f"{total} files, {total - begun} of them new in {seconds:.0f} s; {len(run.failed)} failed")
    print(f"{(total - begun) / seconds:.0f} a second, {(total - begun) / work_s:.0f} a second of work")
    print(f"at most {run.most_mb:.0f} MB beyond the beginning")
    if chosen.corpus is not None:
        print(f"{run.totals.of_all_runs().total()} new files in all runs over this corpus")
    return 1 if run.failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
