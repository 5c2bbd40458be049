"""What the columns of an unfamiliar table seem to be: separator, header, channels, units; only suggested."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.reading.columns import INTERNAL_UNIT, QUANTITY_OF, UnclearColumnsError, channel_of, split_unit
from analysis.reading.import_mapping import MappedColumn
from analysis.reading.text_form import SEPARATORS, cells_of, is_units_row
from analysis.traces.units import find_unit

#: Words in a header that suggest a channel, in English, German, French, Spanish and Italian. A suggestion
#: only.
_WORDS: dict[str, str] = {
    "angle_deg": r"angle|winkel|[aá]ngulo|angolo|rotation|drehwinkel|\bang\b|\bdeg\b|°",
    "torque_nm": r"torque|moment|couple|\bpar\b|coppia|\btrq\b|\bnm\b|n·m",
    "time_s": r"time|zeit|temps|tiempo|tempo\b|\bt\b",
    "step": r"\bstep\b|stufe|schritt|[ée]tape|etapa|\bpaso\b|\bfase\b",
    "speed_rpm": r"speed|drehzahl|vitesse|velocidad|velocit|\brpm\b",
    "clamp_force_kn": r"force|kraft|\bfuerza|\bforza",
    "trace_id": r"trace.?id|curve.?id|\bid\b|kurve.?n|serial",
}


@dataclass(frozen=True)
class Guess:
    """One suggestion for a column.

    Attributes
    ----------
    target : str
        Channel, or ``trace_id``.
    column : str or int
    unit : str
        Empty where the channel has none.
    why : str
        What it was taken from.
    must_be_confirmed : bool
        True where the file does not state it; nothing is read by it before the user says so.
    """

    target: str
    column: str | int
    unit: str
    why: str
    must_be_confirmed: bool


def is_numeric(cell: str) -> bool:
    """Whether a cell holds a number, however it is written."""
    return (
        re.fullmatch(r"\s*[+-]?[\d.,'\u2019\xa0\u202f ]*\d(e[+-]?\d+)?\s*", cell, re.IGNORECASE) is not None
    )


def likely_separator(lines: Sequence[str]) -> str:
    """The separator that parts most lines into the same number (two or more) of cells."""

    def score(separator: str) -> tuple[int, int]:
        counts = [len(cells_of(line, separator)) for line in lines[:200] if line.strip()]
        several = [count for count in counts if count > 1]
        common = max(set(several), key=several.count, default=0)
        return several.count(common) if common else 0, common

    return max(SEPARATORS, key=score)


def likely_header(lines: Sequence[str], separator: str) -> int:
    """Line of the header, counted from 1: the last line of words above the first numbers; 0 for none."""
    for number, line in enumerate(lines, 1):
        cells = [cell.strip() for cell in cells_of(line, separator)]
        if len(cells) < 2 or not any(is_numeric(cell) for cell in cells):
            continue
        if sum(is_numeric(cell) for cell in cells) * 2 <= len([cell for cell in cells if cell]):
            continue
        for above in range(number - 1, 0, -1):
            cells_above = cells_of(lines[above - 1], separator)
            if len(cells_above) < 2 or is_units_row(cells_above):
                continue
            return above
        return 0
    return 0


def guess_columns(headers: Sequence[str], units: Sequence[str] = ()) -> tuple[Guess, ...]:
    """Suggestions by the words and units of the headers; at most one column for each channel."""
    guesses: dict[str, Guess] = {}
    for position, header in enumerate(headers):
        stated = units[position] if position < len(units) else ""
        target = _target(header, stated)
        if target is not None and target not in guesses:
            column = header if headers.count(header) == 1 and header.strip() else position + 1
            guesses[target] = _guess(target, header, column, stated)
    return tuple(guesses.values())


def _target(header: str, stated: str) -> str | None:
    try:
        own = channel_of(header)
    except UnclearColumnsError:
        own = None
    if own is not None:
        return own[0]
    unit = find_unit(split_unit(header)[1] or stated) if (split_unit(header)[1] or stated) else None
    for target, words in _WORDS.items():
        quantity = QUANTITY_OF.get(target)
        if re.search(words, split_unit(header)[0].lower()) and (unit is None or unit.quantity == quantity):
            return target
    if unit is not None:
        return next((target for target, quantity in QUANTITY_OF.items() if quantity == unit.quantity), None)
    return None


def _guess(target: str, header: str, column: str | int, stated: str) -> Guess:
    if QUANTITY_OF.get(target) is None:
        return Guess(target, column, "", "the header's words", must_be_confirmed=True)
    try:
        own = channel_of(header)
    except UnclearColumnsError:
        own = None
    spelled = split_unit(header)[1] or stated or (own[1] if own is not None and own[1] else "")
    unit = find_unit(spelled) if spelled else None
    if unit is not None and unit.quantity == QUANTITY_OF[target]:
        return Guess(
            target, column, unit.symbol, f"the file states {spelled!r}", must_be_confirmed=own is None
        )
    return Guess(
        target,
        column,
        INTERNAL_UNIT[target],
        "no unit stated; the internal unit is a guess",
        must_be_confirmed=True,
    )


def mapped_columns(guesses: Sequence[Guess]) -> dict[str, MappedColumn]:
    """The guesses as an import mapping has them."""
    return {guess.target: MappedColumn(guess.column, guess.unit) for guess in guesses}
