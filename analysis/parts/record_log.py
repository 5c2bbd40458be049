"""Records of parts in a file that is only added to: every line holds the digest of the one before.

A line that is changed, taken out or put in is seen; that lines were cut off at the end only by a digest that
was written down elsewhere, such as on a printed record.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from analysis.checked_text import KEPT_WORK_BYTES, UnusableTextError, json_data, read_bytes, read_text
from analysis.errors import TautographError
from analysis.parts.digests import ODD_CHARACTERS, canonical, digest_of
from analysis.parts.one_writer import held_alone

#: What the first line has in place of the digest of the one before.
BEGINNING = "beginning"


class RecordLogError(TautographError):
    """A log of records that cannot be added to."""


@dataclass(frozen=True)
class LogProblem:
    """One place where a log is not what it was."""

    line: int
    words: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.words}"


@dataclass(frozen=True)
class RecordLog:
    """What a log holds."""

    records: tuple[Mapping[str, Any], ...]  #: In order; those of lines that are none are left out.
    problems: tuple[LogProblem, ...]
    head: str  #: Digest of the last line; `BEGINNING` where there is none.

    def latest(self) -> dict[tuple[Any, ...], Mapping[str, Any]]:
        """The last record of each part and joint."""
        return {_key(one): one for one in self.records}


def _key(record: Mapping[str, Any]) -> tuple[Any, ...]:
    return record.get("part"), record.get("joint"), record.get("started_at")


def read_log(path: Path) -> RecordLog:
    """Read a log and check every link of its chain.

    Raises
    ------
    RecordLogError
        Where it is no text at all.
    OSError
    """
    try:
        lines = read_text(path, KEPT_WORK_BYTES).split("\n")
    except UnusableTextError as error:
        raise RecordLogError(f"{path}: {error}") from None
    records: list[Mapping[str, Any]] = []
    problems: list[LogProblem] = []
    before = BEGINNING
    for number, line in enumerate(lines, 1):
        if number == len(lines) and not line:
            break
        entry = _entry(line)
        if entry is None:
            words = "is no record" if number < len(lines) else "was cut short while it was written"
            problems.append(LogProblem(number, words))
            continue
        if entry["previous"] != before:
            problems.append(LogProblem(number, "does not follow the line before"))
        if digest_of({"previous": entry["previous"], "record": entry["record"]}) != entry["digest"]:
            problems.append(LogProblem(number, f"{_name(entry['record'])} was changed after it was written"))
        before = entry["digest"]
        records.append(entry["record"])
    return RecordLog(tuple(records), tuple(problems), before)


def _entry(line: str) -> dict[str, Any] | None:
    try:
        entry = json_data(line)
    except UnusableTextError:
        return None
    sound = isinstance(entry, dict) and isinstance(entry.get("record"), dict)
    texts = sound and all(isinstance(entry.get(key), str) for key in ("previous", "digest"))
    return entry if texts and _is_of_a_part(entry["record"]) else None


def _is_of_a_part(record: Mapping[str, Any]) -> bool:
    """Whether a record names part and joint by plain values, and its recordings by texts."""
    stated = record.get("recordings", [])
    return not any(isinstance(one, list | dict) for one in _key(record)) and (
        isinstance(stated, list)
        and all(
            isinstance(one, dict) and all(isinstance(one.get(key), str) for key in ("trace_id", "trace"))
            for one in stated
        )
    )


def _name(record: Mapping[str, Any]) -> str:
    return f"the record of {record.get('part')}, {record.get('joint')},"


def add_records(path: Path, records: Iterable[Mapping[str, Any]]) -> tuple[int, str]:
    """Add records behind the last line; what the log has as the latest of its part is not repeated.

    One program at a time: what another one adds meanwhile stands before these records, or behind them.

    Returns
    -------
    added : int
    head : str
        Digest of the last line.

    Raises
    ------
    RecordLogError
        Where the log was changed: nothing is added to a broken chain.
    OSError
    """
    if path.exists() and not path.is_file():  # a pipe would be waited on for ever
        raise RecordLogError(f"{path}: is no plain file")
    with held_alone(path) as stream:
        _end_the_last_line(stream.fileno(), path)
        log = read_log(path)
        if log.problems:
            raise RecordLogError(f"{path}: {log.problems[0]}; nothing is added to a log that was changed")
        latest, head = log.latest(), log.head
        lines = []
        for given in records:
            record = json.loads(canonical(given))
            if latest.get(_key(record)) == record:
                continue
            digest = digest_of({"previous": head, "record": record})
            lines.append(canonical({"previous": head, "record": record, "digest": digest}))
            head = digest
        _add(stream.fileno(), "".join(f"{line}\n" for line in lines).encode("utf-8", ODD_CHARACTERS))
    return len(lines), head


def _end_the_last_line(number: int, path: Path) -> None:
    """A last line that a kill or a cut of power left half written never was a record: it goes."""
    try:
        content = read_bytes(path, KEPT_WORK_BYTES)
    except UnusableTextError as error:
        raise RecordLogError(f"{path}: {error}") from None
    stop = content.rfind(b"\n") + 1
    if len(content) > stop:
        if _entry(content[stop:].decode("utf-8", "replace")) is None:
            os.ftruncate(number, stop)
        else:
            _add(number, b"\n")


def _add(number: int, content: bytes) -> None:
    """Put all of it behind an open file, or nothing, as on a full disk."""
    size = os.lseek(number, 0, os.SEEK_END)
    try:
        while content:
            content = content[os.write(number, content) :]
        os.fsync(number)
    except OSError:
        os.ftruncate(number, size)
        raise


def changed_recordings(log: RecordLog, digests: Mapping[str, str]) -> tuple[Sequence[str], Sequence[str]]:
    """Recordings that are no longer what the latest records stand on, and those that are not there.

    Parameters
    ----------
    digests : Mapping of trace_id to digest
        Of the recordings as they are now.
    """
    latest = log.latest().values()
    stated = {one["trace_id"]: one["trace"] for record in latest for one in record.get("recordings", ())}
    changed = [name for name, digest in stated.items() if name in digests and digests[name] != digest]
    return changed, [name for name in stated if name not in digests]
