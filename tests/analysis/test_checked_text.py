"""What a text may be is checked before anything uses it, the same for every file."""

from __future__ import annotations

import math

import pytest

from analysis.checked_text import LARGEST_DEPTH, NotJsonError, UnusableTextError, json_data, toml


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ('{"a": 1, "b": {"c": 1, "c": 2}}', "'c' twice"),
        ("[" * (LARGEST_DEPTH + 1) + "]" * (LARGEST_DEPTH + 1), "deeper than"),
        ("[" * 100_000, "nested too deeply"),
        ("9" * 5000, "5000 digits"),
        ('{"a": -' + "9" * 400 + "}", "400 digits"),
        ("NaN", "no number"),
        ("[1, -Infinity]", "no number"),
    ],
)
def test_json_that_cannot_be_used_is_told(text: str, words: str) -> None:
    with pytest.raises(UnusableTextError, match=words):
        json_data(text)


def test_where_json_ends_is_told_by_line() -> None:
    with pytest.raises(NotJsonError, match="line 3") as caught:
        json_data('{\n"a": 1,\n}')
    assert caught.value.line == 3


def test_json_of_any_sound_shape_comes_as_it_is() -> None:
    deep = "[" * LARGEST_DEPTH + "]" * LARGEST_DEPTH
    assert json_data('{"a": [1, 2.5, {"b": null}]}') == {"a": [1, 2.5, {"b": None}]}
    assert str(json_data(deep)) == deep
    assert math.isnan(json_data("[NaN]", constants=True)[0])


@pytest.mark.parametrize("text", ["a = " + "9" * 400, "a = " + "[" * 40 + "]" * 40, "a = 1\na = 2"])
def test_toml_that_cannot_be_used_is_told(text: str) -> None:
    with pytest.raises(UnusableTextError):
        toml(text)
