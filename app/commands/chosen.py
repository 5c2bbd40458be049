"""What a report is restricted to on the command line: one joint, a filter, single traces; no Qt."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from app.commands.compare import filter_mask
from app.commands.run import CommandError

if TYPE_CHECKING:
    from analysis.pipeline import Analysis


@dataclass(frozen=True)
class Chosen:
    """Rows of the analysis (None: all), in words; those with a page each (None: some of each cause)."""

    rows: tuple[int, ...] | None = None
    words: str = ""
    pages: tuple[int, ...] | None = None


def chosen_traces(
    analysis: Analysis, joint: str | None, condition: str | None, traces: Sequence[str]
) -> Chosen:
    """What `--joint`, `--only` and `--trace` leave of the traces.

    Raises
    ------
    CommandError
        Where no trace is left, or one that was named is not there.
    """
    from app.session.loading import results_columns

    if joint is None and condition is None and not traces:
        return Chosen()
    results, words = analysis.results(), []
    kept = np.ones(len(analysis), bool)
    if joint is not None:
        kept &= np.array([name == joint for name in results.column("joint").to_pylist()], bool)
        words.append(f"joint {joint}")
    if condition is not None:
        kept &= filter_mask("--only", condition, results_columns(results, analysis.traces))
        words.append(condition)
    if traces:
        absent = sorted(set(traces) - set(analysis.traces.trace_ids))
        if absent:
            raise CommandError(f"--trace {absent[0]}: there is no such trace")
        kept &= np.isin(np.array(analysis.traces.trace_ids, object), list(traces))
        words.append("traces that were named")
    rows = tuple(np.flatnonzero(kept).tolist())
    if not rows:
        raise CommandError(f"no trace is left of {len(analysis)}: {', '.join(words)}")
    about = f"Restricted to {len(rows)} of {len(analysis)} traces: {', '.join(words)}. {COMPANY}"
    return Chosen(rows, about, rows if traces else None)


COMPANY = "What is usual in a joint still comes from all of its traces."
