"""Characters of names that would steer what shows them: written as a sign that something stood there."""

from __future__ import annotations

import re

#: Control characters but the tab and ends of lines, and marks that turn the direction of what follows
#: (Unicode Standard Annex 9: embeddings, overrides, isolates); marks of a single place do not.
_STEERING = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
_SIGN = "\N{REPLACEMENT CHARACTER}"
#: Letters of a name in a list or a heading (own choice: the longest paths of usual names are shorter).
MOST_LETTERS = 120


def harmless(text: str) -> str:
    """The text with a sign in place of each character that would steer a page, a picture or a terminal.

    Examples
    --------
    >>> harmless("hub-7"), harmless("a\\u202eb\\x1b")
    ('hub-7', 'a\N{REPLACEMENT CHARACTER}b\N{REPLACEMENT CHARACTER}')
    """
    return _STEERING.sub(_SIGN, text)


def one_line(text: str, most: int = MOST_LETTERS) -> str:
    """A name where there is room for a line: harmless, without ends of lines, its middle left out if long.

    Examples
    --------
    >>> one_line("a\\n b"), one_line("x" * 9, 5)
    ('a b', 'xx…xx')
    """
    plain = " ".join(harmless(text).split()) if not text.isprintable() else text
    half = (most - 1) // 2
    return plain if len(plain) <= most else f"{plain[:half]}…{plain[-half:]}"
