"""The grammar of a filter text, parsed to frozen records; no Qt.

Grammar (a white list; nothing in a filter can run anything)::

    filter     := either
    either     := both ("or" both)*
    both       := single ("and" single)*
    single     := "not" single | "(" either ")" | comparison | words
    comparison := name op value | name "between" value "and" value
                | name "in" "(" value ("," value)* ")" | name "is" ("missing" | "present")
    op         := = != < <= > >= ~          (~ : the text contains)
    value      := number [unit] | "quoted text" | words

A name is a column of the table; its unit suffix may be left out. A number without a unit is read in the
unit that is shown where the suffix was left out, and in the suffix's unit where it was written. A trace
that has no value meets no comparison; ``is missing`` finds it. Words that are no comparison are looked for
in all text columns.
"""

from __future__ import annotations

import datetime
import difflib
import re
from collections.abc import Callable
from dataclasses import dataclass

from analysis.catalogue.units import DisplayUnits, offset_text, zone_named
from analysis.traces.units import find_unit
from app.display.columns import Column, ColumnSet
from app.filtering.tokens import FilterError, Token, tokenise, unquote

#: Longest text, most conditions, deepest nesting; beyond it is a mistake or mischief, no filter (own choice).
LONGEST_TEXT, MOST_CONDITIONS, DEEPEST_NESTING = 4000, 100, 40
#: Longest list of traces by name that the window writes itself (some 50 000 of them), and what is one.
LONGEST_LIST, MOST_NAMES = 1_000_000, 100_000
_LIST = re.compile(r"""trace_id in \((?:"(?:[^"\\]|\\.)*+"|[^()"'])*+\)\s*""")
OPERATORS = ("=", "!=", "<", "<=", ">", ">=", "~")
KEYWORDS = ("and", "or", "not", "between", "in", "is")
_UNIT_SUFFIXES = ("_nm_per_deg", "_nm_per_turn", "_nm", "_deg", "_kn", "_s", "_rpm")


@dataclass(frozen=True)
class Comparison:
    """`name op values`, numbers in the column's internal unit.

    `op` also "between", "in", "missing", "present".
    """

    name: str
    op: str
    values: tuple[float | str, ...] = ()


@dataclass(frozen=True)
class Words:
    """Text that must occur in one of the text columns."""

    text: str


@dataclass(frozen=True)
class Joined:
    """Parts joined by "and" or "or"."""

    word: str
    parts: tuple[Node, ...]


@dataclass(frozen=True)
class Negated:
    """What must not hold."""

    part: Node


Node = Comparison | Words | Joined | Negated


def parse(text: str, columns: ColumnSet, units: DisplayUnits | None = None) -> Node | None:
    """The filter that a text stands for; None for an empty text (everything is shown).

    Raises
    ------
    FilterError
        With the place of what is wrong.
    """
    _check_length(text)
    if not text.strip():
        return None
    parser = _Parser(text, columns, units or DisplayUnits())
    node = parser.either(0)
    parser.expect_end()
    return node


def _check_length(text: str) -> None:
    """Only a list of traces, and nothing beside it, may be long: every condition takes its time."""
    if len(text) > LONGEST_LIST or text.count(",") > MOST_NAMES:
        words = f"the filter is longer than {LONGEST_LIST} characters or {MOST_NAMES} names"
        raise FilterError(words, min(LONGEST_LIST, len(text)), len(text))
    if len(text) > LONGEST_TEXT and not _LIST.fullmatch(text):
        words = f"the filter is longer than {LONGEST_TEXT} characters"
        words += "; only a list, trace_id in (...), may be longer"
        raise FilterError(words, LONGEST_TEXT, len(text))


def write_units(text: str, columns: ColumnSet, units: DisplayUnits) -> str:
    """The same filter with the units and zones written that were understood: it means the same in any other.

    Raises
    ------
    FilterError
        Where the text cannot be used.
    """
    _check_length(text)
    if not text.strip():
        return ""
    parser = _Parser(text, columns, units)
    parser.either(0)
    parser.expect_end()
    parts, place = [], 0
    units_read = [(stop, f" {symbol}") for stop, symbol in parser.units_read if find_unit(symbol or "-")]
    for stop, words in sorted([*units_read, *parser.zones_read]):
        parts += [text[place:stop], words]
        place = stop
    return "".join((*parts, text[place:])).strip()


