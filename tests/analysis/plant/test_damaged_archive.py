"""An archive with a damaged file: told, and nothing else; what can be made again is."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.plant.archive import finish_interrupted
from analysis.plant.arrays_file import DamagedArraysError, read_arrays, read_notes, write_arrays
from analysis.plant.measured_file import measured_path
from analysis.plant.names import DAYS, INPUTS, UNFINISHED
from analysis.plant.pieces import Job, find_recordings, plan_pieces
from analysis.plant.reading_back import ArchiveError, read_days, read_events, read_rows
from analysis.plant.tasks import measure_piece
from analysis.plant.weekly import weeks_of
from analysis.plant.year import look_at_year
from analysis.plant.year_traces import NEEDED, traces_of
from tests.analysis.reading.test_damage import mangled


@pytest.mark.parametrize(
    "damage", [lambda data: data[:-9], lambda data: b"", lambda data: bytes(len(data) - 8) + data[-8:]]
)
def test_damaged_rows_and_days_are_told(tmp_path: Path, damage: Callable[[bytes], bytes]) -> None:
    rows, days = tmp_path / "year=2026/month=03/joint=hub/a.parquet", tmp_path / DAYS / "a.parquet"
    (tmp_path / INPUTS).mkdir()
    for file, read in (
        (rows, lambda: read_rows(tmp_path, ["trace_id"])),
        (days, lambda: read_days(tmp_path)),
    ):
        file.parent.mkdir(parents=True)
        pq.write_table(pa.table({"trace_id": ["a"] * 50}), file)
        file.write_bytes(damage(file.read_bytes()))
        with pytest.raises(ArchiveError, match="put back a copy"):
            read()


def test_days_whose_column_has_a_name_that_is_no_text_are_told(tmp_path: Path) -> None:
    for folder in (INPUTS, DAYS):
        (tmp_path / folder).mkdir()
    file = tmp_path / DAYS / "a.parquet"
    pq.write_table(pa.table({"date": ["2026-03-02"] * 3}), file, store_schema=False)
    file.write_bytes(file.read_bytes().replace(b"date", b"da\x82e"))
    with pytest.raises(ArchiveError, match="put back a copy"):
        read_days(tmp_path)


def test_arrays_of_a_damaged_file_are_refused(tmp_path: Path) -> None:
    path, rng = tmp_path / "a", random.Random(1)
    write_arrays(path, {"x": np.arange(9.0), "y": np.zeros((3, 2), bool)}, {"story": 1})
    sound = path.read_bytes()
    told = 0
    for _ in range(300):
        path.write_bytes(mangled(sound, rng))
        try:
            read_notes(path)
            assert sum(one.nbytes for one in read_arrays(path).values()) <= len(sound)
        except DamagedArraysError as error:
            told += str(path) in str(error)
    assert told > 100


def test_a_piece_whose_figures_are_damaged_is_measured_again(tmp_path: Path) -> None:
    recording = tmp_path / "a.csv"
    recording.write_text("angle_deg,torque_nm\n" + "".join(f"{k},{k / 10}\n" for k in range(200)))
    files, _ = find_recordings([str(recording)])
    (piece,) = plan_pieces(files)
    stage = str(tmp_path / "stage")
    story = measure_piece(stage, Job({}), piece)
    kept = measured_path(Path(stage, piece.name))
    sound = kept.read_bytes()
    for damaged in (b"", sound[:40], sound[:8] + b"x" + sound[9:], sound.replace(b'"piece"', b'"space"')):
        kept.write_bytes(damaged)
        assert measure_piece(stage, Job({}), piece) == story
        assert kept.read_bytes() == sound


@pytest.mark.parametrize("line", [",t1,lot,x", "2026-03-14T06:00Z,t1", "soon,t1,lot,x", "\0", '"'])
def test_events_without_a_time_or_of_another_shape_are_told(tmp_path: Path, line: str) -> None:
    (tmp_path / INPUTS).mkdir()
    sound = "2026-03-14T06:00Z,t1,lot,x\n"
    (tmp_path / "_events.csv").write_text(f"time,tool,kind,text\n{sound}{line}\n")
    with pytest.raises(ArchiveError, match="expected the columns"):
        read_events(tmp_path)


@pytest.mark.parametrize("kind", [",8", "O", "<f9", "[", 5])
def test_an_array_of_no_type_is_told(tmp_path: Path, kind: object) -> None:
    head = json.dumps({"arrays": {"x": [kind, [1], 0]}, "notes": None}).encode()
    (tmp_path / "a").write_bytes(len(head).to_bytes(8, "little") + head + bytes(8))
    with pytest.raises(DamagedArraysError):
        read_arrays(tmp_path / "a")


@pytest.mark.parametrize("name", ["a\0b", "_days/\0.parquet"])
@pytest.mark.parametrize("key", ["run", "files"])
def test_an_interrupted_run_with_an_impossible_name_is_told(tmp_path: Path, name: str, key: str) -> None:
    stage = tmp_path / UNFINISHED / "a"
    stage.mkdir(parents=True)
    story = {"run": "a", "way": {}, "files": [], "inputs": []} | {key: name if key == "run" else [name]}
    (stage / "ready.json").write_text(json.dumps(story))
    with pytest.raises(ArchiveError, match="put back a copy"):
        finish_interrupted(tmp_path)
    assert (stage / "ready.json").exists()


def archive_with(folder: Path, started_at: pa.Array, spindle: pa.Array, **others: pa.Array) -> Path:
    """An archive whose rows hold these columns."""
    file = folder / "year=2026/month=03/joint=hub/a.parquet"
    file.parent.mkdir(parents=True)
    (folder / INPUTS).mkdir()
    rows = {name: pa.nulls(len(spindle), pa.string()) for name in ("tool",)} | {
        name: pa.array([50.0 + k % 7 for k in range(len(spindle))]) for name in NEEDED[5:]
    }
    words = {"operation": ["tightening"] * len(spindle), "spindle": spindle, "started_at": started_at}
    pq.write_table(pa.table(rows | words | others), file)
    return folder


def moments(*ticks: int) -> pa.Array:
    """Microseconds since 1970."""
    return pa.array(ticks, pa.timestamp("us", tz="UTC"))


@pytest.mark.parametrize("tick", [2**62, -(2**62)])
def test_rows_with_a_time_that_no_recording_can_have_are_told(tmp_path: Path, tick: int) -> None:
    folder = archive_with(tmp_path, moments(0, tick), pa.array(["s", "s"]))
    with pytest.raises(ArchiveError, match="started_at"):
        read_rows(folder, NEEDED)


def test_rows_of_another_type_are_told(tmp_path: Path) -> None:
    folder = archive_with(tmp_path, moments(0, 0), pa.array([[1.0], None]))
    with pytest.raises(ArchiveError, match="put back a copy"):
        read_rows(folder, NEEDED)


@pytest.mark.parametrize("name", NEEDED[5:])
def test_figures_that_are_lists_are_told(tmp_path: Path, name: str) -> None:
    folder = archive_with(
        tmp_path, moments(0, 0), pa.array(["s", "s"]), **{name: pa.array([[1.0, 2.0], [3.0]])}
    )
    with pytest.raises(ArchiveError, match="put back a copy"):
        read_rows(folder, NEEDED)


def test_one_clock_that_was_never_set_does_not_stretch_the_year(tmp_path: Path) -> None:
    now = 1_770_000_000_000_000
    folder = archive_with(tmp_path, moments(*[now] * 20, 0), pa.array(["s"] * 21))
    year = look_at_year(weeks_of(traces_of(read_rows(folder, NEEDED))))
    assert year.weeks.of[0].mean.shape == (1, 1)
    assert year.weeks.monday(0).year == 2026
    assert "; 1 traces left out whose clock" in year.control_sentence()


def test_bytes_that_are_no_text_are_damage(tmp_path: Path) -> None:
    times = pa.array([datetime(2026, 3, 4, tzinfo=UTC)], pa.timestamp("us", tz="UTC"))
    words = {name: pa.array(["bit"]) for name in ("tool", "kind", "text")}
    file = tmp_path / "_events.parquet"
    pq.write_table(pa.table({"time": times} | words), file, compression="none", use_dictionary=False)
    file.write_bytes(file.read_bytes().replace(b"\x03\x00\x00\x00bit", b"\x03\x00\x00\x00b\xf0t"))
    with pytest.raises(ArchiveError, match=r"_events\.parquet"):
        read_events(tmp_path)
