"""One shift of the pallet-truck plant: what was tightened when, with which lot, and what was seeded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.faults import FAULTS
from tests.world.plant import STATIONS, Station
from tests.world.recording import record
from tests.world.shift import assemble, naturally

#: Trucks of the shift, joints of each kind on a truck, minutes between trucks, seconds between two hits.
TRUCKS, POSITIONS, TAKT_MIN, HIT_S = 32, 8, 14.0, 9.0
#: Minutes that a truck takes from station to station.
_TRANSFER_MIN = 14.0
_SHIFT_START = datetime(2024, 3, 12, 6, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Seed:
    """What is seeded at a station.

    Attributes
    ----------
    joint, cause : str
    count : int
    story : str
        For the truth file and the README.
    spindle, lot : str or None
        Where given, only traces of that spindle or lot are drawn.
    """

    joint: str
    cause: str
    count: int
    story: str
    spindle: str | None = None
    lot: str | None = None


_D3 = "spindle D3 stands askew to the bolt"
_W121 = "washer lot W-121 was delivered oily"
SEEDS = (
    Seed("drive-unit", "galling", 6, _D3, spindle="D3"),
    Seed("drive-unit", "cross-thread", 3, _D3, spindle="D3"),
    Seed("drive-unit", "high-friction", 4, _D3, spindle="D3"),
    Seed("drive-unit", "high-friction", 1, "bolt left dry"),
    Seed("drive-unit", "seated-early", 2, "two washers under the head"),
    Seed("drive-unit", "already-tight", 1, "tightened a second time"),
    Seed("drive-unit", "yielded", 2, "bolt of a lower class"),
    Seed("wheel-hub", "low-friction", 20, _W121, lot="W-121"),
    Seed("wheel-hub", "low-friction", 1, "oil on the thread"),
    Seed("wheel-hub", "already-tight", 2, "tightened a second time"),
    Seed("wheel-hub", "yielded", 2, "nut and stud of a lower class"),
    Seed("wheel-hub", "incomplete-recording", 1, "recording broke off or began late"),
    Seed("mast-nut", "prevailing-missing", 5, "plain nut instead of a self-locking one"),
    Seed("mast-nut", "seated-late", 2, "spacer missing"),
    Seed("mast-nut", "softer-joint", 2, "plastic spacer instead of steel"),
    Seed("mast-nut", "thread-stripping", 2, "stripped thread"),
    Seed("mast-nut", "incomplete-recording", 2, "recording broke off or began late"),
    Seed("gearbox-cover", "softer-joint", 4, "gasket doubled"),
    Seed("gearbox-cover", "stiffer-joint", 4, "gasket missing"),
    Seed("gearbox-cover", "bottomed-out", 2, "hole not deep enough"),
    Seed("gearbox-cover", "prevailing-high", 2, "paint in the thread"),
    Seed("gearbox-cover", "incomplete-recording", 1, "recording broke off or began late"),
    Seed("battery-clip", "thread-stripping", 5, "thread in plastic stripped"),
    Seed("battery-clip", "prevailing-missing", 3, "hole moulded too wide"),
    Seed("battery-clip", "drive-slip", 3, "bit worn, slips out of the recess"),
    Seed("battery-clip", "cross-thread", 2, "screw entered askew"),
)


def make_plant_shift(seed: int) -> tuple[TraceSet, pa.Table]:
    """The sample shift: every joint of every truck in the order of time, and the truth about each.

    Returns
    -------
    TraceSet
        With `time_s`, `step` and the attributes joint, tool, spindle, program, part, position, lot,
        started_at.
    pyarrow.Table
        ``trace_id``, ``joint``, ``cause`` and ``seeded`` (the story; both null for good ones), and `Truth`.
    """
    rng = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for number, station in enumerate(STATIONS):
        of_station = _places(number, station, rng)
        _seed_faults(of_station, station, rng)
        rows.extend(of_station)
    rows.sort(key=lambda row: (row["started_at"], row["trace_id"]))
    models = {station.joint.name: station.joint.model for station in STATIONS}
    streams = np.random.SeedSequence([seed, 1]).spawn(len(rows))
    recordings = []
    for row, stream in zip(rows, streams, strict=True):
        own = np.random.default_rng(stream)
        model = naturally(models[row["joint"]], own)
        if row["cause"] is not None:
            model = FAULTS[row["cause"]](model, own)
        recordings.append(record(model, own))
    return assemble(recordings, rows)


def _places(number: int, station: Station, rng: np.random.Generator) -> list[dict[str, Any]]:
    """One row for each tightening of a station; several spindles of a multi-spindle tool start together."""
    rows = []
    together = len(station.spindles)
    for truck in range(TRUCKS):
        arrives = _SHIFT_START + timedelta(minutes=TAKT_MIN * truck + _TRANSFER_MIN * number / len(STATIONS))
        hurry = float(rng.uniform(0.0, 60.0))
        for place in range(POSITIONS):
            seconds = hurry + HIT_S * (place // together) + float(rng.uniform(0.0, 0.4))
            rows.append(
                {
                    "trace_id": f"{station.joint.name}-{truck * POSITIONS + place + 1:03d}",
                    "joint": station.joint.name,
                    "tool": station.tool,
                    "spindle": station.spindles[place % together],
                    "program": station.program,
                    "part": f"truck-{truck + 1:03d}",
                    "position": str(place + 1),
                    "lot": station.lots[truck * len(station.lots) // TRUCKS],
                    "started_at": arrives + timedelta(microseconds=round(seconds * 1e6)),
                    "cause": None,
                    "seeded": None,
                }
            )
    return rows


def _seed_faults(rows: Sequence[dict[str, Any]], station: Station, rng: np.random.Generator) -> None:
    for seed in (s for s in SEEDS if s.joint == station.joint.name):
        free = [
            index
            for index, row in enumerate(rows)
            if row["cause"] is None
            and seed.spindle in (None, row["spindle"])
            and seed.lot in (None, row["lot"])
        ]
        for index in rng.choice(free, seed.count, replace=False):
            rows[int(index)].update(cause=seed.cause, seeded=seed.story)
