"""Compiled kernels: one decorator, and a cache on disk that follows the kernels' sources.

Numba keys its cache by the file of the compiled function alone, so a change in a function that it calls would go
unnoticed; and an installed package may lie where the user cannot write. The cache therefore lives in the user's cache
folder, in a folder named for a digest of every kernel's source.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any, TypeVar, cast

from platformdirs import user_cache_path

_Function = TypeVar("_Function", bound=Callable[..., Any])
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


def kernel(function: _Function) -> _Function:
    """Compile at the first call, without the interpreter lock, and keep the machine code on disk."""
    import numba
    from numba.core import config

    setattr(config, "CACHE_DIR", str(kernel_folder()))  # noqa: B010  (numba declares no such attribute)
    return cast(_Function, numba.njit(nogil=True, cache=True, error_model="numpy")(function))


def inlined(function: _Function) -> _Function:
    """Compile a function that only kernels call; it is kept with its caller."""
    import numba

    return cast(_Function, numba.njit(nogil=True, error_model="numpy")(function))
