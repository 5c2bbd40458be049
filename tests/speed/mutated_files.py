"""Every kind of file that the program reads, what reads many of one kind, and how they are changed."""

from __future__ import annotations

import io
import random
import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from analysis.errors import TautographError
from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from analysis.plant.arrays_file import read_arrays, read_notes, write_arrays
from analysis.reading import read_paths
from analysis.traces import TraceSet
from tests.analysis.reading.conftest import SAMPLES, list_table, long_table
from tests.analysis.reading.test_damage import mangled
from tests.analysis.reading.test_extras import MAKERS
from tests.helpers.text_files import TEXT_FILES
from tests.speed.import_targets import import_targets
from tests.speed.plant_targets import ArchiveFolder, shared_targets

#: What stands where something else is expected.
ODD = (
    "null", "true", "-1", "0", "1e999", "nan", "-inf", "9" * 400, '"text"', '""', "[]", "{}", "[[1, 2], 3]",
    '{"a" = 1}', "[" * 3000, '"\\u0000"', "1979-05-27", "-0.0", "1e-320", "1e300", "2147483648",
)  # fmt: skip
_VALUE = re.compile(r"(?<=[:=,;\[\n ])[^,;\n}\]]+")
_JOINT = '[joints."hub"]\ntarget_torque_nm = 60.0\ntorque_limits_nm = [50.0, 70.0]\nthread = "M10"\n'
#: Files read at once: what it costs to begin is shared; of formats with a process of their own fewer.
AT_ONCE, AT_ONCE_APART = 256, 16
#: Kinds that take longer are tried less often, or they would take all of the time.
_SHARES = {
    "lists.parquet": 0.25, "rows.parquet": 0.25, "lists.arrow": 0.4, "rows.arrow": 0.4, "rows.csv": 0.5,
    "edited_joints.toml": 0.15, "joints.toml": 0.2, "a.tautograph.json": 0.2,
    "journal.tautograph.json": 0.2, "kept.references.json": 0.4, "events.csv": 0.4,
    "days.parquet": 0.02, "year_rows.parquet": 0.02, "events.parquet": 0.1, "words.txt": 0.1,
    "library.toml": 0.2, "takes.toml": 0.2, "ready.json": 0.4, "looked_at.csv": 0.2, "mapped.csv": 0.2,
    "dropped.txt": 0.4, "logo.png": 0.4, "kernel": 0.1,
}  # fmt: skip
#: Beginnings of the names of kinds that are no text.
_BYTES = ("logo", "kernel")


@dataclass(frozen=True)
class Target:
    """One kind of file."""

    name: str
    sound: bytes  #: A sound file.
    #: Gives an answer for each path: why it was refused, or nothing.
    read: Callable[[Sequence[Path]], list[str]]
    as_text: bool  #: Whether values and lines may be changed, not only bytes.
    made: Callable[[random.Random], bytes] | None = None  #: Gives another file of this kind, of odd types.
    at_once: int = AT_ONCE
    share: float = 1.0  #: How often it is tried, against others.


def read_recordings(paths: Sequence[Path]) -> list[str]:
    """A file of which nothing came, and nothing was said, is a failure."""
    reading = read_paths(paths)
    said = {str(path): "" for path in paths}
    silent = set(said) - {source.path for source in reading.sources}
    for problem in reading.problems:
        said[problem.path] = said[problem.path] or problem.found
        silent.discard(problem.path)
    assert not silent, f"neither traces nor a problem: {silent}"
    return list(said.values())


def read_and_judge(paths: Sequence[Path]) -> list[str]:
    """Recordings, and what is made of their traces; the same names in several files are no trouble here."""
    readings = [read_paths([path]) for path in paths]
    traces = [(f"{k}-{trace.trace_id}", trace) for k, one in enumerate(readings) for trace in one.traces]
    together = TraceSet.from_lists(
        [name for name, _ in traces],
        [trace.angle_deg for _, trace in traces],
        [trace.torque_nm for _, trace in traces],
        {"joint": ["hub"] * len(traces)},
    )
    if traces:
        judged = analyse(together, joints_from_text(_JOINT))
        table = judged.results()
        assert table.num_rows == len(traces)
        assert not np.isnan(table.column("final_torque_nm").drop_null().to_numpy()).any()
    return [one.problems[0].found if one.problems else "" for one in readings]


