"""Pages of traces in stages, by blows and of loosening: what was done, with units and reasons."""

from __future__ import annotations

import re

import pytest

from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from analysis.report import build_report, to_html
from analysis.report.content import NamedValues, Paragraph, Table, single_blocks
from tests.helpers.unsteady_files import STOP_NM, unsteady_traces
from tests.world import evaluation_joints_toml


@pytest.fixture(scope="module")
def analysis():
    return analyse(unsteady_traces(), joints_from_text(evaluation_joints_toml()))


def page(analysis, trace_id, unit="N·m"):
    row = analysis.traces.row_of(trace_id)
    report = build_report(analysis, "flange", chosen_rows=[row], torque_unit=unit)
    section = next(section for section in report.sections if section.title == trace_id)
    return list(single_blocks(section.blocks)), to_html([report])


def paragraphs(blocks):
    return " ".join(block.text for block in blocks if isinstance(block, Paragraph))


def test_a_stop_is_a_table_with_what_it_cost(analysis):
    blocks, html = page(analysis, "stops")
    (table,) = [block for block in blocks if isinstance(block, Table) and block.name == "Stages"]
    first, last = table.rows
    assert first[1].text == "a stop"
    assert float(first[2].text) == pytest.approx(STOP_NM, rel=0.02)
    assert first[4].text.endswith(" s")
    assert first[5].text.endswith(" N·m")
    assert last[1].text == "the final point"
    assert "Overshoot at restart" in html


def test_stages_follow_the_display_unit(analysis):
    blocks, _ = page(analysis, "stops", "ft·lbf")
    (table,) = [block for block in blocks if isinstance(block, Table) and block.name == "Stages"]
    assert table.columns[2].unit == "ft·lbf"
    assert float(table.rows[0][2].text) == pytest.approx(STOP_NM / 1.3558179, rel=0.02)
    assert table.rows[0][5].text.endswith(" ft·lbf")


def test_a_usual_trace_has_no_such_block(analysis):
    blocks, _ = page(analysis, analysis.traces.trace_ids[0])
    assert not [block for block in blocks if isinstance(block, Table) and block.name == "Stages"]


def test_blows_and_loosening_are_told(analysis):
    blocks, _ = page(analysis, "blows")
    assert "Tightened by blows" in paragraphs(blocks)
    facts = dict(pair for block in blocks if isinstance(block, NamedValues) for pair in block.pairs)
    # The height of a pulse is what the tool gave: the angle alone tells the force.
    assert facts["Clamp force"].endswith("by angle")
    assert "does not tell whether the bolt yields" in facts["Yield onset"]
    assert not {"Torque split", "Lost in a pause", "Left after embedding"} & set(facts)
    blocks, html = page(analysis, "holds")
    assert "broke away at" in paragraphs(blocks)
    facts = dict(pair for block in blocks if isinstance(block, NamedValues) for pair in block.pairs)
    assert facts["Final point"] == "absent: the recording shows loosening, not tightening"
    blocks, _ = page(analysis, "slips")
    assert "the drive slipped" in paragraphs(blocks)
    assert not re.search(r"(?<![A-Za-z])nan(?![A-Za-z])", html)
