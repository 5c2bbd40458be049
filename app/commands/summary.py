"""Counts of a run: as a small table for people, as JSON for a machine, and as the exit code."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

from analysis import __version__
from analysis.catalogue.verdicts import VERDICTS

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.errors import ReadProblem
    from analysis.settings import Settings
    from analysis.traces import Source


class Told(Protocol):
    """What a run tells of itself."""

    @property
    def problems(self) -> tuple[ReadProblem, ...]:
        """Of the files."""

    @property
    def left_out(self) -> int:
        """Traces that started too early."""

    @property
    def settings(self) -> Settings:
        """What points and verdicts were found by."""

    @property
    def sources(self) -> tuple[Source, ...]:
        """Files that traces came from."""


ALL_OK, SOME_NOT_OK, SOME_NOT_EVALUATED = 0, 1, 2

#: Order of the columns in the printed table.
_SHOWN = ("ok", "suspect", "not ok", "not evaluated")
NO_JOINT = "(no joint)"


def exit_code(verdicts: Iterable[str]) -> int:
    """What `analyse` answers to the shell.

    Examples
    --------
    >>> exit_code(["ok", "ok"]), exit_code(["ok", "suspect"]), exit_code(["not evaluated", "ok"])
    (0, 1, 2)
    """
    found = set(verdicts)
    if found & {"not ok", "suspect"}:
        return SOME_NOT_OK
    return SOME_NOT_EVALUATED if "not evaluated" in found else ALL_OK


def counts_by_joint(results: pa.Table) -> dict[str, Counter[str]]:
    """Verdict counts of each joint, joints by name; traces without a joint under `NO_JOINT`, last."""
    counts: dict[str, Counter[str]] = {}
    names = results.column("joint").to_pylist()
    for name, verdict in zip(names, results.column("verdict").to_pylist(), strict=True):
        counts.setdefault(NO_JOINT if name is None else name, Counter())[str(verdict)] += 1
    return dict(sorted(counts.items(), key=lambda item: (item[0] == NO_JOINT, item[0])))


def rows_of_joint(results: pa.Table, joint: str | None) -> list[int]:
    """Numbers of the rows of one joint, or of no joint."""
    return [row for row, name in enumerate(results.column("joint").to_pylist()) if name == joint]


def as_text(counts: Mapping[str, Counter[str]]) -> str:
    """The counts as a table of plain text, one line a joint and one for all.

    Examples
    --------
    >>> print(as_text({"hub": Counter({"ok": 11, "not ok": 1})}))
    joint  traces  ok  suspect  not ok  not evaluated
    hub        12  11        0       1              0
    """
    rows = [[name, str(n.total()), *(str(n[v]) for v in _SHOWN)] for name, n in counts.items()]
    if len(rows) > 1:
        total = sum(counts.values(), Counter[str]())
        rows.append(["all", str(total.total()), *(str(total[v]) for v in _SHOWN)])
    table = [["joint", "traces", *_SHOWN], *rows]
    widths = [max(map(len, column)) for column in zip(*table, strict=True)]
    return "\n".join(
        "  ".join([row[0].ljust(widths[0]), *(c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True))])
        for row in table
    )


def as_json(run: Told, results: pa.Table, written: Sequence[str], code: int) -> str:
    """The run for a machine to read: counts, what was not read, and what the results rest on.

    Nothing in it depends on the clock: the same input, joints and settings give the same text.
    """
    verdicts = Counter(results.column("verdict").to_pylist())
    story: dict[str, Any] = {
        "program": "tautograph",
        "version": __version__,
        "exit_code": code,
        "traces": results.num_rows,
        "verdicts": {verdict: verdicts[verdict] for verdict in VERDICTS},
        "joints": {name: _joint_story(results, name, n) for name, n in counts_by_joint(results).items()},
        "left_out_by_since": run.left_out,
        "not_read": [place_of(problem) for problem in run.problems if problem.fatal],
        "notes": [place_of(problem) for problem in run.problems if not problem.fatal],
        "written": list(written),
        "settings": run.settings.as_dict(),
        "sources": [
            {"path": source.path, "digest": source.digest, "layout": source.layout} for source in run.sources
        ],
    }
    return json.dumps(story, ensure_ascii=False, indent=2) + "\n"


def _joint_story(results: pa.Table, name: str, verdicts: Counter[str]) -> dict[str, Any]:
    of_joint = results.take(rows_of_joint(results, None if name == NO_JOINT else name))
    findings = Counter(found for row in of_joint.column("findings").to_pylist() for found in row or ())
    causes = Counter(cause for cause in of_joint.column("cause").to_pylist() if cause is not None)
    return {
        "traces": of_joint.num_rows,
        "verdicts": {verdict: verdicts[verdict] for verdict in VERDICTS},
        "findings": dict(sorted(findings.items())),
        "causes": dict(sorted(causes.items())),
    }


def place_of(problem: Any) -> dict[str, Any]:
    """A problem for a machine to read."""
    return {key: getattr(problem, key) for key in ("path", "line", "found", "expected", "advice")}
