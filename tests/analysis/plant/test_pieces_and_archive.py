"""Traces in pieces give what they give at once; an archive holds each recording once, whatever stops it."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.dataset as ds
import pyarrow.parquet as pq
import pytest

from analysis.joint import load_joints
from analysis.pipeline import analyse
from analysis.plant import archive, tasks
from analysis.plant.archive import add_recordings, inputs_of
from analysis.plant.day_rows import QUANTITIES
from analysis.plant.engine import judge_pieces
from analysis.plant.names import LOOKING_BACK
from analysis.plant.one_writer import LOCK, ArchiveInUseError
from analysis.plant.periods import UsualPer
from analysis.plant.pieces import Job, find_recordings, plan_pieces, read_piece
from analysis.plant.reading_back import ArchiveError, read_days
from analysis.plant.workers import Alone, Processes, WorkersError, workers_of
from analysis.reading import read_paths
from analysis.traces import row_ranges
from sample_traces.sample_paths import sample_paths
from tests.helpers.commands import ROOT
from tests.helpers.merged_days import summary_of

SHIFT = sample_paths().traces
JOB = Job(load_joints(sample_paths().joints))


@pytest.fixture(scope="module")
def recordings(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sample shift in three files that part its joints."""
    folder = tmp_path_factory.mktemp("recordings")
    shift = pq.read_table(SHIFT)
    for number in range(3):
        pq.write_table(shift.slice(number * 500, 500), folder / f"part-{number}.parquet")
    return folder


def in_pieces(folder: Path, stage: Path, job: Job = JOB, most_bytes: int = 1) -> pa.Table:
    files, _ = find_recordings([str(folder)])
    judged = judge_pieces(str(stage), job, plan_pieces(files, most_bytes), Alone())
    return judged.table(job.settings)


def content(folder: Path) -> dict[str, bytes]:
    return {str(one.relative_to(folder)): one.read_bytes() for one in folder.rglob("*") if one.is_file()}


def without_source(table: pa.Table) -> list[dict[str, Any]]:
    return table.drop_columns(["source"]).to_pylist()


def test_pieces_give_what_all_traces_at_once_give(recordings: Path, tmp_path: Path) -> None:
    whole = analyse(read_paths([SHIFT]).traces, JOB.joints).results()
    assert without_source(in_pieces(recordings, tmp_path)) == without_source(whole)


def test_a_trace_that_a_second_file_holds_again_is_judged_once_and_told(
    recordings: Path, tmp_path: Path
) -> None:
    doubled = tmp_path / "in"
    doubled.mkdir()
    shift = pq.read_table(SHIFT)
    pq.write_table(shift.slice(0, 60), doubled / "a.parquet")
    pq.write_table(shift.slice(50, 60), doubled / "b.parquet")
    files, _ = find_recordings([str(doubled)])
    judged = judge_pieces(str(tmp_path / "stage"), JOB, plan_pieces(files, 1), Alone())
    assert judged.traces == 110
    assert len([one for one in judged.problems if "a second time" in one.found]) == 10
    whole = analyse(read_paths([doubled]).traces, JOB.joints).results()
    assert without_source(judged.table(JOB.settings)) == without_source(whole)


_HOLDS = """
import sys, pathlib
from analysis.plant.one_writer import only_writer
with only_writer(pathlib.Path(sys.argv[1])):
    print("held", flush=True)
    sys.stdin.read()
"""


