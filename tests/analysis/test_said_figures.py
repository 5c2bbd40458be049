"""One figure, one text: sentences, list of rules, report and window write it with the same digits."""

from __future__ import annotations

import re
from decimal import Decimal

import numpy as np
import pytest

from analysis.account.audits import done_sentences
from analysis.analysed import Analysis
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import given_text, with_uncertainty
from tests.helpers.judged_sample import judged_sample

_BROKEN = re.compile(
    r"The (?P<figure>.+) of (?P<measured>−?[\d.]+)(?: ± [\d.]+)? (?P<unit>\S+) lies (?P<apart>[\d.]+) \S+ "
    r"(?P<side>below|above) the (?:lower|upper) limit of (?P<limit>−?[\d.]+) \S+\."
)


def _number(text: str) -> Decimal:
    return Decimal(text.replace("−", "-"))


@pytest.fixture(scope="module")
def sample() -> Analysis:
    return judged_sample()


@pytest.mark.parametrize("unit", ["N·m", "ft·lbf", "kgf·cm"])
def test_a_broken_limit_adds_up_and_is_written_as_in_the_list_of_rules(sample: Analysis, unit: str) -> None:
    units, found = DisplayUnits(unit), 0
    for row in range(len(sample)):
        checks = {one.rule.figure.said: one for one in sample.checks(row) if one.status == "broken"}
        for finding in sample.findings(row):
            told = _BROKEN.fullmatch(finding.sentence.text(units))
            if told is None:
                continue
            check = checks[told["figure"]]
            known, factor = sample.known(row, check.rule.figure), units.factor(check.unit)
            assert check.measured is not None
            assert told["measured"] == with_uncertainty(check.measured * factor, known.times(factor))[0]
            apart = _number(told["measured"]) - _number(told["limit"])
            assert abs(apart) == _number(told["apart"])
            assert (apart < 0) == (told["side"] == "below")
            margin = check.margin_text(known, factor, signed=True)
            assert _number(margin) == -_number(told["apart"])
            assert told["limit"] in {
                given_text(end, factor) for end in (check.low, check.high) if end is not None
            }
            found += 1
    assert found > 40


def test_what_is_uncertain_says_so_in_every_sentence(sample: Analysis) -> None:
    ids = list(sample.traces.trace_ids)
    # A cross thread, whose snug point is known to some hundred degrees only.
    told = sample.sentence(ids.index("drive-unit-027")).text()
    figures = re.search(r"(\d+) ± (\d+) deg lies (\d+) deg above the upper limit of (\d+) deg", told)
    assert figures is not None, told
    angle, uncertainty, above, limit = map(int, figures.groups())
    assert angle - limit == above
    assert uncertainty >= 50


def test_no_sentence_holds_a_figure_that_is_not_there(sample: Analysis) -> None:
    for row in range(len(sample)):
        joint = sample.joint_rows.name_of(row)
        said = [sample.sentence(row), *(one.sentence for one in sample.findings(row))]
        said += [text for one in sample.causes_of(row) for text in (*one.evidence_for, *one.evidence_against)]
        said += done_sentences(sample, row)
        lines = [str(one) for one in said]
        lines += [str(line) for part in sample.engineering.story(row, joint) for line in part.lines]
        for line in lines:
            assert not re.search(r"\b(nan|inf|None)\b|\{|\}", line), line


def test_a_report_on_some_traces_counts_those(sample: Analysis) -> None:
    rows = [row for row in range(len(sample)) if sample.joint_rows.name_of(row) == "drive-unit"][:40]
    account = sample.diagnosis("drive-unit", np.array(rows))
    assert sum(account.counts.values()) == len(rows)
    assert f" of {len(rows)} surely hold" in account.held[0].text()
    assert " of 262 surely hold" in sample.diagnosis("drive-unit").held[0].text()
