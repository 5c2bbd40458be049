"""The script of the HTML report, run by Qt's script engine: its ticks are those of the paper."""

from __future__ import annotations

import json
import re
from importlib import resources

import numpy as np
import pytest

from analysis.report.ticks import ticks


def script_ticks(ranges: list[tuple[float, float, int]]) -> list[list[list[object]]]:
    """Ticks by the page's own script, run by Qt's script engine."""
    qml = pytest.importorskip("PySide6.QtQml")
    source = resources.files("resources.templates").joinpath("report.js").read_text("utf-8")
    steps = re.search(r"const STEPS = .*?;", source)
    body = re.search(r"function ticks\(.*?\n  }\n", source, re.DOTALL)
    assert steps
    assert body
    wanted = f"{json.dumps(ranges)}.map(r => ticks(...r).map(t => [t.value, t.text]))"
    code = f"(function () {{ {steps[0]} {body[0]} return JSON.stringify({wanted}); }}())"
    engine = qml.QJSEngine()  # a result ends with its engine
    result = engine.evaluate(code)
    assert not result.isError(), result.toString()
    found: list[list[list[object]]] = json.loads(result.toString())
    return found


def test_zoomed_ticks_of_the_script_are_those_of_the_report(qapp: object) -> None:
    rng = np.random.default_rng(4)
    ranges = [(0.0, 400.0, 8), (-103.2, 88.1, 8), (0.0, 28.7, 6), (1.5, 1.5004, 8), (-0.3, 0.3, 4)]
    ranges += [(float(a), float(a + b), int(k)) for a, b, k in zip(
        rng.uniform(-2000, 2000, 40), 10 ** rng.uniform(-2, 3.5, 40), rng.integers(3, 10, 40), strict=True
    )]  # fmt: skip
    for (low, high, most), by_script in zip(ranges, script_ticks(ranges), strict=True):
        own = ticks(low, high, most)
        assert [tick.text for tick in own] == [text for _, text in by_script]
        assert [tick.value for tick in own] == pytest.approx([value for value, _ in by_script])
