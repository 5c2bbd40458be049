"""Every number of the results is in one group of the lists, or known to be internal."""

from __future__ import annotations

from analysis.catalogue.figure_groups import FIGURE_GROUPS, INTERNAL
from analysis.catalogue.figures import FIGURES


def test_each_number_has_one_place() -> None:
    placed = [name for _, names in FIGURE_GROUPS for name in names]
    assert len(placed) == len(set(placed))
    numbers = {figure.name for figure in FIGURES if figure.kind in ("number", "count")}
    assert set(placed) | INTERNAL == numbers
    assert not set(placed) & INTERNAL
