"""A pytest plugin that imports one module of the program with a mutation in it; no file is touched.

The module's source is read, changed and compiled in memory, so that neither the working tree nor any cache of
compiled modules ever holds the change.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder, SourceFileLoader
from types import CodeType, ModuleType

from tests.mutations.mutation import ROOT

#: Names the number of the mutation in the list of `tests.mutations.records`.
VARIABLE = "TAUTOGRAPH_MUTATION"


class _ChangedLoader(SourceFileLoader):
    """Loads the changed source; the bytecode is not kept."""

    def __init__(self, name: str, path: str, source: str) -> None:
        super().__init__(name, path)
        self._source = source

    def get_code(self, fullname: str) -> CodeType:
        return compile(self._source, self.path, "exec", dont_inherit=True)


class ChangedModule(MetaPathFinder):
    """Finds the one module that is changed; leaves all others to the usual finders."""

    def __init__(self, file: str, source: str) -> None:
        self._file, self._source = ROOT / file, source
        parts = self._file.relative_to(ROOT).with_suffix("").parts
        self._name = ".".join(parts).removesuffix(".__init__")

    def find_spec(
        self, fullname: str, path: Sequence[str] | None = None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if fullname != self._name:
            return None
        spec = PathFinder.find_spec(fullname, path)
        if spec is not None and spec.origin is not None:
            spec.loader = _ChangedLoader(fullname, spec.origin, self._source)
        return spec


def install() -> None:
    """Change what the variable names; nothing where it is not set."""
    number = os.environ.get(VARIABLE)
    if number is None:
        return
    from tests.mutations.records import MUTATIONS

    mutation = MUTATIONS[int(number)]
    sys.meta_path.insert(0, ChangedModule(mutation.file, mutation.source()))


install()
