"""What names in recordings may not do on their way out: formulas, control characters, links."""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pyarrow as pa
import pytest

from analysis.results import to_csv
from app.commands.command_line import main
from app.commands.inputs import input_paths
from app.display.columns import ColumnSet, number_column
from app.filtering.text import FilterError, evaluate, parse
from app.session.folder_watch import list_files


@pytest.mark.parametrize("name", ["=cmd()", "+1", "-1", "@a", "\tx"])
def test_no_text_of_a_csv_file_is_a_formula(name: str) -> None:
    text = to_csv(pa.table({"trace_id": [name, "hub-7"], "findings": [[name], ["none"]], "x": [-1.0, 2.0]}))
    lines = text.splitlines()
    assert lines[1].startswith(("'", "\"'"))
    assert lines[1].endswith(",-1.0"), "numbers stay numbers"
    assert lines[2] == "hub-7,none,2.0"


def test_control_characters_do_not_reach_the_terminal(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    name = str(tmp_path / "a\x1b[31m\x9b")
    assert main(["analyse", name, "--joints", name, "--results", str(tmp_path / "y.csv")]) != 0
    told = capsys.readouterr().err
    assert "\x1b" not in told
    assert "\x9b" not in told
    assert r"a\x1b[31m\x9b" in told


@pytest.mark.skipif(sys.platform == "win32", reason="links need rights there")
def test_links_out_of_the_folder_are_left_alone_however_files_are_chosen(tmp_path: Path) -> None:
    folder, outside = tmp_path / "shift", tmp_path / "secret.csv"
    folder.mkdir()
    outside.write_text("x")
    (folder / "a.csv").write_text("x")
    (folder / "inside.csv").symlink_to(folder / "a.csv")
    (folder / "out.csv").symlink_to(outside)
    chosen = {path.name for path in input_paths([str(folder)], ["*.csv"], None)}
    assert chosen == {"a.csv", "inside.csv"}
    followed = {Path(path).name for path, _ in list_files(str(folder), (".csv",))}
    assert followed == {"a.csv", "inside.csv"}


def test_a_decimal_comma_is_understood_where_nothing_else_can_be_meant() -> None:
    columns = ColumnSet({"final_torque": number_column("final_torque", np.array([12.0, 12.6, 13.0]))}, 3)
    for text in ("final_torque > 12,5", "final_torque>12.5", "(final_torque > 12,5)"):
        assert evaluate(parse(text, columns), columns).tolist() == [False, True, True]
    assert evaluate(parse("final_torque in (12, 13)", columns), columns).tolist() == [True, False, True]
    with pytest.raises(FilterError):
        parse("final_torque > 1,2,3", columns)
