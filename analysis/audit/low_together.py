"""Whether unusually low audits have a spindle, or a lot, in common: more of them than chance puts there."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

#: Fewest low audits, and largest probability that chance brings so many to one of all values, from which they
#: are said to have it in common (own choice).
FEWEST_LOW, CHANCE = 2, 0.01


@dataclass(frozen=True)
class Shared:
    """Low audits of one value: how many, of how many audits, and the low ones in all."""

    value: str
    low: int
    audits: int
    low_in_all: int


def shared_value(low: NDArray[np.bool_], values: Sequence[object]) -> Shared | None:
    """The value that the low ones have in common, None where there is none.

    Notes
    -----
    Of N audits m are low; of n with a value k or more are so by chance with the hypergeometric probability
    sum C(n, i) C(N - n, m - i)/C(N, m), i from k on; times the number of values that it could have been.

    Examples
    --------
    >>> shared_value(np.arange(40) < 4, ["3"] * 6 + ["1", "2"] * 17)
    Shared(value='3', low=4, audits=6, low_in_all=4)
    """
    names = ["" if one is None else str(one) for one in values]
    lows = [name for name, is_low in zip(names, low.tolist(), strict=True) if is_low]
    kinds = {name for name in names if name}
    if len(kinds) < 2 or not any(lows):
        return None
    value = max(sorted({name for name in lows if name}), key=lows.count)
    k, n = lows.count(value), names.count(value)
    total, m = len(names), len(lows)
    chance = sum(math.comb(n, i) * math.comb(total - n, m - i) for i in range(k, min(n, m) + 1))
    if k < FEWEST_LOW or len(kinds) * chance / math.comb(total, m) > CHANCE:
        return None
    return Shared(value, k, n, m)
