"""Machine code of kernels, made callable without the library that compiled it.

That library takes as long to load, and to look through its own, as a small shift to judge. What compiled code
needs of it at run time are three small modules of its own in machine code.
"""

from __future__ import annotations

import builtins
import contextlib
import ctypes
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from importlib.machinery import PathFinder
from importlib.metadata import version
from importlib.util import find_spec, module_from_spec
from pathlib import Path
from types import ModuleType
from typing import Any

#: Functions of vector mathematics that only the compiler's library finds.
_VECTOR_MATHEMATICS = b"__svml_"
#: First and last version of numba (major, minor) whose compiled code was run with what `_define_names` knows;
#: any other is loaded whole.
_TRIED = ((0, 61), (0, 68))


@dataclass(frozen=True)
class MachineCode:
    """An object file.

    Parameters
    ----------
    entry, environment : str
        Names in it of what Python calls, and of the place for what that works in.
    called : tuple of str
        Names outside it that it calls.
    """

    entry: str
    environment: str
    called: tuple[str, ...]
    content: bytes

    def packed(self) -> bytes:
        """As bytes."""
        names = (self.entry, self.environment, " ".join(self.called))
        return b"\n".join((*(name.encode() for name in names), self.content))

    @classmethod
    def unpacked(cls, packed: bytes) -> MachineCode:
        """From bytes; raises ValueError where they are none."""
        *names, content = packed.split(b"\n", 3)
        entry, environment, called = (name.decode() for name in names)
        return cls(entry, environment, tuple(called.split()), content)


@cache
def made_for() -> tuple[object, ...]:
    """What machine code depends on beside its source: versions, the processor, the compiler's settings."""
    import llvmlite.binding as llvm

    chosen = sorted((name, value) for name, value in os.environ.items() if name.startswith("NUMBA_"))
    processor = (llvm.get_process_triple(), llvm.get_host_cpu_name(), llvm.get_host_cpu_features().flatten())
    return (sys.version, version("numba"), version("llvmlite"), *processor, *chosen)


def _numba_version() -> tuple[int, int]:
    major, minor = version("numba").split(".")[:2]
    return int(major), int(minor)


def callable_from(code: MachineCode, name: str) -> Callable[..., Any]:
    """What Python calls.

    Raises
    ------
    RuntimeError, OSError, ValueError
        Where the code or what it needs cannot be loaded.
    """
    import llvmlite.binding as llvm

    known = sys.platform == "linux" and _TRIED[0] <= _numba_version() <= _TRIED[1]
    _define_names(everything=not known or _VECTOR_MATHEMATICS in code.content)
    content = llvm.ObjectFileRef.from_data(code.content)
    machine = llvm.Target.from_triple(llvm.get_process_triple()).create_target_machine(jit=True)
    # Each in a place of its own: two kernels may hold different functions of one name.
    engine = llvm.create_mcjit_compiler(llvm.parse_assembly(""), machine)
    unknown = [one for one in code.called if llvm.address_of_symbol(one) is None]
    if unknown:
        raise RuntimeError(f"{name}: nothing is called {', '.join(unknown)}")
    engine.add_object_file(content)
    engine.finalize_object()
    entry, place = engine.get_function_address(code.entry), engine.get_global_value_address(code.environment)
    if not entry or not place:
        raise ValueError(f"no {code.entry} in the machine code")
    functions = _of_numba("_dynfunc")
    environment = functions.Environment({})
    ctypes.c_void_p.from_address(place).value = id(environment)
    made: Callable[..., Any] = functions.make_function(
        sys.modules[__name__], name, "", entry, environment, (engine,)
    )
    return made


@cache
def _define_names(*, everything: bool) -> None:
    """Tell the linker what compiled code calls.

    Parameters
    ----------
    everything
        Load the whole library, which knows what some systems lack.
    """
    import llvmlite.binding as llvm

    with contextlib.suppress(RuntimeError):  # versions that do it by themselves refuse
        llvm.initialize()
    llvm.initialize_native_target()
    llvm.initialize_native_asmprinter()
    if everything:
        from analysis.compiler_library import load_target

        load_target()
    llvm.add_symbol("_Py_NoneStruct", id(None))
    for kind in vars(builtins).values():
        if isinstance(kind, type) and issubclass(kind, BaseException):
            llvm.add_symbol(f"PyExc_{kind.__name__}", id(kind))
    for module in ("_helperlib", "_dynfunc"):
        for name, address in _of_numba(module).c_helpers.items():
            llvm.add_symbol(f"numba_{name}", address)
            llvm.add_symbol(name, address)  # functions of mathematics go by their own name
    runtime = _of_numba("core.runtime._nrt_python")
    runtime.memsys_use_cpython_allocator()
    for name, address in runtime.c_helpers.items():
        llvm.add_symbol(name if name.startswith("_") else f"NRT_{name}", address)
    llvm.add_symbol("NRT_MemInfo_data_fast", runtime.c_helpers["MemInfo_data"])


def _of_numba(name: str) -> ModuleType:
    """One of its modules in machine code, without the rest."""
    whole = f"numba.{name}"
    if whole in sys.modules:
        return sys.modules[whole]
    package = find_spec("numba")
    *folders, _last = name.split(".")
    places = [] if package is None else package.submodule_search_locations or []
    found = PathFinder.find_spec(whole, [str(Path(place, *folders)) for place in places])
    if found is None or found.loader is None:
        raise OSError(f"{whole} is not installed")
    module = module_from_spec(found)
    found.loader.exec_module(module)
    return sys.modules.setdefault(whole, module)
