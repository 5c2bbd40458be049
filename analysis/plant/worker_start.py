"""What a worker loads before its first task, while whoever started it does the same."""

from __future__ import annotations


def load_tasks() -> None:
    """Import everything that pieces of traces are worked on with."""
    import analysis.pipeline
    import analysis.plant.tasks  # noqa: F401