def one_by_one(read: Callable[[Path], object], paths: Sequence[Path]) -> list[str]:
    """Files that are read alone."""
    answers = []
    for path in paths:
        try:
            read(path)
            answers.append("")
        except (TautographError, OSError) as error:
            answers.append(str(error).replace(str(path), "") or "refused")
    return answers


def targets(folder: Path) -> list[Target]:
    """Every kind of file."""
    found = []
    for make in SAMPLES.values():
        path = make(folder)
        text = path.suffix in (".csv", ".txt", ".json")
        made = partial(retyped, path.suffix) if path.suffix in (".parquet", ".arrow") else None
        found.append(
            Target(
                path.name, path.read_bytes(), read_recordings, text, made, share=_SHARES.get(path.name, 1.0)
            )
        )
    for name, make_extra in MAKERS.items():
        make_extra(folder / name)
        sound = (folder / name).read_bytes()
        found.append(Target(name, sound, read_recordings, False, None, AT_ONCE_APART, 0.03))
    found.append(Target("judged.csv", _rising(), read_and_judge, True, None, AT_ONCE_APART, 0.2))
    write_arrays(folder / "arrays", {"x": np.arange(9.0), "y": np.zeros((3, 2), bool)}, {"story": [1]})
    found.append(Target("arrays", (folder / "arrays").read_bytes(), partial(one_by_one, _read_arrays), False))
    kinds = ArchiveFolder(folder / "plant").targets() | shared_targets(folder) | import_targets()
    for name, (sound, read) in kinds.items():
        made = partial(revalued, sound) if name.endswith(".parquet") else None
        text, share = made is None and not name.startswith(_BYTES), _SHARES.get(name, 1.0)
        found.append(Target(name, sound, partial(one_by_one, read), text, made, share=share))
    for name, (text_of, read) in TEXT_FILES.items():
        found.append(
            Target(name, text_of.encode(), partial(one_by_one, read), True, share=_SHARES.get(name, 1.5))
        )
    return found


def _read_arrays(path: Path) -> None:
    read_notes(path)
    read_arrays(path)


def _rising() -> bytes:
    angle = np.linspace(0.0, 200.0, 60)
    torque = 1.0 + np.maximum(angle - 140.0, 0.0)
    rows = [f"{k},{a:.2f},{t:.3f}" for k in range(2) for a, t in zip(angle, torque, strict=True)]
    return "\n".join(["trace_id,angle_deg,torque_nm", *rows, ""]).encode()


def _columns(n: int, rng: random.Random) -> pa.Array:
    """n values of some type."""
    kinds: tuple[Callable[[], Any], ...] = (
        lambda: pa.array([rng.choice(("a", "", None, "nan", "1,5", "é" * 300)) for _ in range(n)]),
        lambda: pa.array([rng.choice((0, -1, None, 2**62)) for _ in range(n)], pa.int64()),
        lambda: pa.array([rng.choice((1.5, float("nan"), float("inf"), 1e300, None)) for _ in range(n)]),
        lambda: pa.array(np.zeros(n, np.float16)),
        lambda: pa.nulls(n),
        lambda: pa.array([True, None] * n)[:n],
        lambda: pa.array([datetime(1, 1, 1) + timedelta(days=rng.randrange(3_000_000)) for _ in range(n)]),
        lambda: pa.array([timedelta(seconds=k) for k in range(n)]),
        lambda: pa.array([Decimal(k) for k in range(n)], pa.decimal128(30, 3)),
        lambda: pa.array([b"\xff" * k for k in range(n)]),
        lambda: pa.array(["a"] * n).dictionary_encode(),
        lambda: pa.array([[1.0, None], None, []] * n)[:n],
        lambda: pa.array([[[1.0]], [None]] * n)[:n],
        lambda: pa.array([["a", None]] * n),
        lambda: pa.array([{"x": 1, "y": [2]}] * n),
        lambda: pa.array([[1.0, 2.0]] * n, pa.list_(pa.float32(), 2)),
        lambda: pa.array([[k] for k in range(n)], pa.large_list(pa.int8())),
        lambda: pa.array([[("a", 1)]] * n, pa.map_(pa.string(), pa.int32())),
    )
    return rng.choice(kinds)()


