"""Tool against joint: what a spindle does on all its joints, and what all spindles of a joint share.

A mixed model of the torque's departure from the target: joints fixed; spindles, spindles on single joints and
single tightenings random. The values enter by the number, mean and squares of each cell (spindle, joint).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.arrays import FloatArray

IntArray = NDArray[np.integer]

#: Deviations are sought up to so many times the values' own, that of single tightenings from a share on; the
#: other one, while one is held, not so far (own choices).
_MOST, _LEAST, _WIDEST = 1e3, 1e-4, 5.0


@dataclass(frozen=True)
class Effect:
    """An effect and its two-sided interval."""

    value: float
    low: float
    high: float

    def as_dict(self) -> dict[str, float | None]:
        """Plain values, for JSON; no end where none was found."""
        return {"value": self.value, "low": self.low, "high": self.high if math.isfinite(self.high) else None}


@dataclass(frozen=True)
class ToolAndJoint:
    """Effects and deviations in percent of each joint's target."""

    n: int  #: Tightenings.
    confidence: float  #: Of all intervals, two-sided.
    tool: Effect  #: Standard deviation between spindles that all joints share.
    tool_on_joint: Effect  #: What a spindle does on one joint alone, as a standard deviation.
    single: Effect  #: Standard deviation of a spindle's tightenings of one joint.
    #: By name: mean departure from the target, the joint's spindles together.
    joints: dict[str, Effect]
    #: By name: departure from the average spindle on all of its joints together.
    spindles: dict[str, Effect]

    def as_dict(self) -> dict[str, Any]:
        """Plain values, for JSON."""
        return {
            "n": self.n, "confidence": self.confidence, "unit": "percent of target",
            "tool_s": self.tool.as_dict(), "tool_on_joint_s": self.tool_on_joint.as_dict(),
            "single_s": self.single.as_dict(),
            "joints": {name: one.as_dict() for name, one in self.joints.items()},
            "spindles": {name: one.as_dict() for name, one in self.spindles.items()},
        }  # fmt: skip


@dataclass(frozen=True, eq=False)
class _Cells:
    """Number and mean of each cell, shape (spindles, joints), and the squares within all cells."""

    count: FloatArray
    mean: FloatArray
    squares: float
    degrees: int

    def solved(self, tool: float, on_joint: float, single: float) -> tuple[float, FloatArray, FloatArray]:
        """Twice the negative log restricted likelihood at standard deviations; joints' effects, covariance.

        Notes
        -----
        Cells of one spindle share its effect: their inverse covariance is diag(w) - c w w', with
        w = 1/(on_joint^2 + single^2/n) and c = tool^2/(1 + tool^2 sum w).
        """
        weight = self.weight(on_joint, single)
        total = weight.sum(axis=1)
        shared = tool**2 / (1.0 + tool**2 * total)
        normal = np.diag(weight.sum(axis=0)) - (weight * shared[:, None]).T @ weight
        right = (weight * self.mean).sum(axis=0) - weight.T @ (shared * (weight * self.mean).sum(axis=1))
        covariance = np.linalg.inv(normal)
        joints = covariance @ right
        rest = weight * (self.mean - joints)
        square = float((rest * (self.mean - joints)).sum() - (shared * rest.sum(axis=1) ** 2).sum())
        logs = float(np.log1p(tool**2 * total).sum() - np.log(weight[self.count > 0]).sum())
        logs += float(np.linalg.slogdet(normal)[1]) + 2.0 * self.degrees * math.log(single)
        return logs + square + self.squares / single**2, joints, covariance

    def weight(self, on_joint: float, single: float) -> FloatArray:
        """One over each cell mean's variance, nought where there is no cell."""
        known = self.count > 0
        return np.where(known, 1.0 / (on_joint**2 + single**2 / np.where(known, self.count, 1.0)), 0.0)


def part_tool_and_joint(
    values: FloatArray,
    spindle: tuple[IntArray, tuple[str, ...]],
    joint: tuple[IntArray, tuple[str, ...]],
    confidence: float,
) -> ToolAndJoint | str:
    """Part what tools and joints do to the torque; why it cannot be told otherwise.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Torque less target, in percent of the target.
    spindle, joint : (codes, names)
    confidence : float
        Of the two-sided intervals.

    Notes
    -----
    Deviations by restricted maximum likelihood, their intervals by its profile, that of single tightenings
    held; its own interval by chi-square within the cells. Intervals of effects by Student's t: joints with
    spindles - 1 degrees, spindles (not drawn towards the average) with those that cells leave over joints and
    spindles.
    """
    shape = (len(spindle[1]), len(joint[1]))
    cell = np.ravel_multi_index((spindle[0], joint[0]), shape)
    count = np.bincount(cell, minlength=shape[0] * shape[1]).astype(np.float64)
    mean = np.bincount(cell, values, len(count)) / np.maximum(count, 1.0)
    squares = float(((values - mean[cell]) ** 2).sum())
    known = count > 0
    cells = _Cells(count.reshape(shape), mean.reshape(shape), squares, len(values) - int(known.sum()))
    if min(shape) < 2:
        return "takes two joints and two spindles"
    spare = int(known.sum()) - sum(shape) + 1
    if np.linalg.matrix_rank(_both(cells, np.ones(shape))) < sum(shape) - 1 or spare < 1:
        return "too few spindles tightened several of the joints to tell one from the other"
    if not squares > 0.0 or cells.degrees < 1:
        return "no spindle tightened a joint twice with different torque"
    found, (tool, on_joint, single) = _deviations(cells, float(values.std()), confidence)
    _, means, covariance = cells.solved(*found)
    joints = _effects(joint[1], means, covariance, shape[0] - 1, confidence)
    spindles = _effects(spindle[1], *_spindles(cells, cells.weight(*found[1:])), spare, confidence)
    return ToolAndJoint(len(values), confidence, tool, on_joint, single, joints, spindles)


