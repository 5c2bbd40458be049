"""What the commands say of one trace, and of several."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.commands import run_here

_HUB = "[joints.hub]\ntarget_torque_nm = 60.0\n"


def write_traces(file: Path, joints: list[str], started_at: str = "2024-03-12T06:00:00Z") -> Path:
    """A rising curve for each of these joints."""
    rows = [
        f"t{k},{angle},{1.0 if angle < 300 else 1.0 + 0.6 * (angle - 300)},{joint},{started_at}"
        for k, joint in enumerate(joints)
        for angle in range(0, 400, 2)
    ]
    file.write_text(
        "\n".join(["trace_id,angle_deg,torque_nm,joint,started_at", *rows]) + "\n", encoding="utf-8"
    )
    return file


@pytest.mark.parametrize(
    ("strangers", "words"),
    [
        (1, "1 trace belongs to no joint of the joints file and is in no report"),
        (2, "2 traces belong to no joint of the joints file and are in no report"),
    ],
)
def test_traces_in_no_report_are_counted_in_words(strangers: int, words: str, tmp_path: Path) -> None:
    write_traces(tmp_path / "t.csv", ["hub", *["other"] * strangers])
    (tmp_path / "j.toml").write_text(_HUB, encoding="utf-8")
    done = run_here("report", "t.csv", "--joints", "j.toml", "--out", "r.html", cwd=tmp_path)
    assert words in done.stderr


@pytest.mark.parametrize(
    ("n", "words"), [(1, "the only trace started earlier"), (2, "all 2 traces started earlier")]
)
def test_traces_that_are_too_old_are_counted_in_words(n: int, words: str, tmp_path: Path) -> None:
    write_traces(tmp_path / "t.csv", ["hub"] * n)
    (tmp_path / "j.toml").write_text(_HUB, encoding="utf-8")
    done = run_here(
        "analyse", "t.csv", "--joints", "j.toml", "--results", "o.csv", "--since", "2025-01-01", cwd=tmp_path
    )
    assert done.returncode == 3
    assert words in done.stderr
    assert ("1 trace started before" if n == 1 else "2 traces started before") in done.stderr
