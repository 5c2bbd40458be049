"""Whatever lies in a folder: what can be read is judged, everything else is listed, nothing is written
over."""

from __future__ import annotations

import os
import random
import re
import sys
from pathlib import Path

import pyarrow.parquet as pq
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.commands.command_line import main
from tests.analysis.reading.conftest import SAMPLES
from tests.analysis.reading.test_damage import mangled
from tests.helpers.commands import run_without_qt

JOINTS = "[joints.hub]\ntarget_torque_nm = 65.0\n"
ENDINGS = (
    "parquet", "arrow", "feather", "ipc", "csv", "txt", "tsv", "dat", "json", "xlsx", "tdms", "h5", "hdf5",
    "mf4", "mdf",
)  # fmt: skip
#: First bytes by which formats are recognised.
MAGIC = {
    "parquet": b"PAR1", "arrow": b"ARROW1\0\0", "xlsx": b"PK\x03\x04", "tdms": b"TDSm",
    "h5": b"\x89HDF\r\n\x1a\n", "mf4": b"MDF     4.10    ",
}  # fmt: skip
ROWS = "angle_deg;torque_nm\n1;2\n3;4\n5;6\n"

#: File name, its bytes, and whether a trace comes out of it.
ODD_TEXTS: tuple[tuple[str, bytes, bool], ...] = (
    ("bom.csv", ROWS.encode("utf-8-sig"), True),
    ("utf16.csv", ROWS.encode("utf-16"), True),
    ("utf16be.csv", ("\ufeff" + ROWS).encode("utf-16-be"), True),
    ("latin.csv", ("ort: Prüfstand\n" + ROWS).encode("latin-1"), True),
    ("old_mac.csv", ROWS.replace("\n", "\r").encode(), True),
    ("cut.csv", (ROWS + "7").encode(), True),
    ("one_sample.csv", b"angle_deg;torque_nm\n1;2\n", True),
    ("not_numbers.csv", b"angle_deg;torque_nm\n1;inf\n2;nan\n3;1e400\n4;-1e308\n", True),
    ("nul.csv", b"angle_deg;torque_nm\n1;2\n\0\0\0\0;3\n4;5\n", False),
    ("header_only.csv", b"angle_deg;torque_nm\n", False),
    ("huge_line.csv", b"angle_deg;torque_nm\n" + b"1;" * 1_000_000 + b"\n", False),
    ("one_huge_word.csv", b"x" * 2_000_000, False),
    ("deep.json", b"[" * 100_000, False),
)


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "joints.toml").write_text(JOINTS)
    (tmp_path / "in").mkdir()
    return tmp_path


WORDS = ("--joints", "joints.toml", "--joint", "hub", "--results")


def listed(told: str) -> set[str]:
    """Names of the files of which something is said."""
    return {Path(path).name for path in re.findall(r"^(?:not read|note): (.+?)(?:, line \d+)?: ", told, re.M)}


