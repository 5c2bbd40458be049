"""How a kernel is put together: what it calls is translated once and compiled within it, as one piece.

Left to itself numba optimises every function, and makes machine code of it, again at each level of callers:
most of the time of compiling. And a function may be worked out by its own copy in the process that compiles
and by the kernel's in later ones, so that sums in free order differ in their last digits. Here the functions
of a kernel stay as they were translated until all of them stand in the kernel, private to it; that is
compiled once, and what later processes load is what ran.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from typing import Any

from analysis.compiler_library import numba_library
from analysis.machine_code import MachineCode

#: How everything is compiled: without the interpreter lock, and dividing by zero as numpy does.
_HOW: dict[str, Any] = {"nogil": True, "error_model": "numpy"}


def compiled(function: Callable[..., Any], arguments: tuple[Any, ...]) -> MachineCode:
    """A kernel for arguments of these kinds; one thread at a time."""
    with _no_search_for_garbage():
        numba_library()
        _import_what_compiling_needs()
        dispatcher = njit(function, kernel_compiler())
        dispatcher.compile(tuple(map(dispatcher.typeof_pyval, arguments)))
        (made,) = dispatcher.overloads.values()
        module, environment = made.library._final_module, dispatcher.targetctx.get_env_name(made.fndesc)
        declared = (one.name for one in module.functions if one.is_declaration)
        called = tuple(sorted(name for name in declared if not name.startswith("llvm.")))
        return MachineCode(
            made.fndesc.llvm_cpython_wrapper_name, environment, called, made.library._get_compiled_object()
        )


def njit(function: Callable[..., Any], compiler: type, **options: Any) -> Any:
    """Numba's decorator."""
    return numba_library().njit(pipeline_class=compiler, **_HOW, **options)(function)


def translated_once(function: Callable[..., Any], **options: Any) -> Any:
    """A part, for the compiler to find in kernels."""
    # Counting references to arrays took a tenth of a kernel's time: a part makes none unless it says so.
    options = {"_nrt": False, **options}
    part = njit(function, part_compiler(), no_cpython_wrapper=True, no_cfunc_wrapper=True, **options)
    once_for_all_constants(part)
    return part


@contextmanager
def _no_search_for_garbage() -> Iterator[None]:
    """Nearly all that a compiler makes stays until it is done: looking for what does not takes a tenth of its
    time."""
    before = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if before:
            gc.enable()


@cache
def _import_what_compiling_needs() -> None:
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


def once_for_all_constants(part: Any) -> None:
    """Translate a part once, whatever constants it is called with: numba would for each of them.

    What a constant saves is found where the part is inlined.
    """
    from numba.core.types import unliteral

    usual = part.get_call_template

    def template(args: Any, kws: Any) -> Any:
        named = dict(zip(kws, map(unliteral, kws.values()), strict=True))
        return usual(tuple(map(unliteral, args)), named)

    part.get_call_template = template


@cache
def _compare_flags_quickly() -> None:
    """Numba asks at every call that it resolves whether its flags are the same, and gathers all for it.

    Flags set alike are the same; their hash is of their names alone, as it was.
    """
    from numba.core.compiler import Flags

    usual, names = Flags.__eq__, hash(Flags())  # type: ignore[no-untyped-call]

    def same(one: Any, other: object) -> Any:
        alike = isinstance(other, Flags) and one._values == other._values
        return alike or usual(one, other)  # type: ignore[no-untyped-call]

    setattr(Flags, "__eq__", same)  # noqa: B010
    setattr(Flags, "__hash__", lambda _: names)  # noqa: B010


@cache
def _resolve_calls_once() -> None:
    """Numba asks anew at every call what an operator or a function of its own gives for values of some types.

    Nothing but these types decides it, and each answer is asked for 26 times (measured).
    """
    from numba.core.types.functions import BaseFunction

    usual = BaseFunction.get_call_type
    answers: dict[Any, Any] = {}

    def resolved(function: Any, context: Any, args: Any, kws: Any) -> Any:
        asked = (function, context, args, tuple(kws.items()))
        if asked not in answers:
            answers[asked] = usual(function, context, args, kws)
        return answers[asked]

    setattr(BaseFunction, "get_call_type", resolved)  # noqa: B010


