"""A study in tables and sentences: indices with intervals, streams, readings, and the answers."""

from __future__ import annotations

import numpy as np

from analysis.capability.indices import MET, NOT_MET, SHOWN, Index, share_beyond
from analysis.capability.quantity import QuantityStudy
from analysis.capability.study import JointStudy
from analysis.capability.tool_and_joint import Effect, ToolAndJoint
from analysis.figure_text import ABSENT, at_place, number_text, p_words, plural, titled
from analysis.report.cells import number_cell
from analysis.report.content import Cell, NamedValues, ReportColumn, Table

_WORDS = {SHOWN: "shown", MET: "met, not shown", NOT_MET: "not met"}


def answer(study: JointStudy) -> str:
    """The answer in words."""
    if not study.quantities:
        return "Nothing to study: the joint has no limits and no wanted clamp force."
    parts = []
    for word in (NOT_MET, MET, SHOWN, None):
        names = [one.title.lower() for one in study.quantities.values() if one.shown == word]
        if names:
            parts.append(f"{_WORDS.get(word or '', 'not studied')}: {', '.join(names)}")
    return f"Index of {study.asked.wanted_cpk:g} {'; '.join(parts)}."


def facts_of(study: JointStudy) -> NamedValues:
    """What was studied, and what was asked for."""
    asked, rows = study.asked, study.rows
    pairs = [
        ("Traces", f"{len(rows.rows)}: {rows.words}"),
        ("Left out", plural(rows.left_out, "trace")),
        ("Tightened again", plural(study.repeated, "trace")),
        ("Wanted", f"{asked.wanted_cpk:g} ({asked.wanted_origin})"),
        ("Shown", f"where the lower one-sided {100 * asked.confidence:g} % bound is at least that"),
        ("Class", str(study.definition.parts.get("risk_class", "not given"))),
    ]
    if "library" in study.definition.parts:
        pairs.append(("Taken from", str(study.definition.parts["library"])))
    return NamedValues(tuple(pairs), columns=2)


def indices_table(study: JointStudy) -> Table:
    """One row a quantity; every index with its interval and its n."""
    columns = (
        ReportColumn("Quantity", weight=1.7),
        ReportColumn("n", align="right", weight=0.6),
        ReportColumn("Mean", align="right"),
        ReportColumn("s overall", align="right"),
        ReportColumn("s within", align="right"),
        ReportColumn("Limits", weight=1.3),
        *(ReportColumn(name, weight=1.5) for name in ("Cp", "Cpk", "Pp", "Ppk")),
        ReportColumn("Bound", weight=0.8),
        ReportColumn("Judgement", weight=1.3),
    )
    rows = tuple(_quantity_row(one) for one in study.quantities.values())
    percent = f"{100 * study.asked.confidence:g} %"
    note = (
        f"Intervals two-sided, {percent}: Cp by chi-square, Cpk by Bissell (exact against one limit), Pp and "
        "Ppk by the shape's percentiles, over all curves that fit, where the values are not normal. Bound: "
        f"lower one-sided {percent} bound of the index that decides."
    )
    return Table("Capability", columns, rows, "Indices", note)


def _quantity_row(one: QuantityStudy) -> tuple[Cell, ...]:
    indices = (one.cp, one.cpk, one.pp, one.ppk)
    judgement = one.shown or f"not studied: {one.reason}"
    return (
        Cell(titled(one.title, one.unit), one.title),
        Cell(str(one.n), one.n),
        *(number_cell(value) for value in (one.mean, one.s_overall)),
        number_cell(None if one.within is None else one.within.deviation),
        Cell(limits_text(one)),
        *(Cell(index_text(index), None if index is None else index.value) for index in indices),
        Cell(ABSENT if one.bound is None else f"{one.decided_by} {number_text(one.bound, 2)}", one.bound),
        Cell(judgement, judgement),
    )


def limits_text(one: QuantityStudy) -> str:
    """Both limits, or the one there is."""
    low, high = one.limits
    if low is not None and high is not None:
        return f"{low:.4g} to {high:.4g}"
    return f"at least {low:.4g}" if low is not None else f"at most {high:.4g}"


def index_text(index: Index | None) -> str:
    """An index with its interval.

    Examples
    --------
    >>> index_text(Index(1.67, 1.34, 1.999, 0.95))
    '1.67 (1.34–2.00)'
    """
    if index is None:
        return ABSENT
    return f"{number_text(index.value, 2)} ({number_text(index.low, 2)}–{number_text(index.high, 2)})"


def quantity_answer(one: QuantityStudy) -> str:
    """One or two sentences with the index that decides, and what would show what is wanted."""
    if one.shown is None:
        return f"Not studied: {one.reason}."
    wanted = f"{one.asked.wanted_cpk:g}"
    bound = (
        "" if one.bound is None else f" The lower bound of {one.decided_by} is {number_text(one.bound, 2)}."
    )
    text = f"An index of {wanted} is {one.shown}.{bound}"
    if one.shown == SHOWN:
        return text
    if one.needed is not None:
        text += f" To show {wanted}, {one.n} traces must give {number_text(one.needed, 2)}"
        more = one.values_needed
        text += "." if more is None else f"; at the index found, {more} traces would show it."
    return text


