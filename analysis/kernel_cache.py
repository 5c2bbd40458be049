"""Machine code of kernels on disk: whole and unchanged, or made again.

Numba's own cache ends the program over a damaged file, and over a full disk after all has been compiled; and
two processes at once may exchange the code of two signatures. Here each piece of code has a file named for
what it is, sealed by a digest and put in place whole.
"""

from __future__ import annotations

import hashlib
import os
import sys
import warnings
from functools import cache
from pathlib import Path
from types import ModuleType
from typing import Any

from analysis.whole_file import write_whole

ENDING = ".nbc"
#: Why code was not kept in this process, in words; told by `analysis.first_run`.
not_kept: list[str] = []


@cache
def numba_library() -> ModuleType:
    """Numba, deaf to a settings file in the current folder: that may be the folder of the data."""
    missing = object()
    known = sys.modules.get("yaml", missing)
    sys.modules["yaml"] = None  # type: ignore[assignment]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # says that there is such a file
            from numba.core import config
    finally:
        del sys.modules["yaml"]
        if known is not missing:
            sys.modules["yaml"] = known  # type: ignore[assignment]
    setattr(config, "_config_fname", os.devnull)  # noqa: B010  (looked for again whenever something is compiled)
    import numba

    return numba


def keep_on_disk(dispatcher: Any, folder: Path) -> None:
    """Let a compiled function keep its code below this folder; where it cannot, it is compiled each time."""
    if not hasattr(dispatcher, "enable_caching"):
        return  # interpreted (NUMBA_DISABLE_JIT): there is no code to keep
    from numba.core import caching, config

    setattr(config, "CACHE_DIR", str(folder))  # noqa: B010  (numba declares no such attribute)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        dispatcher.enable_caching()
        made = dispatcher._cache
        if not Path(made.cache_path).is_relative_to(folder):  # numba would rather write beside the source
            raise OSError(f"{folder} cannot be written")
    except (OSError, RuntimeError) as error:
        dispatcher._cache = caching.NullCache()
        not_kept.append(_why(error))
        return
    made.__class__ = _sealed_cache()
    made._cache_file.__class__ = _sealed_file()
    source = dispatcher.py_func.__code__
    name = f"{dispatcher.py_func.__module__}.{source.co_name}"
    own = hashlib.sha256(Path(source.co_filename).read_bytes()).hexdigest()[:16]
    made._cache_file.place, made._cache_file.own = folder / name, own


def _why(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


@cache
def _sealed_cache() -> type:
    from numba.core.caching import FunctionCache

    class SealedCache(FunctionCache):
        """Code that cannot be used is as good as none; code that cannot be kept works all the same."""

        def load_overload(self, sig: Any, target_context: Any) -> Any:
            try:
                return super().load_overload(sig, target_context)  # type: ignore[no-untyped-call]
            except Exception:  # of another build of the compiler, say: whatever it is, it is made again
                return None

        def save_overload(self, sig: Any, data: Any) -> None:
            try:
                super().save_overload(sig, data)  # type: ignore[no-untyped-call]
            except OSError as error:
                not_kept.append(_why(error))

    return SealedCache


@cache
def _sealed_file() -> type:
    import pickle

    from numba.core.caching import IndexDataCacheFile
    from numba.core.serialize import dumps as pickled

    class SealedFile(IndexDataCacheFile):
        """One file for each signature on each kind of processor, without an index that could be out of step.

        Wherever the program lies: what counts is its content.
        """

        place: Path
        own: str

        def load(self, key: Any) -> Any:
            content = unsealed(self._path(key))
            return None if content is None else pickle.loads(content)

        def save(self, key: Any, data: Any) -> None:
            content = pickled(data)  # type: ignore[no-untyped-call]
            write_whole(self._path(key), sealed(content))

        def _path(self, key: Any) -> Path:
            what = repr((self._version, sys.version, self.own, key))
            return self.place.with_name(
                f"{self.place.name}.{hashlib.sha256(what.encode()).hexdigest()[:16]}{ENDING}"
            )

    return SealedFile


def sealed(content: bytes) -> bytes:
    """The content behind its digest."""
    return hashlib.sha256(content).digest() + content


def unsealed(path: Path) -> bytes | None:
    """The content of a file; None where it is missing or not what was written."""
    try:
        data = path.read_bytes()
    except OSError:
        return None
    digest, content = data[:32], data[32:]
    return content if hashlib.sha256(content).digest() == digest else None
