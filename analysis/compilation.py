"""Compiled kernels: one decorator, and a cache on disk that follows the kernels' sources.

Numba's own cache has to be asked by numba, which takes half a second to load, and it goes by the file of the compiled
function alone. Here the machine code lies in the user's cache folder, in a folder named for a digest of every kernel's
source and of what kernels take from beside them, and is called without numba (`analysis.machine_code`): that is loaded
only to compile.
"""

from __future__ import annotations

import hashlib
import os
import re
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache, cached_property
from pathlib import Path
from typing import Any, TypeVar, cast

import numpy as np
from platformdirs import user_cache_path

from analysis.kernel_cache import ENDING, code_path, keep, unsealed
from analysis.machine_code import MachineCode, callable_from, made_for

_Function = TypeVar("_Function", bound=Callable[..., Any])
#: Held by whoever compiles or links. The compiler takes its own lock and then that of the linker's library, which takes
#: the compiler's in turn: two threads that began at either end would never end.
_COMPILING = threading.RLock()
_OWN_IMPORT = b"from analysis.compilation import"
_TAKEN = re.compile(rb"from analysis\.([\w.]+) import")
#: Seconds after which code that another process makes is looked for again.
_LOOKED_FOR_S = 0.02
#: Kinds of Python's own numbers within kernels.
_NUMBERS = {bool: np.dtype(np.bool_).str, int: np.dtype(np.int64).str, float: np.dtype(np.float64).str}


@cache
def kernel_folder() -> Path:
    """Folder that holds the compiled kernels of exactly these sources."""
    here = Path(__file__).parent
    texts = {source: source.read_bytes() for source in sorted(here.rglob("*.py"))}
    makers = {
        Path(__file__),
        *(here / f"{name}.py" for name in ("kernel_parts", "machine_code", "compiler_library")),
    }
    kernels = {source: text for source, text in texts.items() if _OWN_IMPORT in text or source in makers}
    beside = {
        taken
        for source, text in kernels.items()
        for name in _TAKEN.findall(text)
        if (taken := here.joinpath(*name.decode().split(".")).with_suffix(".py")).parent
        == source.parent
        != here
    }
    digest = hashlib.sha256(
        b"".join(text for place, text in texts.items() if place in kernels.keys() | beside)
    )
    chosen = os.environ.get("TAUTOGRAPH_KERNELS")
    root = Path(chosen) if chosen else user_cache_path("tautograph", appauthor=False)
    return root / f"kernels-{digest.hexdigest()[:16]}"


def is_compiled() -> bool:
    """Whether an earlier run left compiled kernels; if not, the first call takes some tens of seconds."""
    return any(kernel_folder().glob(f"**/*{ENDING}"))


class Compilations:
    """What is compiled in this process, by whichever thread, or for it by others, and who wants to know."""

    def __init__(self) -> None:
        self.running = 0
        self.heard_by: list[Callable[[], None]] = []
        #: Processes that compile for this one.
        self.beside: list[subprocess.Popen[bytes]] = []
        #: Names of what they compile.
        self.awaited: frozenset[str] = frozenset()

    @contextmanager
    def told(self) -> Iterator[None]:
        """Tell that something is being compiled meanwhile."""
        self.running += 1
        try:
            for hear in list(self.heard_by):
                hear()
            yield
        finally:
            self.running -= 1

    def still_to_come(self, name: str) -> bool:
        """Whether a process may yet compile what is called so."""
        return name in self.awaited and any(one.poll() is None for one in self.beside)


#: Those of this process.
COMPILATIONS = Compilations()


def interpreted() -> bool:
    """Whether kernels are left to Python, as tests of their lines want it (NUMBA_DISABLE_JIT)."""
    return os.environ.get("NUMBA_DISABLE_JIT", "0") not in ("", "0")


def kind_of(argument: Any) -> str:
    """What a kernel is compiled for: the kind of its values, the dimensions and order of an array.

    Raises
    ------
    TypeError
        For what kernels do not take.
    """
    if isinstance(argument, np.ndarray) and argument.dtype.kind in "biuf":
        flags = argument.flags
        order = "C" if flags.c_contiguous else "F" if flags.f_contiguous else "A"
        return f"{argument.dtype.str}{argument.ndim}{order}{'' if flags.writeable else 'r'}"
    if isinstance(argument, np.generic):
        return argument.dtype.str
    if isinstance(argument, tuple):
        return f"({','.join(map(kind_of, argument))})"
    if type(argument) in _NUMBERS:
        return _NUMBERS[type(argument)]
    raise TypeError(f"a kernel takes arrays of numbers, numbers and tuples of them, not {argument!r}")


