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

@kernel
def all_totals(values, found):
    for k in range(len(found)):
        found[k] = total(values[k:])
"""
_USE = """
import sys
sys.path.insert(0, sys.argv[1])
import numpy as np
from analysis.kernel_parts import kernel_compiler, njit
from some_kernels import all_spreads, all_totals, total
values = np.random.default_rng(5).normal(1e3, 1.0, 1000)
for kernel in (all_spreads, all_totals)[:: int(sys.argv[2])]:
    found = np.empty(200)
    kernel(values, found)
    print(kernel.__name__, found.tobytes().hex())
for kernel in (all_spreads, all_totals):
    compiled = njit(kernel.py_func, kernel_compiler())
    compiled(values, found)
    (made,) = compiled.overloads.values()
    print(*sorted(one.name for one in made.library.get_defined_functions() if one.linkage.name == "external"))
"""


def test_first_and_later_processes_agree(tmp_path: Path) -> None:
    (tmp_path / "some_kernels.py").write_text(_MODULE, "utf-8")
    kernels = tmp_path / "kernels"
    first, second, turned = (
        run_python(_USE, tmp_path, order, TAUTOGRAPH_KERNELS=str(kernels)) for order in ("1", "1", "-1")
    )
    assert first.returncode == second.returncode == turned.returncode == 0, first.stderr + second.stderr
    assert len(list(kernels.rglob("*.code"))) == 2, "nothing was kept for the second process"
    figures = [one.stdout.splitlines()[:2] for one in (first, second, turned)]
    assert figures[0] == figures[1] == figures[2][::-1]
    # What a kernel calls cannot be worked out by the copy of another, or of its own.
    for seen in first.stdout.splitlines()[2:]:
        assert "total" in seen or "spread" in seen
        assert len(seen.split()) == 3, seen


def test_a_part_by_itself_gives_what_it_gives_within_a_kernel(tmp_path: Path) -> None:
    (tmp_path / "some_kernels.py").write_text(_MODULE, "utf-8")
    alone = """
import sys
sys.path.insert(0, sys.argv[1])
import numpy as np
from some_kernels import all_totals, total
values, found = np.linspace(-1.0, 3.0, 257), np.empty(1)
all_totals(values, found)
print(abs(total(values) / found[0] - 1.0) < 1e-12, total.__name__)
"""
    done = run_python(alone, tmp_path, TAUTOGRAPH_KERNELS=str(tmp_path / "kernels"))
    assert done.stdout.split() == ["True", "total"], done.stderr


def test_other_compiled_functions_work_beside_kernels(tmp_path: Path) -> None:
    (tmp_path / "some_kernels.py").write_text(_MODULE, "utf-8")
    beside = """
import sys
sys.path.insert(0, sys.argv[1])
import numba
import numpy as np
from some_kernels import all_totals

@numba.njit
def zeros(n):
    return np.zeros((n, n)).sum() + np.median(np.arange(float(n)))

all_totals(np.ones(9), np.empty(3))
print(zeros(5))
"""
    done = run_python(beside, tmp_path, TAUTOGRAPH_KERNELS=str(tmp_path / "kernels"))
    assert done.stdout.split() == ["2.0"], done.stderr


def test_constants_make_no_further_copies_of_a_part(tmp_path: Path) -> None:
    (tmp_path / "some_kernels.py").write_text(
        """
from analysis.compilation import inner, kernel

@inner
def power(value, n):
    product = 1.0
    for _ in range(n):
        product *= value
    return product

@kernel
def powers(value, found):
    found[0], found[1], found[2] = power(value, 2), power(value, 3), power(value, len(found))
""",
        "utf-8",
    )
    use = """
import sys
sys.path.insert(0, sys.argv[1])
import numpy as np
from some_kernels import power, powers
found = np.empty(4)
powers(3.0, found)
print(*found[:3], len(power.in_kernels.signatures))
"""
    done = run_python(use, tmp_path, TAUTOGRAPH_KERNELS=str(tmp_path / "kernels"))
    assert done.stdout.split() == ["9.0", "27.0", "81.0", "1"], done.stderr
