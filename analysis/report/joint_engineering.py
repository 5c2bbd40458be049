"""What the joint's engineering says, in the report: of one trace on its page, and of tests with a load
cell."""

from __future__ import annotations

import math

from analysis.catalogue.figures import ELASTIC_SLOPE
from analysis.catalogue.sentences import Amount
from analysis.figure_text import measured_text, number_text
from analysis.joint.calculation import CAUTION
from analysis.joint.clamp_words import torque_budget
from analysis.joint.definition import JointDefinition
from analysis.joint.expected import expected_fan
from analysis.joint.force_axis import force_axis
from analysis.joint.laboratory import SCOPE
from analysis.joint.laboratory_table import LaboratoryRow
from analysis.joint.laboratory_words import prevailing_or_none
from analysis.joint.loosening_pairs import LooseningPair
from analysis.joint.remaining import estimate_remaining, left_texts
from analysis.report.back_off_blocks import back_off_blocks
from analysis.report.content import Block, NamedValues, Paragraph, Plots, Section
from analysis.report.force_plot import force_plot, route_plot
from analysis.report.laboratory_tables import load_cell_table, pairs_table, spread_facts
from analysis.report.reported import JointData


def engineering_facts(data: JointData, row: int) -> tuple[tuple[str, str], ...]:
    """Torque budget, expectation, what is left and what was measured of one trace, in few words.

    What could not be evaluated is left out here: the reason stands beside the clamp force, and the window
    tells all.
    """
    definition = data.definition
    if definition is None:
        return ()
    found = [
        ("Torque split", _budget(data, row, definition)),
        ("Expected slope", _expected(data, row, definition)),
        ("Left after embedding", _left(data, row, definition)),
        ("Load cell", _measured(data, row)),
    ]
    return tuple((title, text) for title, text in found if text)


def route_blocks(data: JointData, row: int, anchor: str) -> list[Block]:
    """Every route to the clamp force of one trace on one axis; nothing where there is no figure: the reason
    stands beside the clamp force."""
    shown = force_axis(data.analysis.clamp, row, data.definition, data.units)
    plot = route_plot(shown, f"{anchor}-routes")
    return [] if plot is None else [Plots((plot,)), Paragraph(CAUTION, "caution")]


def _budget(data: JointData, row: int, definition: JointDefinition) -> str:
    final = float(data.analysis.curves.final_torque_nm[row])
    clamp = data.analysis.clamp
    taken, force = float(clamp.prevailing_taken_nm[row]), float(clamp.clamp_force_kn[row])
    if not (math.isfinite(final) and math.isfinite(force)):
        return ""
    budget = torque_budget(definition, final, taken, force)
    if isinstance(budget, str):
        return ""
    shares = [
        f"{words} {100.0 * part / budget.total_nm:.0f}"
        for words, part in (
            ("prevailing", budget.prevailing_nm),
            ("bolt", budget.pitch_nm),
            ("thread", budget.thread_nm),
            ("head", budget.bearing_nm),
        )
    ]
    return f"{', '.join(shares)} %"


def _expected(data: JointData, row: int, definition: JointDefinition) -> str:
    slope = float(data.analysis.curves.elastic_slope_nm_per_deg[row])
    fan = expected_fan(definition, prevailing_nm=prevailing_or_none(data.analysis.curves, row))
    if isinstance(fan, str) or not math.isfinite(slope):
        return ""
    low, high = fan.slope_range_nm_per_deg
    known = data.analysis.known(row, ELASTIC_SLOPE)
    where = "flatter" if slope < low else "steeper" if slope > high else "as expected"
    least, most = (
        Amount(x, ELASTIC_SLOPE.unit, known, bare=k == 0, alone=True).text(data.units)
        for k, x in enumerate((low, high))
    )
    return f"{least} to {most}: {where}"


def _left(data: JointData, row: int, definition: JointDefinition) -> str:
    left = estimate_remaining(data.analysis.clamp, row, definition, data.analysis.operations.stages)
    texts = left_texts(left)
    if texts is None:
        return ""
    _, low, high, *best = texts
    ends = f"{low} to {high}"
    return f"{best[0]} kN ({ends}), estimated" if best else f"{ends} kN, estimated"


def _measured(data: JointData, row: int) -> str:
    zones = data.analysis.engineering.zones(row, data.name or None)
    if isinstance(zones, str) or zones.final_force_kn is None:
        return ""
    text = f"{measured_text(zones.final_force_kn, data.analysis.known(row, None, 'kN'), 'kN')} measured"
    if zones.straight.angle_deg is not None:
        text += f"; straight from {number_text(zones.straight.angle_deg, 1)} deg"
    if zones.leaves.angle_deg is not None:
        text += f", leaves its line at {number_text(zones.leaves.angle_deg, 1)} deg"
    return text


def laboratory_section(data: JointData, anchor: str) -> Section | None:
    """Tests with a load cell, pairs of tightening and loosening, back-offs; None where there are none."""
    tests, pairs, backed = _tests(data), _pairs(data), back_off_blocks(data)
    if not tests and not pairs and not backed:
        return None
    blocks: list[Block] = []
    if tests:
        plot = force_plot(data.analysis.traces, tests, f"{anchor}-forces")
        blocks += [load_cell_table(tests, data.units), NamedValues(spread_facts(tests), columns=1)]
        blocks += [] if plot is None else [Plots((plot,))]
    if pairs:
        blocks.append(pairs_table(pairs, data.analysis.traces.trace_ids, data.units))
    blocks += backed
    blocks += [Paragraph(SCOPE, "small"), Paragraph(CAUTION, "caution")]
    return Section("Measured clamp force", f"{anchor}-laboratory", tuple(blocks))


def _tests(data: JointData) -> list[LaboratoryRow]:
    """Of this joint alone, with zones by force."""
    return [] if data.definition is None else data.analysis.engineering.tests(_own_names(data))


def _pairs(data: JointData) -> list[LooseningPair]:
    own = set(data.rows.tolist())
    return [pair for pair in data.analysis.engineering.pairs(_own_names(data)) if pair.tightening_row in own]


def _own_names(data: JointData) -> list[str | None]:
    """The joint's name at its own traces, none at the others."""
    own = set(data.rows.tolist())
    return [data.name if row in own else None for row in range(len(data.analysis.traces))]