class _Kernel:
    """A function that is loaded, or compiled, for each kind of arguments when it is first called with them."""

    def __init__(self, function: Callable[..., Any]) -> None:
        self.py_func = function
        self.__doc__ = function.__doc__
        self.__name__ = function.__name__
        #: What is called, by the kinds of its arguments.
        self.ready: dict[tuple[str, ...], Callable[..., Any]] = {}

    def __call__(self, *arguments: Any) -> Any:
        kinds = tuple(map(kind_of, arguments))
        ready = self.ready.get(kinds)
        if ready is None:
            ready = self.ready[kinds] = (
                self._loaded(kinds) or self._awaited(kinds) or self._compiled(kinds, arguments)
            )
        return ready(*arguments)

    @cached_property
    def _own(self) -> tuple[str, str]:
        """Its name, and a digest of the file it stands in."""
        source = Path(self.py_func.__code__.co_filename).read_bytes()
        return f"{self.py_func.__module__}.{self.__name__}", hashlib.sha256(source).hexdigest()

    def _path(self, kinds: tuple[str, ...]) -> Path:
        name, source = self._own
        with _COMPILING:
            return code_path(kernel_folder(), name, (made_for(), source, kinds))

    def _loaded(self, kinds: tuple[str, ...]) -> Callable[..., Any] | None:
        """From the disk; None where there is none, or none that can be used: it is made again."""
        packed = unsealed(self._path(kinds))
        if packed is None:
            return None
        try:
            with _COMPILING:
                return callable_from(MachineCode.unpacked(packed), self.__name__)
        except (RuntimeError, OSError, ValueError):
            return None

    def _awaited(self, kinds: tuple[str, ...]) -> Callable[..., Any] | None:
        """From a process beside; None where none makes it."""
        if not COMPILATIONS.still_to_come(self.__name__):
            return None
        path = self._path(kinds)
        with COMPILATIONS.told():
            while COMPILATIONS.still_to_come(self.__name__) and not path.is_file():
                time.sleep(_LOOKED_FOR_S)
        return self._loaded(kinds)

    def _compiled(self, kinds: tuple[str, ...], arguments: tuple[Any, ...]) -> Callable[..., Any]:
        with _COMPILING:
            made = self._loaded(kinds)  # by another thread, or process, meanwhile
            if made is None:
                from analysis.kernel_parts import compiled

                with COMPILATIONS.told():
                    code = compiled(self.py_func, arguments)
                keep(self._path(kinds), code.packed())
                made = callable_from(code, self.__name__)
            return made


class _Part:
    """A function that kernels call. Called by itself, as tests do, it is compiled for that."""

    def __init__(self, function: Callable[..., Any], options: dict[str, Any]) -> None:
        self._function, self._options = function, options
        self.__doc__ = function.__doc__
        self.__name__ = function.__name__

    @cached_property
    def in_kernels(self) -> Any:
        """As the compiler knows it."""
        from analysis.kernel_parts import translated_once

        return translated_once(self._function, **self._options)

    @property
    def _numba_type_(self) -> Any:
        return self.in_kernels._numba_type_

    @cached_property
    def _alone(self) -> Any:
        from analysis.kernel_parts import kernel_compiler, njit

        return njit(self._function, kernel_compiler(), **self._options)

    def __call__(self, *arguments: Any) -> Any:
        return self._alone(*arguments)


def _part(function: _Function, **options: Any) -> _Function:
    return function if interpreted() else cast(_Function, _Part(function, options))


def kernel(function: _Function) -> _Function:
    """Compile at the first call, without the interpreter lock, and keep the machine code on disk."""
    return function if interpreted() else cast(_Function, _Kernel(function))


def inner(function: _Function) -> _Function:
    """Compile a function that only kernels call, in the order of its own code.

    It can make no arrays, nor return any: it works in what it is given, and so need not count who uses what.
    """
    return _part(function)


def making_arrays(function: _Function) -> _Function:
    """As `inner`, but it may make arrays."""
    return _part(function, _nrt=True)


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
