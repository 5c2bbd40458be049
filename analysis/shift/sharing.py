"""What a selection of traces shares that the others do not: attribute values with counts, rates and a
test."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

#: Attributes that say something about a person, or that name each trace by itself: never compared.
LEFT_OUT = (
    "trace_id",
    "operator",
    "operator_id",
    "user",
    "user_name",
    "worker",
    "employee",
    "person",
    "name",
)
#: More distinct values than this share of the traces, and an attribute names each trace nearly by itself.
MOST_DISTINCT_SHARE = 0.5
#: Corrected probability below which sharing is shown as found (common practice, no source).
SIGNIFICANT = 0.01


@dataclass(frozen=True)
class Shared:
    """One attribute value that is more frequent among the chosen traces than among the others."""

    attribute: str
    value: str
    #: Chosen traces that have the value, of those that have the attribute.
    chosen_with: int
    chosen: int
    #: The same of all other traces.
    others_with: int
    others: int
    probability: float  #: Fisher's exact test, one-sided: chance of at least as many by drawing at random.
    corrected: float  #: The same, Holm-corrected for all values that were looked at.

    @property
    def is_significant(self) -> bool:
        """Whether the corrected probability is below `SIGNIFICANT`."""
        return self.corrected < SIGNIFICANT

    def sentence(self) -> str:
        """Such as: 29 of 31 share washer lot B, 4 % of the others do."""
        words = f"{self.chosen_with} of {self.chosen} share {self.attribute.replace('_', ' ')} {self.value}"
        if not self.others:
            return f"{words}, there are no others"
        return f"{words}, {_percent(self.others_with / self.others)} of the others do"


def _percent(share: float) -> str:
    """A share in whole per cent; what is not none never reads as none."""
    return "less than 1 %" if 0.0 < share < 0.005 else f"{100.0 * share:.0f} %"


class Coded(NamedTuple):
    """The texts of an attribute, and which of them each trace has; -1 where none."""

    texts: tuple[str, ...]
    codes: NDArray[np.int64]


def find_shared(
    attributes: Mapping[str, Sequence[Any]],
    chosen: NDArray[np.bool_],
    within: NDArray[np.bool_] | None = None,
) -> list[Shared]:
    """Attribute values over-represented among the chosen traces, most telling first.

    Numbers count as their text; `started_at` also as hour of day (UTC). Attributes that name a person, that
    have one value only, or that name nearly each trace by itself are left out.

    Parameters
    ----------
    chosen : ndarray of bool, shape (n,)
    within : ndarray of bool, shape (n,), optional
        Compare only among these traces (the joint's, say); default all.
    """
    return find_shared_codes(coded_attributes(attributes), chosen, within)


def find_shared_codes(
    attributes: Mapping[str, Coded],
    chosen: NDArray[np.bool_],
    within: NDArray[np.bool_] | None = None,
) -> list[Shared]:
    """As `find_shared`, from what `coded_attributes` gave: for many groups of the same traces."""
    inside = np.ones(len(chosen), np.bool_) if within is None else within
    rows = np.flatnonzero(inside)
    picked = np.asarray(chosen)[rows]
    if not picked.any() or picked.all():
        return []
    found: list[Shared] = []
    for name, coded in attributes.items():
        found.extend(_shared_values(name, coded, rows, picked))
    order = sorted(found, key=lambda one: (one.probability, one.attribute, one.value))
    return _holm(order)


def coded_attributes(attributes: Mapping[str, Sequence[Any]]) -> dict[str, Coded]:
    """The attributes that are compared, by their texts; moments as hour of day (UTC)."""
    found: dict[str, Coded] = {}
    for name, values in attributes.items():
        if name.lower() in LEFT_OUT:
            continue
        if any(isinstance(value, datetime) for value in values):
            hours = [
                f"{v.hour:02d}:00-{v.hour:02d}:59 UTC" if isinstance(v, datetime) else None for v in values
            ]
            found["hour" if name == "started_at" else f"hour of {name}"] = _coded(hours)
        else:
            found[name] = _coded([None if value is None else str(value) for value in values])
    return found


def _coded(values: Sequence[str | None]) -> Coded:
    code_of: dict[str | None, int] = {None: -1}
    codes = [code_of.setdefault(value, len(code_of) - 1) for value in values]
    return Coded(tuple(text for text in code_of if text is not None), np.array(codes, np.int64))


def _shared_values(
    name: str, coded: Coded, rows: NDArray[np.integer], picked: NDArray[np.bool_]
) -> list[Shared]:
    codes = coded.codes[rows]
    known = codes >= 0
    distinct = np.count_nonzero(np.bincount(codes[known]))
    if not 2 <= distinct <= max(2, MOST_DISTINCT_SHARE * len(rows)):
        return []
    with_chosen = np.bincount(codes[known & picked], minlength=len(coded.texts))
    with_all = np.bincount(codes[known], minlength=len(coded.texts))
    n_chosen, n_all = int(np.sum(known & picked)), int(np.sum(known))
    n_others = n_all - n_chosen
    found = []
    for value, a, total in zip(coded.texts, with_chosen.tolist(), with_all.tolist(), strict=True):
        if a == 0 or a * n_others <= (total - a) * n_chosen:
            continue
        chance = fisher_exact_greater(a, n_chosen - a, total - a, n_others - (total - a))
        found.append(Shared(name, value, a, n_chosen, total - a, n_others, chance, chance))
    return found


def _holm(ordered: list[Shared]) -> list[Shared]:
    """Holm's step-down correction; input sorted by probability."""
    from dataclasses import replace

    corrected, highest = [], 0.0
    for rank, one in enumerate(ordered):
        highest = max(highest, min(1.0, one.probability * (len(ordered) - rank)))
        corrected.append(replace(one, corrected=highest))
    return corrected


@cache
def _log_factorials(n: int) -> NDArray[np.float64]:
    return np.concatenate(([0.0], np.cumsum(np.log(np.arange(1, n + 1)))))


def fisher_exact_greater(a: int, b: int, c: int, d: int) -> float:
    """One-sided probability of the table [[a, b], [c, d]] or one with a larger `a`, margins fixed.

    Notes
    -----
    Sum over k >= a of the hypergeometric probabilities C(a+b, k) C(c+d, a+c-k) / C(n, a+c).

    References
    ----------
    R. A. Fisher's exact test; checked against scipy in the tests.

    Examples
    --------
    >>> round(fisher_exact_greater(3, 1, 1, 3), 4)
    0.2429
    """
    n, first, column = a + b + c + d, a + b, a + c
    log = _log_factorials(1 << max(n, 1).bit_length())
    k = np.arange(a, min(first, column) + 1)
    terms = (
        log[first] - log[k] - log[first - k]
        + log[n - first] - log[column - k] - log[n - first - column + k]
        - (log[n] - log[column] - log[n - column])
    )  # fmt: skip
    return float(min(1.0, np.exp(terms).sum()))
