"""The fuzzer sees what it is there for, and nothing else: one bad file among many, and files of odd types."""

from __future__ import annotations

import random
from collections.abc import Sequence
from functools import partial
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from analysis.errors import TautographError
from tests.speed.fuzz_totals import Totals
from tests.speed.fuzzing import Run, main
from tests.speed.mutated_files import Target, mutated, one_by_one, read_recordings, retyped, targets


def bad_at(mark: bytes, path: Path) -> None:
    """A reader with a fault."""
    content = path.read_bytes()
    if mark in content:
        raise ZeroDivisionError(mark)
    if not content:
        raise TautographError("empty")


def test_the_one_bad_file_of_many_is_found_and_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, corpus = tmp_path / "work", tmp_path / "corpus"
    folder.mkdir()
    corpus.mkdir()
    run = Run(folder, corpus)
    target = Target("a.txt", b"sound", partial(one_by_one, partial(bad_at, b"!")), True)
    run.attempt(target, [b"sound", b"", b"it is!", b"other"])
    assert run.tried["a.txt"] == 4
    assert run.refused["a.txt"] == 2
    (failed,) = run.failed
    assert "ZeroDivisionError" in failed
    assert [file.read_bytes() for file in corpus.iterdir() if str(file) in failed] == [b"it is!"]
    assert {file.read_bytes() for file in corpus.iterdir()} == {b"it is!", b"", b"sound"}, (
        "one of each answer"
    )
    assert "ZeroDivisionError" in capsys.readouterr().out


def test_a_recording_that_vanishes_without_a_word_is_a_failure(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    paths = [tmp_path / "a.csv", tmp_path / "b.csv"]
    for path in paths:
        path.write_text("angle_deg,torque_nm\n1,2\n2,3\n")
    assert read_recordings(paths) == ["", ""]

    def forgets(given: Sequence[Path]) -> object:
        from analysis.reading import read_paths

        return read_paths(given[:1])

    monkeypatch.setattr("tests.speed.mutated_files.read_paths", forgets)
    with pytest.raises(AssertionError, match=r"b\.csv"):
        read_recordings(paths)


def test_files_of_odd_types_can_be_read_by_their_library(tmp_path: Path) -> None:
    rng, path = random.Random(1), tmp_path / "a.parquet"
    schemas = set()
    for _ in range(60):
        path.write_bytes(retyped(".parquet", rng))
        schemas.add(str(pq.read_schema(path).types))
    assert len(schemas) > 20


def test_every_kind_is_changed_again_and_again(tmp_path: Path) -> None:
    rng = random.Random(1)
    for target in targets(tmp_path):
        changed = {mutated(target, target.sound, rng) for _ in range(20)}
        assert len(changed - {target.sound}) > 10, target.name


def test_a_run_ends_at_the_number_of_files(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--only", "mapping", "--files", "100", "--seconds", "600"]) == 0
    assert "257 files, 256 of them new in" in capsys.readouterr().out, "the sound one, and a lot of 256"


def test_counts_of_stopped_runs_stay_and_add_up(tmp_path: Path) -> None:
    words = ["--only", "mapping", "--files", "300", "--seconds", "600", "--corpus", str(tmp_path)]
    assert main([*words]) == 0
    assert main([*words, "--seed", "2"]) == 0
    assert Totals(tmp_path).of_all_runs() == {"mapping.toml": 1024}, "two lots of 256 each; sound ones not"
