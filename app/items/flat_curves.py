"""What the plotting loops read: flat arrays shared with the recordings, and one shift a trace."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from threading import Lock
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from app.items.coverage import Layer


class FlatCurves:
    """Curves as flat x and y with offsets; aligning is one subtraction of `shift` from x.

    Parameters
    ----------
    x : ndarray, shape (n_samples_total,)
        Shared with the recordings, never copied.
    make_y : callable
        Gives y of the same shape; called once, by whichever thread needs it first.
    offsets : ndarray, shape (n_traces + 1,)
    shift : ndarray, shape (n_traces,)
        In units of x; NaN for a trace that cannot be placed and is not drawn.
    """

    def __init__(
        self,
        x: NDArray[np.float64],
        make_y: Callable[[], NDArray[np.floating]],
        offsets: NDArray[np.int64],
        shift: NDArray[np.float64],
    ) -> None:
        self.x = x
        self.offsets = offsets
        self.shift = shift
        self._make_y = make_y
        self._lock = Lock()

    @cached_property
    def _y(self) -> NDArray[np.floating]:
        return self._make_y()

    @property
    def y(self) -> NDArray[np.floating]:
        """Ordinates; made at the first call where they are derived."""
        with self._lock:
            return self._y

    @cached_property
    def lengths(self) -> NDArray[np.int64]:
        """Samples of each trace."""
        return np.diff(self.offsets)

    def samples_of(self, layer: Layer) -> int:
        """Samples of all traces of a layer."""
        return int(sum(self.lengths[group.rows].sum() for group in layer.groups))

    def of_row(self, row: int) -> tuple[NDArray[np.float64], NDArray[np.floating]]:
        """Aligned x and y of one trace."""
        part = slice(int(self.offsets[row]), int(self.offsets[row + 1]))
        return self.x[part] - self.shift[row], self.y[part]

    def joined(self, rows: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Several traces as one line, a NaN between each two."""
        parts = [self.of_row(int(row)) for row in rows if np.isfinite(self.shift[row])]
        if not parts:
            return np.empty(0), np.empty(0)
        gap = np.array([np.nan])
        x = np.concatenate([piece for part in parts for piece in (part[0], gap)])
        y = np.concatenate([piece for part in parts for piece in (part[1], gap)])
        return x, y
