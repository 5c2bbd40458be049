"""Reference sets as this version of the program pins them, with made-up figures."""

from __future__ import annotations

import numpy as np

from analysis.shift.reference import ReferenceSet, build_reference
from analysis.verdict.features import FEATURE_NAMES
from analysis.verdict.rise_signs import RISE_POINTS
from app.session.state import Reference


def figures(joint: str, pinned_on: str) -> ReferenceSet:
    """The figures of 30 traces."""
    rng = np.random.default_rng(1)
    ids = [f"t{number}" for number in range(30)]
    features = rng.normal(size=(30, len(FEATURE_NAMES)))
    rises = np.cumsum(rng.random((30, RISE_POINTS)), axis=1)
    return build_reference(
        joint=joint, name=joint, pinned_on=pinned_on, trace_ids=ids, feature_names=FEATURE_NAMES,
        features=features, rises=rises, span_deg=60.0, smallest=20,
    )  # fmt: skip


def reference(joint: str, pinned_on: str) -> Reference:
    """The same, pinned."""
    made = figures(joint, pinned_on)
    return Reference(joint, made.trace_ids, pinned_on, "Tester", made.name, made)
