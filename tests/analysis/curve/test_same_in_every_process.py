"""The process that compiles the kernels gives the figures that every later one gives, bit by bit."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.commands import run_python

_MODULE = """
import numpy as np
from analysis.compilation import inlined, inner, inner_finite, kernel, summing

@summing
def total(values):
    sum_ = 0.0
    for k in range(len(values)):
        sum_ += values[k] * values[k]
    return sum_

@inlined
def spread(values, start, stop):
    if stop - start < 3:
        return 0.0
    middle = total(values[start:stop]) / (stop - start)
    away = 0.0
    for k in range(start, stop):
        away += (values[k] - middle) ** 2
    return away / total(values[start : stop - 1])

@inner_finite
def moment(values):
    sum_ = 0.0
    for k in range(len(values)):
        sum_ += values[k] * values[k] * values[k]
    return sum_

@inner
def skew(values, start, stop):
    middle = 0.0
    for k in range(start, stop):
        middle += values[k] / (stop - start)
    return moment(values[start:stop]) / middle

@kernel
def all_spreads(values, found):
    for k in range(len(found)):
        found[k] = spread(values, k, len(values)) + spread(values, 0, len(values) - k)
        found[k] += skew(values, k, len(values)) + skew(values, 0, len(values) - k)
"""
_USE = """
import sys
sys.path.insert(0, sys.argv[1])
import numpy as np
from some_kernels import all_spreads, spread, total
found = np.empty(200)
all_spreads(np.random.default_rng(5).normal(1e3, 1.0, 1000), found)
print(found.tobytes().hex())
print([one.targetoptions["forceinline"] for one in (spread, total)])
"""


def test_first_and_later_processes_agree(tmp_path: Path) -> None:
    (tmp_path / "some_kernels.py").write_text(_MODULE, "utf-8")
    kernels = str(tmp_path / "kernels")
    first, second = (run_python(_USE, tmp_path, TAUTOGRAPH_KERNELS=kernels) for _ in range(2))
    assert first.returncode == second.returncode == 0, first.stderr + second.stderr
    assert list((tmp_path / "kernels").rglob("*.nbc")), "nothing was kept for the second process"
    assert first.stdout == second.stdout
    assert first.stdout.splitlines()[1] == "[True, True]"