@cache
def part_compiler() -> type:
    """Numba's compiler for functions that only kernels call."""
    numba_library()
    _compare_flags_quickly()
    _resolve_calls_once()
    from numba.core.compiler import Compiler

    class PartCompiler(Compiler):
        def __init__(self, typing: Any, target: Any, library: Any, *rest: Any) -> None:
            library = _libraries()[1](target.codegen(), "part")
            super().__init__(typing, target, library, *rest)  # type: ignore[no-untyped-call]

    return PartCompiler


@cache
def kernel_compiler() -> type:
    """Numba's compiler for what Python calls; numba's own functions that it calls become parts too."""
    numba_library()
    from numba.core.compiler import Compiler

    class KernelCompiler(Compiler):
        def __init__(self, typing: Any, target: Any, library: Any, *rest: Any) -> None:
            library = _libraries()[0](target.codegen(), "kernel")
            library.enable_object_caching()
            super().__init__(typing, target, library, *rest)  # type: ignore[no-untyped-call]

        def compile_extra(self, function: Any) -> Any:
            generator = self.state.targetctx.codegen()
            usual = generator._library_class
            generator._library_class = _libraries()[1]
            try:
                return super().compile_extra(function)  # type: ignore[no-untyped-call]
            finally:
                generator._library_class = usual

    return KernelCompiler


class _NoCode:
    """Stands for the code generator of a part, which has no code yet that could be given an environment."""

    def set_env(self, name: str, environment: object) -> None:
        pass


@cache
def _libraries() -> tuple[type, type]:
    """What holds the code of a kernel, and of a part."""
    from numba.core.codegen import JITCodeLibrary

    class KernelLibrary(JITCodeLibrary):
        """A kernel and all that it calls as one module; only the kernel is seen from outside."""

        def finalize(self) -> None:
            own = {one.name for one in self._final_module.functions}
            mark = min(own)
            self.link_parts()
            for one in self._final_module.functions:
                if not one.is_declaration and one.name not in own:
                    one.linkage = "internal"
                    # What was not inlined is found by its name even so, and another kernel has its own copy.
                    one.name = f"{one.name}.{mark}"
            super().finalize()  # type: ignore[no-untyped-call]

        def link_parts(self) -> None:
            """Link whatever is called, once: callers first, since what nobody calls yet is left out."""
            waiting: list[Any] = list(self._linking_libraries)
            seen: set[Any] = set()
            while waiting:
                one = waiting.pop(0)
                if one in seen:
                    continue
                seen.add(one)
                if isinstance(one, PartLibrary):
                    self._final_module.link_in(one._final_module, preserve=True)
                    waiting += one._linking_libraries
                else:
                    self._final_module.link_in(one._get_module_for_linking(), preserve=True)
            self._linking_libraries = []

    class PartLibrary(JITCodeLibrary):
        """One function as it was translated: neither optimised nor made into machine code."""

        @property
        def codegen(self) -> Any:
            return _NoCode()

        def _optimize_functions(self, module: Any) -> None:
            module.data_layout = self._codegen._data_layout

        def finalize(self) -> None:
            for one in self._final_module.functions:
                if not one.is_declaration and one.linkage.name == "external":
                    one.linkage = "linkonce_odr"
            self._finalize_dynamic_globals()  # type: ignore[no-untyped-call]
            self._finalized = True

        def get_pointer_to_function(self, name: str) -> int:
            return 0

        def _get_module_for_linking(self) -> Any:
            """With all that it calls, for a caller that is no kernel: numba's own functions may have such."""
            if self._shared_module is None:
                whole = KernelLibrary(self._codegen, self._name)  # type: ignore[no-untyped-call]
                whole._final_module = self._final_module.clone()
                whole._linking_libraries = list(self._linking_libraries)
                whole.link_parts()
                self._shared_module = whole._final_module
            return self._shared_module

    return KernelLibrary, PartLibrary
