"""What lies outside a pinned reference, and reference sets as values that can be compared and kept."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest

from analysis.catalogue.verdicts import VERDICTS
from analysis.pipeline import Analysis, analyse, outside_references, pin_reference
from analysis.shift.reference import ReferenceSet
from tests.helpers.judged_shift import judged_shift


def rows_of(analysis: Analysis, joint: str) -> np.ndarray:
    return np.flatnonzero(analysis.joint_rows.codes == analysis.joint_rows.names.index(joint))


@pytest.fixture(scope="module")
def pinned() -> tuple[Analysis, ReferenceSet, str]:
    """A shift judged against the ok traces of its first joint."""
    analysis = judged_shift()
    joint = analysis.joint_rows.names[0]
    rows = rows_of(analysis, joint)
    good = rows[analysis.verdict[rows] == VERDICTS.index("ok")]
    reference = pin_reference(analysis, good.tolist(), "week 12", "2024-03-12")
    judged = analyse(analysis.traces, analysis.joints, reference={joint: reference})
    return judged, reference, joint


def test_members_lie_inside_and_faults_outside(pinned: tuple[Analysis, ReferenceSet, str]) -> None:
    judged, reference, joint = pinned
    outside = outside_references(judged)
    rows = rows_of(judged, joint)
    members = np.isin(np.array(judged.traces.trace_ids), reference.trace_ids)
    assert outside[members].mean() <= 0.05
    assert outside[rows][~members[rows]].mean() >= 0.8
    assert not outside[judged.joint_rows.codes != judged.joint_rows.names.index(joint)].any()


def test_a_curve_beyond_the_widened_envelope_is_outside_by_its_course_alone(
    pinned: tuple[Analysis, ReferenceSet, str],
) -> None:
    judged, _reference, joint = pinned
    inside = rows_of(judged, joint)[~outside_references(judged)[rows_of(judged, joint)]]
    member = int(inside[0])
    rises = judged.rises.copy()
    rises[member] *= 1.6
    rises[member, -1] = judged.rises[member, -1]
    changed = dataclasses.replace(judged, rises=rises)
    assert outside_references(changed)[member]


def test_without_a_reference_nothing_is_outside() -> None:
    assert not outside_references(judged_shift()).any()


def test_a_set_equals_its_copy_from_a_file_and_no_other(pinned: tuple[Analysis, ReferenceSet, str]) -> None:
    _, reference, _ = pinned
    copy = ReferenceSet.from_dict(json.loads(json.dumps(reference.as_dict())))
    assert copy == reference
    assert hash(copy) == hash(reference)
    assert copy != dataclasses.replace(reference, pinned_on="2024-03-13")
    assert copy != dataclasses.replace(reference, median_nm=reference.median_nm + 1e-9)
    assert copy != "week 12"
