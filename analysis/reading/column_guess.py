"""What the columns of an unfamiliar table seem to be: channels, units, the name of the trace; only suggested.

Nothing is suggested where two columns fit alike, and no unit that the file does not state: both are asked.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from analysis.reading.columns import QUANTITY_OF, UnclearColumnsError, channel_of, split_unit
from analysis.reading.import_mapping import MappedColumn
from analysis.traces.schema import REQUIRED_CHANNELS
from analysis.traces.units import Unit, find_unit

#: Words in a header that suggest a channel, in English, German, French, Spanish and Italian.
_WORDS: dict[str, str] = {
    "speed_rpm": r"speed|drehzahl|geschwindigkeit|vitesse|velocidad|velocit|\brpm\b",
    "angle_deg": r"angle|winkel|[aá]ngulo|angolo|rotation|\bang\b|\bdeg\b|°",
    "torque_nm": r"torque|moment|couple|\bpar\b|coppia|\btrq\b|\bnm\b|n·m",
    "time_s": r"time|zeit|temps|tiempo|tempo\b",
    "step": r"\bstep\b|stufe|schritt|[ée]tape|etapa|\bpaso\b|\bfase\b",
    "clamp_force_kn": r"force|kraft|\bfuerza|\bforza",
}
#: What is no recorded curve although it bears its name: settings, limits, derivatives.
_SETTING = re.compile(
    r"\b(min|max|set|setpoint|target|nominal|limit|lower|upper|low|high|lo|hi|final|peak|soll|ziel|grenz\w*|"
    r"obere?r?|untere?r?|cible|consigne|objetivo|obiettivo)\b|soll(wert)?\b|grenze?\b"
)
_DERIVED = re.compile(r"rate\b|gradient|slope|steigung|power|leistung|energ|work\b|arbeit|pente|pendiente")
_ACTUAL = re.compile(r"\b(act|actual|ist|istwert|measured|current|r[ée]el|real|reale)\b|ist(wert)?\b")
#: Words of a column that names the curve a row belongs to.
_TRACE_WORDS = re.compile(
    r"trace|curve|kurve|courbe|curva|schraub|vorgang|zyklus|cycle|ciclo|tightening|serial|screw|bolt|result|"
    r"\brun\b|\bid\b|\bn[ro]\b|number|nummer|num[eé]ro"
)


@dataclass(frozen=True)
class Guess:
    """One suggestion for a column."""

    target: str  #: Channel, or ``trace_id``.
    column: str | int
    unit: str  #: Empty where the channel has none, or where the file does not state it: it is asked for then.
    why: str  #: What it was taken from.
    #: True where the file does not state it; nothing is read by it before the user says so.
    must_be_confirmed: bool


def column_key(headers: Sequence[str], position: int) -> str | int:
    """What a mapping calls a column: its header, or its number where the header is empty or used twice."""
    header = headers[position]
    return header if header.strip() and headers.count(header) == 1 else position + 1


def stated_unit(target: str, header: str, stated: str = "") -> Unit | None:
    """The unit that the header, or its cell in the row of units, states for a channel; or None.

    Examples
    --------
    >>> [stated_unit("torque_nm", header).symbol for header in ("M [ft-lb]", "Moment Nm", "torque_in_lb")]
    ['ft·lbf', 'N·m', 'in·lbf']
    """
    spellings = (*_bracketed(header, stated), *_trailing(split_unit(header)[0]))
    return _first_unit(target, spellings)


def _bracketed(header: str, stated: str) -> tuple[str, str]:
    return split_unit(header)[1], stated.strip().strip("[]()")


def _trailing(name: str) -> tuple[str, ...]:
    """What may be a unit at the end of a name: its last two words, its last one, what follows a stroke."""
    words = re.split(r"[\s_,]+", name.strip())
    if len(words) == 1:
        return (name.rpartition("/")[2],) if "/" in name else ()
    return (" ".join(words[-2:]) if len(words) > 2 else "", words[-1], words[-1].rpartition("/")[2])


def _first_unit(target: str, spellings: Iterable[str]) -> Unit | None:
    known = (find_unit(spelled) for spelled in spellings if spelled)
    return next(
        (unit for unit in known if unit is not None and unit.quantity == QUANTITY_OF.get(target)), None
    )


def guess_columns(
    headers: Sequence[str],
    units: Sequence[str] = (),
    numeric: Iterable[int] | None = None,
    rows: Sequence[Sequence[str]] = (),
) -> tuple[Guess, ...]:
    """Suggestions by the words and units of the headers; at most one column for each channel.

    Parameters
    ----------
    numeric : iterable of int, optional
        Columns that hold numbers; only these can be channels. All where not given.
    rows : sequence of rows, optional
        Some of the table's rows: of two columns alike, the one that changes is the curve.
    """
    able = set(range(len(headers)) if numeric is None else numeric)
    candidates: dict[str, list[int]] = {}
    for position, header in enumerate(headers):
        target = _target(header, units[position] if position < len(units) else "")
        if target is not None and (position in able or target == "trace_id"):
            candidates.setdefault(target, []).append(position)
    chosen = {target: _likeliest(places, headers, rows) for target, places in candidates.items()}
    return tuple(
        guess
        for target, place in chosen.items()
        if place is not None and (guess := _guess(target, headers, place, units)) is not None
    )


def _likeliest(places: list[int], headers: Sequence[str], rows: Sequence[Sequence[str]]) -> int | None:
    """The one column that is the curve; None where several fit alike."""

    def narrowed(kept: list[int]) -> list[int]:
        return kept or places

    places = [place for place in places if not _SETTING.search(_plain(headers[place]))]
    if len(places) > 1:
        places = narrowed([place for place in places if _is_own(headers[place])])
    if len(places) > 1:
        places = narrowed([place for place in places if _ACTUAL.search(_plain(headers[place]))])
    if len(places) > 1 and rows:
        places = narrowed(
            [place for place in places if len({row[place] for row in rows if place < len(row)}) > 1]
        )
    return places[0] if len(places) == 1 else None


def _plain(header: str) -> str:
    return header.lower().replace("_", " ")


def _is_own(header: str) -> bool:
    try:
        return channel_of(header) is not None
    except UnclearColumnsError:
        return False


def _target(header: str, stated: str) -> str | None:
    try:
        own = channel_of(header)
    except UnclearColumnsError:
        own = None
    if own is not None:
        return own[0]
    name, spelled = split_unit(header)
    if re.sub(r"[\s\-_]+", "_", name.strip().lower()) in ("trace_id", "curve_id"):
        return "trace_id"
    if _DERIVED.search(_plain(name)) or ("/" in spelled and find_unit(spelled) is None):
        return None
    measured = {t for t in QUANTITY_OF if _first_unit(t, _bracketed(header, stated)) is not None}
    for target, words in _WORDS.items():
        if re.search(words, _plain(name)) and (not measured or target in measured):
            return target
    return next(iter(measured), None)


def _guess(target: str, headers: Sequence[str], place: int, units: Sequence[str]) -> Guess | None:
    column, header = column_key(headers, place), headers[place]
    if QUANTITY_OF.get(target) is None:
        return Guess(target, column, "", "the header's words", must_be_confirmed=True)
    unit = stated_unit(target, header, units[place] if place < len(units) else "")
    if unit is not None:
        return Guess(
            target,
            column,
            unit.symbol,
            f"the file states {unit.symbol}",
            must_be_confirmed=not _is_own(header),
        )
    if target not in REQUIRED_CHANNELS:
        return None  # left out rather than asked for: nothing about the joint depends on it
    return Guess(target, column, "", "the header's words; no unit is stated", must_be_confirmed=True)


def with_name(guesses: Sequence[Guess], headers: Sequence[str]) -> tuple[Guess, ...]:
    """The guesses, and the first other column whose header speaks of a trace, a number or an id."""
    taken = {guess.column for guess in guesses}
    keys = [column_key(headers, place) for place in range(len(headers))]
    free = (
        key for key, header in zip(keys, headers, strict=True) if speaks_of_trace(header) and key not in taken
    )
    found = None if any(guess.target == "trace_id" for guess in guesses) else next(free, None)
    if found is None:
        return tuple(guesses)
    return (*guesses, Guess("trace_id", found, "", "the header's words", must_be_confirmed=True))


def speaks_of_trace(header: str) -> bool:
    """True where a header's words may name the curve that a row belongs to."""
    return _TRACE_WORDS.search(_plain(header)) is not None


def mapped_columns(guesses: Sequence[Guess]) -> dict[str, MappedColumn]:
    """The guesses as an import mapping has them."""
    return {guess.target: MappedColumn(guess.column, guess.unit) for guess in guesses}
