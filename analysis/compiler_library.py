"""The library that compiles kernels; loaded only to compile."""

from __future__ import annotations

import os
import sys
import warnings
from functools import cache
from types import ModuleType


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


def load_target() -> None:
    """Let numba tell the linker all that it knows."""
    numba_library()
    from numba.core.registry import cpu_target

    cpu_target.target_context.refresh()
