"""The joint's engineering of one trace as rich text, in the unit that is shown; no widgets.

Links: ``help:TOPIC`` opens the help, ``evidence:NAME`` draws a place on the curve, ``clamp:`` opens the
window that tells all of it.
"""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import TYPE_CHECKING

from analysis.catalogue.sentences import as_text
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import bounded_texts
from app.display.messages import tr

if TYPE_CHECKING:
    from analysis.joint.clamp_story import StoryPart
    from app.session.session import Session


def story_html(parts: Sequence[StoryPart], units: DisplayUnits, faint: str) -> str:
    """Titles and sentences, figures in the unit that is shown, and the caution at the end."""
    from analysis.joint import clamp_story
    from analysis.joint.calculation import CAUTION

    topics = {
        clamp_story.ESTIMATE: "clamp force",
        clamp_story.BUDGET: "torque budget",
        clamp_story.EXPECTED: "expected slope",
        clamp_story.PREVAILING: "prevailing torque",
        clamp_story.LEFT: "after tightening",
        clamp_story.MEASURED: "laboratory",
        clamp_story.LOOSENED: "loosening pair",
        clamp_story.BACKED: "back-off",
        clamp_story.NARROWER: "back-off",
    }
    blocks = []
    for part in parts:
        lines = "<br/>".join(html.escape(as_text(line, units)) for line in part.lines)
        more = f"<br/>{_places()}" if part.title == clamp_story.MEASURED else ""
        title = f'<a href="help:{topics[part.title]}">{html.escape(tr(part.title))}</a>'
        blocks.append(f"<p><b>{title}</b><br/>{lines}{more}</p>")
    blocks.append(f'<p style="color:{faint}">{html.escape(tr(CAUTION))}</p>')
    return "".join(blocks)


def _places() -> str:
    """Links that draw the places that were read from the measured force."""
    from analysis.joint.force_zones import LEAVES, RISES, STRAIGHT

    links = " · ".join(
        f'<a href="evidence:{name}">{html.escape(tr(words))}</a>'
        for name, words in ((RISES, "where it rises"), (STRAIGHT, "is straight"), (LEAVES, "leaves its line"))
    )
    return f"{html.escape(tr('Show on the curve'))}: {links}"


def clamp_lines(session: Session, row: int, faint: str) -> str:
    """For the reasons: estimate with bounds, what is left, what a load cell measured; the rest one click
    away."""
    from analysis.joint.calculation import CAUTION

    columns, analysis = session.columns, session.analysis
    if "clamp_force_kn" not in columns or analysis is None:
        return ""
    heading = f'<p><b><a href="help:clamp force">{html.escape(tr("Estimated clamp force"))}</a></b><br/>'
    from analysis.joint.clamp_words import clamp_summary

    text = clamp_summary(analysis.clamp, row)
    used = columns.get("utilisation")
    if used is not None and not bool(used.missing[row]):
        text += f"; {tr('{0} % of the minimum yield strength', round(100 * float(used.values[row])))}"
    lines = [html.escape(text)]
    lines += _left_and_measured(session, row)
    lines.append(f'<a href="clamp:">{html.escape(tr("Torque budget, expectation, what is left …"))}</a>')
    caution = f'<span style="color:{faint}">{html.escape(tr(CAUTION))}</span>'
    return f"{heading}{'<br/>'.join(lines)}<br/>{caution}</p>"


def _left_and_measured(session: Session, row: int) -> list[str]:
    """One line each: after embedding, and by the load cell, where there is something to say."""
    from analysis.joint.relaxation import EmbeddingLoss
    from analysis.joint.remaining import joint_embedding

    units, analysis = session.units, session.analysis
    assert analysis is not None
    lines = []
    definition = analysis.joint_rows.definition_of(row)
    loss = joint_embedding(definition) if definition is not None else ""
    value = float(analysis.clamp.clamp_force_kn[row])
    if isinstance(loss, EmbeddingLoss) and value == value:
        clamp, after = analysis.clamp, loss.remaining_kn(value)
        bounds = float(clamp.clamp_force_low_kn[row]), float(clamp.clamp_force_high_kn[row])
        _, _, left, taken = bounded_texts(*bounds, after, loss.force_kn)
        lines.append(html.escape(tr("After embedding, which takes {0} kN: {1} kN left", taken, left)))
    zones = analysis.engineering.zones(row, analysis.joint_rows.name_of(row))
    if not isinstance(zones, str) and zones.final_force_kn is not None:
        measured = units.value(zones.final_force_kn, "kN", session.uncertainties.of("", "kN", row))
        lines.append(html.escape(tr("Measured by the load cell: {0} kN", measured)))
        lines += [html.escape(place.sentence()) for place in zones.places]
        lines.append(_places())
    return lines
