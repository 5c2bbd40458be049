"""Groups of traces by what an attribute says: their order for people, and a colour for each; no Qt."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

#: Hues for groups: apart for colour-blind eyes, at least 3:1 on white and on #1E1E1E.
GROUP_COLOURS = (
    "#0072B2",
    "#D55E00",
    "#009E73",
    "#CC79A7",
    "#8C6D1F",
    "#7B68C8",
    "#3A8FA3",
    "#B0506A",
)

#: Of the groups that have none of their own.
REST_COLOUR = "#8A8A8A"


def natural_key(text: str) -> tuple[object, ...]:
    """Orders W-9 before W-10, and what is not recorded last.

    Examples
    --------
    >>> sorted(["W-10", "", "w-9", "A"], key=natural_key)
    ['A', 'w-9', 'W-10', '']
    """
    parts = re.split(r"(\d+)", text.lower())
    return (not text, *(int(part) if k % 2 else part for k, part in enumerate(parts)))


def group_codes(texts: Sequence[str]) -> tuple[tuple[str, ...], NDArray[np.int64]]:
    """The different values in their order for people, and the place of each text among them."""
    names = tuple(sorted(sorted(set(texts)), key=natural_key))
    place = {name: k for k, name in enumerate(names)}
    return names, np.array([place[text] for text in texts], np.int64)


def colours_of(totals: ArrayLike, shown: ArrayLike) -> list[str]:
    """The colour of each group, in their order; empty where it is not shown, or shares `REST_COLOUR`.

    Neighbours differ: the spindles of a tool have names beside each other. Of the groups shown that would
    have one hue, the largest has it, so that what is filtered away changes no colour that a group has.

    Parameters
    ----------
    totals, shown : array of int, shape (n_groups,)
        Traces of each group, all and those that are shown.

    Examples
    --------
    >>> colours = colours_of([5] * 9, [5] * 9)
    >>> colours[0] == GROUP_COLOURS[0], colours[8] == REST_COLOUR
    (True, True)
    >>> colours_of([5] * 9, [0] * 8 + [5])[8] == GROUP_COLOURS[0]
    True
    """
    totals, shown = np.asarray(totals), np.asarray(shown)
    colours = [""] * len(totals)
    taken: set[str] = set()
    for k in np.argsort(-totals, kind="stable").tolist():
        if shown[k]:
            hue = GROUP_COLOURS[k % len(GROUP_COLOURS)]
            colours[k] = REST_COLOUR if hue in taken else hue
            taken.add(hue)
    return colours
