"""Factors against the exact definitions, and the spellings that headers use."""

from __future__ import annotations

import pytest

from analysis.errors import CallError
from analysis.traces.units import TORQUE_UNITS, UNITS, find_unit, from_internal, to_internal


@pytest.mark.parametrize(
    ("unit", "factor"),
    [
        # NIST SP 811, from the exact pound, inch and standard gravity.
        ("ft·lbf", 1.3558179483314004),
        ("in·lbf", 0.1129848290276167),
        ("ozf·in", 0.00706155181422604),
        ("kgf·cm", 0.0980665),
        ("kgf·m", 9.80665),
        ("cN·m", 0.01),
    ],
)
def test_torque_factors(unit: str, factor: float) -> None:
    assert to_internal(1.0, unit) == pytest.approx(factor, rel=1e-15)


@pytest.mark.parametrize(
    ("spelled", "symbol"),
    [
        ("Nm", "N·m"), ("N.m", "N·m"), ("N m", "N·m"), ("N*m", "N·m"), ("ncm", "N·cm"), ("cNm", "cN·m"),
        ("ft-lb", "ft·lbf"), ("lbf·ft", "ft·lbf"), ("in.lbs", "in·lbf"), ("lbf in", "in·lbf"),
        ("kgf cm", "kgf·cm"), ("kpm", "kgf·m"), ("oz-in", "ozf·in"),
        ("°", "deg"), ("Degrees", "deg"), ("turns", "turn"), ("rev", "turn"), ("rad", "rad"),
        ("ms", "ms"), ("rpm", "r/min"), ("1/min", "r/min"),
        ("min-1", "r/min"), ("°/s", "deg/s"), ("kN", "kN"),
    ],
)  # fmt: skip
def test_spellings(spelled: str, symbol: str) -> None:
    unit = find_unit(spelled)
    assert unit is not None
    assert unit.symbol == symbol


@pytest.mark.parametrize("spelled", ["", "furlong", "Nm/deg", "n/a", "degC"])
def test_nothing_is_guessed(spelled: str) -> None:
    assert find_unit(spelled) is None


def test_every_symbol_is_found_and_comes_back() -> None:
    for symbol in UNITS:
        unit = find_unit(symbol)
        assert unit is not None
        assert unit.symbol == symbol
        assert from_internal(to_internal(7.25, symbol), symbol) == pytest.approx(7.25, rel=1e-15)
    assert {UNITS[symbol].quantity for symbol in TORQUE_UNITS} == {"torque"}


def test_an_unknown_unit_is_a_wrong_call() -> None:
    with pytest.raises(CallError, match="furlong"):
        to_internal(1.0, "furlong")
