"""The program is killed at work, again and again: what was decided a second before is there, nothing is torn.

``python -m tests.attacks.kills --kills 300`` (``--only deciding`` takes one kind of work). Kinds: the window
decides at rhythms from 40 ms to 1.5 s, and beside that saves, exports its table, judges, follows a folder
that grows, writes its report or a plant's year, groups its table or shares a joint; reads; the commands
analyse and report write their results, with the fast parts compiled or not, parts adds records to their log,
two processes add to an archive, or one looks back at it. Each start follows the kill before it, in the same
settings, so that a refused start is seen. Prints the figures; 1 where anything was lost, torn or refused.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
import zipfile
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from analysis.joint.library import read_library
from analysis.kernel_cache import ENDING as KERNEL_ENDING
from analysis.kernel_cache import unsealed
from analysis.parts.record_log import add_records, read_log
from analysis.plant.archive import finish_interrupted, inputs_of
from analysis.plant.reading_back import read_days, read_rows
from analysis.reading import write_parquet
from app.workspace.workspace_file import ENDING, read_workspace
from sample_traces.sample_paths import sample_parts_paths
from tests.attacks.killed import OTHER_WORK
from tests.helpers.commands import ROOT
from tests.journeys.shift_folder import HUB, traces_of, write_small_folder
from tests.world.plant_year import YearPlan, make_year, write_archive

#: Work that a kill may cost, seconds.
MOST_LOST_S = 1.0
#: Time for the first verdicts, before what needs them begins, seconds; files in the followed folder at most.
_TO_JUDGE_S, _MOST_ARRIVED = 4.0, 12
#: Time that an archive takes to put its files in place, and some more, seconds.
_PUT_IN_PLACE_S = 0.25
_WANTS_VERDICTS = ("exporting", "reporting", "grouping", "year")
_RHYTHMS_MS = (40, 120, 350, 399, 401, 700, 1500)
_LINE = re.compile(r"^(\w+) (\d+) ([\d.]+)$", re.MULTILINE)
#: What the window writes beside deciding, by the kind of its work.
_WRITTEN = {
    "saving": (f"work{ENDING}",),
    "exporting": ("table.csv", "table.xlsx", "table.parquet"),
    "judging": ("none",),
    "following": ("shift/none",),
    "reporting": ("report.pdf", "report.xlsx", "report.html"),
    "year": ("year.pdf", "year.html", "year.xlsx"),
    "sharing": ("library.toml",),
}


@dataclass
class Kills:
    """Where it happens, and what was seen."""

    place: Path
    rng: random.Random
    done: Counter[str] = field(default_factory=Counter)
    wrong: list[str] = field(default_factory=list)
    pieces: Counter[str] = field(default_factory=Counter)
    most_lost_s: float = 0.0
    arrived: int = 0

    def __post_init__(self) -> None:
        self.folder = write_small_folder(self.place / "shift", 6)
        self.settings = self.place / "settings" / "window.ini"
        self.archive = self.place / "results"
        year = make_year(1, YearPlan(joints=2, spindles_each=3, weeks=20, a_week=20, seeded=False))
        write_archive(year, self.place / "archive")

    def killed(
        self, words: Sequence[str], after_s: float, *, until: str, during: Callable[[], None] | None = None
    ) -> tuple[str, float]:
        """Start, kill after so long, and give what was printed and when it was killed."""
        log = self.place / "printed"
        with open(log, "w") as stream:
            process = subprocess.Popen(
                [sys.executable, "-m", *words], cwd=ROOT, stdout=stream, stderr=subprocess.STDOUT,
                env={**os.environ, "QT_QPA_PLATFORM": "offscreen"},
            )  # fmt: skip
            give_up = time.time() + 300.0
            while until not in log.read_text() and process.poll() is None and time.time() < give_up:
                time.sleep(0.02)
            if during is not None:
                during()
            time.sleep(after_s)
            moment = time.time()
            process.kill()
            process.wait()
        return log.read_text(errors="replace"), moment

    def deciding(self, kind: str = "") -> None:
        """The window, at some rhythm, with other work beside it or not."""
        rhythm = self.rng.choice(_RHYTHMS_MS)
        file = self.place / self.rng.choice(_WRITTEN.get(kind, ("",)))
        if kind == "saving":
            file.unlink(missing_ok=True)
        words = ["tests.attacks.killed", str(self.settings), str(self.folder), str(rhythm)]
        after_s = self.rng.uniform(0.2, 4.0) + (_TO_JUDGE_S if kind in _WANTS_VERDICTS else 0.0)
        during = self.file_arrives if kind == "following" else None
        printed, moment = self.killed(
            [*words, kind, str(file)] if kind else words, after_s, until="decided", during=during
        )
        lines = [(what, int(n), float(at)) for what, n, at in _LINE.findall(printed)]
        decided = {n: at for what, n, at in lines if what == "decided"}
        if not decided:
            self.wrong.append(f"no decision was made: {printed[-300:]}")
            return
        self.pieces[kind] += sum(what == kind for what, _, _ in lines)
        self._look_for_lost(decided, f"{kind or 'deciding'} at {rhythm} ms", moment)
        done = max((n for what, n, _ in lines if what == kind), default=-1)
        if kind == "saving" and done >= 0 and (found := max(_notes(file))) < done:
            self.wrong.append(f"saved {done}, found {found}")
        elif kind == "sharing" and done >= 0:
            read_library(file)
        elif kind in ("exporting", "reporting", "year") and file.exists() and not is_whole(file):
            self.wrong.append(f"{kind}: {file.name} is torn")

    def file_arrives(self) -> None:
        """One more recording in the folder that is followed."""
        self.arrived += 1
        write_parquet(
            traces_of(HUB, 6 + self.arrived, 7 + self.arrived), self.folder / f"{self.arrived}.parquet"
        )
        if self.arrived == _MOST_ARRIVED:
            for file in self.folder.glob("[0-9]*.parquet"):
                file.unlink()
            self.arrived = 0

    def _look_for_lost(self, decided: dict[int, float], where: str, moment: float) -> None:
        last = max(self._kept_notes(), default=-1)
        lost = [at for n, at in decided.items() if n > last]
        if not lost:
            return
        lost_s = moment - min(lost)
        self.most_lost_s = max(self.most_lost_s, lost_s)
        if lost_s > MOST_LOST_S:
            self.wrong.append(f"{where}: {len(lost)} decisions of {lost_s:.2f} s were lost")

    def _kept_notes(self) -> list[int]:
        """Numbers of the notes in the newest journal."""
        files = list((self.settings.parent / "data" / "autosave").glob(f"autosave-*{ENDING}"))
        return _notes(max(files, key=lambda file: file.stat().st_mtime_ns)) if files else []

    def loading(self) -> None:
        """The window before anything was decided."""
        words = ["tests.attacks.killed", str(self.settings), str(self.folder), "100000"]
        self.killed(words, self.rng.uniform(0.3, 5.0), until="")

    def writing(self, command: str, ending: str, *, kernels: Path | None = None) -> None:
        """A command that writes."""
        target = self.place / f"out{ending}"
        target.unlink(missing_ok=True)
        option = "--results" if command == "analyse" else "--out"
        joints = str(self.folder / "joints.toml")
        words = ["app", command, str(self.folder), "--joints", joints, option, str(target)]
        if kernels is not None:
            os.environ["TAUTOGRAPH_KERNELS"] = str(kernels)
        self.killed(words, self.rng.uniform(1.0, 12.0), until="")
        if target.exists() and not is_whole(target):
            self.wrong.append(f"{command}: {target.name} is torn")
        if kernels is not None:
            torn = [file for file in kernels.rglob(f"*{KERNEL_ENDING}") if unsealed(file) is None]
            self.wrong += [f"torn: {file}" for file in torn]

    def archiving(self) -> None:
        """Two processes that add to an archive; what is there is whole, and the next run goes on with it."""
        held, folder = set(inputs_of(self.archive)), str(self.folder)
        words = ["app", "analyse", folder, "--joints", f"{folder}/joints.toml"]
        words += ["--results", f"{self.archive}/", "--workers", "2"]
        if self.rng.random() < 0.5:
            self.killed(words, self.rng.uniform(0.5, 14.0), until="")
        else:  # as its files are put in place
            self.killed(words, self.rng.uniform(0.0, _PUT_IN_PLACE_S), until="", during=self._files_come)
        finish_interrupted(self.archive)
        now = inputs_of(self.archive)
        if held - set(now):
            self.wrong.append(f"the archive lost {len(held - set(now))} recordings")
        if now:
            told = sum(n for one in now.values() for _, _, n in one["verdicts"])
            rows = read_rows(self.archive, ["trace_id", "source_digest"])
            days = sum(read_days(self.archive, ["n"]).column("n").to_pylist())
            if not rows.num_rows == told == days:
                self.wrong.append(f"the archive has {rows.num_rows} rows, {days} in days, {told} are told")
            if set(rows.column("source_digest").to_pylist()) - set(now):
                self.wrong.append("the archive has rows of recordings that it does not name")
            self.pieces["archived"] += len(set(now) - held)
            shutil.rmtree(self.archive)  # begun anew

    def recording(self) -> None:
        """Parts whose records are added to a log: what stood there stays; torn is the last line alone."""
        traces, joints = sample_parts_paths()
        log, target = self.place / "records.jsonl", self.place / "parts.csv"
        target.unlink(missing_ok=True)
        before = log.read_bytes() if log.exists() else b""
        words = [
            "app",
            "parts",
            str(traces),
            "--joints",
            str(joints),
            "--out",
            str(target),
            "--log",
            str(log),
        ]
        if self.rng.random() < 0.3:
            self.killed(words, self.rng.uniform(0.5, 8.0), until="")
        else:  # as its lines are written
            came = partial(self._grows, log, len(before))
            self.killed(words, self.rng.uniform(0.0, 0.01), until="", during=came)
        kept = log.read_bytes() if log.exists() else b""
        if not kept.startswith(before[: before.rfind(b"\n") + 1]):
            self.wrong.append("the log of records lost lines")
        if target.exists() and not is_whole(target):
            self.wrong.append("parts: the table is torn")
        if log.exists():
            add_records(log, [])  # clears away the line that was being written
            self.wrong += [f"log of records: {one}" for one in read_log(log).problems]
            self.pieces["recorded"] += len(kept) > len(before)
        if self.rng.random() < 0.7:
            log.unlink(missing_ok=True)  # begun anew

    def _grows(self, file: Path, size: int) -> None:
        """Until a file is there, or is longer; no longer than a run takes that adds nothing."""
        until = time.monotonic() + 15.0
        while time.monotonic() < until and not (file.exists() and (not size or file.stat().st_size > size)):
            time.sleep(0.0005)

    def looking_back(self) -> None:
        """An archive that is only looked at: it stays what it was, and the record is whole or not there."""
        archive, target = self.place / "looked at", self.place / "record.html"
        joints = ["--joints", str(self.folder / "joints.toml")]
        if not archive.exists():
            words = [sys.executable, "-m", "app", "analyse", str(self.folder), *joints]
            subprocess.run([*words, "--results", f"{archive}/"], cwd=ROOT, capture_output=True, check=False)
        held, days = inputs_of(archive), read_days(archive)
        target.unlink(missing_ok=True)
        words = ["app", "look-back", str(archive), *joints, "--only-joint", HUB]
        words += ["--error-percent", "3", "--out", str(target)]
        self.killed(words, self.rng.uniform(0.5, 10.0), until="")
        if target.exists() and not is_whole(target):
            self.wrong.append("look-back: the record is torn")
        finish_interrupted(archive)
        if inputs_of(archive) != held or not read_days(archive).equals(days):
            self.wrong.append("looking back changed the archive")
        self.pieces["looked back"] += target.exists()

    def _files_come(self) -> None:
        until = time.monotonic() + 60.0
        while time.monotonic() < until and not any(self.archive.glob("_unfinished/*/ready")):
            if any(self.archive.glob("_inputs/*")):
                return
            time.sleep(0.001)


def _notes(file: Path) -> list[int]:
    traces = read_workspace(file).decisions.traces.values()
    return [int(decision.note.split()[1]) for decision in traces if decision.note]


def is_whole(file: Path) -> bool:
    """Whether a file ends as one of its kind does."""
    data = file.read_bytes()
    match file.suffix:
        case ".parquet":
            return data.startswith(b"PAR1") and data.endswith(b"PAR1")
        case ".pdf":
            return data.startswith(b"%PDF") and b"%%EOF" in data[-64:]
        case ".xlsx":
            return zipfile.is_zipfile(file) and zipfile.ZipFile(file).testzip() is None
        case ".html":
            return data.rstrip().endswith(b"</html>")
        case _:
            return data.endswith(b"\n")


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seconds", type=float, default=1e9, help="end after this time in any case")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", default="", help="kinds, with commas between them")
    chosen = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as place:
        kills = Kills(Path(place), random.Random(chosen.seed))
        kinds: dict[str, Callable[[], None]] = {
            "deciding": kills.deciding,
            **{kind: partial(kills.deciding, kind) for kind in OTHER_WORK},
            "loading": kills.loading,
            "analyse": lambda: kills.writing("analyse", kills.rng.choice((".parquet", ".csv", ".xlsx"))),
            "report": lambda: kills.writing("report", kills.rng.choice((".pdf", ".html", ".xlsx"))),
            "archive": kills.archiving,
            "recording": kills.recording,
            "looking back": kills.looking_back,
            "compiling": lambda: kills.writing("analyse", ".parquet", kernels=kills.place / "kernels"),
        }
        wanted = chosen.only.split(",")
        kinds = {name: kind for name, kind in kinds.items() if any(one in name for one in wanted)}
        start, before = time.monotonic(), os.environ.get("TAUTOGRAPH_KERNELS")
        for number in range(chosen.kills):
            if time.monotonic() - start > chosen.seconds:
                break
            name = list(kinds)[number % len(kinds)]
            kinds[name]()
            os.environ.pop("TAUTOGRAPH_KERNELS", None)
            if before is not None:
                os.environ["TAUTOGRAPH_KERNELS"] = before
            kills.done[name] += 1
        print(", ".join(f"{name} {n}" for name, n in kills.done.items()))
        print(
            "pieces of work beside deciding:",
            ", ".join(f"{kind} {n}" for kind, n in kills.pieces.items() if kind),
        )
        print(f"{sum(kills.done.values())} kills; at most {kills.most_lost_s:.2f} s of work lost; "
              f"{len(kills.wrong)} wrong")  # fmt: skip
        print("\n".join(kills.wrong))
    return 1 if kills.wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
