"""Looking back: all that a tool, a spindle, a lot or a time touched, judged again, and what to contain.

A calibration finds that a tool read wrong by so many percent. Every trace that it made since it was last
known to be right is then judged again with the torque that was really there: by its curve, from its file;
where that is gone or changed, by the torques that were kept against the joint's limits alone.
"""

from __future__ import annotations

import hashlib
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc

from analysis.catalogue.figures import FINAL_TORQUE, PREVAILING_TORQUE
from analysis.catalogue.rules import WINDOWS, Rule
from analysis.figure_text import plural
from analysis.joint.definition import JointDefinition
from analysis.plant.archive import inputs_of
from analysis.plant.names import DIGEST, LOOKING_BACK, LOT
from analysis.plant.pieces import Correction, Job, find_recordings, plan_pieces
from analysis.plant.reading_back import read_rows
from analysis.plant.table_file import read_table
from analysis.plant.workers import Progress, Workers

#: What is asked of each touched trace; the verdicts stand behind these.
ASKED = (
    "joint", "part", "position", "trace_id", "tool", "spindle", "program", LOT, "started_at",
    FINAL_TORQUE.name, PREVAILING_TORQUE.name, "verdict", "findings", "source", DIGEST,
)  # fmt: skip
BY_CURVE, BY_FIGURES, AS_IT_WAS = "its curve", "its torques against the limits", "not judged again"
#: Columns of the record.
COLUMNS = (
    *ASKED[:9], FINAL_TORQUE.name, "true_torque_nm", "verdict_before", "verdict_after", "findings_after",
    "judged_by", "contain", "source",
)  # fmt: skip
#: Rules whose limits are torques that the tool read.
_TORQUE_RULES = [rule for rule in WINDOWS.values() if rule.figure in (FINAL_TORQUE, PREVAILING_TORQUE)]
_BLOCK = 4_194_304


@dataclass(frozen=True)
class Touched:
    """Which traces are looked back at; what is None leaves all."""

    tool: str | None = None
    spindle: str | None = None
    lot: str | None = None
    joint: str | None = None
    #: Started at or after, and before.
    since: datetime | None = None
    until: datetime | None = None

    def filter(self) -> Any:
        """As `pyarrow.compute` has it; None where all is asked for."""
        named = {"tool": self.tool, "spindle": self.spindle, LOT: self.lot, "joint": self.joint}
        parts = [pc.field(name) == value for name, value in named.items() if value is not None]
        moment = pa.timestamp("us", tz="UTC")
        if self.since is not None:
            parts.append(pc.field("started_at") >= pa.scalar(self.since, moment))
        if self.until is not None:
            parts.append(pc.field("started_at") < pa.scalar(self.until, moment))
        whole = None
        for part in parts:
            whole = part if whole is None else whole & part
        return whole

    def words(self) -> str:
        """For the record."""
        named = {"tool": self.tool, "spindle": self.spindle, "lot": self.lot, "joint": self.joint}
        parts = [f"{name} {value}" for name, value in named.items() if value is not None]
        parts += [] if self.since is None else [f"from {self.since:%Y-%m-%d %H:%M} UTC"]
        parts += [] if self.until is None else [f"before {self.until:%Y-%m-%d %H:%M} UTC"]
        return ", ".join(parts) or "everything"


@dataclass(frozen=True)
class LookBack:
    """What looking back found."""

    touched: Touched
    #: By how much more than the true torque was read; None where nothing was judged again.
    error_percent: float | None
    rows: pa.Table  #: One row a touched trace, columns `COLUMNS`, what to contain first, then by time.

    @property
    def changed(self) -> int:
        """Traces whose verdict is another one now."""
        before, after = (self.rows.column(name).to_pylist() for name in ("verdict_before", "verdict_after"))
        return sum(one != other for one, other in zip(before, after, strict=True))

    @property
    def contained(self) -> pa.Table:
        """The rows to contain."""
        return self.rows.filter(self.rows.column("contain"))

    @property
    def parts(self) -> list[str]:
        """Parts to contain; traces that name none are not among them."""
        return sorted({one for one in self.contained.column("part").to_pylist() if one is not None})

    def sentences(self) -> list[str]:
        """What was found, for the record and the terminal."""
        n, stop = self.rows.num_rows, self.contained.num_rows
        said = [f"{plural(n, 'trace')} touched: {self.touched.words()}"]
        if self.error_percent is None:
            said.append("no error was given: nothing was judged again, and all of them are to be contained")
        else:
            way = "more" if self.error_percent > 0 else "less"
            said.append(
                f"judged again for a tool that read {abs(self.error_percent):g} % {way} than the true "
                f"torque: {self.changed} of {n} verdicts change ({100.0 * self.changed / max(n, 1):.1f} %), "
                f"{plural(stop, 'trace is', 'traces are')} not ok that were not called so"
            )
            ways = self.rows.column("judged_by").to_pylist()
            if BY_FIGURES in ways:
                said.append(
                    f"{ways.count(BY_FIGURES)} of them by {BY_FIGURES} alone: their recordings are gone or "
                    "changed"
                )
        unnamed = self.contained.column("part").null_count
        said.append(
            f"{plural(len(self.parts), 'part')} to contain"
            + (f", {unnamed} traces name no part" if unnamed else "")
        )
        return said


