"""Compiled kernels: one decorator, and a cache on disk that follows the kernels' sources.

Numba keys its cache by the file of the compiled function alone, so a change in a function that it calls would go
unnoticed; and an installed package may lie where the user cannot write. The cache therefore lives in the user's cache
folder, in a folder named for a digest of every kernel's source and of what kernels take from beside them.
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

from analysis.kernel_cache import ENDING, keep_on_disk, numba_library

_Function = TypeVar("_Function", bound=Callable[..., Any])
_FIRST_CALLS = threading.RLock()
_OWN_IMPORT = b"from analysis.compilation import"


@cache
def kernel_folder() -> Path:
    """Folder that holds the compiled kernels of exactly these sources."""
    here = Path(__file__).parent
    texts = {source: source.read_bytes() for source in sorted(here.rglob("*.py"))}
    kernels = {
        source: text for source, text in texts.items() if _OWN_IMPORT in text or source == Path(__file__)
    }
    digest = hashlib.sha256()
    for source, text in texts.items():
        name = ".".join((here.name, *source.relative_to(here).with_suffix("").parts))
        beside = (other for place, other in kernels.items() if place.parent == source.parent != here)
        if source in kernels or any(f"from {name} import".encode() in other for other in beside):
            digest.update(text)
    chosen = os.environ.get("TAUTOGRAPH_KERNELS")
    root = Path(chosen) if chosen else user_cache_path("tautograph", appauthor=False)
    return root / f"kernels-{digest.hexdigest()[:16]}"


def is_compiled() -> bool:
    """Whether an earlier run left compiled kernels; if not, the first call takes some tens of seconds."""
    return any(kernel_folder().glob(f"**/*{ENDING}"))


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
        compiled = numba_library().njit(nogil=True, error_model="numpy")(function)
        keep_on_disk(compiled, kernel_folder())
        return cast(_Function, _Kernel(compiled))


def inner(function: _Function) -> _Function:
    """Compile a function that only kernels call, in the order of its own code.

    It stands in memory twice while kernels are compiled, by itself and within its caller, and the compiling process may
    use the one and later processes the other. Both give the same figures to the last digit, since no licence to
    reorder or to contract is given. It must not call what is `summing`, nor what is `inlined` for its sake.
    """
    with _FIRST_CALLS:
        return cast(_Function, numba_library().njit(nogil=True, error_model="numpy")(function))


def inner_finite(function: _Function) -> _Function:
    """As `inner`, over values that are all finite: branches for what is not a number fall away, and several values
    are worked out at once. The figures are those of `inner`."""
    with _FIRST_CALLS:
        finite = numba_library().njit(nogil=True, error_model="numpy", fastmath={"nnan", "nsz"})
        return cast(_Function, finite(function))


def inlined(function: _Function) -> _Function:
    """Compile a function that only kernels call and that holds something `summing`; it becomes part of each caller.

    Always: a sum in free order, called by itself in the process that compiles and with its caller in all later ones,
    would be worked out in two orders, and the same recordings would give figures that differ in their last digits, or
    where a curve hardly says anything in more. Inlining costs compiling time: what sums nothing freely is `inner`.
    """
    with _FIRST_CALLS:
        quick = numba_library().njit(nogil=True, error_model="numpy", forceinline=True)
        return cast(_Function, quick(function))


def summing(function: _Function) -> _Function:
    """As `inlined`, over values that are all finite, in whatever order is quickest.

    Several values are then worked out at once; sums may differ in their last digits from those taken in order.
    """
    with _FIRST_CALLS:
        quick = {"reassoc", "contract", "nsz", "arcp", "nnan"}
        summed = numba_library().njit(nogil=True, error_model="numpy", fastmath=quick, forceinline=True)
        return cast(_Function, summed(function))
