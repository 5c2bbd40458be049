"""How a kernel is put together: what it calls is translated once and compiled within it, as one piece.

Left to itself numba optimises every function, and makes machine code of it, again at each level of callers:
most of the time of compiling. And a function may be worked out by its own copy in the process that compiles
and by the kernel's in later ones, so that sums in free order differ in their last digits. Here the functions
of a kernel stay as they were translated until all of them stand in the kernel, private to it; that is
compiled once, and what later processes load is what ran.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from analysis.kernel_cache import numba_library


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
