"""Every mutation still changes what it names, and names tests that are there."""

from __future__ import annotations

import ast

import pytest

from tests.mutations.mutation import ROOT, Mutation
from tests.mutations.records import MUTATIONS


@pytest.mark.parametrize("mutation", MUTATIONS, ids=str)
def test_a_mutation_stands_in_its_file(mutation: Mutation) -> None:
    changed = mutation.source()
    ast.parse(changed)
    assert changed != (ROOT / mutation.file).read_text(encoding="utf-8")
    missing = [test for test in mutation.tests if not (ROOT / test.split("::")[0]).exists()]
    assert not missing
