"""A classical test for outliers in one sample of roughly normal values."""

from __future__ import annotations

import numpy as np

from analysis.arrays import FloatArray


def critical_value(n: int, tail: float) -> float:
    """What |x - mean|/s of the furthest of n normal values exceeds with the chance n `tail`, as Grubbs did.

    Notes
    -----
    (n - 1)/sqrt(n) sqrt(t^2 / (n - 2 + t^2)) with t the quantile of Student's distribution with n - 2 degrees
    at 1 - `tail`.

    References
    ----------
    NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.1.
    """
    from scipy.special import stdtrit

    t = float(stdtrit(n - 2, 1.0 - tail))
    return (n - 1) / float(np.sqrt(n)) * float(np.sqrt(t * t / (n - 2 + t * t)))


def generalised_esd(values: FloatArray, most: int, significance: float = 0.05) -> list[int]:
    """Indices of the outliers, furthest first, by Rosner's generalised extreme studentised deviate.

    All `most` statistics are looked at before the number is settled: the largest i with R_i > lambda_i
    counts, so that two outliers cannot hide each other.

    References
    ----------
    B. Rosner, Technometrics 25 (1983) 165, as in the NIST/SEMATECH e-Handbook, 1.3.5.17.3.
    """
    left = list(range(len(values)))
    order: list[int] = []
    found = 0
    for i in range(1, min(most, len(values) - 2) + 1):
        sample = values[left]
        away = np.abs(sample - sample.mean())
        at = int(np.argmax(away))
        statistic = float(away[at] / sample.std(ddof=1))
        order.append(left.pop(at))
        n = len(sample)
        if statistic > critical_value(n, significance / (2.0 * n)):
            found = i
    return order[:found]
