"""Pictures of a part: where its bolts are and what each holds, their forces beside each other, all curves."""

from __future__ import annotations

import math

import numpy as np

from analysis.arrays import FloatArray
from analysis.catalogue.units import DisplayUnits
from analysis.catalogue.verdicts import VERDICT_OF
from analysis.facts import Facts
from analysis.figure_text import number_text
from analysis.joint.definition import finite_ends
from analysis.parts.history import TURNED_BACK, Step
from analysis.parts.part import Part
from analysis.parts.plan import places_of
from analysis.report.curve_reduction import reduce_polyline
from analysis.report.plot_spec import Axis, Curve, LimitLine, Mark, Note, PlotSpec, limit_lines
from analysis.report.ticks import padded_range

#: Height of the two pictures that stand side by side; width over height of what is within the axes, on paper
#: and in the window as it opens.
_HEIGHT_PT, ON_PAPER, IN_WINDOW = 168.0, 1.75, 1.33
#: Half the height over that of the layout; of the half height so much is left to the right for words (own
#: choices).
_ROOM, _WORDS = 0.62, 0.55
#: Points of a circle's outline; columns that a curve is thinned to; how far back the curves are drawn, as a
#: multiple of the longest snug to final, and the least, deg (own choices).
_OUTLINE, _COLUMNS, _BACK, _LEAST_BACK_DEG = 90, 160, 1.6, 30.0


def layout_plot(part: Part, anchor: str, aspect: float = ON_PAPER) -> PlotSpec:
    """Each position where it is, marked by its verdict, with its name and the bounds of its clamp force.

    Parameters
    ----------
    aspect : float
        Width over height within the axes, so that a circle is round.
    """
    n = len(part.histories)
    stated = part.plan.places
    places = np.array(_row(n)) if stated is None else np.asarray(stated)
    if len(places) < n:  # positions that the joint does not know stand below
        low = float(places[:, 1].min()) - 0.6
        extra = [(float(places[:, 0].mean()) + 0.5 * k, low) for k in range(n - len(places))]
        places = np.vstack((places, extra))
    x, y = _square(places, aspect)
    marks = tuple(
        Mark(float(px), float(py), VERDICT_OF[one.verdict].shape, one.verdict)
        for (px, py), one in zip(places, part.histories, strict=True)
    )
    notes = tuple(
        Note(float(px), float(py), f"{one.position}  {_force_words(part, k)}".strip())
        for k, ((px, py), one) in enumerate(zip(places, part.histories, strict=True))
    )
    where = (
        "Positions as the joint's layout has them"
        if stated is not None
        else "Positions in order; no layout given"
    )
    return PlotSpec(
        name=f"{anchor}-layout",
        title="Layout",
        caption=f"{where}; bounds of the estimated clamp force at the end, kN. {_key(part)}",
        x=Axis("", "", *x, names=((x[0], ""),)),
        y=Axis("", "", *y, names=((y[0], ""),)),
        height_pt=_HEIGHT_PT,
        curves=_outline(stated),
        marks=marks,
        notes=notes,
    )


