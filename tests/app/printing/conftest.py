"""One application for all tests of printing: the one with windows, which whatever comes first makes."""

from __future__ import annotations

import pytest


@pytest.fixture(autouse=True, scope="session")
def _application_with_windows(qapp: object) -> object:
    return qapp