def retyped(ending: str, rng: random.Random) -> bytes:
    """A recording with columns of other types or names, one missing, one twice, or rows cut."""
    table = rng.choice((list_table, long_table))()
    for _ in range(rng.choice((1, 1, 2, 3))):
        k, names = rng.randrange(table.num_columns), table.column_names
        if rng.random() < 0.7:
            table = table.set_column(k, names[k], _columns(table.num_rows, rng))
        elif rng.random() < 0.5 and table.num_columns > 1:
            table = table.remove_column(k)
        else:
            table = table.append_column(rng.choice((*names, "time_s", "step", "")), table.column(k))
    table = table.slice(0, rng.choice((table.num_rows, 1, 0)))
    out = io.BytesIO()
    if ending == ".parquet":
        pq.write_table(table.cast(_storable(table.schema)), out, compression=rng.choice(("zstd", "none")))
    else:
        with rng.choice((pa.ipc.new_file, pa.ipc.new_stream))(out, table.schema) as writer:
            writer.write_table(table)
    return out.getvalue()


def revalued(sound: bytes, rng: random.Random) -> bytes:
    """A table with odd values of the type that a column has, of other types, or a column gone."""
    table = pq.read_table(io.BytesIO(sound))
    for _ in range(rng.choice((1, 1, 2, 3))):
        k = rng.randrange(table.num_columns)
        name, kind = table.column_names[k], table.schema.field(k).type
        chance = rng.random()
        if chance < 0.9:
            column = _columns(table.num_rows, rng)
            if chance < 0.6:  # of a column that is odd already, another one
                with suppress(pa.ArrowException, OverflowError, TypeError):
                    values = table.column(k).to_pylist()
                    for _ in range(rng.choice((1, 1, len(values)))):
                        values[rng.randrange(len(values))] = rng.choice(_odd_of(kind))
                    column = pa.array(values, kind)
            table = table.set_column(k, name, column)
        elif table.num_columns > 1:
            table = table.remove_column(k)
    out = io.BytesIO()
    pq.write_table(table.cast(_storable(table.schema)), out)
    return out.getvalue()


def _odd_of(kind: pa.DataType) -> tuple[Any, ...]:
    """Values that a column of this type can hold, and none should."""
    if pa.types.is_floating(kind):
        return None, 0.0, -0.0, 5e-324, 1e308, -1e308, float("nan"), float("inf"), -1.0
    if pa.types.is_integer(kind):
        return None, 0, -1, 2**62, -(2**63)
    if pa.types.is_list(kind):
        return None, [], [2**62], [-(2**62), 1], [None], [0] * 300
    if pa.types.is_timestamp(kind) or pa.types.is_date(kind):
        far = 2**31 - 1 if pa.types.is_date(kind) else 2**62
        ticks = pa.int32() if pa.types.is_date(kind) else pa.int64()
        return None, datetime(1, 1, 1), datetime(9999, 12, 31), pa.scalar(far, ticks).cast(kind)
    if pa.types.is_map(kind):
        return None, [("", None)], [("a" * 9000, -1)]
    return None, "", "\0", "a" * 9000, "=1+1", "__HIVE_DEFAULT_PARTITION__"


def _storable(schema: pa.Schema) -> pa.Schema:
    """Parquet has no durations."""
    fields = [one.with_type(pa.int64()) if pa.types.is_duration(one.type) else one for one in schema]
    return pa.schema(fields)


def restructured(content: bytes, rng: random.Random) -> bytes:
    """Another value, a line twice, gone, or elsewhere."""
    text = content.decode("utf-8", "replace")
    place = _VALUE.search(text, rng.randrange(len(text) or 1))
    if place is not None and rng.random() < 0.7:
        return f"{text[: place.start()]}{rng.choice(ODD)}{text[place.end() :]}".encode()
    lines = text.split("\n")
    line = lines[rng.randrange(len(lines))]
    if rng.random() < 0.5:
        lines.remove(line)
    lines.insert(rng.randrange(len(lines) + 1), line)
    return "\n".join(lines).encode()


def mutated(target: Target, content: bytes, rng: random.Random) -> bytes:
    """One mutation of bytes, of values, types or structure, or several."""
    if target.made is not None and rng.random() < 0.3:
        return target.made(rng)
    for _ in range(rng.choice((1, 1, 1, 2, 3))):
        by_structure = target.as_text and rng.random() < 0.6
        content = restructured(content, rng) if by_structure else mangled(content, rng)
    return content
