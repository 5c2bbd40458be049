"""The footer says what the library says, and damaged ones are refused."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.reading.parquet_footer import claimed_numbers


@pytest.mark.parametrize("version", ["1.0", "2.6"])
def test_numbers_are_those_of_the_library(tmp_path: Path, version: str) -> None:
    rng = np.random.default_rng(1)
    table = pa.table(
        {
            "trace_id": [f"t{k}" for k in range(300)],
            "angle_deg": [rng.normal(size=n) for n in rng.integers(0, 9, 300)],
            "good": [k % 3 == 0 for k in range(300)],
            "names": pa.array([[("a", 1)]] * 300, pa.map_(pa.string(), pa.int32())),
        }
    )
    path = tmp_path / "t.parquet"
    pq.write_table(table, path, row_group_size=70, version=version, write_page_index=True)
    metadata = pq.read_metadata(path)
    claims = claimed_numbers(str(path))
    assert len(claims) == metadata.num_row_groups == 5
    for group, claim in enumerate(claims):
        for index in range(metadata.num_columns):
            column = metadata.row_group(group).column(index)
            name = column.path_in_schema.split(".")[0]
            if name != "names":  # keys and values share their first part
                assert claim[name] == column.num_values


def test_more_columns_than_a_short_list_holds(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({f"c{k}": [1, 2, 3] for k in range(40)}), path)
    assert claimed_numbers(str(path)) == [{f"c{k}": 3 for k in range(40)}]


@pytest.mark.parametrize(
    "content", [b"", b"PAR1", b"PAR1" + b"\xff\xff\xff\x7fPAR1", b"PAR1\x1c\x1c\x02\0\0\0PAR1"]
)
def test_damage_is_refused(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "t.parquet"
    path.write_bytes(content)
    with pytest.raises(ValueError, match="footer"):
        claimed_numbers(str(path))
