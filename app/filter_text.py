"""The filter text: a small grammar of its own, parsed to frozen records and evaluated on columns; no Qt.

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
import re
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.errors import TautographError
from analysis.traces.units import find_unit
from app.columns import Column, ColumnSet
from app.display_units import DisplayUnits

Mask = NDArray[np.bool_]

#: Longest text and deepest nesting; beyond it is a mistake or mischief, not a filter.
LONGEST_TEXT = 4000
DEEPEST_NESTING = 40
OPERATORS = ("=", "!=", "<", "<=", ">", ">=", "~")
KEYWORDS = ("and", "or", "not", "between", "in", "is")
_UNIT_SUFFIXES = ("_nm_per_deg", "_nm_per_turn", "_nm", "_deg", "_kn", "_s", "_rpm")

_TOKEN = re.compile(
    r"""\s*(?:
      (?P<quoted>"(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')
    | (?P<op><=|>=|!=|<>|==|=|<|>|~)
    | (?P<mark>[(),])
    | (?P<bracket>\[[^\]]+\])
    | (?P<word>[^\s()<>=!~,"'\[\]]+)
    )""",
    re.VERBOSE,
)


class FilterError(TautographError):
    """A filter text that cannot be used; says where."""

    def __init__(self, message: str, start: int, stop: int) -> None:
        super().__init__(message)
        self.start = start
        self.stop = stop


@dataclass(frozen=True)
class _Token:
    kind: str
    text: str
    start: int
    stop: int

    def is_word(self, *words: str) -> bool:
        return self.kind == "word" and self.text.lower() in words


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
    if len(text) > LONGEST_TEXT:
        raise FilterError(f"the filter is longer than {LONGEST_TEXT} characters", LONGEST_TEXT, len(text))
    if not text.strip():
        return None
    parser = _Parser(text, columns, units or DisplayUnits())
    node = parser.either(0)
    parser.expect_end()
    return node


def write_units(text: str, columns: ColumnSet, units: DisplayUnits) -> str:
    """The same filter with the units written that were understood, so that it means the same in any unit.

    Raises
    ------
    FilterError
        Where the text cannot be used.
    """
    if not text.strip():
        return ""
    parser = _Parser(text, columns, units)
    parser.either(0)
    parser.expect_end()
    for stop, symbol in sorted(parser.units_read, reverse=True):
        if symbol and find_unit(symbol) is not None:
            text = f"{text[:stop]} {symbol}{text[stop:]}"
    return text.strip()


def evaluate(node: Node | None, columns: ColumnSet) -> Mask:
    """Which rows meet the filter."""
    if node is None:
        return np.ones(columns.n_rows, bool)
    if isinstance(node, Negated):
        return ~evaluate(node.part, columns)
    if isinstance(node, Joined):
        masks = [evaluate(part, columns) for part in node.parts]
        combine = np.logical_and if node.word == "and" else np.logical_or
        return np.asarray(combine.reduce(masks), bool)
    if isinstance(node, Words):
        return words_mask(node.text, columns)
    return _compare(node, columns[node.name])


def words_mask(text: str, columns: ColumnSet) -> Mask:
    """Rows where the text occurs in any text column, upper and lower case alike."""
    mask = np.zeros(columns.n_rows, bool)
    for column in columns:
        if column.kind == "text" and column.values.size:
            mask |= _contains(column.values, text)
    return mask


def tokenise(text: str) -> list[_Token]:
    """The parts of a filter text with their places.

    Raises
    ------
    FilterError
        Where a quotation is not closed or a sign has no meaning.
    """
    tokens: list[_Token] = []
    place = 0
    while place < len(text.rstrip()):
        match = _TOKEN.match(text, place)
        if match is None:
            start = place + len(text[place:]) - len(text[place:].lstrip())
            what = "a quotation that is not closed" if text[start] in "\"'" else f"{text[start]!r} here"
            raise FilterError(f"cannot read {what}", start, len(text) if text[start] in "\"'" else start + 1)
        kind = str(match.lastgroup)
        tokens.append(_Token(kind, match.group(kind), match.start(kind), match.end(kind)))
        place = match.end()
    return tokens


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
        #: (place in the text, unit symbol) where a number was read in the shown unit.
        self.units_read: list[tuple[int, str]] = []

    def peek(self) -> _Token | None:
        return self.tokens[self.at] if self.at < len(self.tokens) else None

    def take(self) -> _Token | None:
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

    def fail(self, message: str, token: _Token | None) -> FilterError:
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
        if depth > DEEPEST_NESTING:
            raise self.fail("too many brackets inside each other", token)
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
            return Words(_unquote(token.text))
        if token.kind not in ("word", "bracket"):
            raise self.fail(f"expected a column or a word instead of {token.text!r}", token)
        return self._comparison_or_words(token)

    def _comparison_or_words(self, token: _Token) -> Node:
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
            raise self.fail(f"there is no column {token.text!r}", token)
        self.take()
        written_out = (
            token.text.strip("[]").lower() == column.name.lower()
            and short_name(column) != column.name.lower()
        )
        operator = self.take()
        assert operator is not None
        return self._comparison(column, operator, written_out)

    def _comparison(self, column: Column, operator: _Token, written_out: bool) -> Comparison:
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
            text = _unquote(token.text)
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

    def _moment_or_number(self, column: Column, text: str, token: _Token, written_out: bool) -> float:
        place = _Token("word", text, token.start, token.start + len(text))
        if column.kind == "time":
            try:
                moment = datetime.datetime.fromisoformat(text)
            except ValueError:
                raise self.fail(
                    "expected a date such as 2026-03-02 or 2026-03-02 06:00 (UTC)", place
                ) from None
            return (moment if moment.tzinfo else moment.replace(tzinfo=datetime.UTC)).timestamp()
        match = re.fullmatch(r"([-+−]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?)\s*(.*)", text)
        if match is None:
            raise self.fail(f"{column.title} is a number: {text!r} is not", place)
        number = float(match[1].replace(",", ".").replace("−", "-"))
        return self._in_internal_unit(number, match[2], column, place, written_out)

    def _in_internal_unit(
        self, number: float, unit_text: str, column: Column, place: _Token, written_out: bool
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


def _compare(node: Comparison, column: Column) -> Mask:
    present = ~column.missing
    if node.op == "missing":
        return column.missing
    if node.op == "present":
        return present
    if column.kind == "text":
        return np.asarray(_compare_text(node, column) & present, bool)
    values = column.values
    with np.errstate(invalid="ignore"):
        first = float(node.values[0])
        met: Mask
        if node.op == "between":
            second = float(node.values[1])
            met = (values >= min(first, second)) & (values <= max(first, second))
        elif node.op == "in":
            met = np.isin(values, np.array(node.values, np.float64))
        else:
            met = _NUMBER_TESTS[node.op](values, first)
    return np.asarray(met & present, bool)


_NUMBER_TESTS: dict[str, Callable[[NDArray[np.float64], float], Mask]] = {
    "=": lambda values, x: np.isclose(values, x, rtol=1e-9, atol=0.0),
    "!=": lambda values, x: ~np.isclose(values, x, rtol=1e-9, atol=0.0),
    "<": lambda values, x: values < x,
    "<=": lambda values, x: values <= x,
    ">": lambda values, x: values > x,
    ">=": lambda values, x: values >= x,
}


def _compare_text(node: Comparison, column: Column) -> Mask:
    values = np.strings.lower(column.values)
    wanted = [str(value).lower() for value in node.values]
    if node.op == "~":
        return _contains(column.values, wanted[0])
    if node.op == "between":
        return np.asarray((values >= min(wanted)) & (values <= max(wanted)))
    met = np.isin(values, np.array(wanted))
    return np.asarray(~met if node.op == "!=" else met)


def _contains(values: NDArray[np.str_], text: str) -> Mask:
    return np.asarray(np.strings.find(np.strings.lower(values), text.lower()) >= 0)


def _unquote(text: str) -> str:
    return re.sub(r"\\(.)", r"\1", text[1:-1])


def quote(text: str) -> str:
    """A text value as it is written in a filter; quoted where it must be.

    Examples
    --------
    >>> quote("hub"), quote("not ok"), quote('6" pipe')
    ('hub', '"not ok"', '"6\\\\" pipe"')
    """
    if re.fullmatch(r"[^\s()<>=!~,\"'\[\]\\]+", text) and text.lower() not in KEYWORDS:
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def equals(column: str, value: str) -> str:
    """The filter text "column is this value"."""
    name = (
        column
        if re.fullmatch(r"[^\s()<>=!~,\"'\[\]]+", column) and column.lower() not in KEYWORDS
        else f"[{column}]"
    )
    return f"{name} = {quote(value)}" if value else f"{name} is missing"
