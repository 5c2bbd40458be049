"""A short walk without a plan; a long one is ``python -m tests.journeys.random_walk``."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from PySide6.QtWidgets import QApplication

from tests.helpers.every_move import every_move_counts
from tests.journeys.random_walk import Walk

__all__ = ["every_move_counts"]

KINDS = sorted(name.removeprefix("do_") for name in dir(Walk) if name.startswith("do_"))


class WalkMachine(RuleBasedStateMachine):
    """Any step after any other."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.walk = Walk(Path(self.folder.name))

    @rule(kind=st.sampled_from(KINDS), seed=st.integers(0, 9999))
    def step(self, kind: str, seed: int) -> None:
        """One step."""
        self.walk.take(kind, seed)

    @invariant()
    def all_agree(self) -> None:
        """Nothing is lost, stale or unhandled."""
        self.walk.check()

    def teardown(self) -> None:
        """The window goes."""
        self.walk.close()
        self.folder.cleanup()


@pytest.mark.usefixtures("qapp")
def test_a_walk_without_a_plan(qapp: QApplication) -> None:
    run = WalkMachine.TestCase()
    run.settings = settings(
        max_examples=2,
        stateful_step_count=30,
        deadline=None,
        derandomize=True,
        suppress_health_check=list(HealthCheck),
    )
    run.runTest()