def streams_table(one: QuantityStudy) -> Table:
    """Each stream on its own, worst first, then all together."""
    columns = (
        ReportColumn(one.asked.streams.capitalize(), weight=1.5),
        ReportColumn("n", align="right"),
        ReportColumn("Mean", one.unit, align="right"),
        ReportColumn("s", one.unit, align="right"),
        ReportColumn("Cpk", weight=1.6),
        ReportColumn("Judgement", weight=1.4),
    )
    rows = [
        (
            Cell(stream.name, stream.name),
            Cell(str(stream.n), stream.n),
            number_cell(stream.mean),
            number_cell(stream.deviation),
            Cell(index_text(stream.cpk), None if stream.cpk is None else stream.cpk.value),
            Cell(stream.shown or ABSENT, stream.shown),
        )
        for stream in one.streams
    ]
    together = (
        Cell("all together", "all together"), Cell(str(one.n), one.n), number_cell(one.mean),
        number_cell(one.s_overall), Cell(index_text(one.cpk), None if one.cpk is None else one.cpk.value),
        Cell(one.shown or ABSENT, one.shown),
    )  # fmt: skip
    note = "Worst first, each by the normal formula. All together never stands alone: it hides a bad one."
    return Table("Streams", columns, (*rows, together), f"Each {one.asked.streams} on its own", note)


def component_facts(one: QuantityStudy) -> tuple[tuple[str, str], ...]:
    """Variance between and within streams, beyond the limits, and the sound ones alone."""
    facts = [("Deviation of Cp and Cpk", one.basis)] if one.basis else []
    if one.components is not None:
        c = one.components
        share = 100.0 * c.between / c.total if c.total > 0 else 0.0
        text = f"{share:.0f} % of the variance (F = {c.f:.2f}, {p_words(c.probability)})"
        facts.append((f"Between {one.asked.streams}s", text))
    facts.append(("Outside the limits", f"{one.beyond[0]} below, {one.beyond[1]} above, of {one.n}"))
    if one.cpk is not None and None in one.limits:
        parts = 1e6 * share_beyond(one.cpk.value)
        facts.append(("Beyond the limit by Cpk", f"{parts:.3g} of a million, were the values normal"))
    if one.sound is not None:
        n, _, cpk = one.sound
        facts.append(("Traces judged ok alone", f"Cpk {index_text(cpk)}, n = {n}: rejects left out"))
    if np.isfinite(one.correlation):
        correlation = at_place(one.correlation, -2, signed=True)
        facts.append(("Correlation of neighbours", f"{correlation}; chart limits hold up to 0.3"))
    return tuple(facts)


def readings_table(study: JointStudy, unit: str) -> Table:
    """Tool, reference and residual torque of the same tightenings."""
    columns = (
        ReportColumn("Reading", weight=1.6),
        ReportColumn("n", align="right"),
        ReportColumn("Mean", unit, align="right"),
        ReportColumn("s", unit, align="right"),
        ReportColumn("Less the tool's reading", unit, weight=2.0),
    )
    rows = tuple(
        (
            Cell(one.name, one.name), Cell(str(one.n), one.n), number_cell(one.mean_nm),
            number_cell(one.deviation_nm),
            Cell(
                ABSENT if one.difference_nm is None else
                f"{one.difference_nm:+.3g} ({one.difference_low_nm:+.3g} to {one.difference_high_nm:+.3g})",
                one.difference_nm,
            ),
        )
        for one in study.readings
    )  # fmt: skip
    note = f"Interval {100 * study.asked.confidence:g} %, two-sided, over pairs of the same tightening" + (
        "; the measuring chain's uncertainty is in it." if study.asked.gauge_nm else "."
    )
    return Table("Readings", columns, rows, "Tool against process", note)


def parted_words(found: ToolAndJoint | str, stream: str = "spindle") -> str:
    """What is the tool's and what the joint's, in words."""
    if isinstance(found, str):
        return f"Tool and joint not told apart: {found}."
    apart = [
        f"{name} {_effect_text(one)}" for name, one in found.spindles.items() if one.low * one.high > 0.0
    ]
    return (
        f"Torque against target, standard deviations: {_deviation_text(found.tool)} from one {stream} to "
        f"another on all of their joints (the tool's), {_deviation_text(found.tool_on_joint)} on single "
        f"joints beyond that, {_deviation_text(found.single)} from one tightening to the next. Apart from "
        f"the average {stream}: {', '.join(apart) or 'none'}."
    )


def parted_table(found: ToolAndJoint, stream: str = "spindle") -> Table:
    """Each joint's departure from its target, and each stream's from the average one."""
    columns = (ReportColumn("Whose", weight=1.2), ReportColumn("Name", weight=1.5), ReportColumn(
        "Effect and interval", "%", weight=2.0))  # fmt: skip
    rows = tuple(
        (Cell(whose, whose), Cell(name, name), Cell(_effect_text(one, unit=""), one.value))
        for whose, effects in (("joint", found.joints), (stream, found.spindles))
        for name, one in effects.items()
    )
    note = (
        f"n = {found.n}; percent of each joint's target. Joint: mean departure that its {stream}s share; "
        f"its interval is that over other such {stream}s. "
        f"{stream.capitalize()}: departure from the average {stream} on all of its joints together. "
        f"Intervals {100 * found.confidence:g} %, two-sided, each for itself. Mixed model, restricted "
        "likelihood, one scatter for all joints."
    )
    return Table("Tool and joint", columns, rows, "What is the tool's, what the joint's", note)


def _effect_text(one: Effect, unit: str = " %") -> str:
    return f"{one.value:+.2f}{unit} ({one.low:+.2f} to {one.high:+.2f})"


def _deviation_text(one: Effect) -> str:
    high = f"{one.high:.2f}" if np.isfinite(one.high) else "no upper end"
    return f"{one.value:.2f} % ({one.low:.2f} to {high})"
