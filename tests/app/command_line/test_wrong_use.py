"""Everything a person can type wrongly ends in exit code 3, one clear sentence and no traceback."""

from __future__ import annotations

from pathlib import Path

import pytest

from app.commands.command_line import main

JOINTS = "[joints.hub]\ntarget_torque_nm = 65.0\n"


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder to work in, with a joints file, an empty folder and a broken trace file."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "joints.toml").write_text(JOINTS)
    (tmp_path / "bad.toml").write_text("[joints.hub]\ntarget_torque_nm = -4\n")
    (tmp_path / "empty").mkdir()
    (tmp_path / "broken.csv").write_text("trace_id,angle_deg,torque_nm\na,1,2\na,two,3\na,3,4\n")
    (tmp_path / "settings.toml").write_text('[curve]\nsnug_rule = "by eye"\n')
    return tmp_path


BATCH = "--joints joints.toml --results out.parquet"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("analyse", "required"),
        ("analyse broken.csv", "--joints"),
        ("analyse broken.csv --joints joints.toml", "--results"),
        (f"analyse broken.csv {BATCH} --colour red", "--colour"),
        (f"analyse nowhere.csv {BATCH}", "nowhere.csv"),
        (f"analyse *.nothing {BATCH}", "*.nothing"),
        (f"analyse empty {BATCH}", "nothing could be read"),
        (f"analyse empty {BATCH} --pattern *.csv", "*.csv"),
        (f"analyse broken.csv {BATCH}", "nothing could be read"),
        (f"analyse broken.csv {BATCH} --joint axle", "hub"),
        (f"analyse broken.csv {BATCH} --since yesterday", "yesterday"),
        (f"analyse broken.csv {BATCH} --snug-rule by-eye", "slope-ratio"),
        (f"analyse broken.csv {BATCH} --snug-rule threshold-torque", "--snug-threshold-nm"),
        (f"analyse broken.csv {BATCH} --settings settings.toml", "snug_rule"),
        (f"analyse broken.csv {BATCH} --settings none.toml", "none.toml"),
        (f"analyse broken.csv {BATCH} --mapping none.toml", "none.toml"),
        (f"analyse broken.csv {BATCH} --quiet --verbose", "not allowed with"),
        ("analyse broken.csv --joints none.toml --results out.parquet", "none.toml"),
        ("analyse broken.csv --joints bad.toml --results out.parquet", "target_torque_nm"),
        ("analyse broken.csv --joints joints.toml --results out.txt", ".parquet"),
        ("analyse broken.csv --joints joints.toml --results out", ".parquet"),
        ("analyse broken.csv --joints joints.toml --results absent/out.parquet", "absent"),
        (f"analyse broken.csv {BATCH} --summary s.txt", ".json"),
        ("report broken.csv --joints joints.toml", "--out"),
        ("report broken.csv --joints joints.toml --out out.doc", ".xlsx"),
        ("report broken.csv --joints joints.toml --out out.html", "nothing could be read"),
        ("report broken.csv --joints joints.toml --out out.html --torque-unit ell", "ft·lbf"),
        ("report broken.csv --joints joints.toml --out out.html --template no.toml", "no.toml"),
        ("sample more", "unrecognized"),
        ("analyze x", "the command is analyse"),
        ("nowhere", "no such file or folder"),
        ("--frobnicate", "--frobnicate"),
    ],
)
def test_wrong_use_is_code_3_and_says_what(
    here: Path, capsys: pytest.CaptureFixture[str], line: str, said: str
) -> None:
    code = main(line.split())
    output = capsys.readouterr()
    assert code == 3
    assert said in output.err
    assert "Traceback" not in output.err
    assert output.out == ""
    assert not list(here.glob("*out*")), "nothing may be written"


@pytest.mark.parametrize("command", ["", "analyse", "report", "sample"])
def test_help_explains_itself(capsys: pytest.CaptureFixture[str], command: str) -> None:
    assert main([*command.split(), "--help"]) == 0
    output = capsys.readouterr()
    assert output.out.startswith("usage: tautograph")
    assert not output.err
    if command in ("analyse", "report"):
        assert "examples:" in output.out
        assert "exit codes:" in output.out
        assert "qualified" in output.out


def test_a_broken_file_is_listed_with_line_and_expectation(
    here: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(f"analyse broken.csv {BATCH}".split())
    told = capsys.readouterr().err
    assert "broken.csv, line 3" in told
    assert "two" in told
    assert "expected" in told


def test_a_fault_of_the_program_is_never_taken_for_a_verdict(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError("inside")

    monkeypatch.setattr("app.commands.analyse.run", fails)
    assert main(f"analyse broken.csv {BATCH}".split()) == 70
    assert "please report" in capsys.readouterr().err


def test_stopping_by_the_keyboard_is_told_without_a_traceback(
    here: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("app.commands.analyse.run", stopped)
    assert main(f"analyse broken.csv {BATCH}".split()) == 130
    assert capsys.readouterr().err == "tautograph: stopped\n"
