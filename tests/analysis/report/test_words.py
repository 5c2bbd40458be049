"""Names in words, and sentences with their figures in another torque unit."""

from __future__ import annotations

import pytest

from analysis.catalogue.causes import CAUSE_NAMES
from analysis.catalogue.findings import FINDING_NAMES, FINDINGS, in_words
from analysis.catalogue.sentences import Amount, said
from analysis.catalogue.units import DisplayUnits


def test_every_finding_and_cause_has_words() -> None:
    assert set(CAUSE_NAMES) < set(FINDING_NAMES)
    assert all(one.words and in_words(one.name) == one.words for one in FINDINGS)


def test_figures_are_shown_with_the_exact_factor() -> None:
    # 1 ft·lbf = 1.3558179483314004 N·m (NIST SP 811): 10 N·m = 7.3756 ft·lbf
    assert Amount(10.0, "N·m").text(DisplayUnits("ft·lbf")) == "7.38 ft·lbf"
    assert Amount(-0.86, "N·m").text(DisplayUnits("cN·m")) == "−86.00 cN·m"
    assert Amount(58.0, "N·m", given=True).text(DisplayUnits("N·m")) == "58 N·m"
    assert Amount(3.0, "deg").text(DisplayUnits("kgf·m")) == "3.00 deg"


@pytest.mark.parametrize("unit", ["cN·m", "ft·lbf", "in·lbf", "kgf·cm", "kN·m"])
def test_no_torque_stays_in_the_internal_unit(unit: str) -> None:
    sentence = said(
        "{low} to {high}, slope {slope}",
        low=Amount(23.64, "N·m"),
        high=Amount(24.5, "N·m", given=True),
        slope=said("{slope}", slope=Amount(0.57, "N·m/deg")),
    )
    text = sentence.text(DisplayUnits(unit))
    assert " N·m" not in text.replace(f" {unit}", "")
    assert text.count(unit) == 3