def test_two_runs_do_not_add_to_one_archive_and_a_dead_one_is_no_obstacle(
    recordings: Path, tmp_path: Path
) -> None:
    one = [str(recordings / "part-2.parquet")]
    with subprocess.Popen(
        [sys.executable, "-c", _HOLDS, str(tmp_path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as other:
        assert other.stdout is not None
        other.stdout.readline()
        with pytest.raises(ArchiveInUseError, match=rf"another run adds .*process {other.pid} on .* since"):
            add_recordings(tmp_path, one, JOB, Alone())
        assert not inputs_of(tmp_path)
        other.kill()
    assert (tmp_path / LOCK).exists()
    assert add_recordings(tmp_path, one, JOB, Alone()).new == 1
    assert not (tmp_path / LOCK).exists()


class _Stopped(Exception):
    """As if the process had ended."""


class _StopsAfter:
    """Does so many tasks, and is gone."""

    def __init__(self, tasks: int) -> None:
        self.left = tasks

    def run(
        self, function: Callable[..., Any], tasks: Sequence[tuple[Any, ...]], progress: object, text: str
    ) -> list[Any]:
        found = []
        for task in tasks:
            if not self.left:
                raise _Stopped
            self.left -= 1
            found.append(function(*task))
        return found


def archived(folder: Path, recordings: Path, workers: Any, job: Job = JOB) -> archive.Added:
    return add_recordings(folder, [str(recordings)], job, workers)


@pytest.fixture(scope="module")
def uninterrupted(recordings: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("archive") / "year"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(archive, "plan_pieces", lambda files: plan_pieces(files, 1))
        archived(folder, recordings, Alone())
    return folder


@pytest.fixture
def one_file_a_piece(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archive, "plan_pieces", lambda files: plan_pieces(files, 1))


@pytest.mark.usefixtures("one_file_a_piece")
def test_an_interrupted_run_goes_on_and_ends_in_the_same_bytes(
    recordings: Path, uninterrupted: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "year"
    for most in (1, 2, 4, 3):  # the work goes on from where it was: these are fewer than a whole run takes
        with pytest.raises(_Stopped):
            archived(folder, recordings, _StopsAfter(most - 1))
        assert not inputs_of(folder)
    archived(folder, recordings, Alone())
    assert content(folder) == content(uninterrupted)


@pytest.mark.usefixtures("one_file_a_piece")
@pytest.mark.parametrize("moved", [0, 1, 5])
def test_a_run_that_ends_while_its_files_are_put_in_place_is_finished_first(
    recordings: Path, uninterrupted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moved: int
) -> None:
    folder = tmp_path / "year"
    replace, left = os.replace, [moved]

    def stops(source: Any, target: Any) -> None:
        if "ready" in str(source) and "year=" in str(source) and "unfinished" not in Path(source).name:
            if not left[0]:
                raise _Stopped
            left[0] -= 1
        replace(source, target)

    monkeypatch.setattr(archive.os, "replace", stops)
    with pytest.raises(_Stopped):
        archived(folder, recordings, Alone())
    monkeypatch.undo()
    archive.finish_interrupted(folder)
    assert content(folder) == content(uninterrupted)


def test_each_recording_is_added_once_and_new_ones_stand_beside_it(
    recordings: Path, uninterrupted: Path, tmp_path: Path
) -> None:
    before = content(uninterrupted)
    again = archived(uninterrupted, recordings, Alone())
    assert (again.new, again.known) == (0, 3)
    assert content(uninterrupted) == before
    folder = tmp_path / "year"
    first = add_recordings(folder, [str(recordings / "part-0.parquet")], JOB, Alone())
    second = archived(folder, recordings, Alone())
    assert (first.new, second.new, second.known) == (1, 2, 1)
    assert sum(one.total() for one in second.verdicts.values()) == pq.read_metadata(SHIFT).num_rows
    assert ds.dataset(folder, partitioning="hive").count_rows() == pq.read_metadata(SHIFT).num_rows


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "is no JSON: line 1"),
        ("[" * 100_000, "nested too deeply"),
        ('{"run": "a", "way": {}, "inputs": [{"path": "a"}], "files": []}', "no list of what a run judged"),
        ('{"run": "a", "way": {}, "files": []}', "no list of what a run judged"),
        ("[]", "no list of what a run judged"),
        *(
            (
                f'{{"run": "a", "way": {{}}, "inputs": [{{"path": "a", {one}}}], "files": []}}',
                "no list of what a run judged",
            )
            for one in (
                '"digest": {}, "verdicts": []',
                '"digest": "a", "verdicts": [["hub", "ok"]]',
                '"digest": "a", "verdicts": [[[], "ok", 1]]',
            )
        ),
        ('{"run": "a", "way": {}, "inputs": [], "files": ["../b"]}', "no list of what a run judged"),
        ('{"run": "/a", "way": {}, "inputs": [], "files": []}', "no list of what a run judged"),
        ('{"run": "a", "way": {}, "inputs": [], "files": [3]}', "no list of what a run judged"),
    ],
)
def test_a_damaged_list_of_inputs_is_an_error_that_names_the_file(
    tmp_path: Path, text: str, words: str
) -> None:
    place = tmp_path / "_inputs" / "a.json"
    place.parent.mkdir()
    place.write_text(text, encoding="utf-8")
    with pytest.raises(ArchiveError, match=f"a[.]json: .*{words}"):
        archive.inputs_of(tmp_path)


def test_the_archive_has_the_verdicts_of_the_single_table(uninterrupted: Path) -> None:
    whole = analyse(read_paths([SHIFT]).traces, JOB.joints).results()
    kept = ds.dataset(uninterrupted, partitioning="hive").to_table()
    names = ["trace_id", "joint", "verdict", "cause", "findings", "clamp_force_kn", "outlier_score"]
    for table in (kept, whole):
        assert set(names) <= set(table.column_names)
    assert (
        kept.select(names).sort_by("trace_id").to_pylist()
        == whole.select(names).sort_by("trace_id").to_pylist()
    )
    assert set(kept.column("year").to_pylist()) == {2024}


def test_merged_day_rows_are_those_of_the_whole(uninterrupted: Path) -> None:
    rows = ds.dataset(uninterrupted, partitioning="hive").to_table()
    days = read_days(uninterrupted)
    assert sum(days.column("n").to_pylist()) == len(rows)
    assert sum(days.column("not_ok").to_pylist()) == rows.column("verdict").to_pylist().count("not ok")
    for quantity in QUANTITIES:
        values = rows.column(quantity).to_numpy(zero_copy_only=False).astype(float)
        values, merged = values[np.isfinite(values)], summary_of(days, quantity)
        assert merged.n == len(values)
        assert merged.mean == pytest.approx(values.mean(), rel=1e-12)
        assert merged.s == pytest.approx(values.std(ddof=1), rel=1e-9)
        for share in (0.05, 0.5, 0.95):
            assert merged.sketch.quantile(share) == pytest.approx(
                np.quantile(values, share), rel=0.005, abs=1e-9
            )


def test_traces_without_a_time_stand_in_a_folder_of_that_name(tmp_path: Path) -> None:
    shift = pq.read_table(SHIFT).slice(0, 40).drop_columns(["started_at"])
    pq.write_table(shift, tmp_path / "some.parquet")
    folder = tmp_path / "year"
    added = add_recordings(folder, [str(tmp_path / "some.parquet")], JOB, Alone())
    assert added.without_time == 40
    assert [one.name for one in folder.iterdir() if one.name.startswith("year=")] == ["year=without-time"]


def test_what_is_usual_is_told_per_day_where_that_is_asked_for(recordings: Path, tmp_path: Path) -> None:
    """Two days of one joint, the second with other friction: apart, neither is odd; together, one is."""
    joint = "wheel-hub"
    shift = pq.read_table(SHIFT)
    mask = [one == joint for one in shift.column("joint").to_pylist()]
    hub = shift.filter(pa.array(mask)).slice(0, 60)
    moments = hub.column("started_at").to_pylist()
    later = [one.replace(day=20) for one in moments]
    torque = [[1.12 * value for value in one] for one in hub.column("torque_nm").to_pylist()]
    second = hub.set_column(
        hub.column_names.index("started_at"),
        "started_at",
        pa.array(later, hub.schema.field("started_at").type),
    )
    second = second.set_column(hub.column_names.index("torque_nm"), "torque_nm", pa.array(torque))
    second = second.set_column(
        hub.column_names.index("trace_id"),
        "trace_id",
        pa.array([f"{one} later" for one in hub.column("trace_id").to_pylist()]),
    )
    folder = tmp_path / "in"
    folder.mkdir()
    pq.write_table(pa.concat_tables([hub, second.cast(hub.schema)]), folder / "two days.parquet")
    apart = in_pieces(folder, tmp_path / "a", Job(JOB.joints, usual=UsualPer("day")))
    first, other = (
        apart.filter(pa.array([one.day == day for one in apart.column("started_at").to_pylist()]))
        for day in (12, 20)
    )
    alone = analyse(read_paths([folder]).traces.take(range(60)), JOB.joints).results()
    assert without_source(first) == without_source(alone)
    scores = np.array(other.column("outlier_score").to_pylist(), float)
    together = in_pieces(folder, tmp_path / "b").column("outlier_score").to_pylist()[60:]
    assert np.nanmedian(scores) < np.nanmedian(np.array(together, float))


def _ends_once(flag: str, value: int) -> int:
    if value == 2 and not Path(flag).exists():
        Path(flag).write_text("gone")
        os._exit(9)
    return 10 * value


def test_a_lost_worker_costs_time_and_nothing_else(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    workers = Processes(2)
    try:
        tasks = [(str(tmp_path / "flag"), value) for value in range(5)]
        found = workers.run(_ends_once, tasks, lambda done, total, text: told.append((done, total)), "work")
    finally:
        workers.close()
    assert found == [0, 10, 20, 30, 40]
    assert (tmp_path / "flag").exists()
    assert told[-1] == (5, 5)


def test_what_a_killed_look_back_left_is_cleared_away_in_time(tmp_path: Path) -> None:
    left, at_work = tmp_path / f"{LOOKING_BACK}a", tmp_path / f"{LOOKING_BACK}b"
    for one in (left, at_work):
        one.mkdir()
        (one / "measured").write_bytes(b"x")
    os.utime(left, (0, 0))
    archive.finish_interrupted(tmp_path)
    assert (left.exists(), at_work.exists()) == (False, True)


_KILLED = """
import os, signal
from analysis.plant.workers import Processes
if __name__ == "__main__":
    team = Processes(2)
    found = set(team.run(os.getpid, [()] * 20, None, "work")) | set(team._pool._processes)
    print(*found, flush=True)
    team._started().submit(os.system, "sleep 60")
    os.kill(os.getpid(), signal.SIGKILL)
"""


@pytest.mark.skipif(os.name != "posix", reason="killed by a signal")
def test_workers_end_with_the_one_they_work_for(tmp_path: Path) -> None:
    script = tmp_path / "killed.py"
    script.write_text(_KILLED)
    done = subprocess.run(
        [sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    workers = [int(one) for one in done.stdout.split()]
    assert workers, done.stderr
    until = time.monotonic() + 30.0
    while (left := [one for one in workers if _is_alive(one)]) and time.monotonic() < until:
        time.sleep(0.05)
    assert not left


def _is_alive(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{process}/stat")
    return not state.exists() or state.read_text().rpartition(")")[2].split()[0] != "Z"


def test_a_worker_keeps_one_processor_busy() -> None:
    workers = Processes(1)
    try:
        assert workers.run(_threads, [()], None, "work") == [(1, 1)]
    finally:
        workers.close()


def _threads() -> tuple[int, int]:
    return row_ranges.most_threads, pa.cpu_count()


def test_what_is_still_in_memory_is_not_read_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    read: list[int] = []

    def counted(job: Job, piece: Any) -> Any:
        read.append(piece.number)
        return read_piece(job, piece)

    monkeypatch.setattr(tasks, "read_piece", counted)
    pieces = plan_pieces(find_recordings([SHIFT])[0])
    judge_pieces(str(tmp_path), JOB, pieces, Alone())
    assert read == [0]
    assert not tasks._held


def test_a_scheduler_that_does_not_answer_is_an_error_with_words() -> None:
    pytest.importorskip("distributed")
    with pytest.raises(WorkersError, match="no Dask scheduler"), workers_of(scheduler="tcp://127.0.0.1:9"):
        pass
