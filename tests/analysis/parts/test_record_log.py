"""The chain of records: what is changed is seen, wherever it is."""

from __future__ import annotations

import errno
import json
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from analysis.parts.digests import digest_of, trace_digest
from analysis.parts.one_writer import held_alone
from analysis.parts.record_log import BEGINNING, RecordLogError, add_records, changed_recordings, read_log
from analysis.traces import TraceSet


def records(count: int = 3) -> list[dict]:
    """Records of parts with one recording each."""
    return [
        {
            "part": f"truck-{k}", "joint": "hub", "started_at": None, "verdict": "ok",
            "recordings": [{"trace_id": f"t{k}", "trace": f"sha256:{k}", "result": "sha256:r"}],
        }
        for k in range(count)
    ]  # fmt: skip


def written(tmp_path: Path) -> Path:
    """A log of three records."""
    path = tmp_path / "log.jsonl"
    assert add_records(path, records())[0] == 3
    return path


def test_whole_log_has_no_problem_and_is_only_added_to(tmp_path: Path) -> None:
    path = written(tmp_path)
    before = path.read_bytes()
    assert add_records(path, records())[0] == 0  # each once
    changed = records()
    changed[1]["verdict"] = "not ok"
    assert add_records(path, changed)[0] == 1
    assert path.read_bytes().startswith(before)
    log = read_log(path)
    assert not log.problems
    assert len(log.records) == 4
    assert log.latest()["truck-1", "hub", None]["verdict"] == "not ok"


@pytest.mark.parametrize(
    ("change", "line"),
    [
        (lambda lines: [lines[0].replace('"ok"', '"not ok"'), *lines[1:]], 1),
        (lambda lines: [lines[0], lines[2]], 2),
        (lambda lines: [lines[1], lines[0], lines[2]], 1),
        (lambda lines: [lines[0], "{}", *lines[1:]], 2),
        (lambda lines: [*lines[:2], lines[2].replace("truck-2", "truck-9")], 3),
    ],
)
def test_every_change_is_seen_and_nothing_more_is_added(tmp_path: Path, change, line: int) -> None:
    path = written(tmp_path)
    path.write_text("".join(f"{one}\n" for one in change(path.read_text().splitlines())))
    problems = read_log(path).problems
    assert problems[0].line == line
    with pytest.raises(RecordLogError, match="nothing is added"):
        add_records(path, records(4))


def test_a_record_changed_with_its_own_digest_breaks_the_line_after_it(tmp_path: Path) -> None:
    path = written(tmp_path)
    lines = [json.loads(line) for line in path.read_text().splitlines()]
    lines[0]["record"]["verdict"] = "not ok"
    lines[0]["digest"] = digest_of({key: lines[0][key] for key in ("previous", "record")})
    path.write_text("".join(json.dumps(line) + "\n" for line in lines))
    assert [one.line for one in read_log(path).problems] == [2]


def test_no_log_yet(tmp_path: Path) -> None:
    path = tmp_path / "log.jsonl"
    path.write_text("")
    assert read_log(path).head == BEGINNING


def test_changed_recording_is_seen(tmp_path: Path) -> None:
    log = read_log(written(tmp_path))
    changed, absent = changed_recordings(log, {"t0": "sha256:0", "t1": "sha256:9"})
    assert changed == ["t1"]
    assert absent == ["t2"]


def test_digest_of_a_recording_is_that_of_its_samples() -> None:
    """Angle, then torque, 64-bit floats, lowest byte first: can be done by hand."""
    import hashlib
    import struct

    traces = TraceSet.from_lists(["a"], [[0.0, 1.5]], [[2.0, -3.25]])
    by_hand = hashlib.sha256(struct.pack("<4d", 0.0, 1.5, 2.0, -3.25)).hexdigest()
    assert trace_digest(traces, 0) == f"sha256:{by_hand}"
    moved = TraceSet.from_lists(["a"], [[0.0, np.nextafter(1.5, 2.0)]], [[2.0, -3.25]])
    assert trace_digest(moved, 0) != trace_digest(traces, 0)


def test_several_that_write_at_once_make_one_chain(tmp_path: Path) -> None:
    """Each adds behind the last digest that it read: two that did so together would break the chain."""
    path = tmp_path / "log.jsonl"

    def one_station(number: int) -> None:
        for record in records(12):
            add_records(path, [{**record, "joint": f"joint-{number}"}])

    with ThreadPoolExecutor(4) as stations:
        list(stations.map(one_station, range(4)))
    log = read_log(path)
    assert not log.problems
    assert len(log.records) == 48


def test_who_waits_too_long_is_told_and_adds_nothing(tmp_path: Path) -> None:
    path = written(tmp_path)
    before = path.read_bytes()
    with held_alone(path), pytest.raises(TimeoutError, match="another program"), held_alone(path, 0.1):
        pass
    assert path.read_bytes() == before


def test_a_line_that_a_kill_cut_short_goes_and_the_chain_goes_on(tmp_path: Path) -> None:
    path = written(tmp_path)
    whole = path.read_bytes()
    for cut in (1, 30, len(whole.splitlines()[2])):
        path.write_bytes(whole[:-cut])
        if cut > 1:
            (problem,) = read_log(path).problems
            assert "cut short" in str(problem)
        add_records(path, records())
        assert path.read_bytes() == whole


def test_names_of_any_characters_stay_one_line(tmp_path: Path) -> None:
    path, odd = tmp_path / "log.jsonl", records(1)
    odd[0]["part"] = "a\u2028b\x85\x0c\ud800"
    assert add_records(path, odd)[0] == 1
    assert add_records(path, odd)[0] == 0
    assert not read_log(path).problems


@pytest.mark.parametrize(
    "record", ['{"part": []}', '{"part": {"a": 1}}', '{"recordings": 5}', '{"recordings": [{"trace_id": 1}]}']
)
def test_a_record_of_another_shape_is_none(tmp_path: Path, record: str) -> None:
    path = tmp_path / "log.jsonl"
    path.write_text(f'{{"previous": "beginning", "digest": "x", "record": {record}}}\n')
    log = read_log(path)
    assert [str(one) for one in log.problems] == ["line 1: is no record"]
    assert changed_recordings(log, {}) == ([], [])


def test_on_a_full_disk_nothing_is_half_added(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = written(tmp_path)
    before, write = path.read_bytes(), os.write

    def full(number: int, content: bytes) -> int:
        if len(content) > 20:
            return write(number, content[:20])
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "write", full)
    with pytest.raises(OSError, match="No space"):
        add_records(path, records(5))
    assert path.read_bytes() == before


def test_a_pipe_is_no_log(tmp_path: Path) -> None:
    path = tmp_path / "pipe"
    os.mkfifo(path)
    for use in (lambda: read_log(path), lambda: add_records(path, records())):
        with pytest.raises(RecordLogError, match="plain file"):
            use()
