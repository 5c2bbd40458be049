"""What every fit needs: normal equations solved, weights of Beaton and Tukey, and how residuals hang together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from analysis.compilation import inlined, inner

FloatArray = NDArray[np.float64]

#: Bisquare constant for 95 % efficiency on normal errors (Beaton and Tukey 1974).
BISQUARE = 4.685
#: A pivot that has lost all but this share of its diagonal is singular in double precision.
SINGULAR = 1e-13


@inlined
def cholesky_solve(matrix: FloatArray, right: FloatArray, n: int, out: FloatArray) -> bool:
    """Solve the symmetric positive definite system in place; False where it is singular."""
    for i in range(n):
        for j in range(i + 1):
            total = matrix[i, j]
            for k in range(j):
                total -= matrix[i, k] * matrix[j, k]
            if i == j:
                if total <= SINGULAR * matrix[i, i] or not total > 0.0:
                    return False
                matrix[i, i] = np.sqrt(total)
            else:
                matrix[i, j] = total / matrix[j, j]
    for i in range(n):
        total = right[i]
        for k in range(i):
            total -= matrix[i, k] * out[k]
        out[i] = total / matrix[i, i]
    for i in range(n - 1, -1, -1):
        total = out[i]
        for k in range(i + 1, n):
            total -= matrix[k, i] * out[k]
        out[i] = total / matrix[i, i]
    return True


@inner
def correlation_factor(residual: FloatArray, n: int) -> float:
    """Variance inflation (1 + r) / (1 - r) by the lag-one correlation of the residuals, between 1 and 6."""
    product = square = 0.0
    for k in range(n):
        square += residual[k] * residual[k]
        if k > 0:
            product += residual[k] * residual[k - 1]
    r = min(max(product / square if square > 0.0 else 0.0, 0.0), 5.0 / 7.0)
    return (1.0 + r) / (1.0 - r)
