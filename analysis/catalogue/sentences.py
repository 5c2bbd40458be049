"""Sentences that hold their figures as figures: their unit is chosen when they are shown."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeAlias

from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import (
    UNKNOWN,
    Uncertainty,
    difference_text,
    given_text,
    last_place,
    number_text,
    with_uncertainty,
)

INTERNAL = DisplayUnits()


@dataclass(frozen=True)
class Amount:
    """A figure within a sentence.

    Examples
    --------
    >>> str(Amount(4.7104, "N·m")), str(Amount(38.34, "deg", Uncertainty(4.6)))
    ('4.71 N·m', '38.3 ± 4.6 deg')
    >>> Amount(58.0, "N·m", given=True).text(DisplayUnits("ft·lbf"))
    '42.78 ft·lbf'
    """

    value: float  #: In the internal unit.
    unit: str  #: Internal unit.
    #: How well it is known: the digits are those of the same figure in tables, its uncertainty stands beside.
    known: Uncertainty = UNKNOWN
    given: bool = False  #: A limit that a person wrote: as it was given.
    bare: bool = False  #: Without the unit, where another figure of the same unit follows.
    alone: bool = False  #: Without its uncertainty, which stands elsewhere.

    def text(self, units: DisplayUnits = INTERNAL) -> str:
        """As tables write it, with the unit that is shown; three or four digits where nothing is known."""
        factor, symbol = units.factor(self.unit), "" if self.bare else units.symbol(self.unit)
        if self.given:
            return f"{given_text(self.value, factor)} {symbol}".rstrip()
        value, known = self.value * factor, self.known.times(factor)
        if last_place(known) is not None:
            words, spread = with_uncertainty(value, known)
            beside = f" ± {spread}" if spread and not self.alone else ""
            return f"{words}{beside} {symbol}".rstrip()
        size = abs(value)
        digits = 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 1 else 3
        return f"{number_text(value, digits)} {symbol}".rstrip()

    def __str__(self) -> str:
        return self.text()


@dataclass(frozen=True)
class Apart:
    """How far a figure lies from a limit that a person wrote, so that the three figures add up.

    Examples
    --------
    >>> str(Apart(Amount(330.273, "deg", Uncertainty(99.8)), 58.0)), str(Apart(Amount(72.04, "N·m"), 72.0))
    ('272 deg', '0.04 N·m')
    >>> str(Apart(Amount(72.04, "N·m", Uncertainty(step=0.1)), 72.0))
    'less than 0.1 N·m'
    """

    measured: Amount
    limit: float

    def text(self, units: DisplayUnits = INTERNAL) -> str:
        """Without a sign, in the unit that is shown."""
        unit = self.measured.unit
        words = difference_text(self.measured.value, self.limit, self.measured.known, units.factor(unit))
        words = words.lstrip("−")
        if not words.strip("0."):
            words = f"less than {words[:-1]}1"
        return f"{words} {units.symbol(unit)}".rstrip()

    def __str__(self) -> str:
        return self.text()


@dataclass(frozen=True)
class Moment:
    """A moment within a sentence, written in the zone that is shown."""

    at: datetime

    def text(self, units: DisplayUnits = INTERNAL) -> str:
        """To the minute."""
        return units.moment(self.at)

    def __str__(self) -> str:
        return self.text()


@dataclass(frozen=True)
class Sentence:
    """Words with figures in them.

    Examples
    --------
    >>> level = said("The level is {level}, {how}.", level=Amount(2.0, "N·m"), how="as usual")
    >>> str(level), level.text(DisplayUnits("cN·m"))
    ('The level is 2.00 N·m, as usual.', 'The level is 200.0 cN·m, as usual.')
    """

    template: str  #: With the names of the fields in braces.
    fields: Mapping[str, Said] = field(default_factory=dict)

    def text(self, units: DisplayUnits = INTERNAL) -> str:
        """The sentence with its figures in the units that are shown."""
        return self.template.format_map({name: as_text(one, units) for name, one in self.fields.items()})

    def __str__(self) -> str:
        return self.text()

    def __bool__(self) -> bool:
        return bool(self.template)

    def __contains__(self, words: str) -> bool:
        return words in self.text()


Said: TypeAlias = str | Amount | Apart | Moment | Sentence


def said(template: str, **fields: Said) -> Sentence:
    """A sentence with these figures and words in its places."""
    return Sentence(template, fields)


def plain(text: str) -> Sentence:
    """A sentence without figures."""
    return Sentence("{text}", {"text": text}) if text else Sentence("")


def joined(parts: Iterable[Said], between: str = " ") -> Sentence:
    """Sentences one after the other.

    Examples
    --------
    >>> str(joined([said("{x} high", x=Amount(2.0, "deg")), "wide"], ", "))
    '2.00 deg high, wide'
    """
    fields = {f"part{k}": part for k, part in enumerate(parts)}
    return Sentence(between.join(f"{{{name}}}" for name in fields), fields)


def as_text(one: object, units: DisplayUnits = INTERNAL) -> str:
    """Text of a word, a figure or a sentence; of anything else what `str` gives."""
    return one.text(units) if isinstance(one, Amount | Apart | Moment | Sentence) else str(one)
