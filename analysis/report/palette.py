"""The colour of each role on white paper; the verdict hues are those of the window's light look."""

from __future__ import annotations

from analysis.catalogue.verdicts import VERDICT_OF

#: Text and frames, words beside what counts, rules of tables and axes, notes; the ground of a caution.
INK, FAINT, GRID, NOTE, GROUND = "#1B1B1B", "#676767", "#D8D8D8", "#4A4A4A", "#F4F4F2"
PAPER = "#FFFFFF"
ROLE_COLOURS: dict[str, str] = {
    **{name: verdict.colour for name, verdict in VERDICT_OF.items()},
    "ink": INK,
    "faint": FAINT,
    "grid": GRID,
    "crowd": "#9A9A9A",
    "limit": INK,
    "event": FAINT,
    "selected": INK,
    "reference band": "#B9B0DC",
    "reference median": "#5B4E9A",
    "elastic line": "#0072B2",
    "first set": "#0072B2",
    "second set": "#D55E00",
    "stream 1": "#0072B2",
    "stream 2": "#D55E00",
    "stream 3": "#009E73",
    "stream 4": "#CC79A7",
    "undetermined": "#F0F0F0",
    "rundown": "#EDF4FA",
    "drawdown": "#FFF3DC",
    "elastic": "#E4F4EC",
    "plastic": "#FBE6DA",
    "release": "#F1F1F1",
}
#: Share of ink of a reference band, so that the curves below stay visible.
BAND_OPACITY = 0.45

#: Bars whose colour has the grey of another's: a dark edge tells them apart where print has no colour.
EDGED = ("not ok",)


def colour_of(role: str) -> str:
    """``#RRGGBB`` of a role.

    Raises
    ------
    KeyError
        Where the role is unknown: a bug of the caller.
    """
    return ROLE_COLOURS[role]
