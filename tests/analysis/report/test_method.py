"""The report states how points are found: every step, and every constant that a figure depends on."""

from __future__ import annotations

import ast
from pathlib import Path

from analysis.catalogue.method import STEPS
from analysis.report import method_constants
from analysis.report.content import Paragraph, Table
from analysis.report.method import how_points_are_found

CURVE = Path(method_constants.__file__).parents[1] / "curve"
#: Sizes, numbers of rounds and precisions of the computation, which no figure is meant to depend on.
OF_COMPUTING = {
    "TABLE_START", "TABLE_STEP", "TABLE_POINTS", "PER_UNIT", "ARRIVED", "SINGULAR", "GRID",
    "CROSSING_STEPS", "NUDGE", "FIRST_DAMPING", "SHAPE_ROUNDS", "REFINING_ROUNDS", "RIPPLE_ROUNDS",
    "CHUNK", "SEEN_STEPS", "SNUG_STEP", "TURN_DEG", "FEWEST_SAMPLES", "FEWEST_CELLS", "FEWEST_UPPER",
    "FEWEST_ON_RISE",
    "RIPPLE_CELLS", "STILL_RISING_SAMPLES", "NOISE_SAMPLES", "LEAST_REACH", "ENOUGH", "YIELD_TAIL",
    "YIELD_SCALE", "STRETCH_SHARE", "LEVEL_SIGMAS", "LOOSENING_SHARE", "BACK_OFF_SHARE",
    "SEEN_SHARE",
}  # fmt: skip
#: Shapes, words, and places in arrays.
NAMES_OF_PLACES = {
    "READINGS", "MOST_PARAMETERS", "BEND_PARAMETERS", "FRAME_VALUES", "RIPPLE_VALUES", "RIPPLE_WAYS",
    "LAYER_SHAPES", "NEIGHBOURS", "SCRATCH_ROWS", "SCRATCH_COLUMNS", "SQUARE", "OTHER_SQUARE", "DERIVATIVES",
    "NORMAL", "UPPER_CELLS", "SMOOTH_CELLS", "TRIAL_CELLS", "RIPPLE_KEPT", "RIPPLE_SAID", "SAMPLES_AWAY",
    "SHAPE_WEIGHTS", "RIGHT", "ONE", "LOSS", "READ", "FIT_VALUES",
    "FIRST_SHAPES", "COARSER_SHAPES",
    "YIELD_SHAPES", "ROUGH_POWERS", "ZONES", "COLUMNS", "CODES", "SHAPES", "ROW", "HARDNESS",
    "FITTED_VALUES", "PARAMETERS", "FRAME", "RIPPLE",
}  # fmt: skip


def declared() -> set[str]:
    """Names of the numbers that the modules of the curve declare."""
    found: set[str] = set()
    for path in CURVE.glob("*.py"):
        if path.stem in ("reasons", "kernel_columns", "frame"):
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if not isinstance(node, ast.Assign) or "range" in ast.dump(node.value):
                continue
            for target in node.targets:
                names = target.elts if isinstance(target, ast.Tuple) else [target]
                found |= {name.id for name in names if isinstance(name, ast.Name) and name.id.isupper()}
    return {name for name in found if not name.startswith("_")}


def test_every_constant_that_a_figure_depends_on_is_stated() -> None:
    source = Path(method_constants.__file__).read_text(encoding="utf-8")
    stated = {node.attr for node in ast.walk(ast.parse(source)) if isinstance(node, ast.Attribute)}
    assert declared() - stated - OF_COMPUTING - NAMES_OF_PLACES == set()


def test_the_report_has_every_step_with_its_formula_and_every_constant_with_its_source() -> None:
    blocks = how_points_are_found()
    text = [block.text for block in blocks if isinstance(block, Paragraph)]
    for step in STEPS:
        assert f"{step.title}. {step.words}" in text
        assert set(step.formula.splitlines()) <= set(text)
    (table,) = [block for block in blocks if isinstance(block, Table)]
    assert len(table.rows) == len(method_constants.constants())
    assert all(
        words.text and value.value is not None and source.text for words, value, _, source in table.rows
    )
