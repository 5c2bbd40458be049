"""`tautograph report` without a display, as HTML (no Qt at all) and as PDF."""

from __future__ import annotations

from pathlib import Path

import openpyxl
import pypdf
import pytest

from tests.helpers.commands import run_command, run_here, run_without_qt
from tests.helpers.eight_joints import MODELS, write_shift

FIXED_DATE = {"SOURCE_DATE_EPOCH": "1770000000"}


@pytest.fixture(scope="module")
def shift(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    return write_shift(tmp_path_factory.mktemp("shift"), each=4)


def test_html_needs_no_qt_names_every_joint_and_is_the_same_twice(
    shift: tuple[Path, Path], tmp_path: Path
) -> None:
    for name, seed in (("a", "1"), ("b", "2")):  # the order of a set of words differs between the two
        done = run_without_qt(
            "report", shift[0], "--joints", shift[1], "--out", f"{name}.html", cwd=tmp_path,
            PYTHONHASHSEED=seed, **FIXED_DATE,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    text = (tmp_path / "a.html").read_text(encoding="utf-8")
    assert all(name in text for name in MODELS)
    assert "qualified" in text
    assert text == (tmp_path / "b.html").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def written(shift: tuple[Path, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report as pages by three processes (Qt counts its fonts in one of two orders) and as two workbooks;
    the last of each without any display."""
    folder, no_display = tmp_path_factory.mktemp("written"), {"QT_QPA_PLATFORM": "", "DISPLAY": ""}
    for name in ("0.pdf", "1.pdf", "2.pdf", "1.xlsx", "2.xlsx"):
        done = run_command(
            "report", shift[0], "--joints", shift[1], "--out", name, cwd=folder, PYTHONHASHSEED=name[0],
            **FIXED_DATE, **(no_display if name[0] == "2" else {}),
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
    return folder


@pytest.mark.parametrize("ending", ["pdf", "xlsx"])
def test_pages_and_sheets_of_several_runs_are_equal_in_bytes(written: Path, ending: str) -> None:
    files = list(written.glob(f"*.{ending}"))
    assert len(files) > 1
    assert len({file.read_bytes() for file in files}) == 1


def test_pdf_is_written_without_any_display(written: Path) -> None:
    pages = pypdf.PdfReader(written / "2.pdf").pages
    text = "\n".join(page.extract_text() for page in pages)
    assert all(name in text for name in MODELS)


def test_a_report_for_each_joint(shift: tuple[Path, Path], tmp_path: Path) -> None:
    done = run_here(
        "report", shift[0], "--joints", shift[1], "--out", "r.html", "--per-joint", "--quiet", cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout == ""
    assert sorted(file.name for file in tmp_path.iterdir()) == sorted(f"r.{name}.html" for name in MODELS)


def test_traces_of_no_known_joint_are_said_to_be_missing(shift: tuple[Path, Path], tmp_path: Path) -> None:
    joints = tmp_path / "other.toml"
    joints.write_text("[joints.axle]\ntarget_torque_nm = 10\n")
    done = run_here("report", shift[0], "--joints", joints, "--out", "r.html", cwd=tmp_path)
    assert done.returncode == 3
    assert "--joint NAME" in done.stderr


def test_a_spreadsheet_holds_every_trace(written: Path) -> None:
    book = openpyxl.load_workbook(written / "2.xlsx", read_only=True)
    cells = {
        str(cell) for sheet in book.worksheets for row in sheet.iter_rows(values_only=True) for cell in row
    }
    assert all(f"{name}-003" in cells for name in MODELS)


def test_two_sets_are_held_against_each_other(shift: tuple[Path, Path], tmp_path: Path) -> None:
    joint = next(iter(MODELS))
    done = run_here(
        "report", shift[0], "--joints", shift[1], "--out", "c.html", "--compare", f"trace_id = {joint}-000",
        cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "c.html").read_text(encoding="utf-8")
    assert f"of trace_id = {joint}-000 (n = 1)" in text
    assert "of the others (n = 3)" in text
    assert done.stderr.count("nothing to compare") == len(MODELS) - 1


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--compare", "colour = red"), "there is no column 'colour'"),
        (("--compare", "joint = nowhere"), "no joint has traces in both sets"),
        (("--compare", " "), "expected a filter"),
        (("--against", "joint = x"), "needs --compare"),
        (("--compare", "final_torque > 0", "--against", "final_torque >"), "--against"),
    ],
)
def test_sets_that_cannot_be_compared_are_refused_with_the_reason(
    options: tuple[str, ...], words: str, shift: tuple[Path, Path], tmp_path: Path
) -> None:
    done = run_here("report", shift[0], "--joints", shift[1], "--out", "c.html", *options, cwd=tmp_path)
    assert done.returncode == 3
    assert words in done.stderr
    assert not list(tmp_path.iterdir())
