"""What every test may rely on: no display, settings of its own, no unexpected log line, open recordings."""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterator
from pathlib import Path

# Before anything imports Qt; a run on a real or virtual screen sets its own platform beforehand.
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import pytest
from hypothesis import HealthCheck, settings
from platformdirs import user_cache_path

ROOT = Path(__file__).resolve().parents[1]
OPEN_TRACES = ROOT.parent / "shared" / "open_traces"

# The compiled kernels stay where every run finds them: compiling them again for each test would take minutes.
os.environ.setdefault("TAUTOGRAPH_KERNELS", str(user_cache_path("tautograph", appauthor=False)))

# The same examples in every run, so that a failure is there again tomorrow; new ones where asked for.
settings.register_profile(
    "tautograph",
    deadline=None,
    derandomize="TAUTOGRAPH_EXPLORE" not in os.environ,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("tautograph")

FIGURES = "figures"


@pytest.fixture(scope="session")
def root() -> Path:
    """The checkout."""
    return ROOT


@pytest.fixture(scope="session")
def open_traces() -> Path:
    """Folder of the open recordings beside the checkout; the test is skipped where it is absent."""
    if not OPEN_TRACES.is_dir():
        pytest.skip("the open recordings are not beside the checkout (../shared/open_traces)")
    return OPEN_TRACES


@pytest.fixture(autouse=True)
def _own_settings(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Preferences, caches and recovery files of a test never meet those of the person who runs it."""
    home = tmp_path_factory.mktemp("home")
    for kind in ("CONFIG", "CACHE", "DATA", "STATE"):
        monkeypatch.setenv(f"XDG_{kind}_HOME", str(home / kind.lower()))
    for name in ("APPDATA", "LOCALAPPDATA"):
        monkeypatch.setenv(name, str(home / name.lower()))


class _Remembering(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(f"{record.name}: {record.getMessage()}")


@pytest.fixture(autouse=True)
def _no_unexpected_log(request: pytest.FixtureRequest) -> Iterator[None]:
    """A warning in the log that the test did not ask for (by using caplog) is a failure."""
    handler = _Remembering()
    logging.getLogger().addHandler(handler)
    yield
    logging.getLogger().removeHandler(handler)
    if handler.lines and "caplog" not in request.fixturenames:
        pytest.fail("unexpected log:\n" + "\n".join(handler.lines), pytrace=False)


@pytest.fixture
def figures(request: pytest.FixtureRequest) -> Callable[[str], None]:
    """Call it with a table of measured figures: printed once at the end of the run, never asserted on."""

    def keep(text: str) -> None:
        request.node.user_properties.append((FIGURES, text.rstrip()))

    return keep


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print what the tests measured, in whichever process."""
    for report in terminalreporter.getreports("passed") + terminalreporter.getreports("failed"):
        for name, text in report.user_properties if report.when == "call" else ():
            if name == FIGURES:
                terminalreporter.section("measured", sep="-")
                terminalreporter.write_line(f"{report.nodeid}\n{text}")
