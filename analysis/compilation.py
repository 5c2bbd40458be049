"""Compiled kernels: one decorator, and a cache on disk that follows the kernels' sources.

Numba keys its cache by the file of the compiled function alone, so a change in a function that it calls would go
unnoticed; and an installed package may lie where the user cannot write. The cache therefore lives in the user's cache
folder, in a folder named for a digest of every kernel's source.
"""

from __future__ import annotations

import hashlib
import os
import threading
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

from platformdirs import user_cache_path

_Function = TypeVar("_Function", bound=Callable[..., Any])
_FIRST_CALLS = threading.RLock()
_OWN_IMPORT = b"from analysis.compilation import"


@cache
def kernel_folder() -> Path:
    """Folder that holds the compiled kernels of exactly these sources."""
    digest = hashlib.sha256()
    for source in sorted(Path(__file__).parent.rglob("*.py")):
        text = source.read_bytes()
        if _OWN_IMPORT in text or source.name == Path(__file__).name:
            digest.update(text)
    chosen = os.environ.get("TAUTOGRAPH_KERNELS")
    root = Path(chosen) if chosen else user_cache_path("tautograph", appauthor=False)
    return root / f"kernels-{digest.hexdigest()[:16]}"


def is_compiled() -> bool:
    """Whether an earlier run left compiled kernels; if not, the first call takes some tens of seconds."""
    return any(kernel_folder().glob("**/*.nbi"))


class _Kernel:
    """A compiled function whose first call in a process is made by one thread at a time.

    Compiling, or loading from the cache, imports further modules while the compiler's lock is held; a second thread
    that imports one of them and then waits for the compiler would never end.
    """

    def __init__(self, compiled: Any) -> None:
        self._compiled = compiled
        self._loaded = False
        self.__doc__ = compiled.__doc__
        self.__name__ = compiled.__name__

    def __call__(self, *arguments: Any) -> Any:
        if self._loaded:
            return self._compiled(*arguments)
        with _FIRST_CALLS:
            _import_what_loading_needs()
            answer = self._compiled(*arguments)
            self._loaded = True
        return answer

    def __getattr__(self, name: str) -> Any:
        return getattr(self._compiled, name)


@cache
def _import_what_loading_needs() -> None:
    """What the compiler imports at its first use; done here, before its own lock is taken.

    It would load the whole of scipy's linear algebra (130 ms) only to learn whether kernels may multiply
    matrices. None does: it is told that they may not, as it is where scipy is missing.
    """
    import numba.np.linalg as linear_algebra

    known = linear_algebra.__dict__.get("ensure_blas", _no_matrices)
    linear_algebra.__dict__["ensure_blas"] = _no_matrices
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        linear_algebra.__dict__["ensure_blas"] = known


def _no_matrices() -> None:
    raise ImportError("kernels do not multiply matrices")


def kernel(function: _Function) -> _Function:
    """Compile at the first call, without the interpreter lock, and keep the machine code on disk."""
    with _FIRST_CALLS:
        import numba
        from numba.core import config

        setattr(config, "CACHE_DIR", str(kernel_folder()))  # noqa: B010  (numba declares no such attribute)
        return cast(_Function, _Kernel(numba.njit(nogil=True, cache=True, error_model="numpy")(function)))


def inlined(function: _Function) -> _Function:
    """Compile a function that only kernels call; it becomes part of each caller.

    Always: a function that is called stands in memory twice while kernels are compiled, once by itself and once
    with its caller, worked out in another order. The process that compiles would use the one and all later
    processes the other, and the same recordings would give figures that differ in their last digits, or where a
    curve hardly says anything in more.
    """
    with _FIRST_CALLS:
        import numba

        return cast(_Function, numba.njit(nogil=True, error_model="numpy", forceinline=True)(function))


def summing(function: _Function) -> _Function:
    """As `inlined`, over values that are all finite, in whatever order is quickest.

    Several values are then worked out at once; sums may differ in their last digits from those taken in order.
    """
    with _FIRST_CALLS:
        import numba

        quick = {"reassoc", "contract", "nsz", "arcp", "nnan"}
        compiled = numba.njit(nogil=True, error_model="numpy", fastmath=quick, forceinline=True)(function)
        return cast(_Function, compiled)