def _row(n: int) -> list[tuple[float, float]]:
    """Positions without a layout: rows of two, so that what stands beside each has its place."""
    return [(2.0 * (k % 2), -0.7 * (k // 2)) for k in range(n)]


def _square(places: FloatArray, aspect: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Ranges in which a circle looks round, with room for the words to the right."""
    middle = (places.max(axis=0) + places.min(axis=0)) / 2.0
    wide, high = float(np.ptp(places[:, 0])), float(np.ptp(places[:, 1]))
    half = max(_ROOM * high, _ROOM * wide / (aspect - _WORDS), 1e-6 + 0.5 * (high == wide == 0.0))
    x = middle[0] + _WORDS * half / 2.0
    return (x - half * aspect, x + half * aspect), (middle[1] - half, middle[1] + half)


def _outline(places: FloatArray | None) -> tuple[Curve, ...]:
    """The circle that the positions lie on, where they lie on one."""
    if places is None or len(places) <= 4:  # four lie on one wherever they make a rectangle
        return ()
    middle = places.mean(axis=0)
    radius = np.hypot(*(places - middle).T)
    if float(np.ptp(radius)) > 0.01 * float(radius.max()):
        return ()
    ring = middle + radius[0] * places_of("circle", _OUTLINE)
    ring = np.vstack((ring, ring[:1]))
    return (Curve(ring[:, 0], ring[:, 1], "crowd", 0.6),)


def _force_words(part: Part, k: int) -> str:
    low, high = float(part.left.low_kn[k]), float(part.left.high_kn[k])
    return f"{number_text(low, 1)}…{number_text(high, 1)}" if math.isfinite(low) else ""


def _key(part: Part) -> str:
    shown = dict.fromkeys(one.verdict for one in part.histories)
    return f"Marks: {', '.join(f'{VERDICT_OF[name].shape} {name}' for name in shown)}."


def forces_plot(part: Part, anchor: str) -> PlotSpec | None:
    """Clamp force of each bolt as tightened and at the end; None where there is none."""
    left, tightened = part.left, part.tightened
    known = np.flatnonzero(np.isfinite(left.force_kn)).tolist()
    if not known:
        return None
    n = len(part.histories)
    wanted = None if part.plan.wanted_sum_kn is None or not n else part.plan.wanted_sum_kn / n
    tops = [
        float(np.nanmax(left.high_kn)),
        float(np.nanmax(tightened.force_kn)),
        *([wanted] if wanted else []),
    ]
    curves = tuple(
        Curve(
            np.full(2, k + 1.0), np.array([left.low_kn[k], left.high_kn[k]]), part.histories[k].verdict, 2.2
        )
        for k in known
    )
    moved = [k for k in known if abs(left.force_kn[k] / tightened.force_kn[k] - 1.0) > 1e-3]
    marks = tuple(Mark(k + 1.0, float(left.force_kn[k]), "circle", "ink") for k in known)
    marks += tuple(Mark(k + 1.0, float(tightened.force_kn[k]), "cross", "faint") for k in moved)
    words = "Bars: bounds; dots: best value at the end."
    if moved:
        words += " Crosses: as tightened, before the other bolts took their share."
    return PlotSpec(
        name=f"{anchor}-forces",
        title="Clamp force of each bolt, estimated",
        caption=f"{words} Friction common to all shifts all bars together.",
        x=Axis("Position", "", 0.3, n + 0.7, names=_names(part)),
        y=Axis("Clamp force", "kN", 0.0, padded_range(0.0, max(tops), 0.06)[1]),
        height_pt=_HEIGHT_PT,
        curves=curves,
        limits=() if wanted is None else (LimitLine("y", wanted, "wanted mean"),),
        marks=marks,
    )


def _names(part: Part) -> tuple[tuple[float, str], ...]:
    return tuple((k + 1.0, one.position or "1") for k, one in enumerate(part.histories))


def curves_plot(part: Part, facts: Facts, anchor: str, units: DisplayUnits) -> PlotSpec | None:
    """All recordings of the part, laid on each other at the final point; loosenings are left out."""
    steps = [step for one in part.histories for step in one.steps if step.kind != TURNED_BACK]
    rows = [step.event.row for step in steps]
    drawn = [(step, curve) for step in steps if (curve := _curve(step, part, facts, units)) is not None]
    if not drawn:
        return None
    rates = facts.curves.joint_rate_deg[rows]
    back = max(_BACK * float(np.nanmax(rates)) if np.isfinite(rates).any() else 0.0, _LEAST_BACK_DEG)
    limits = part.plan.torque_limits_nm
    factor = units.factor("N·m")
    top = max(*(float(curve.y.max()) for _, curve in drawn), (finite_ends(limits)[1] or 0.0) * factor)
    shown = tuple(_within(curve, back) for _, curve in drawn)
    earlier = sum(curve.dashed for curve in shown)
    words = (
        f"{len(shown)} of {len(rows)} recordings, loosenings left out, laid on each other at their highest."
    )
    if earlier:
        words += " Dashed: before the last attempt, and what followed it on the tight bolt."
    return PlotSpec(
        name=f"{anchor}-curves",
        title="All curves of the part",
        caption=words,
        x=Axis("Angle from the final point", "deg", -back, 0.04 * back),
        y=Axis("Torque", units.symbol("N·m"), 0.0, padded_range(0.0, top, 0.06)[1]),
        height_pt=200.0,
        curves=shown,
        limits=limit_lines("y", None if limits is None else (limits[0] * factor, limits[1] * factor)),
        key=tuple((name, "line", name) for name in dict.fromkeys(curve.role for curve in shown)),
        flexible=True,
    )


def _curve(step: Step, part: Part, facts: Facts, units: DisplayUnits) -> Curve | None:
    traces, row = facts.traces, step.event.row
    own = slice(int(traces.offsets[row]), int(traces.offsets[row + 1]))
    angle, torque = traces.angle_deg[own], traces.torque_nm[own]
    sound = np.isfinite(angle) & np.isfinite(torque)
    if sound.sum() < 2:
        return None
    angle, torque = angle[sound], torque[sound]
    final = int(torque.argmax())
    last = row in {one.sound_row for one in part.histories}
    x, y = angle[: final + 1] - angle[final], torque[: final + 1] * units.factor("N·m")
    role, width = step.verdict or step.event.verdict, 0.9 if last else 0.7
    return Curve(x, y, role, width, dashed=not last, label=step.event.trace_id)


def _within(curve: Curve, back_deg: float) -> Curve:
    inside = curve.x >= -back_deg
    x, y = reduce_polyline(curve.x[inside], curve.y[inside], _COLUMNS)
    return Curve(x, y, curve.role, curve.width_pt, curve.dashed, curve.label)
