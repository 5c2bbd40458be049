"""The sample's parts: rework, a re-hit, a missing position, a late spindle, and flanges in two passes.

``python -m tests.world.parts_sample OUT_FOLDER`` writes ``parts.parquet`` and ``parts.toml``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pyarrow.parquet as pq

from analysis.traces import TraceSet
from tests.world.part_shift import (
    DRIVE_UNIT,
    WHEEL_HUB,
    Recorded,
    add_circles,
    make_part_shift,
    ring_interaction,
)
from tests.world.sample import STORAGE, as_table

SEED, FLANGE_SEED = 20240313, 20240314
TRUCKS, FLANGES = 10, 2
#: By truck and position, both from 0.
MISHAPS = {
    (1, 2): "reworked", (3, 0): "re-hit", (4, 3): "missing", (6, 1): "left", (7, 2): "not loosened",
    (8, 0): "reworked twice",
}  # fmt: skip
LATE = (5, 2)
#: Share of a bolt's gain that the next one on the flange loses, the next but one, the third.
INTERACTION = (0.09, 0.025, 0.008)

_TOML = """\
# Parts of an invented plant that builds electric pallet trucks; figures for demonstration.
# tautograph parts parts.parquet --joints parts.toml --out parts.xlsx

{drive_unit}
positions = [1, 2, 3, 4]
layout = [[0, 0], [120, 0], [120, 80], [0, 80]]   # mm
final_spread_s = 0.3              # four spindles tighten together
wanted_sum_kn = 100.0
evenness_limit = 1.4

{ring_flange}
positions = [1, 2, 3, 4, 5, 6, 7, 8]
layout = "circle"
wanted_sum_kn = 270.0
evenness_limit = 1.5
"""


def make_sample_parts() -> TraceSet:
    """All of them in the order of time."""
    made = make_part_shift(SEED, TRUCKS, MISHAPS, late=LATE)
    tuple(add_circles(made, FLANGE_SEED, FLANGES, ring_interaction(8, INTERACTION)))
    return made.traces(_in_time(made))


def _in_time(made: Recorded) -> list[int]:
    return sorted(range(len(made.rows)), key=lambda k: (made.rows[k]["started_at"], made.rows[k]["trace_id"]))


def sample_parts_toml() -> str:
    """The joints file beside them."""
    flange = WHEEL_HUB.definition.replace("[joints.wheel-hub]", "[joints.ring-flange]")
    flange = flange.replace("Wheel hub nut, two stages", "Slewing ring to mast, eight bolts in two passes")
    return _TOML.format(drive_unit=DRIVE_UNIT.definition.strip(), ring_flange=flange.strip())


def write_sample_parts(folder: Path) -> Path:
    """Write both files; gives the traces' path."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / "parts.parquet"
    table = as_table(make_sample_parts())
    dictionary = [name for name in STORAGE["use_dictionary"] if name.partition(".")[0] in table.column_names]
    pq.write_table(table, path, **{**STORAGE, "use_dictionary": dictionary})
    (folder / "parts.toml").write_text(sample_parts_toml(), encoding="utf-8")
    return path


if __name__ == "__main__":
    print(write_sample_parts(Path(sys.argv[1])))
