"""The notebook of the README, cell by cell, on the sample shift; and that results are not copied."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pytest

from analysis.reading import read_paths

ROOT = Path(__file__).resolve().parents[1]


def cells() -> list[str]:
    text = (ROOT / "README.md").read_text(encoding="utf-8").partition("### From a script")[2]
    return re.findall(r"```python\n(.*?)```", text, flags=re.DOTALL)


def test_the_cells_run_in_order(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("shift.parquet", "joints.toml"):
        shutil.copy(ROOT / "sample_traces" / name, tmp_path / name)
    monkeypatch.chdir(tmp_path)
    names: dict[str, object] = {}
    assert len(cells()) >= 5
    for number, cell in enumerate(cells(), 1):
        exec(compile(cell, f"README cell {number}", "exec"), names)
    said = capsys.readouterr().out
    assert "low friction: likeliest cause of" in said.lower()
    assert "wheel-hub" in (tmp_path / "wheel-hub.html").read_text(encoding="utf-8")
    assert len(read_paths([tmp_path / "shift.json"]).traces) == len(read_paths(["shift.parquet"]).traces)
    frame, table = names["frame"], names["table"]
    assert isinstance(frame, pd.DataFrame)
    assert isinstance(table, pa.Table)
    for column in ("final_torque_nm", "yield_angle_deg", "trace_id"):
        seen = pa.chunked_array(frame[column].array.__arrow_array__())  # type: ignore[attr-defined]
        assert addresses(seen) == addresses(table.column(column)), f"{column} was copied"
    assert "other lots" in names["lots"].title  # type: ignore[attr-defined]


def addresses(column: pa.ChunkedArray) -> list[int]:
    """Where the values of a column lie in memory."""
    return [chunk.buffers()[-1].address for chunk in column.chunks]
