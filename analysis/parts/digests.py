"""From a recording to the record of a part, each with the digest of what it stands on."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis import __version__

if TYPE_CHECKING:
    import pyarrow as pa

    from analysis.parts.part import Part
    from analysis.traces import TraceSet

ALGORITHM = "sha256"
#: Half of a pair, from the name of a file, is written as its escape.
ODD_CHARACTERS = "backslashreplace"


def digest_of_bytes(*parts: bytes) -> str:
    """``sha256:`` and the hexadecimal digest."""
    found = hashlib.sha256()
    for one in parts:
        found.update(one)
    return f"{ALGORITHM}:{found.hexdigest()}"


def digest_of(content: Mapping[str, Any]) -> str:
    """Digest of plain data, keys in order: the same content gives the same digest whoever wrote it.

    Examples
    --------
    >>> digest_of({"a": 1, "b": None}) == digest_of({"b": None, "a": 1})
    True
    """
    return digest_of_bytes(canonical(content).encode("utf-8", ODD_CHARACTERS))


def canonical(content: Mapping[str, Any]) -> str:
    """Plain data as one line of JSON."""
    return json.dumps(content, sort_keys=True, ensure_ascii=False, separators=(",", ":"), default=_spelled)


def _spelled(value: object) -> str:
    return value.isoformat() if isinstance(value, datetime) else str(value)


def trace_digest(traces: TraceSet, row: int) -> str:
    """Digest of a recording: angle, then torque, in internal units, as 64-bit floats, lowest byte first."""
    part = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    channels = (traces.angle_deg[part], traces.torque_nm[part])
    return digest_of_bytes(*(np.ascontiguousarray(one, "<f8").tobytes() for one in channels))


def record_of(part: Part, traces: TraceSet, results: pa.Table) -> dict[str, Any]:
    """The record of a part: states of its positions, and for every recording its digest and its result's.

    A result's digest covers its recording's digest and its row of the results table, but for the file that
    it was read from: the same recordings in other files are the same record.
    """
    rows = part.rows
    own = results.drop_columns(["source"]).take(rows).to_pylist() if rows else []
    recorded = []
    for row, values in zip(rows, own, strict=True):
        of_trace = trace_digest(traces, row)
        recorded.append({
            "trace_id": values["trace_id"],
            "trace": of_trace,
            "result": digest_of({"trace": of_trace, "result": values}),
        })  # fmt: skip
    return {
        "part": part.part,
        "joint": part.joint,
        "started_at": None if part.started_at is None else part.started_at.isoformat(),
        "verdict": part.verdict,
        "positions": {one.position: one.words for one in part.histories},
        "findings": [one.words for one in part.findings],
        "recordings": recorded,
        "program": f"tautograph {__version__}",
    }