def look_back(
    folder: Path,
    touched: Touched,
    error_percent: float | None,
    job: Job,
    workers: Workers,
    *,
    progress: Progress | None = None,
) -> LookBack:
    """Everything in an archive that was touched, judged again where an error is given.

    Raises TautographError or OSError.

    Parameters
    ----------
    folder : Path
        The archive.
    error_percent : float or None
        The tool read so many percent more than the true torque.
    job : Job
        Joints and settings.
    """
    rows = read_rows(folder, ASKED, touched.filter()).to_pylist()
    after: dict[tuple[str, str], tuple[str, list[str]]] = {}
    factor = 1.0
    if error_percent is not None:
        factor = 1.0 / (1.0 + error_percent / 100.0)
        wrong: dict[str, set[str]] = {}
        for row in rows:
            wrong.setdefault(row[DIGEST], set()).add(row["trace_id"])
        correction = Correction(factor, {digest: frozenset(ids) for digest, ids in wrong.items()})
        after = _by_curves(folder, correction, job, workers, progress)
    made = [_record(row, after, factor, error_percent is not None, job.joints) for row in rows]
    made.sort(key=lambda row: (not row["contain"], str(row["started_at"] or ""), row["trace_id"]))
    return LookBack(touched, error_percent, pa.Table.from_pylist(made, _schema()))


def _schema() -> pa.Schema:
    kinds: dict[str, Any] = {
        "started_at": pa.timestamp("us", tz="UTC"),
        FINAL_TORQUE.name: pa.float64(),
        "true_torque_nm": pa.float64(),
        "findings_after": pa.list_(pa.string()),
        "contain": pa.bool_(),
    }
    return pa.schema([(name, kinds.get(name, pa.string())) for name in COLUMNS])


def _by_curves(
    folder: Path, correction: Correction, job: Job, workers: Workers, progress: Progress | None
) -> dict[tuple[str, str], tuple[str, list[str]]]:
    """Verdict and findings of touched traces by digest and id, from recordings that are still what they were.

    What is usual is told among the traces of the same files.
    """
    from analysis.plant.engine import judge_pieces

    held = inputs_of(folder)
    runs: dict[str, dict[str, str]] = {}
    for digest in correction.traces:
        one = held.get(digest)
        if one is not None and _is_still(Path(one["path"]), digest):
            runs.setdefault(one["run"], {})[digest] = one["path"]
    found: dict[tuple[str, str], tuple[str, list[str]]] = {}
    for run in sorted(runs):
        files, _ = find_recordings(sorted(runs[run].values()))
        with tempfile.TemporaryDirectory(prefix=LOOKING_BACK, dir=folder) as stage:
            again = replace(job, correction=correction, since=None)
            judged = judge_pieces(str(Path(stage).resolve()), again, plan_pieces(files), workers, progress)
            for _, path in judged.groups:
                found |= _verdicts(read_table(Path(path)), correction.traces)
    return found


def _verdicts(
    table: pa.Table, wrong: Mapping[str, frozenset[str]]
) -> dict[tuple[str, str], tuple[str, list[str]]]:
    columns = [table.column(name).to_pylist() for name in (DIGEST, "trace_id", "verdict", "findings")]
    return {
        (digest, trace_id): (verdict, findings)
        for digest, trace_id, verdict, findings in zip(*columns, strict=True)
        if trace_id in wrong.get(digest, ())
    }


def _is_still(path: Path, digest: str) -> bool:
    """Whether the file is there with the bytes that were judged."""
    found = hashlib.sha256()
    try:
        with open(path, "rb") as stream:
            while block := stream.read(_BLOCK):
                found.update(block)
    except OSError:
        return False
    return f"sha256:{found.hexdigest()}" == digest


def _record(
    row: Mapping[str, Any],
    after: Mapping[tuple[str, str], tuple[str, list[str]]],
    factor: float,
    again: bool,
    joints: Mapping[str, JointDefinition],
) -> dict[str, Any]:
    before = row["verdict"]
    by, (verdict, findings) = AS_IT_WAS, (before, row["findings"])
    if (row[DIGEST], row["trace_id"]) in after:
        by, (verdict, findings) = BY_CURVE, after[row[DIGEST], row["trace_id"]]
    elif again:
        by, (verdict, findings) = BY_FIGURES, _by_figures(row, factor, joints.get(row["joint"]))
    torque = row[FINAL_TORQUE.name]
    return {name: row[name] for name in ASKED if name in COLUMNS} | {
        "true_torque_nm": None if torque is None or not again else torque * factor,
        "verdict_before": before,
        "verdict_after": verdict,
        "findings_after": findings,
        "judged_by": by,
        "contain": verdict == "not ok" and before != "not ok" if again else True,
    }


def _by_figures(
    row: Mapping[str, Any], factor: float, definition: JointDefinition | None
) -> tuple[str, list[str]]:
    """Verdict and findings by the torques that were kept; what curves alone tell stays as it was."""
    if definition is None:
        return row["verdict"], row["findings"]
    torque = {name for rule in _TORQUE_RULES for name in (rule.low, rule.high)}
    kept = [one for one in row["findings"] if one not in torque]
    broken = [name for rule in _TORQUE_RULES if (name := _broken(rule, row, factor, definition))]
    if broken:
        return "not ok", broken + kept
    if row["verdict"] == "not ok" and len(kept) < len(row["findings"]):
        return "not evaluated", kept  # the limit that was broken is met now: what else there is, is not known
    return row["verdict"], kept


def _broken(rule: Rule, row: Mapping[str, Any], factor: float, definition: JointDefinition) -> str:
    """The finding of a limit that the true torque breaks; empty where it does not."""
    limits, value = getattr(definition, rule.key), row[rule.figure.name]
    if limits is None or value is None:
        return ""
    if value * factor < limits[0]:
        return rule.low
    return rule.high if value * factor > limits[1] else ""
