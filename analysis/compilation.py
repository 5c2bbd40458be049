"""Compiled kernels: one decorator, and a cache on disk that follows the kernels' sources.

Numba keys its cache by the file of the compiled function alone, so a change in a function that it calls would go
unnoticed; and an installed package may lie where the user cannot write. The cache therefore lives in the user's cache
folder, in a folder named for a digest of every kernel's source and of what kernels take from beside them.
"""

from __future__ import annotations

import gc
import hashlib
import os
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, cached_property
from pathlib import Path
from typing import Any, TypeVar, cast

from platformdirs import user_cache_path

from analysis.kernel_cache import ENDING, keep_on_disk, numba_library
from analysis.kernel_parts import kernel_compiler, once_for_all_constants, part_compiler

_Function = TypeVar("_Function", bound=Callable[..., Any])
_FIRST_CALLS = threading.RLock()
_OWN_IMPORT = b"from analysis.compilation import"
#: How everything is compiled: without the interpreter lock, and dividing by zero as numpy does.
_HOW: dict[str, Any] = {"nogil": True, "error_model": "numpy"}


@cache
def kernel_folder() -> Path:
    """Folder that holds the compiled kernels of exactly these sources."""
    here = Path(__file__).parent
    texts = {source: source.read_bytes() for source in sorted(here.rglob("*.py"))}
    makers = {Path(__file__), here / "kernel_parts.py"}
    kernels = {source: text for source, text in texts.items() if _OWN_IMPORT in text or source in makers}
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
        with _FIRST_CALLS, _no_search_for_garbage():
            _import_what_loading_needs()
            answer = self._compiled(*arguments)
            self._loaded = True
        return answer

    def __getattr__(self, name: str) -> Any:
        return getattr(self._compiled, name)


@contextmanager
def _no_search_for_garbage() -> Iterator[None]:
    """Nearly all that a compiler makes stays until it is done: looking for what does not takes a tenth of its time."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


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


class _Part:
    """A function that kernels call. Called by itself, as tests do, it is compiled for that."""

    def __init__(self, function: Callable[..., Any], in_kernels: Any, options: dict[str, Any]) -> None:
        self._function, self._in_kernels, self._options = function, in_kernels, options
        self.__doc__ = function.__doc__
        self.__name__ = function.__name__

    @property
    def _numba_type_(self) -> Any:
        return self._in_kernels._numba_type_

    @cached_property
    def _alone(self) -> Any:
        return numba_library().njit(pipeline_class=kernel_compiler(), **self._options)(self._function)

    def __call__(self, *arguments: Any) -> Any:
        return self._alone(*arguments)


def _part(function: _Function, **options: Any) -> _Function:
    options |= _HOW
    wrappers = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    with _FIRST_CALLS:
        in_kernels = numba_library().njit(pipeline_class=part_compiler(), **wrappers, **options)(function)
    if in_kernels is function:
        return function  # interpreted (NUMBA_DISABLE_JIT)
    once_for_all_constants(in_kernels)
    return cast(_Function, _Part(function, in_kernels, options))


def kernel(function: _Function) -> _Function:
    """Compile at the first call, without the interpreter lock, and keep the machine code on disk."""
    with _FIRST_CALLS:
        compiled = numba_library().njit(pipeline_class=kernel_compiler(), **_HOW)(function)
        keep_on_disk(compiled, kernel_folder())
        return cast(_Function, _Kernel(compiled))


def inner(function: _Function) -> _Function:
    """Compile a function that only kernels call, in the order of its own code."""
    return _part(function)


def inner_finite(function: _Function) -> _Function:
    """As `inner`, over values that are all finite: branches for what is not a number fall away, and several values
    are worked out at once. The figures are those of `inner`."""
    return _part(function, fastmath={"nnan", "nsz"})


def inlined(function: _Function) -> _Function:
    """As `inner`, and it becomes part of each caller: quicker where its arguments are constants there. It costs time of
    compiling in each of them."""
    return _part(function, forceinline=True)


def summing(function: _Function) -> _Function:
    """As `inner`, over values that are all finite, in whatever order is quickest.

    Several values are then worked out at once; sums may differ in their last digits from those taken in order, but not
    from process to process (see `analysis.kernel_parts`).
    """
    quick = {"reassoc", "contract", "nsz", "arcp", "nnan"}
    return _part(function, fastmath=quick)
