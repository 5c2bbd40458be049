"""Whatever the bytes are: traces or a listed problem, never an exception, and never the whole memory."""

from __future__ import annotations

import random
import resource
import struct
import subprocess
import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.reading import preview, read_paths
from analysis.reading.arrow_claims import arrow_claims
from analysis.reading.claims import ALLOWED_NUMBERS, LARGEST_NUMBERS_PER_BYTE

FIXED = (b"\xff" * 8, b"\x00" * 8, struct.pack("<q", 2**60), b"\x7f" * 8, b"99999999", b"\n", b";", b'"')


def mangled(content: bytes, rng: random.Random) -> bytes:
    data = bytearray(content)
    for _ in range(rng.choice([1, 1, 2, 4, 16])):
        place = rng.randrange(len(data)) if data else 0
        match rng.randrange(6):
            case 0:
                data[place : place + 1] = rng.randbytes(1)
            case 1:
                del data[place : place + rng.randrange(1, 40)]
            case 2:
                data[place:place] = rng.randbytes(rng.randrange(1, 20))
            case 3:
                data[place : place + 8] = rng.choice(FIXED)
            case 4:
                start = rng.randrange(len(data) + 1)
                data[place:place] = data[start : start + rng.randrange(1, 60)]
            case 5:
                del data[place:]
    return bytes(data)


def check(path: Path) -> None:
    reading = read_paths([path])
    assert len(reading.traces) or reading.problems
    assert all(problem.found and problem.expected and problem.advice for problem in reading.problems)
    shown = preview(path)
    assert shown.trace is not None or shown.problems


@pytest.mark.parametrize("seed", range(6))
def test_mangled_files_of_every_layout(samples: dict[str, Path], seed: int) -> None:
    rng = random.Random(seed)
    for path in samples.values():
        content = path.read_bytes()
        for _ in range(25):
            path.write_bytes(mangled(content, rng))
            check(path)


STARTS = (b"", b"PAR1", b"ARROW1\0\0", b"\xff\xff\xff\xff", b"\xef\xbb\xbf")


@given(st.binary(max_size=400), st.sampled_from(STARTS))
def test_arbitrary_bytes(tmp_path_factory: pytest.TempPathFactory, content: bytes, start: bytes) -> None:
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(start + content)
    check(path)


@given(st.text(st.sampled_from("angle_deg torque_nm;,\t|\n\r\"'0123456789.-+e:()[]°N·m\ufeff"), max_size=200))
def test_arbitrary_text(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "any.txt"
    path.write_text("angle_deg;torque_nm\n" + text, encoding="utf-8", newline="")
    check(path)


def test_every_cut_of_a_text_file(samples: dict[str, Path]) -> None:
    path = samples["CSV, one file a trace"]
    content = path.read_bytes()
    for length in range(len(content)):
        path.write_bytes(content[:length])
        check(path)


def test_a_header_that_claims_too_much_is_refused_before_memory_is_taken(tmp_path: Path) -> None:
    n = 12_000_000
    assert n > ALLOWED_NUMBERS + LARGEST_NUMBERS_PER_BYTE * 20_000
    zeros = pa.ListArray.from_arrays(pa.array([0, n], pa.int32()), pa.array(np.zeros(n, np.float32)))
    table = pa.table({"trace_id": ["bomb"], "angle_deg": zeros, "torque_nm": zeros})
    path = tmp_path / "bomb.parquet"
    pq.write_table(table, path, compression="zstd")
    assert path.stat().st_size < 20_000
    (problem,) = read_paths([path]).problems
    assert f"claims {2 * n} samples" in problem.found


@pytest.mark.parametrize("stream", [False, True])
def test_an_arrow_file_that_grows_beyond_measure_is_refused(stream: bool, tmp_path: Path) -> None:
    n = 12_000_000
    zeros = pa.ListArray.from_arrays(pa.array([0, n], pa.int32()), pa.array(np.zeros(n)))
    table = pa.table({"trace_id": ["bomb"], "angle_deg": zeros, "torque_nm": zeros})
    path = tmp_path / "bomb.arrow"
    make = pa.ipc.new_stream if stream else pa.ipc.new_file
    with make(str(path), table.schema, options=pa.ipc.IpcWriteOptions(compression="zstd")) as writer:
        writer.write_table(table)
    assert path.stat().st_size < 1_000_000
    claims = arrow_claims(str(path))
    assert claims.unpacked_bytes == pytest.approx(2 * 8 * n, abs=1000)
    assert claims.batches == 1
    (problem,) = read_paths([path]).problems
    assert "claims" in problem.found


@pytest.mark.parametrize("compression", ["zstd", "lz4", None])
def test_what_an_arrow_file_claims_is_what_it_holds(compression: str | None, tmp_path: Path) -> None:
    values = np.linspace(0.0, 400.0, 1001)
    path = tmp_path / "t.arrow"
    table = pa.table({"trace_id": ["a", "b"], "angle_deg": [values] * 2, "torque_nm": [values] * 2})
    with pa.ipc.new_file(
        str(path), table.schema, options=pa.ipc.IpcWriteOptions(compression=compression)
    ) as writer:
        writer.write_table(table)
        writer.write_table(table)
    claims = arrow_claims(str(path))
    assert claims.batches == 2
    least = 2 * 4 * values.nbytes if compression else 0
    assert least <= claims.unpacked_bytes <= 1.1 * least
    assert read_paths([path]).traces.trace_ids == ("a", "b")


@pytest.mark.skipif(
    not sys.platform.startswith("linux"), reason="limits the memory of a process as Linux does"
)
def test_absurd_lengths_in_an_arrow_file_take_no_memory(samples: dict[str, Path], tmp_path: Path) -> None:
    content = bytearray(samples["Arrow, one row a trace"].read_bytes())
    for place in range(0, len(content) - 8, 8):
        if content[place : place + 8] in (struct.pack("<q", 2), struct.pack("<q", 7), struct.pack("<q", 56)):
            content[place : place + 8] = struct.pack("<q", 2**60)
    path = tmp_path / "absurd.arrow"
    path.write_bytes(content)
    code = (
        "import resource, sys; from analysis.reading import read_paths;"
        "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss;"
        "reading = read_paths([sys.argv[1]]);"
        "grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before;"
        "print(len(reading.problems), grown)"
    )
    root = Path(__file__).resolve().parents[3]
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, cwd=root, check=True,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30)),
    )  # fmt: skip
    n_problems, grown_kb = map(int, done.stdout.split())
    assert n_problems == 1
    assert grown_kb < 200_000
