"""The command that the window offers for copying means what the window shows."""

from __future__ import annotations

import shlex
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.settings import CurveSettings, PopulationSettings, Settings
from app.commands.arguments import analyse_parser, report_parser
from app.commands.parsing import BatchArguments
from app.commands.settings import with_options
from app.session.command_text import analyse_text, report_text, settings_file_text

NAMES = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), min_size=1).filter(
    lambda name: name != "--"
)


@given(st.lists(NAMES, min_size=1, max_size=3), NAMES.filter(lambda n: not n.startswith("-")))
def test_any_name_survives_shell_and_parser(inputs: list[str], joints: str) -> None:
    words = shlex.split(analyse_text(inputs, joints))
    assert words[:2] == ["tautograph", "analyse"]
    arguments = analyse_parser().parse_args(words[2:], namespace=BatchArguments())
    assert [Path(name) for name in arguments.inputs] == [Path(name) for name in inputs]
    assert arguments.joints == Path(joints)


@pytest.mark.parametrize(
    "curve",
    [
        CurveSettings(),
        replace(CurveSettings(), yield_rule="two-thirds-slope"),
        replace(CurveSettings(), snug_rule="threshold-torque", snug_threshold_nm=7.25),
    ],
)
def test_the_choices_come_back_by_options(curve: CurveSettings) -> None:
    words = shlex.split(report_text(["a.parquet"], "j.toml", settings=Settings(curve=curve), joint="hub"))
    arguments = report_parser().parse_args(words[2:], namespace=BatchArguments())
    options = {
        name: getattr(arguments, name)
        for name in ("snug_rule", "snug_threshold_nm", "yield_rule", "yield_offset_deg")
    }
    assert with_options(Settings(), options).curve == curve
    assert arguments.joint == "hub"


def test_a_choice_without_an_option_needs_the_settings_file() -> None:
    settings = Settings(population=replace(PopulationSettings(), smallest_population=8))
    assert "--settings settings.toml" in analyse_text(["a"], "j.toml", settings=settings)
    assert "smallest_population = 8" in settings_file_text(settings)
    assert settings_file_text(Settings()) == ""
