"""What may follow in a filter text: columns, comparisons, values, joining words; no Qt."""

from __future__ import annotations

import re
from dataclasses import dataclass

from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import titled
from app.display.columns import ColumnSet
from app.filtering.text import OPERATORS, find_column, quote, short_name

#: Offers at a time; more is a list to scroll, not a help.
MOST_OFFERS = 40


@dataclass(frozen=True)
class Offer:
    """One completion: the text that replaces ``[start, stop)``, and what it is."""

    text: str
    start: int
    stop: int
    about: str


def complete(text: str, cursor: int, columns: ColumnSet, units: DisplayUnits | None = None) -> list[Offer]:
    """Completions for the place of the cursor, best first."""
    before = text[:cursor]
    quoted = before.count('"') % 2
    match = re.search(r"\"[^\"]*$" if quoted else r"[^\s()<>=!~,\"']*$", before)
    started = match[0] if match else ""
    start = cursor - len(started)
    head = before[:start].rstrip()
    offers = _offers_after(head, columns, units or DisplayUnits())
    plain = started.strip('"').lower()
    fitting = [
        (t, about) for t, about in offers if plain in t.strip('"').lower() and t.lower() != started.lower()
    ]
    fitting.sort(key=lambda offer: not offer[0].strip('"').lower().startswith(plain))
    return [Offer(offered, start, cursor, about) for offered, about in fitting[:MOST_OFFERS]]


def _offers_after(head: str, columns: ColumnSet, units: DisplayUnits) -> list[tuple[str, str]]:
    comparison = re.search(r"([^\s()<>=!~,]+|\[[^\]]+\])\s*(<=|>=|!=|<>|==|=|<|>|~)$", head)
    if comparison:
        column = find_column(comparison[1], columns)
        return [(quote(value), column.title) for value in column.distinct] if column else []
    opened = re.search(r"([^\s()<>=!~,]+|\[[^\]]+\])\s+in\s*\([^)]*$", head)
    if opened:
        column = find_column(opened[1], columns)
        return [(quote(value), column.title) for value in column.distinct] if column else []
    last = re.search(r"([^\s()<>=!~,]+|\[[^\]]+\])$", head)
    word = last[1].lower() if last else ""
    if word == "is":
        return [("missing", "no value"), ("present", "any value")]
    column = find_column(word, columns) if word and word not in ("and", "or", "not", "(") else None
    if column is not None and not re.search(r"(<=|>=|!=|=|<|>|~)\s*\S+$", head):
        fitting = [op for op in OPERATORS if (op in ("=", "!=", "~")) or column.kind != "text"]
        fitting = [op for op in fitting if op != "~" or column.kind == "text"]
        return [(op, column.title) for op in fitting] + [("between", ""), ("in (", ""), ("is missing", "")]
    if word and word not in ("and", "or", "not") and not head.endswith("("):
        return [("and", "both must hold"), ("or", "one must hold")]
    return [(_written(c.name, short_name(c)), _about(c.title, units.symbol(c.unit))) for c in columns] + [
        ("not", "")
    ]


def _written(name: str, short: str) -> str:
    return short if re.fullmatch(r"[^\s()<>=!~,\"'\[\]]+", short) else f"[{name}]"


def _about(title: str, unit: str) -> str:
    return titled(title, unit)
