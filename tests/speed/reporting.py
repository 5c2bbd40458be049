"""Prints how long the report of a large shift takes, by its parts and kinds of file, and how large the files
are.

Run from the project's folder: ``python -m tests.speed.reporting`` (``--traces`` and ``--pages`` set the
numbers).
"""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import numpy as np

from analysis.catalogue.verdicts import VERDICTS
from analysis.joint import joints_from_text
from analysis.pipeline import Analysis, analyse
from analysis.report import build_reports, to_html, workbook_bytes
from tests.speed.judging import large_shift
from tests.world import evaluation_joints_toml

T = TypeVar("T")


def timed(words: str, work: Callable[[], T]) -> T:
    """The answer, after printing how long it took and, of a file, how large it is."""
    start = time.perf_counter()
    answer = work()
    size = f", {len(answer) / 1e6:.2f} MB" if isinstance(answer, bytes | str) else ""
    print(f"{words:<34} {time.perf_counter() - start:6.2f} s{size}", flush=True)
    return answer


def worst_rows(analysis: Analysis, count: int) -> list[int]:
    """Rows of the first traces not ok."""
    return [int(row) for row in np.flatnonzero(analysis.verdict == VERDICTS.index("not ok"))[:count]]


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--traces", type=int, default=10_000)
    parser.add_argument("--pages", type=int, default=30)
    chosen = parser.parse_args(arguments)
    os.environ["QT_QPA_PLATFORM"] = "offscreen"
    traces = large_shift(chosen.traces)
    joints = joints_from_text(evaluation_joints_toml())
    analyse(large_shift(1), joints)  # kernels are compiled, or read from the cache
    analysis = timed(f"analysis of {len(traces)} traces", lambda: analyse(traces, joints))
    rows = worst_rows(analysis, chosen.pages)
    reports = timed(
        f"report put together, {len(rows)} pages", lambda: build_reports(analysis, chosen_rows=rows)
    )
    timed("PDF", lambda: _pdf(reports))
    timed("HTML", lambda: to_html(reports))
    timed("XLSX", lambda: workbook_bytes(reports))
    return 0


def _pdf(reports: Any) -> bytes:
    from app.printing.pdf_writer import pdf_bytes

    return pdf_bytes(reports)


if __name__ == "__main__":
    raise SystemExit(main())
