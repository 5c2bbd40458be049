"""Sentences that hold their figures as figures: their unit is chosen when they are shown."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeAlias

from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import Uncertainty, at_place, given_text, last_place, number_text

INTERNAL = DisplayUnits()


@dataclass(frozen=True)
class Amount:
    """A figure within a sentence.

    Examples
    --------
    >>> str(Amount(4.7104, "N·m")), str(Amount(38.34, "deg", 4.6)), str(Amount(1367.2, "deg", 330.0))
    ('4.71 N·m', '38.3 deg', '1370 deg')
    >>> Amount(58.0, "N·m", given=True).text(DisplayUnits("ft·lbf"))
    '42.78 ft·lbf'
    """

    value: float  #: In the internal unit.
    unit: str  #: Internal unit.
    #: Standard uncertainty: digits that it leaves no meaning are not written; NaN where none is known.
    sigma: float = math.nan
    given: bool = False  #: A limit that a person wrote: as it was given.
    bare: bool = False  #: Without the unit, where another figure of the same unit follows.

    def text(self, units: DisplayUnits = INTERNAL) -> str:
        """To three or four significant digits, as a person would write it, with the unit that is shown."""
        factor, symbol = units.factor(self.unit), "" if self.bare else units.symbol(self.unit)
        if self.given:
            return f"{given_text(self.value, factor)} {symbol}".rstrip()
        value = self.value * factor
        size = abs(value)
        digits = 0 if size >= 1000 else 1 if size >= 100 else 2 if size >= 1 else 3
        place = last_place(Uncertainty(self.sigma * factor))
        if place is not None and place > -digits:
            return f"{at_place(value, place)} {symbol}".rstrip()
        return f"{number_text(value, digits)} {symbol}".rstrip()

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


Said: TypeAlias = str | Amount | Moment | Sentence


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
    return one.text(units) if isinstance(one, Amount | Moment | Sentence) else str(one)
