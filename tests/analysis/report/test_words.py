"""Sentences restated in another torque unit, and names in words."""

from __future__ import annotations

import pytest

from analysis.catalogue.causes import CAUSE_NAMES
from analysis.catalogue.findings import FINDING_NAMES, FINDINGS, in_words
from analysis.report.words import in_torque_unit


def test_every_finding_and_cause_has_words() -> None:
    assert set(CAUSE_NAMES) < set(FINDING_NAMES)
    assert all(one.words and in_words(one.name) == one.words for one in FINDINGS)


def test_sentences_are_restated_with_the_exact_factor() -> None:
    # 1 ft·lbf = 1.3558179483314004 N·m (NIST SP 811): 10 N·m = 7.3756 ft·lbf
    assert in_torque_unit("10.000 N·m", "ft·lbf") == "7.3756 ft·lbf"
    assert in_torque_unit("between 58.0 and 72.0 N·m", "N·m") == "between 58.0 and 72.0 N·m"
    assert in_torque_unit("−0.860 N·m too low at 1946 deg", "cN·m") == "−86.0 cN·m too low at 1946 deg"
    assert in_torque_unit("12 traces at 3.0 deg", "kgf·m") == "12 traces at 3.0 deg"


@pytest.mark.parametrize("unit", ["cN·m", "ft·lbf", "in·lbf", "kgf·cm", "kN·m"])
def test_no_torque_stays_in_the_internal_unit(unit: str) -> None:
    text = in_torque_unit("23.64 N·m lies 0.860 N·m below 24.50 N·m; slope 0.57 N·m/deg, 0 N·m", unit)
    assert " N·m" not in text.replace(f" {unit}", "")
    assert text.count(unit) == 5