def _both(cells: _Cells, weight: FloatArray) -> FloatArray:
    """Normal equations of spindles and joints together, one degree of freedom too many."""
    weight = np.where(cells.count > 0, weight, 0.0)
    return np.block([[np.diag(weight.sum(axis=1)), weight], [weight.T, np.diag(weight.sum(axis=0))]])


def _spindles(cells: _Cells, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Each spindle's effect about their average, joints taken off, and its covariance."""
    seen = weight * cells.mean
    inverse = np.linalg.pinv(_both(cells, weight), hermitian=True)
    n = len(weight)
    about = np.hstack([np.eye(n) - 1.0 / n, np.zeros((n, weight.shape[1]))])
    right = np.concatenate([seen.sum(axis=1), seen.sum(axis=0)])
    return about @ inverse @ right, about @ inverse @ about.T


def _effects(
    names: tuple[str, ...], values: FloatArray, covariance: FloatArray, degrees: int, confidence: float
) -> dict[str, Effect]:
    from scipy.special import stdtrit

    half = float(stdtrit(degrees, 0.5 + confidence / 2.0)) * np.sqrt(np.diag(covariance))
    pairs = zip(names, values.tolist(), half.tolist(), strict=True)
    return {name: Effect(value, value - reach, value + reach) for name, value, reach in pairs}


def _deviations(
    cells: _Cells, scale: float, confidence: float
) -> tuple[tuple[float, float, float], tuple[Effect, Effect, Effect]]:
    """The three standard deviations, and each with its interval."""
    from scipy.special import chdtri

    tail = (1.0 - confidence) / 2.0
    tool, on_joint, single = (scale * one for one in _likeliest(cells, scale))
    allowed = cells.solved(tool, on_joint, single)[0] + float(chdtri(1, 1.0 - confidence))

    def of_tool(one: float, other: float) -> float:
        return cells.solved(scale * one, scale * other, single)[0] - allowed

    def of_tool_on_joint(one: float, other: float) -> float:
        return cells.solved(scale * other, scale * one, single)[0] - allowed

    over, alone = (
        Effect(value, *(scale * end for end in _interval(partial(_profile, of), value / scale)))
        for of, value in ((of_tool, tool), (of_tool_on_joint, on_joint))
    )
    ends = [math.sqrt(cells.squares / float(chdtri(cells.degrees, share))) for share in (tail, 1.0 - tail)]
    return (tool, on_joint, single), (over, alone, Effect(single, ends[0], ends[1]))


def _likeliest(cells: _Cells, scale: float) -> tuple[float, float, float]:
    """The deviations of the least likelihood term, in shares of `scale`."""
    from scipy.optimize import minimize

    def merit(variances: FloatArray) -> float:
        # The optimiser's finite differences may reach a hair below nought.
        tool, on_joint, single = scale * np.sqrt(np.maximum(variances, 0.0))
        return cells.solved(tool, on_joint, single)[0]

    bounds = [(0.0, _MOST), (0.0, _MOST), (_LEAST**2, _MOST)]
    done = minimize(merit, np.array([0.1, 0.1, 1.0]), method="L-BFGS-B", bounds=bounds,
                    options={"ftol": 1e-13, "gtol": 1e-7})  # fmt: skip
    tool, on_joint, single = np.sqrt(np.maximum(done.x, 0.0)).tolist()
    return tool, on_joint, single


def _profile(of: Callable[[float, float], float], held: float) -> float:
    """The least over the other deviation."""
    from scipy.optimize import minimize_scalar

    done = minimize_scalar(
        partial(of, held), bounds=(0.0, _WIDEST), method="bounded", options={"xatol": 1e-3}
    )
    return min(float(done.fun), of(held, 0.0))


def _interval(above: Callable[[float], float], found: float) -> tuple[float, float]:
    """Where the profile of a deviation passes what is allowed; nought, or unbounded, where it does not."""
    from scipy.optimize import brentq

    low = 0.0 if above(0.0) <= 0.0 else float(brentq(above, 0.0, found, xtol=1e-4, rtol=1e-3))
    far = 2.0 * max(found, 0.1)
    while above(far) < 0.0:
        far *= 2.0
        if far > _MOST:
            return low, math.inf
    return low, float(brentq(above, found, far, xtol=1e-4, rtol=1e-3))
