"""What the import dialog is told about a file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from analysis.reading import MappedColumn, preview, read_paths
from analysis.reading.table_guess import guess_table


def test_what_a_text_file_shows(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(
        "Prüfstand: 4\nWinkel [°];Drehmoment;Zeit (ms);Teil\n0,5;1,25;0;A\n1;2,5;1;A\n".encode("cp1252")
    )
    shown = preview(path)
    assert (shown.encoding, shown.separator, shown.decimal) == ("cp1252", ";", ",")
    assert (shown.header_line, shown.first_line) == (2, 3)
    assert shown.headers == ("Winkel [°]", "Drehmoment", "Zeit (ms)", "Teil")
    assert shown.rows[0] == ("0,5", "1,25", "0", "A")
    guesses = {guess.target: guess for guess in shown.guesses}
    assert {t: g.unit for t, g in guesses.items()} == {"angle_deg": "deg", "torque_nm": "", "time_s": "ms"}
    assert all(guess.must_be_confirmed for guess in guesses.values())
    assert "no unit is stated" in guesses["torque_nm"].why
    assert shown.trace is None, "which unit it is must be asked"
    columns = {**shown.mapping.columns, "torque_nm": MappedColumn("Drehmoment", "N·m")}
    trace = preview(path, replace(shown.mapping, columns=columns)).trace
    assert trace is not None
    assert trace.torque_nm.tolist() == [1.25, 2.5]


def test_own_names_need_no_confirmation(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("angle_deg;torque (ft·lbf)\n0;1\n")
    assert [guess.must_be_confirmed for guess in preview(path).guesses] == [False, False]


def test_what_was_guessed_is_not_read_before_it_is_confirmed(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Winkel [deg];Moment [Nm]\n0;1\n")
    assert read_paths([path]).unfamiliar == (str(path),)
    confirmed = preview(path).mapping
    assert len(read_paths([path], mapping=confirmed).traces) == 1


def test_a_changed_mapping_shows_its_effect(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Winkel;Moment\n0;1\n")
    columns = {"angle_deg": MappedColumn("Winkel", "deg"), "torque_nm": MappedColumn("Moment", "kgf·m")}
    changed = replace(preview(path).mapping, columns=columns)
    trace = preview(path, changed).trace
    assert trace is not None
    assert trace.torque_nm.tolist() == [9.80665]


def test_numbers_without_a_header(tmp_path: Path) -> None:
    path = tmp_path / "t.txt"
    path.write_text("0.5\t1.25\n1.0\t2.5\n")
    shown = preview(path)
    assert (shown.header_line, shown.headers) == (0, ("1", "2"))
    assert shown.trace is None
    assert "columns.angle_deg" in shown.problems[0].expected
    columns = {"angle_deg": MappedColumn(1, "deg"), "torque_nm": MappedColumn(2, "N·m")}
    trace = preview(path, replace(shown.mapping, columns=columns)).trace
    assert trace is not None
    assert trace.torque_nm.tolist() == [1.25, 2.5]


def test_a_decimal_sign_in_doubt_is_said(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("Winkel;Moment\n1,234;2,345\n")
    shown = preview(path)
    assert shown.decimal == ""
    assert "read in two ways" in shown.problems[0].found


def test_tables_show_their_columns(tmp_path: Path) -> None:
    path = tmp_path / "t.parquet"
    pq.write_table(pa.table({"id": [1], "winkel [deg]": [[0.0, 1.0]], "moment [Nm]": [[1.0, 2.0]]}), path)
    shown = preview(path)
    assert (shown.kind, shown.headers) == ("Parquet", ("id", "winkel [deg]", "moment [Nm]"))
    assert shown.mapping.arrangement == "one row a trace"
    assert shown.trace is not None
    assert shown.trace.trace_id == "1"


@pytest.mark.parametrize("content", [b"", bytes(range(256)), b"PAR1 cut"])
def test_bad_files_give_a_problem(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "t.csv"
    path.write_bytes(content)
    shown = preview(path)
    assert shown.trace is None
    assert shown.problems[0].fatal
    assert preview(tmp_path / "absent.csv").problems[0].fatal


def test_a_large_file_is_looked_at_only_at_its_beginning(tmp_path: Path) -> None:
    path = tmp_path / "t.csv"
    path.write_text("angle_deg;torque_nm\n" + "0;1\n" * 400_000)
    trace = preview(path).trace
    assert trace is not None
    assert 1000 < len(trace) < 300_000


def test_the_separator_is_the_one_that_makes_a_table() -> None:
    for lines, separator in (
        (["a;b", "1,5;2,5", "1,6;2,6"], ";"),
        (["a\tb", "1,5\t2,5"], "\t"),
        (["a,b", "1.5,2.5"], ","),
    ):
        guess = guess_table(lines)
        assert guess is not None
        assert guess.separator == separator
