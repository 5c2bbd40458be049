"""A filter text taken apart into words, signs and quotations, each with its place."""

from __future__ import annotations

import re
from typing import NamedTuple

from analysis.errors import TautographError

_PATTERN = re.compile(
    r"""\s*(?:
      (?P<quoted>"(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')
    | (?P<op><=|>=|!=|<>|==|=|<|>|~)
    | (?P<mark>[(),])
    | (?P<bracket>\[[^\]]+\])
    | (?P<word>[^\s()<>=!~,"'\[\]]+)
    )""",
    re.VERBOSE,
)

#: A number as written in much of Europe, where nothing else can be meant: right behind a comparison, no list.
_DECIMAL_COMMA = re.compile(r"\s*([+-]?\d+),(\d+)(?![\w,.])")


class FilterError(TautographError):
    """A filter text that cannot be used; says where."""

    def __init__(self, message: str, start: int, stop: int) -> None:
        super().__init__(message)
        self.start = start
        self.stop = stop


class Token(NamedTuple):
    """One part of a filter text."""

    kind: str
    text: str
    start: int
    stop: int

    def is_word(self, *words: str) -> bool:
        """Whether it is one of these words, upper and lower case alike."""
        return self.kind == "word" and self.text.lower() in words


def tokenise(text: str) -> list[Token]:
    """The parts of a filter text with their places.

    Raises
    ------
    FilterError
        Where a quotation is not closed or a sign has no meaning.
    """
    tokens: list[Token] = []
    place, end = 0, len(text.rstrip())
    while place < end:
        comma = _DECIMAL_COMMA.match(text, place) if tokens and tokens[-1].kind == "op" else None
        if comma is not None:
            tokens.append(Token("word", f"{comma[1]}.{comma[2]}", comma.start(1), comma.end()))
            place = comma.end()
            continue
        match = _PATTERN.match(text, place)
        if match is None:
            start = end - len(text[place:end].lstrip())
            what = "a quotation that is not closed" if text[start] in "\"'" else f"{text[start]!r} here"
            raise FilterError(f"cannot read {what}", start, len(text) if text[start] in "\"'" else start + 1)
        kind = str(match.lastgroup)
        tokens.append(Token(kind, match.group(kind), match.start(kind), match.end(kind)))
        place = match.end()
    return tokens


def unquote(text: str) -> str:
    """What stands between the marks of a quotation."""
    return re.sub(r"\\(.)", r"\1", text[1:-1])
