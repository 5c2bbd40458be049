"""The colour of each role on white paper; the verdict hues are those of the window's light look."""

from __future__ import annotations

from analysis.catalogue.verdicts import VERDICT_OF

ROLE_COLOURS: dict[str, str] = {
    **{name: verdict.colour for name, verdict in VERDICT_OF.items()},
    "ink": "#1B1B1B",
    "faint": "#676767",
    "grid": "#D8D8D8",
    "crowd": "#9A9A9A",
    "limit": "#1B1B1B",
    "event": "#676767",
    "selected": "#1B1B1B",
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


def colour_of(role: str) -> str:
    """``#RRGGBB`` of a role.

    Raises
    ------
    KeyError
        Where the role is unknown: a bug of the caller.
    """
    return ROLE_COLOURS[role]
