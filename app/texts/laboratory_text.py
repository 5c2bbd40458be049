"""What the tests of the laboratory say together, as rich text; no widgets."""

from __future__ import annotations

import html
from collections.abc import Sequence
from typing import TYPE_CHECKING

from app.display.messages import tr

if TYPE_CHECKING:
    from analysis.joint.laboratory_table import LaboratoryRow


def spread_html(rows: Sequence[LaboratoryRow], faint: str) -> str:
    """Mean, deviation and range of each joint's K and friction, the scope, and the caution."""
    from analysis.joint.calculation import CAUTION
    from analysis.joint.laboratory import SCOPE
    from analysis.report.laboratory_tables import spread_facts

    by_joint: dict[str, list[LaboratoryRow]] = {}
    for row in rows:
        by_joint.setdefault(row.joint, []).append(row)
    lines = []
    for joint, tests in by_joint.items():
        said = "; ".join(f"{tr(title)} {text}" for title, text in spread_facts(tests))
        lines.append(f"<b>{html.escape(joint)}</b>: {html.escape(said)}")
    if not lines:
        none = tr("No recording of a known joint has a measured clamp force (clamp_force_kn).")
        lines.append(html.escape(none))
    said = html.escape(f"{tr(SCOPE)} {tr(CAUTION)}")
    return f'{"<br/>".join(lines)}<br/><span style="color:{faint}">{said}</span>'
