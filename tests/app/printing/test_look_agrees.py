"""Paper and window show a zone alike."""

from __future__ import annotations

from analysis.report.palette import ROLE_COLOURS
from app.display.look import LIGHT


def test_zones_have_the_tints_of_the_light_window() -> None:
    assert {zone: ROLE_COLOURS[zone] for zone in LIGHT.zone_tints} == dict(LIGHT.zone_tints)
