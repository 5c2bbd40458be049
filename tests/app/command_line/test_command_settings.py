"""Settings by file and by option: what is right is taken, what is wrong is named."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from analysis.errors import SettingsFileError
from analysis.settings import CurveSettings, PopulationSettings, Settings
from app.commands.settings import read_settings, with_options
from app.session.command_text import settings_file_text


def written(tmp_path: Path, text: str) -> Path:
    file = tmp_path / "settings.toml"
    file.write_text(text, encoding="utf-8")
    return file


def test_an_empty_file_gives_the_defaults(tmp_path: Path) -> None:
    assert read_settings(written(tmp_path, "")) == Settings()


def test_what_is_written_comes_back(tmp_path: Path) -> None:
    settings = Settings(
        curve=replace(
            CurveSettings(), snug_rule="threshold-torque", snug_threshold_nm=12.5, hard_limit_deg=27.0
        ),
        population=replace(PopulationSettings(), smallest_population=8),
    )
    assert read_settings(written(tmp_path, settings_file_text(settings))) == settings


def test_whole_numbers_are_numbers(tmp_path: Path) -> None:
    assert read_settings(written(tmp_path, "[curve]\nhard_limit_deg = 27\n")).curve.hard_limit_deg == 27.0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[curve\n", "TOML"),
        ("[curves]\n", "curves"),
        ("curve = 3\n", r"\[curve\]"),
        ("[curve]\nsnug = 1\n", "snug_slope_ratio"),
        ('[curve]\nsnug_slope_ratio = "much"\n', "a number"),
        ("[curve]\nsnug_slope_ratio = true\n", "a number"),
        ('[curve]\nyield_rule = "offset 0.2"\n', "half-slope"),
        ("[population]\nsmallest_population = 2.5\n", "whole number"),
    ],
)
def test_what_cannot_be_used_is_named(tmp_path: Path, text: str, said: str) -> None:
    with pytest.raises(SettingsFileError, match=said):
        read_settings(written(tmp_path, text))


def test_options_win_over_the_file() -> None:
    from_file = Settings(curve=replace(CurveSettings(), yield_rule="offset", yield_offset_deg=6.0))
    both = with_options(
        from_file, {"yield_rule": "two-thirds-slope", "snug_rule": None, "yield_offset_deg": None}
    )
    assert both.curve.yield_rule == "two-thirds-slope"
    assert both.curve.yield_offset_deg == 6.0
