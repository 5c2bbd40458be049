"""Running text to lines of a width; long words such as paths and digests break where they must."""

from __future__ import annotations

import re

from app.printing.ink import text_width

#: A number stays on the line of its unit.
_BEFORE_UNIT = re.compile(
    r"(?<=\d) (?=(?:N·m|cN·m|N·cm|mN·m|kN·m|ft·lbf|in·lbf|ozf·in|kgf·c?m|kN|deg|%|r/min)(?!\w))"
)


def wrap(text: str, width: float, size_pt: float, bold: bool = False) -> list[str]:
    """Lines of at most `width` points, broken at spaces, or within a word that is longer than a line.

    Line breaks in the text are kept. At least one line comes back, so that an empty text takes its room.
    """
    lines: list[str] = []
    for paragraph in _BEFORE_UNIT.sub("\u00a0", text).split("\n"):
        lines += _wrap_paragraph(paragraph, width, size_pt, bold)
    return lines


def _wrap_paragraph(text: str, width: float, size_pt: float, bold: bool) -> list[str]:
    lines: list[str] = []
    line, used = "", 0.0
    space = text_width(" ", size_pt, bold)
    for word in text.split(" "):
        extent = text_width(word, size_pt, bold)
        if line and used + space + extent <= width:
            line, used = f"{line} {word}", used + space + extent
            continue
        if line:
            lines.append(line)
        while extent > width and len(word) > 1:
            head = _longest_start(word, width, size_pt, bold)
            lines.append(word[:head])
            word = word[head:]
            extent = text_width(word, size_pt, bold)
        line, used = word, extent
    lines.append(line)
    return lines


def _longest_start(word: str, width: float, size_pt: float, bold: bool) -> int:
    """How many characters of the word fit, preferring a place behind a separator in its last third."""
    low, high = 1, len(word)
    while low < high:
        middle = (low + high + 1) // 2
        if text_width(word[:middle], size_pt, bold) <= width:
            low = middle
        else:
            high = middle - 1
    for place in range(low, max(low * 2 // 3, 1), -1):
        if word[place - 1] in "/\\_-.,;:":
            return place
    return low
