"""Paper and window show a verdict, a zone and a band alike."""

from __future__ import annotations

from analysis.report.palette import ROLE_COLOURS, VERDICT_COLOURS, VERDICT_SHAPES, VERDICT_SYMBOLS
from app.display.look import LIGHT, VERDICT_MARKS


def test_marks_of_the_verdicts_are_those_of_the_window() -> None:
    for name, mark in VERDICT_MARKS.items():
        assert (VERDICT_SHAPES[name], VERDICT_SYMBOLS[name], VERDICT_COLOURS[name]) == (
            mark.shape,
            mark.symbol,
            mark.colour,
        )


def test_zones_have_the_tints_of_the_light_window() -> None:
    assert {zone: ROLE_COLOURS[zone] for zone in LIGHT.zone_tints} == dict(LIGHT.zone_tints)