def test_junk_under_every_ending_is_listed_and_ends_in_code_3(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rng = random.Random(4)
    for ending in ENDINGS:
        (here / "in" / f"junk.{ending}").write_bytes(rng.randbytes(3000))
        (here / "in" / f"empty.{ending}").write_bytes(b"")
        (here / "in" / f"beginning.{ending}").write_bytes(MAGIC.get(ending, b"") + rng.randbytes(3000))
    assert main(["analyse", "in", *WORDS, "out.csv"]) == 3
    told = capsys.readouterr().err
    assert listed(told) == {file.name for file in (here / "in").iterdir()}
    assert "Traceback" not in told
    assert "nothing could be read" in told
    assert not (here / "out.csv").exists()


def test_odd_texts_are_read_or_listed_by_the_command(here: Path) -> None:
    for name, content, _ in ODD_TEXTS:
        (here / "in" / name).write_bytes(content)
    done = run_without_qt("analyse", "in", *WORDS, "out.parquet", cwd=here)
    assert done.returncode == 2, done.stderr  # no limits are given: none can be ok
    assert "Traceback" not in done.stderr
    rows = pq.read_table(here / "out.parquet").column("trace_id").to_pylist()
    assert sorted(rows) == sorted(Path(name).stem for name, _, good in ODD_TEXTS if good)
    assert {name for name, _, good in ODD_TEXTS if not good} <= listed(done.stderr)
    assert {"cut.csv", "not_numbers.csv"} <= listed(done.stderr)


@pytest.mark.parametrize("seed", range(3))
def test_mangled_files_of_every_layout_are_judged_or_listed(
    here: Path, capsys: pytest.CaptureFixture[str], seed: int
) -> None:
    rng = random.Random(seed)
    for number, make in enumerate(SAMPLES.values()):
        sound = make(here)
        for copy in range(8):
            name = f"{number}_{copy}{sound.suffix}"
            (here / "in" / name).write_bytes(mangled(sound.read_bytes(), rng))
    code = main(["analyse", "in", *WORDS, "out.parquet"])
    told = capsys.readouterr().err
    assert "Traceback" not in told
    judged = code in (1, 2)
    assert judged or (code == 3 and "nothing could be read" in told), told
    read = set(pq.read_table(here / "out.parquet").column("source").to_pylist()) if judged else set()
    assert {file.name for file in (here / "in").iterdir()} <= listed(told) | {
        Path(path).name for path in read
    }


@settings(max_examples=40)
@given(st.sampled_from(ENDINGS), st.binary(max_size=300), st.booleans())
def test_arbitrary_bytes_never_end_in_a_fault(
    tmp_path_factory: pytest.TempPathFactory, ending: str, content: bytes, begins_well: bool
) -> None:
    folder = tmp_path_factory.getbasetemp() / "arbitrary"
    folder.mkdir(exist_ok=True)
    joints, recording = folder / "joints.toml", folder / f"any.{ending}"
    joints.write_text(JOINTS)
    recording.write_bytes((MAGIC.get(ending, ROWS.encode()) if begins_well else b"") + content)
    words = [str(recording), "--joints", str(joints), "--results", str(folder / "out.csv")]
    try:
        assert main(["analyse", *words]) in (2, 3)
    finally:
        recording.unlink()


@pytest.mark.skipif(sys.platform == "win32", reason="makes links and pipes as Unix does")
def test_links_and_pipes_stop_nothing_and_are_counted(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "in" / "good.csv").write_text(ROWS)
    os.symlink("loop.csv", here / "in" / "loop.csv")
    os.symlink("absent.csv", here / "in" / "broken.csv")
    os.symlink(here / "in", here / "in" / "again")
    os.symlink(here / "joints.toml", here / "in" / "outside.csv")
    os.mkfifo(here / "in" / "pipe.csv")
    assert main(["analyse", "in", *WORDS, "out.parquet"]) == 2
    told = capsys.readouterr().err
    for count in (
        "2 x links that lead nowhere",
        "1 x links to a folder",
        "1 x links out of the folder",
        "1 x pipes",
    ):
        assert count in told
    assert pq.read_table(here / "out.parquet").num_rows == 1
    assert main(["analyse", "in/pipe.csv", *WORDS, "pipe.parquet"]) == 3
    assert "neither a file nor a folder" in capsys.readouterr().err


@pytest.mark.skipif(
    sys.platform == "win32" or (hasattr(os, "geteuid") and os.geteuid() == 0),
    reason="needs a file that this user may not read",
)
def test_what_may_not_be_read_is_listed(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "in" / "good.csv").write_text(ROWS)
    (here / "in" / "closed.csv").write_text(ROWS)
    (here / "in" / "closed.csv").chmod(0)
    (here / "in" / "folder").mkdir(mode=0)
    assert main(["analyse", "in", *WORDS, "out.parquet"]) == 2
    assert {"closed.csv", "folder"} <= listed(capsys.readouterr().err)


@pytest.mark.skipif(sys.platform != "linux", reason="only there may a name be any bytes")
def test_a_name_that_is_no_text_is_read_and_shown_with_replacements(here: Path) -> None:
    with open(os.fsencode(here / "in") + b"/pr\xfcfung.csv", "wb") as stream:
        stream.write(ROWS.encode())
    for name in ("out.parquet", "out.csv", "out.xlsx", "out.json"):
        assert main(["analyse", "in", *WORDS, name, "--summary", "s.json", "--quiet"]) == 2
    row = pq.read_table(here / "out.parquet").to_pylist()[0]
    assert row["trace_id"] == "pr\ufffdfung"


def test_a_trace_id_in_two_files_names_both_places(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("a.csv", "b.csv"):
        (here / "in" / name).write_text(f"trace_id,angle_deg,torque_nm\n{name[0]},0,1\nsame,0,1\nsame,1,2\n")
    assert main(["analyse", "in", *WORDS, "out.parquet"]) == 2
    told = capsys.readouterr().err
    assert f"{Path('in', 'b.csv')}, line 3" in told
    assert f"{Path('in', 'a.csv')}, line 3" in told
    assert pq.read_table(here / "out.parquet").column("trace_id").to_pylist() == ["a", "same", "b"]


@pytest.mark.parametrize(
    ("inputs", "output"),
    [
        ("in", "--results in/rec.csv"),
        ("in/rec.csv", "--results in/../in/rec.csv"),
        ("in/rec.csv --settings s.json", "--results out.csv --summary s.json"),
        ("in/rec.csv in/bad.csv", "--results in/bad.csv"),
        ("in", "--results in/rec.csv --per-joint"),
    ],
)
def test_no_output_takes_the_place_of_an_input(
    here: Path, capsys: pytest.CaptureFixture[str], inputs: str, output: str
) -> None:
    for name in ("rec.csv", "rec.hub.csv"):
        (here / "in" / name).write_text(ROWS)
    (here / "in" / "bad.csv").write_text("broken")
    (here / "s.json").write_text("")
    before = {file: file.read_bytes() for file in here.rglob("*") if file.is_file()}
    line = f"analyse {inputs} --joints joints.toml --joint hub {output}"
    assert main(line.split()) == 3
    assert "would be lost" in capsys.readouterr().err
    assert {file: file.read_bytes() for file in here.rglob("*") if file.is_file()} == before
