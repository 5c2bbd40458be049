"""What the selected traces share that the others do not, as rich text; no widgets."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

import numpy as np

from analysis.catalogue.figures import figures_for
from analysis.catalogue.verdicts import VERDICT_OF, VERDICTS, WORST_FIRST
from app.display.messages import count_words, tr
from app.session.sharing_groups import shared_by, shared_sentence, sharing_groups

if TYPE_CHECKING:
    from app.session.session import Session


def why_several(session: Session) -> str:
    """Counts by verdict, over-represented attribute values, and medians beside the others'."""
    n = int(session.selected.sum())
    parts = [f"<h3>{html.escape(count_words(n, 'trace', 'traces'))} {tr('selected')}</h3>"]
    if session.verdicts is not None:
        numbers = np.bincount(session.verdicts[session.selected], minlength=len(VERDICTS))
        words = [
            f"{VERDICT_OF[word].symbol} {numbers[VERDICTS.index(word)]} {tr(word)}"
            for word in WORST_FIRST
            if numbers[VERDICTS.index(word)]
        ]
        parts.append(f"<p>{', '.join(words)}</p>")
        parts.append(_shared(session))
    joints = _joints_of(session)
    if len(joints) > 1:
        parts.append(
            f"<p>{tr('They belong to {0} joints; medians are compared within one joint.', len(joints))}</p>"
        )
    else:
        parts.append(_medians(session, joints))
    return "".join(parts)


def _shared(session: Session) -> str:
    """The most telling values that they share, and the way to all of them."""
    group = next(one for one in sharing_groups(session) if one.key == "selected")
    found = shared_sentence(group, shared_by(session, group))
    return f'<p>{found} <a href="shared:selected">{tr("what they share")}</a></p>'


def _joints_of(session: Session) -> tuple[str, ...]:
    column = session.columns.get("joint")
    return () if column is None else tuple(np.unique(column.values[session.selected]).tolist())


def _medians(session: Session, joints: tuple[str, ...]) -> str:
    """Selected beside the others of the same joint."""
    others = ~session.selected
    if joints:
        others &= session.columns["joint"].values == joints[0]
    head = "".join(f'<th align="left">{tr(w)}</th>' for w in ("Median of", "Selected", "Others"))
    lines = []
    for name in (figure.name for figure in figures_for("shared")):
        column = session.columns.get(name)
        if column is None:
            continue
        # Both to the same place, so that they can be compared.
        uncertainties = [session.uncertainties.typical(name, mask) for mask in (session.selected, others)]
        uncertainty = max(uncertainties, key=lambda one: one.spread or 0.0)
        figures = [
            session.units.value(
                float(np.nanmedian(column.values[mask])),
                column.unit,
                uncertainty,
                with_symbol=True,
            )
            if bool((mask & ~column.missing).any())
            else "–"
            for mask in (session.selected, others)
        ]
        lines.append(
            f"<tr><td>{html.escape(column.title)}</td><td>{figures[0]}</td><td>{figures[1]}</td></tr>"
        )
    return f"<table cellpadding='2' width='100%'><tr>{head}</tr>{''.join(lines)}</table>" if lines else ""
