"""Mutated files of every kind that the program reads, for a given time: read errors only may come of them.

Run from the project's folder: ``python -m tests.speed.fuzzing --seconds 300`` (``--seed`` repeats a run;
``--only joints`` takes one kind). Recordings of every layout, joints, mappings, templates, settings, limits,
references, workspaces and the window's settings are changed in their bytes, their values and their structure.
A file fails over which anything else happens than a listed problem, that takes longer than `MOST_SECONDS`, or
more memory than `MOST_MB` beyond the beginning. In the folder of ``--corpus`` stay those that failed and the
first of each kind of answer; the next run begins with them.
"""

from __future__ import annotations

import argparse
import hashlib
import random
import re
import resource
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

from analysis.errors import TautographError
from analysis.reading import read_paths
from tests.analysis.reading.conftest import SAMPLES
from tests.analysis.reading.test_damage import mangled
from tests.analysis.reading.test_extras import MAKERS
from tests.helpers.text_files import TEXT_FILES

MOST_SECONDS, MOST_MB = 10.0, 500.0
#: What stands where something else is expected.
ODD = (
    "null", "true", "-1", "0", "1e999", "nan", "-inf", "9" * 400, '"text"', '""', "[]", "{}", "[[1, 2], 3]",
    '{"a" = 1}', "[" * 3000, '"\\u0000"', "1979-05-27", "-0.0", "1e-320",
)  # fmt: skip
_VALUE = re.compile(r"(?<=[:=,\[] )[^,\n}\]]+|(?<==)[^,\n}\]]+")


@dataclass(frozen=True)
class Target:
    """One kind of file: a sound one, and what reads it."""

    name: str
    sound: bytes
    read: Callable[[Path], object]


def read_recording(path: Path) -> str:
    """How the reading ended; a file of which nothing came, and nothing was said, is a failure."""
    reading = read_paths([path])
    if not len(reading.traces) and not reading.problems:
        raise AssertionError("neither traces nor a problem")
    return reading.problems[0].found if reading.problems else "read"


def targets(folder: Path) -> list[Target]:
    """Every kind of file."""
    found = []
    for make in SAMPLES.values():
        path = make(folder)
        found.append(Target(path.name, path.read_bytes(), read_recording))
    for name, make_extra in MAKERS.items():
        make_extra(folder / name)
        found.append(Target(name, (folder / name).read_bytes(), read_recording))
    return found + [Target(name, text.encode(), read) for name, (text, read) in TEXT_FILES.items()]


def restructured(content: bytes, rng: random.Random) -> bytes:
    """Another value, a line twice, gone, or elsewhere."""
    text = content.decode("utf-8", "replace")
    places = list(_VALUE.finditer(text))
    if places and rng.random() < 0.7:
        place = rng.choice(places)
        return f"{text[: place.start()]}{rng.choice(ODD)}{text[place.end() :]}".encode()
    lines = text.split("\n")
    line = lines[rng.randrange(len(lines))]
    if rng.random() < 0.5:
        lines.remove(line)
    lines.insert(rng.randrange(len(lines) + 1), line)
    return "\n".join(lines).encode()


def mutated(content: bytes, rng: random.Random, *, as_text: bool) -> bytes:
    """One mutation of bytes, of the structure, or several."""
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        content = restructured(content, rng) if as_text and rng.random() < 0.6 else mangled(content, rng)
    return content


def peak_mb() -> float:
    """The largest memory of this process and of those that it started, megabytes."""
    own, children = (
        resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )
    return max(own, children) / 1024.0


class Run:
    """Tries files, counts, and keeps what is worth keeping."""

    def __init__(self, folder: Path, corpus: Path | None) -> None:
        self.folder = folder
        self.corpus = corpus
        self.tried: Counter[str] = Counter()
        self.refused: Counter[str] = Counter()
        self.failed: list[str] = []
        self._seen: set[tuple[str, str]] = set()
        self._before = 0.0

    def attempt(self, target: Target, content: bytes) -> None:
        """Read it as this kind of file."""
        path = self.folder / target.name
        path.write_bytes(content)
        self._before = self._before or peak_mb()
        start, peak = time.monotonic(), peak_mb()
        wrong = ""
        try:
            answer = str(target.read(path))
            refused = target.read is read_recording and answer != "read"
        except (TautographError, OSError) as error:
            answer, refused = str(error), True
        except Exception as error:  # whatever it is, it is what this run looks for
            answer, refused, wrong = repr(error), True, repr(error)
        if time.monotonic() - start > MOST_SECONDS:
            wrong = wrong or f"{time.monotonic() - start:.0f} s"
        if peak_mb() > max(peak, self._before + MOST_MB):
            wrong = wrong or f"{peak_mb() - peak:.0f} MB"
        self.tried[target.name] += 1
        self.refused[target.name] += refused
        kind = re.sub(r"[\d'\"].*", "", answer.replace(str(path), ""))[:60]
        if wrong or (target.name, kind) not in self._seen:
            self._seen.add((target.name, kind))
            self._keep(target, content, wrong)

    def _keep(self, target: Target, content: bytes, wrong: str) -> None:
        place = self.corpus or self.folder
        if wrong or self.corpus is not None:
            kept = place / f"{target.name}--{hashlib.sha256(content).hexdigest()[:12]}"
            kept.write_bytes(content)
            if wrong:
                self.failed.append(f"{kept}: {wrong}")
                print(self.failed[-1], flush=True)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures; 1 where something else than a read error came of a file."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="a part of the name of the kinds that are tried")
    parser.add_argument("--corpus", type=Path, help="files that are tried first, and kept for the next run")
    chosen = parser.parse_args(arguments)
    warnings.simplefilter("ignore")
    folder = Path(tempfile.mkdtemp(prefix="fuzz-"))
    kinds = [target for target in targets(folder) if chosen.only in target.name]
    rng = random.Random(chosen.seed)
    run = Run(folder, chosen.corpus)
    pool = {target.name: [target.sound] for target in kinds}
    if chosen.corpus is not None:
        chosen.corpus.mkdir(parents=True, exist_ok=True)
        for kept in sorted(chosen.corpus.iterdir()):
            name = kept.name.partition("--")[0]
            if name in pool:
                pool[name].append(kept.read_bytes())
    start, before = time.monotonic(), peak_mb()
    for target in kinds:
        for content in pool[target.name]:
            run.attempt(target, content)
    while time.monotonic() - start < chosen.seconds:
        target = rng.choice(kinds)
        if target.name in MAKERS and rng.random() < 0.99:
            continue  # a process of its own costs as much as a hundred others
        text = target.read is not read_recording or target.name.endswith((".csv", ".txt", ".json"))
        run.attempt(target, mutated(rng.choice(pool[target.name]), rng, as_text=text))
    for name in sorted(run.tried):
        print(f"{name:<24} {run.tried[name]:7d} files, {run.refused[name]:7d} refused or noted")
    seconds, total = time.monotonic() - start, sum(run.tried.values())
    print(f"{total} files in {seconds:.0f} s ({total / seconds:.0f} a second); {len(run.failed)} failed")
    print(f"memory {before:.0f} to {peak_mb():.0f} MB")
    return 1 if run.failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
