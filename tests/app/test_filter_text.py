"""The filter grammar: what it means, what it refuses and where, and that nothing in it can run."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.catalogue.units import DisplayUnits
from app.display.columns import Column, ColumnSet, number_column, text_column
from app.filtering.completion import complete
from app.filtering.text import FilterError, equals, evaluate, parse, quote, write_units

HOUR_S = 3600.0


@pytest.fixture
def columns() -> ColumnSet:
    parts = [
        text_column("trace_id", ["a1", "a2", "b1", "b2"]),
        text_column("joint", ["hub", "hub", "cover", None]),
        text_column("verdict", ["ok", "not ok", "suspect", "not evaluated"]),
        number_column("final_torque_nm", [60.0, 75.0, 10.0, np.nan], "N·m", "Final torque"),
        number_column("n_samples", [100, 200, 300, 400], "", "Samples"),
        Column("started_at", "Started at", "", "time", np.array([0.0, HOUR_S, 2 * HOUR_S, np.nan])),
    ]
    return ColumnSet({column.name: column for column in parts}, 4)


def rows(text: str, columns: ColumnSet, unit: str = "N·m") -> list[int]:
    node = parse(text, columns, DisplayUnits(unit))
    return np.flatnonzero(evaluate(node, columns)).tolist()


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", [0, 1, 2, 3]),
        ("joint = hub", [0, 1]),
        ("joint != hub", [2]),
        ("joint is missing", [3]),
        ("joint is present", [0, 1, 2]),
        ("JOINT = Hub", [0, 1]),
        ("verdict = not ok", [1]),
        ('verdict = "not evaluated" or verdict = suspect', [2, 3]),
        ("not verdict = ok", [1, 2, 3]),
        ("final_torque_nm > 50", [0, 1]),
        ("final_torque > 50 and not joint = cover", [0, 1]),
        ("final_torque between 70 and 80", [1]),
        ("final_torque between 80 and 70 and joint = hub", [1]),
        ("final_torque_nm >= 44.25 ft·lbf", [0, 1]),
        ("n_samples in (100, 300)", [0, 2]),
        ("joint in (hub, cover) and n_samples <= 200", [0, 1]),
        ("(joint = hub or joint = cover) and n_samples != 200", [0, 2]),
        ("joint ~ ov", [2]),
        ("a2", [1]),
        ("b1", [2]),
        ("started_at >= 1970-01-01 01:00", [1, 2]),
        ("final_torque < 12.5", [2]),
    ],
)
def test_meaning(text: str, expected: list[int], columns: ColumnSet) -> None:
    assert rows(text, columns) == expected


def test_and_binds_tighter_than_or(columns: ColumnSet) -> None:
    assert rows("joint = cover or joint = hub and n_samples = 200", columns) == [1, 2]


def test_a_missing_value_meets_no_comparison(columns: ColumnSet) -> None:
    assert 3 not in rows("final_torque < 1e9", columns)
    assert 3 not in rows("final_torque != 5", columns)
    assert rows("final_torque is missing", columns) == [3]


def test_a_bare_number_is_read_in_the_shown_unit_and_a_written_name_in_its_own(columns: ColumnSet) -> None:
    assert rows("final_torque > 50", columns, "ft·lbf") == [1]  # 50 ft·lbf is 67.8 N·m
    assert rows("final_torque_nm > 50", columns, "ft·lbf") == [0, 1]


def test_an_accepted_filter_means_the_same_in_any_unit(columns: ColumnSet) -> None:
    text = write_units("final_torque > 50 and n_samples > 1", columns, DisplayUnits("ft·lbf"))
    assert text == "final_torque > 50 ft·lbf and n_samples > 1"
    assert rows(text, columns, "N·m") == [1]


@pytest.mark.parametrize(
    ("text", "start", "words"),
    [
        ("jiont = hub", 0, "no column"),
        ("final_torque > high", 15, "is a number"),
        ("final_torque ~ 5", 13, "text only"),
        ("joint < hub", 6, "is text"),
        ("joint = ", 6, "value is missing"),
        ("(joint = hub", 11, "closing bracket"),
        ("joint = hub )", 12, "did not expect"),
        ('joint = "hub', 8, "not closed"),
        ("final_torque > 5 deg", 15, "does not fit"),
        ("joint is great", 9, "missing"),
        ("and joint = hub", 0, "expected a condition"),
        ("started_at > yesterday", 13, "date"),
    ],
)
def test_refusals_name_the_place_and_the_reason(
    text: str, start: int, words: str, columns: ColumnSet
) -> None:
    with pytest.raises(FilterError, match=words) as caught:
        parse(text, columns)
    assert caught.value.start == start


@pytest.mark.parametrize(
    "text",
    [
        "__import__('os').system('x')",
        "@joint",
        "joint.__class__ = hub",
        "(" * 60 + "joint = hub" + ")" * 60,
        "not " * 3000 + "a",
        "x" * 5000,
    ],
)
def test_mischief_is_refused_or_only_text(text: str, columns: ColumnSet) -> None:
    try:
        mask = evaluate(parse(text, columns), columns)
    except FilterError:
        return
    assert not mask.any()


@given(st.text(max_size=80))
def test_any_text_gives_a_mask_or_a_refusal_inside_the_text(text: str) -> None:
    columns = ColumnSet({"joint": text_column("joint", ["hub", None])}, 2)
    refusal: FilterError | None = None
    mask = np.zeros(2, bool)
    try:
        mask = evaluate(parse(text, columns), columns)
    except FilterError as error:
        refusal = error
    assert mask.shape == (2,)
    assert refusal is None or 0 <= refusal.start <= max(refusal.stop, len(text))


@given(st.text(min_size=1, max_size=30))
def test_equals_finds_exactly_the_value_whatever_it_is(value: str) -> None:
    columns = ColumnSet({"joint": text_column("joint", [value, "other value"])}, 2)
    stored = str(columns["joint"].values[0])  # the text as the column can hold it
    expected = np.strings.lower(columns["joint"].values) == stored.lower() if stored else None
    mask = evaluate(parse(equals("joint", stored), columns), columns)
    assert bool(mask[0])
    if expected is not None:
        assert mask.tolist() == expected.tolist()
        assert quote(stored)


def test_completion_offers_columns_then_comparisons_then_values(columns: ColumnSet) -> None:
    assert "joint" in [offer.text for offer in complete("jo", 2, columns)]
    assert "=" in [offer.text for offer in complete("joint ", 6, columns)]
    assert {offer.text for offer in complete("joint = ", 8, columns)} == {"hub", "cover"}
    assert '"not ok"' in [offer.text for offer in complete("verdict = no", 12, columns)]
    assert [offer.text for offer in complete("joint = hub ", 12, columns)] == ["and", "or"]
    offer = complete("joint = c", 9, columns)[0]
    assert (offer.text, offer.start, offer.stop) == ("cover", 8, 9)


def test_only_a_list_of_traces_may_be_long(columns: ColumnSet) -> None:
    names = ", ".join(quote(name) for name in ("a1", *(f"no {k}" for k in range(5000)), "b2"))
    assert rows(f"trace_id in ({names})", columns) == [0, 3]
    for tail in (" or a2", " and final_torque > 50", "\n and (", ') "'):
        with pytest.raises(FilterError, match=r"only a list, trace_id in \(\.\.\.\), may be longer"):
            parse(f"trace_id in ({names}){tail}", columns)
    with pytest.raises(FilterError, match="names"):
        parse(f"trace_id in ({'1,' * 120_000}1)", columns)


def test_too_many_conditions_are_refused_and_what_may_be_meant_is_said(columns: ColumnSet) -> None:
    assert rows(" or ".join(["a1"] * 100), columns) == [0]
    for text in (" or ".join(["a1"] * 101), "not (" * 15 + " and ".join(["a1"] * 90) + ")" * 15):
        with pytest.raises(FilterError, match=r"too many conditions; use name in \(a, b, \.\.\.\)"):
            parse(text, columns)
        with pytest.raises(FilterError, match="too many conditions"):
            write_units(text, columns, DisplayUnits())


def test_units_are_written_at_every_number_and_nothing_else_moves(columns: ColumnSet) -> None:
    text = " final_torque in (1, 2,3) and  final_torque between 4 and 5 or n_samples > 6"
    assert write_units(text, columns, DisplayUnits("ft·lbf")) == (
        "final_torque in (1 ft·lbf, 2 ft·lbf,3 ft·lbf) and  final_torque between 4 ft·lbf and 5 ft·lbf "
        "or n_samples > 6"
    )
