"""The further columns of the results table agree with what is told of each trace."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.catalogue.figures import FIGURE_OF
from analysis.joint import load_joints
from analysis.joint.clamp_columns import NAMES
from analysis.joint.remaining import estimate_remaining
from analysis.pipeline import analyse
from analysis.reading import read_paths
from sample_traces.sample_paths import sample_paths
from tests.helpers.laboratory_files import write_laboratory


def test_every_column_is_declared_with_title_and_help() -> None:
    assert all(FIGURE_OF[name].title and FIGURE_OF[name].help for name in NAMES)


def test_what_is_left_agrees_with_the_story_of_each_trace() -> None:
    paths = sample_paths()
    traces = read_paths([paths.traces]).traces.take(list(range(0, 1280, 16)))
    analysis = analyse(traces, load_joints(paths.joints))
    table = analysis.results()
    told = 0
    for row in range(len(traces)):
        found = estimate_remaining(
            analysis.clamp, row, analysis.joint_rows.definition_of(row), analysis.operations.stages
        )
        assert table["clamp_force_left_kn"][row].as_py() == pytest.approx(found.left_kn)
        assert table["clamp_force_left_low_kn"][row].as_py() == pytest.approx(found.left_low_kn)
        loss = None if found.loss is None else found.loss.force_kn
        assert table["embedding_loss_kn"][row].as_py() == pytest.approx(loss)
        told += found.left_kn is not None
    assert told > 20
    # No load cell, no measured figures.
    for name in ("measured_clamp_force_kn", "torque_coefficient", "friction_total"):
        assert table[name].null_count == len(traces)


def test_measured_figures_stand_at_their_traces(tmp_path: Path) -> None:
    files = write_laboratory(tmp_path)
    traces = read_paths([str(files[0])]).traces
    analysis = analyse(traces, load_joints(files[1]))
    table = analysis.results()
    measured = table["measured_clamp_force_kn"].to_pylist()
    assert measured[-1] is None, "the loosening has no load cell"
    for row, value in enumerate(measured[:-1]):
        force = traces[row].clamp_force_kn
        assert force is not None
        assert value == force[int(analysis.curves.final_index[row])]
    known = [k for k in table["torque_coefficient"].to_pylist() if k is not None]
    assert known
    assert all(0.05 < k < 0.3 for k in known)
    assert table["friction_total"].null_count == table["torque_coefficient"].null_count


def test_a_load_cell_is_believed_before_friction_and_angle(tmp_path: Path) -> None:
    """Bounds hold its reading and lie 2 % either way of it, wider by half where other routes lie apart."""
    files = write_laboratory(tmp_path)
    table = analyse(read_paths([str(files[0])]).traces, load_joints(files[1])).results()
    routes = table["clamp_force_route"].to_pylist()
    best, low, high, cell = (
        np.array(table[name].to_pylist()[:-1])
        for name in (
            "clamp_force_kn",
            "clamp_force_low_kn",
            "clamp_force_high_kn",
            "measured_clamp_force_kn",
        )
    )
    assert routes == [*["load cell"] * len(best), "none"]
    assert best == pytest.approx(cell, rel=0.01)
    assert np.all((low < cell) & (cell < high))
    assert np.all(np.log(high / low) < 2 * 1.5 * 0.02)
    assert np.log(high / low).min() == pytest.approx(2 * 0.02, rel=0.05)


def test_every_estimated_force_says_so_in_its_title() -> None:
    # Titles stand on axes, in exports and in spreadsheets, where no caution stands beside them.
    forces = [column for column in FIGURE_OF.values() if column.unit == "kN"]
    assert len(forces) >= 8
    for column in forces:
        assert ("estimated" in column.title) != ("Measured" in column.title), column.name
