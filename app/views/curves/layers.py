"""Which curves go into which layer and colour, the legend, and the sentence about how many are drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from analysis.catalogue.verdicts import VERDICT_OF, VERDICTS
from app.display.group_colours import REST_COLOUR, colours_of, group_codes
from app.display.messages import count_words, grouped, tr
from app.items.coverage import Group, Layer
from app.items.legend_entry import LegendEntry

if TYPE_CHECKING:
    from app.display.look import Look
    from app.views.curves.geometry import CurveGeometry
    from app.views.curves.state import CurveState

#: Least opacity of a single trace: in the grey crowd, in groups, flagged, selected (own choice, by eye).
CROWD_FAINTEST = 0.16
GROUP_FAINTEST = 0.35
FLAGGED_FAINTEST = 0.75
SELECTED_FAINTEST = 0.6
#: How fast a single trace fades among more: 1 alone, 0.4 of a hundred, 0.1 of a thousand (own choice).
_FADING = 0.13
#: Up to this many samples curves are drawn as vectors, sharp at every instant; above, as a coverage picture.
#: 200 traces of 300 samples; drawing them takes some 10 ms (measured, tests/speed/drawing.py).
VECTOR_SAMPLES = 60_000
#: Drawn bottom up: the worst lies on top.
_FLAGGED = ("not evaluated", "suspect", "not ok")


@dataclass(frozen=True, eq=False)
class CurveLayers:
    """Layers bottom up, legend and sentence."""

    layers: tuple[Layer, ...]
    legend: tuple[LegendEntry, ...]
    sentence: str
    n_samples: int


def single_opacity(n_traces: int, least: float) -> float:
    """Opacity of a single trace among so many: the fewer, the stronger."""
    return float(np.clip(1.0 - _FADING * np.log(max(n_traces, 1)), least, 1.0))


def build_layers(state: CurveState, geometry: CurveGeometry, look: Look) -> CurveLayers:
    """Sort the visible traces into layers."""
    shown = np.flatnonzero(state.visible)
    placed = geometry.placed(shown)
    if state.colour_by is not None:
        layers, legend = _by_group(state, placed)
    else:
        layers, legend = _by_verdict(state, placed, look)
    beside = state.selected[state.visible[state.selected]] if len(state.visible) else state.selected
    beside = geometry.placed(beside[beside != (-1 if state.primary is None else state.primary)])
    if len(beside):
        layers = (*layers, Layer((Group(beside, look.selected),), SELECTED_FAINTEST))
    n_samples = sum(geometry.flat.samples_of(layer) for layer in layers)
    return CurveLayers(layers, legend, _sentence(state, geometry, len(shown), len(placed)), n_samples)


def _by_verdict(
    state: CurveState, rows: NDArray[np.int64], look: Look
) -> tuple[tuple[Layer, ...], tuple[LegendEntry, ...]]:
    codes = np.full(len(state.visible), -1, np.int8) if state.verdicts is None else state.verdicts
    flagged = {name: rows[codes[rows] == VERDICTS.index(name)] for name in _FLAGGED}
    crowd = rows[(codes[rows] < 0) | (codes[rows] == VERDICTS.index("ok"))]
    layers = (
        [Layer((Group(crowd, look.crowd),), single_opacity(len(crowd), CROWD_FAINTEST))] if len(crowd) else []
    )
    legend: list[LegendEntry] = []
    for name, members in flagged.items():
        if len(members):
            mark = VERDICT_OF[name]
            layers.append(Layer((Group(members, mark.colour),), FLAGGED_FAINTEST))
            legend.insert(0, LegendEntry(f"{tr(name)}: {grouped(len(members))}", mark.colour, mark.symbol))
    if legend and len(crowd):
        legend.append(LegendEntry(tr("others: {}", grouped(len(crowd))), look.crowd))
    return tuple(layers), tuple(legend)


def _by_group(
    state: CurveState, rows: NDArray[np.int64]
) -> tuple[tuple[Layer, ...], tuple[LegendEntry, ...]]:
    """One layer whose groups share pixels."""
    assert state.colour_by is not None
    names, codes = group_codes(["" if v is None else str(v) for v in state.colour_by])
    counts = np.bincount(codes[rows], minlength=len(names))
    colours = colours_of(np.bincount(codes, minlength=len(names)), counts)
    groups, legend = [], []
    for k, (name, colour) in enumerate(zip(names, colours, strict=True)):
        if colour and colour != REST_COLOUR:
            groups.append(Group(rows[codes[rows] == k], colour))
            legend.append(LegendEntry(f"{name or tr('(none)')}: {grouped(int(counts[k]))}", colour))
    rest = np.array([colour == REST_COLOUR for colour in colours], bool)
    members = rows[rest[codes[rows]]]
    if len(members):
        groups.insert(0, Group(members, REST_COLOUR))
        legend.append(LegendEntry(tr("{} more: {}", int(rest.sum()), grouped(len(members))), REST_COLOUR))
    return ((Layer(tuple(groups), single_opacity(len(rows), GROUP_FAINTEST)),) if groups else ()), tuple(
        legend
    )


def _sentence(state: CurveState, geometry: CurveGeometry, n_shown: int, n_placed: int) -> str:
    if not len(state.traces):
        return ""
    total = count_words(len(state.traces), "curve", "curves")
    text = tr("{} of {} drawn", grouped(n_placed), total)
    if len(state.selected) > 1:
        text += tr(", {} selected", grouped(len(state.selected)))
    if n_placed < n_shown:
        text += tr("; {} not: {}", grouped(n_shown - n_placed), why_not_placed(state, geometry))
        if state.alignment in ("snug", "final") and state.curves is not None:
            text += tr(" (View, Align at the start draws all)")
    return text


def why_not_placed(state: CurveState, geometry: CurveGeometry) -> str:
    """Why traces that are shown are not drawn."""
    if geometry.missing_channel:
        return tr("no time recorded")
    if state.curves is None and state.alignment in ("snug", "final"):
        return tr("not analysed yet")
    return {"snug": tr("no snug point"), "final": tr("no final point")}.get(state.alignment, tr("no samples"))
