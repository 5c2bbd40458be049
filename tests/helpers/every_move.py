"""A fixture: every move of the mouse counts, however quick a test's hand is."""

from __future__ import annotations

from collections.abc import Iterator

import pyqtgraph as pg
import pytest


@pytest.fixture(autouse=True)
def every_move_counts() -> Iterator[None]:
    """The plotting library drops mouse moves that follow within 10 ms; a test's hand is quicker than that."""
    usual = pg.getConfigOption("mouseRateLimit")
    pg.setConfigOption("mouseRateLimit", -1)
    yield
    pg.setConfigOption("mouseRateLimit", usual)
