"""What the laboratory window shows, as texts: a line for each test, a line for each pair, spread of each
joint."""

from __future__ import annotations

import html
import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import Uncertainty, bounded_texts, with_uncertainty
from analysis.spread import Spread, spread_of
from app.display.messages import tr
from app.models.text_table import TextColumn

if TYPE_CHECKING:
    from analysis.joint.laboratory_table import LaboratoryRow
    from analysis.joint.loosening_pairs import LooseningPair

_NONE = "–"


def test_columns(units: DisplayUnits) -> list[TextColumn]:
    """Headings of the tests."""
    torque = units.torque
    return [
        TextColumn(tr("Trace"), right=False),
        TextColumn(tr("Joint"), right=False),
        TextColumn(tr("At force (kN)"), tr("75 % of the proof load, in the manner of ISO 16047")),
        TextColumn(tr("Torque ({0})", torque), tr("there, less prevailing torque")),
        TextColumn("K", tr("T/(F d)")),
        TextColumn(tr("µ in all"), tr("one coefficient for thread and head")),
        TextColumn(tr("N/deg"), tr("measured clamp force per degree in the straight stretch")),
        TextColumn(tr("Measured (kN)"), tr("clamp force at the final point")),
        TextColumn(tr("Error of the estimate"), tr("estimated over measured clamp force, less 1")),
        TextColumn(
            tr("Within bounds"),
            tr("whether the measured force lies within the estimate's bounds"),
            right=False,
        ),
        TextColumn(tr("Rises (deg)"), tr("where the measured force begins to rise; beside it by torque")),
        TextColumn(tr("Straight (deg)"), tr("where it becomes straight; beside it the snug point by torque")),
        TextColumn(tr("Leaves (deg)"), tr("where it leaves its line; beside it the yield onset by torque")),
        TextColumn(tr("Remark"), right=False),
    ]


def test_line(row: LaboratoryRow, units: DisplayUnits) -> list[str]:
    """The cells of one test."""
    result, zones = row.result, row.zones
    inside = _NONE if row.inside is None else tr("yes") if row.inside else tr("no")
    error = _NONE if row.estimate_error is None else f"{100.0 * row.estimate_error:+.1f} %".replace("-", "−")
    places = [_NONE] * 3 if zones is None else [_place(p.angle_deg, p.torque_angle_deg) for p in zones.places]
    rate = None if zones is None else zones.force_per_degree_n
    measured = result.final_force_kn if zones is None else zones.final_force_kn
    return [
        row.trace_id,
        row.joint,
        units.text(result.reference_force_kn, "kN"),
        units.text(result.torque_nm, "N·m"),
        _share(result.torque_coefficient),
        _share(result.mu_total),
        units.text(rate, "N/deg"),
        units.text(measured, "kN"),
        error,
        inside,
        *places,
        "; ".join(part for part in (result.reason, row.remark) if part),
    ]


def _place(by_force: float | None, by_torque: float | None) -> str:
    if by_force is None and by_torque is None:
        return _NONE
    first = _NONE if by_force is None else f"{by_force:.1f}"
    return f"{first} ({_NONE if by_torque is None else f'{by_torque:.1f}'})"


def _share(value: float | None) -> str:
    return _NONE if value is None or not math.isfinite(value) else f"{value:.3f}"


def pair_columns(units: DisplayUnits) -> list[TextColumn]:
    """Headings of the pairs."""
    torque = units.torque
    return [
        TextColumn(tr("Tightening"), right=False),
        TextColumn(tr("Loosening"), right=False),
        TextColumn(tr("Joint"), right=False),
        TextColumn(tr("T_on ({0})", torque), tr("final torque less prevailing torque")),
        TextColumn(tr("T_off ({0})", torque), tr("break-away of the loosening less free running")),
        TextColumn(tr("Clamp force (kN)"), tr("π (T_on − T_off)/P, whatever the friction")),
        TextColumn("± (kN)", tr("standard uncertainty, 1 % of each torque")),
        TextColumn(tr("By torque (kN)"), tr("what the final torque alone gives over the friction range")),
        TextColumn(tr("Agree"), right=False),
        TextColumn(tr("Remark"), right=False),
    ]


def pair_line(pair: LooseningPair, trace_ids: Sequence[str], units: DisplayUnits) -> list[str]:
    """The cells of one pair."""
    estimate = pair.estimate
    bounds = pair.from_torque_kn
    agree = _NONE if pair.agrees is None else tr("yes") if pair.agrees else tr("no")
    return [
        trace_ids[pair.tightening_row],
        trace_ids[pair.loosening_row],
        pair.joint,
        units.text(estimate.tightening_nm, "N·m"),
        units.text(estimate.loosening_nm, "N·m"),
        *_with_uncertainty(estimate.force_kn, estimate.uncertainty_kn),
        _NONE if bounds is None else " … ".join(bounded_texts(*bounds)),
        agree,
        estimate.reason or pair.note,
    ]


def _with_uncertainty(value: float | None, uncertainty: float | None) -> tuple[str, str]:
    """Value and uncertainty in cells of their own."""
    if value is None:
        return _NONE, _NONE
    words, spread = with_uncertainty(value, Uncertainty(uncertainty))
    return words, spread or _NONE


def spread_html(rows: Sequence[LaboratoryRow], faint: str) -> str:
    """Mean, deviation and range of each joint's K and friction, the scope, and the caution."""
    from analysis.joint.calculation import CAUTION
    from analysis.joint.laboratory import SCOPE

    by_joint: dict[str, list[LaboratoryRow]] = {}
    for row in rows:
        by_joint.setdefault(row.joint, []).append(row)
    lines = []
    for joint, tests in by_joint.items():
        said = _spreads(
            {
                "K": spread_of([test.result.torque_coefficient for test in tests]),
                tr("friction"): spread_of([test.result.mu_total for test in tests]),
            }
        )
        known = [test.inside for test in tests if test.inside is not None]
        inside = tr("; {0} of {1} measured forces within the estimate's bounds", sum(known), len(known))
        lines.append(f"<b>{html.escape(joint)}</b>: {html.escape(said + (inside if known else ''))}")
    if not lines:
        lines.append(
            html.escape(tr("No recording of a known joint has a measured clamp force (clamp_force_kn)."))
        )
    said = html.escape(f"{tr(SCOPE)} {tr(CAUTION)}")
    return f'{"<br/>".join(lines)}<br/><span style="color:{faint}">{said}</span>'


def _spreads(figures: Mapping[str, Spread]) -> str:
    parts = []
    for name, spread in figures.items():
        if spread.mean is None:
            parts.append(tr("{0} not evaluated", name))
            continue
        s = spread.standard_deviation
        deviation = "" if s is None else f" ± {s:.4f}"
        parts.append(
            f"{name} {spread.mean:.3f}{deviation} (n {spread.n}, {spread.lowest:.3f} … {spread.highest:.3f})"
        )
    return "; ".join(parts)
