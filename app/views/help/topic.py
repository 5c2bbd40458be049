"""One page of help; no widgets."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Topic:
    """One page of help."""

    name: str  #: What links call it.
    group: str
    title: str
    text: str  #: Paragraphs, separated by an empty line.
    formula: str = ""  #: In plain letters; empty where there is none.
    picture: str = ""  #: Name of a picture in `help_pictures`; empty where there is none.
    source: str = ""