def find_column(name: str, columns: ColumnSet) -> Column | None:
    """The column of this name, its unit suffix left out or not; None where there is none."""
    plain = name.strip("[]").strip().lower().replace(" ", "_")
    for column in columns:
        if column.name.lower() == plain:
            return column
    for column in columns:
        if short_name(column) == plain or column.title.lower().replace(" ", "_") == plain:
            return column
    return None


def short_name(column: Column) -> str:
    """The column's name without its unit suffix."""
    name = column.name.lower()
    if column.unit:
        for suffix in _UNIT_SUFFIXES:
            if name.endswith(suffix):
                return name.removesuffix(suffix)
    return name


class _Parser:
    """Recursive descent over the tokens of one text."""

    def __init__(self, text: str, columns: ColumnSet, units: DisplayUnits) -> None:
        self.text = text
        self.columns = columns
        self.units = units
        self.tokens = tokenise(text)
        self.at = 0
        self.conditions = 0
        #: (place in the text, unit symbol) where a number was read in the shown unit.
        self.units_read: list[tuple[int, str]] = []
        #: (place in the text, zone) where a moment was read in the shown zone.
        self.zones_read: list[tuple[int, str]] = []

    def peek(self) -> Token | None:
        return self.tokens[self.at] if self.at < len(self.tokens) else None

    def take(self) -> Token | None:
        token = self.peek()
        self.at += token is not None
        return token

    def take_word(self, *words: str) -> bool:
        token = self.peek()
        if token is not None and token.is_word(*words):
            self.at += 1
            return True
        return False

    def take_mark(self, mark: str) -> bool:
        token = self.peek()
        if token is not None and token.kind == "mark" and token.text == mark:
            self.at += 1
            return True
        return False

    def fail(self, message: str, token: Token | None) -> FilterError:
        end = len(self.text.rstrip())
        return FilterError(message, *((token.start, token.stop) if token else (max(0, end - 1), end)))

    def expect_end(self) -> None:
        token = self.peek()
        if token is not None:
            raise self.fail(f"did not expect {token.text!r} here; join conditions with and / or", token)

    def either(self, depth: int) -> Node:
        return self._join("or", self.both, depth)

    def both(self, depth: int) -> Node:
        return self._join("and", self.single, depth)

    def _join(self, word: str, part: Callable[[int], Node], depth: int) -> Node:
        parts = [part(depth)]
        while self.take_word(word):
            parts.append(part(depth))
        return parts[0] if len(parts) == 1 else Joined(word, tuple(parts))

    def single(self, depth: int) -> Node:
        token = self.peek()
        self.conditions += 1
        if depth > DEEPEST_NESTING:
            raise self.fail("too many brackets inside each other", token)
        if self.conditions > MOST_CONDITIONS:
            raise self.fail("too many conditions; use name in (a, b, ...)", token)
        if token is None:
            raise self.fail("a condition is missing here", token)
        if self.take_word("not"):
            return Negated(self.single(depth + 1))
        if self.take_mark("("):
            node = self.either(depth + 1)
            if not self.take_mark(")"):
                raise self.fail("a closing bracket is missing", self.peek())
            return node
        if token.kind == "quoted":
            self.take()
            return Words(unquote(token.text))
        if token.kind not in ("word", "bracket"):
            raise self.fail(f"expected a column or a word instead of {token.text!r}", token)
        return self._comparison_or_words(token)

    def _nearest(self, name: str) -> str:
        """The column that was probably meant, in words; empty where none is near."""
        names = [short_name(column) for column in self.columns]
        near = difflib.get_close_matches(name.strip("[]").lower(), names, n=1)
        return f"; did you mean {near[0]!r}?" if near else ""

    def _comparison_or_words(self, token: Token) -> Node:
        following = self.tokens[self.at + 1] if self.at + 1 < len(self.tokens) else None
        compares = following is not None and (
            following.kind == "op" or following.is_word("between", "in", "is")
        )
        if not compares:
            if token.is_word(*KEYWORDS):
                raise self.fail(f"expected a condition before {token.text!r}", token)
            return Words(" ".join(self._plain_words()))
        column = find_column(token.text, self.columns)
        if column is None:
            raise self.fail(f"there is no column {token.text!r}{self._nearest(token.text)}", token)
        self.take()
        written_out = (
            token.text.strip("[]").lower() == column.name.lower()
            and short_name(column) != column.name.lower()
        )
        operator = self.take()
        assert operator is not None
        return self._comparison(column, operator, written_out)

    def _comparison(self, column: Column, operator: Token, written_out: bool) -> Comparison:
        if operator.is_word("is"):
            for word in ("missing", "present"):
                if self.take_word(word):
                    return Comparison(column.name, word)
            raise self.fail('expected "missing" or "present" after "is"', self.peek())
        if operator.is_word("in"):
            return self._one_of(column, written_out)
        if operator.is_word("between"):
            low = self._value(column, written_out)
            if not self.take_word("and"):
                raise self.fail('expected "and" and the upper value', self.peek())
            return Comparison(column.name, "between", (low, self._value(column, written_out)))
        op = {"==": "=", "<>": "!="}.get(operator.text, operator.text)
        if op == "~" and column.kind != "text":
            raise self.fail("~ compares text only", operator)
        if op in ("<", "<=", ">", ">=") and column.kind == "text":
            raise self.fail(f"{column.title} is text: use =, != or ~", operator)
        return Comparison(column.name, op, (self._value(column, written_out),))

    def _one_of(self, column: Column, written_out: bool) -> Comparison:
        if not self.take_mark("("):
            raise self.fail('expected "(" after "in"', self.peek())
        values = [self._value(column, written_out)]
        while self.take_mark(","):
            values.append(self._value(column, written_out))
        if not self.take_mark(")"):
            raise self.fail("a closing bracket is missing", self.peek())
        return Comparison(column.name, "in", tuple(values))

    def _value(self, column: Column, written_out: bool) -> float | str:
        token = self.peek()
        if token is None:
            raise self.fail("a value is missing here", None)
        if token.kind == "quoted":
            self.take()
            text = unquote(token.text)
            return text if column.kind == "text" else self._moment_or_number(column, text, token, written_out)
        words = self._plain_words(first_may_be_not=True)
        if not words:
            raise self.fail(f"expected a value instead of {token.text!r}", token)
        if column.kind == "text":
            return " ".join(words)
        return self._moment_or_number(column, " ".join(words), token, written_out)

    def _plain_words(self, first_may_be_not: bool = False) -> list[str]:
        words: list[str] = []
        while (token := self.peek()) is not None and token.kind == "word":
            if token.is_word(*KEYWORDS) and not (first_may_be_not and not words and token.is_word("not")):
                break
            words.append(token.text)
            self.at += 1
        return words

    def _moment_or_number(self, column: Column, text: str, token: Token, written_out: bool) -> float:
        if column.kind == "time":
            return self._moment(text, token)
        place = Token("word", text, token.start, token.start + len(text))
        match = re.fullmatch(r"([-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(.*)", text)
        if match is None:
            raise self.fail(f"{column.title} is a number: {text!r} is not", place)
        number = float(match[1].replace(",", ".").replace("−", "-"))
        return self._in_internal_unit(number, match[2], column, place, written_out)

    def _moment(self, text: str, token: Token) -> float:
        """Seconds since 1970; in the zone that is shown, unless one is written."""
        last = self.tokens[self.at - 1]
        place = Token("word", text, token.start, last.stop)
        try:
            moment = datetime.datetime.fromisoformat(text)
        except ValueError:
            words = f"expected a date such as 2026-03-02 or 2026-03-02 06:00 ({self.units.zone_words} time)"
            raise self.fail(words, place) from None
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=zone_named(self.units.zone)).astimezone()
            if self.units.zone != "UTC":
                quoted = last.kind == "quoted"
                words = offset_text(self.units.here(moment))
                self.zones_read.append((last.stop - quoted, words if ":" in text else f"T00:00{words}"))
        return moment.timestamp()

    def _in_internal_unit(
        self, number: float, unit_text: str, column: Column, place: Token, written_out: bool
    ) -> float:
        if not unit_text:
            if written_out:
                return number
            self.units_read.append((place.stop, self.units.symbol(column.unit)))
            return self.units.internal(number, column.unit)
        unit, own = find_unit(unit_text), find_unit(column.unit)
        if unit is None or own is None or unit.quantity != own.quantity:
            measured = f"is measured in {column.unit}" if column.unit else "has no unit"
            raise self.fail(f"{column.title} {measured}: {unit_text!r} does not fit", place)
        return number * unit.to_internal / own.to_internal
