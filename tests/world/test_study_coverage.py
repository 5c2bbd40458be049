"""Intervals hold the true index about as often as they say; the table of 2000 studies is a command."""

from __future__ import annotations

import pytest

from tests.world.study_coverage import cover

#: 150 intervals of 95 % hold within these shares but once in a thousand (binomial).
STUDIES, LEAST = 150, 0.89


@pytest.mark.parametrize(
    ("law", "n", "shape"),
    [
        ("normal", 50, "auto"),
        ("normal, one limit", 50, "auto"),
        ("lognormal", 50, "lognormal"),
        ("lognormal", 50, "auto"),
        ("lognormal", 125, "auto"),
        ("lognormal from 20 on", 50, "auto"),
    ],
)
def test_intervals_hold_the_true_index(law: str, n: int, shape: str) -> None:
    found = cover(law, n, shape, STUDIES)
    assert min(found.held.values()) >= LEAST
    assert found.shown_wrongly <= 0.11


def test_two_populations_have_no_index() -> None:
    found = cover("two populations", 125, studies=40)
    assert found.held == {}
    assert found.without == 1.0
