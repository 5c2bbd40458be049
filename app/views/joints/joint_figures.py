"""What follows from a joint definition, as rich text and as the share of the yield strength."""

from __future__ import annotations

import html

from analysis.catalogue.sentences import as_text
from analysis.catalogue.units import DisplayUnits
from analysis.joint import JointDefinition
from analysis.joint.calculation import CAUTION
from analysis.joint.derived import derive
from analysis.joint.friction import friction_range
from analysis.joint.library import LIBRARY
from app.display.messages import tr


def utilisation_at_target(definition: JointDefinition) -> tuple[float, float, float] | str:
    """Combined stress over minimum yield at the target torque: low, middle, high.

    Or why it cannot be told.
    """
    from analysis.joint.clamp_basis import bolt_thread, clamp_basis, joint_yield_mpa
    from analysis.joint.utilisation import combined_stress_mpa

    basis, limit = clamp_basis(definition), joint_yield_mpa(definition)
    mu = friction_range(definition)
    if isinstance(basis, str):
        return tr("not evaluated: {0}", basis)
    if limit is None:
        return tr("not evaluated: no property class given")
    if mu is None or definition.thread is None:
        return tr("not evaluated: no friction range given")
    thread = bolt_thread(definition)
    torque_nmm = definition.target_torque_nm * 1000.0
    shares = [
        float(combined_stress_mpa(thread, torque_nmm / lever / 1000.0, friction)) / limit
        for lever, friction in (
            (basis.lever_high_mm, mu.thread_high),
            (basis.lever_middle_mm, mu.thread_middle),
            (basis.lever_low_mm, mu.thread_low),
        )
    ]
    return min(shares), shares[1], max(shares)


def figures_html(definition: JointDefinition, units: DisplayUnits, faint: str) -> str:
    """Everything that follows from the definition, with formula and source, and the caution."""
    rows = []
    for line in derive(definition):
        value = units.text(line.value, line.unit, with_symbol=True) if line.value is not None else "–"
        note = as_text(line.note, units)
        about = "; ".join(part for part in (line.formula, line.source, note) if part)
        name = line.name[:1].upper() + line.name[1:]
        rows.append(
            f'<tr><td><b>{html.escape(name)}</b></td><td align="right">{html.escape(value)}</td></tr>'
            f'<tr><td colspan="2" style="color:{faint}">{html.escape(about)}</td></tr>'
        )
    caution = f'<p style="color:{faint}">{html.escape(tr(CAUTION))}</p>'
    taken = definition.parts.get(LIBRARY)
    source = f"<p>{html.escape(tr('From the library: {0}', taken))}</p>" if taken else ""
    return f'{source}<table cellpadding="2" width="100%">{"".join(rows)}</table>{caution}'
