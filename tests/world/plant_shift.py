"""One shift of the pallet-truck plant: what was tightened when, with which lot, and what was seeded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pyarrow as pa

from analysis.traces import TraceSet
from tests.world.backed_off import BackedOff, record_backed_off
from tests.world.faults import FAULTS, with_friction
from tests.world.model import TraceModel
from tests.world.plant import STATIONS, Station
from tests.world.recording import Recording, record
from tests.world.shift import assemble, naturally

#: Trucks of the shift, minutes between trucks, seconds between two hits.
TRUCKS, TAKT_MIN, HIT_S = 32, 14.0, 9.0
#: Stations along the line; the others stand beside it.
LINE_STATIONS = 5
#: Minutes that a truck takes from station to station.
_TRANSFER_MIN = 14.0
_SHIFT_START = datetime(2024, 3, 12, 6, 0, tzinfo=UTC)


@dataclass(frozen=True)
class Seed:
    """What is seeded at a station."""

    joint: str
    cause: str
    count: int
    story: str  #: For the truth file and the README.
    #: Where given, only traces of that spindle or lot are drawn.
    spindle: str | None = None
    lot: str | None = None


#: What the truth file says of the bolts on the trial plate, and of the lot that came wrong as a whole.
BACKED_OFF = "trial plate: backed off by 24 deg and tightened again"
OILED = "bolt lot FC-9 came oiled, all of it"
TRIAL, TRIAL_BOLTS = BackedOff(back_deg=24.0), 6
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
        ``trace_id``, ``joint``, ``cause`` and ``seeded`` (the story; null for good ones), ``friction`` (one
        coefficient for thread and head; null for the screw in plastic), ``stiffness_n_per_deg``, and `Truth`.
    """
    rng = np.random.default_rng(seed)
    rows: list[dict[str, Any]] = []
    for number, station in enumerate(STATIONS[:LINE_STATIONS]):
        of_station = _places(number, station, rng)
        _seed_faults(of_station, station, rng)
        rows.extend(of_station)
    # What was added to the shift draws numbers of its own: the line's traces stay as they were.
    beside = np.random.default_rng([seed, 2])
    added = _trial()
    for number, station in enumerate(STATIONS[LINE_STATIONS:], start=LINE_STATIONS):
        added += [
            {**row, "cause": "low-friction", "seeded": OILED} for row in _places(number, station, beside)
        ]
    made = _recorded(rows, np.random.SeedSequence([seed, 1]))
    made += _recorded(added, np.random.SeedSequence([seed, 2]))
    made.sort(key=lambda one: (one[0]["started_at"], one[0]["trace_id"]))
    traces, truth = assemble([recording for _, recording, _ in made], [row for row, _, _ in made])
    return traces, _with_physics(truth, [model for _, _, model in made])


def _recorded(
    rows: list[dict[str, Any]], seeds: np.random.SeedSequence
) -> list[tuple[dict[str, Any], Recording, TraceModel]]:
    """Each row with its recording, drawn in the order of time, and the model that made it."""
    stations = {station.joint.name: station for station in STATIONS}
    made = []
    ordered = sorted(rows, key=lambda row: (row["started_at"], row["trace_id"]))
    for row, stream in zip(ordered, seeds.spawn(len(rows)), strict=True):
        own, station = np.random.default_rng(stream), stations[row["joint"]]
        model = naturally(_as_delivered(station), own)
        if row["seeded"] == BACKED_OFF:
            made.append((row, record_backed_off(model, TRIAL, own), model))
            continue
        if row["cause"] is not None and station.lever == 1.0:
            model = FAULTS[row["cause"]](model, own)
        made.append((row, record(model, own), model))
    return made


def _as_delivered(station: Station) -> TraceModel:
    """The station's joint with the parts that came: all of a lot may take another torque."""
    parts = station.joint.model.joint
    friction = station.lever * parts.torque_per_force_nm_per_kn - parts.lead_nm_per_kn
    return with_friction(station.joint.model, friction / parts.friction_nm_per_kn)


def _with_physics(truth: pa.Table, models: Sequence[TraceModel]) -> pa.Table:
    """Friction, and the clamp force per degree of the elastic stretch, beside the truth of the curve."""
    fasteners = {station.joint.name: station.fastener for station in STATIONS}
    levers = np.array([model.joint.torque_per_force_nm_per_kn for model in models])
    # As sustained: a rough contact never grows quite as stiff as bolt and parts alone.
    stiffness = 1000.0 * np.array(truth["elastic_slope_nm_per_deg"].to_pylist(), np.float64) / levers
    friction = []
    for name, lever in zip(truth["joint"].to_pylist(), levers.tolist(), strict=True):
        fastener = fasteners[name]
        friction.append(None if fastener is None else fastener.total_friction(lever))
    truth = truth.append_column("friction", pa.array(friction, pa.float64()))
    return truth.append_column("stiffness_n_per_deg", pa.array(stiffness, pa.float64()))


def _trial() -> list[dict[str, Any]]:
    """Ahead of the shift, bolts of the drive unit on a trial plate: on, backed off, on again."""
    station = STATIONS[0]
    return [
        {
            "trace_id": f"{station.joint.name}-trial-{place + 1}",
            "joint": station.joint.name,
            "tool": station.tool,
            "spindle": station.spindles[0],
            "program": "drive-65-back-off",
            "part": "trial-plate",
            "position": str(place + 1),
            "lot": station.lots[0],
            "started_at": _SHIFT_START - timedelta(minutes=TRIAL_BOLTS - place),
            "cause": None,
            "seeded": BACKED_OFF,
        }
        for place in range(TRIAL_BOLTS)
    ]


def _places(number: int, station: Station, rng: np.random.Generator) -> list[dict[str, Any]]:
    """One row for each tightening of a station; several spindles of a multi-spindle tool start together."""
    rows = []
    together = len(station.spindles)
    for truck in range(TRUCKS):
        arrives = _SHIFT_START + timedelta(minutes=TAKT_MIN * truck + _TRANSFER_MIN * number / LINE_STATIONS)
        hurry = float(rng.uniform(0.0, 60.0))
        for place in range(station.positions):
            seconds = hurry + HIT_S * (place // together) + float(rng.uniform(0.0, 0.4))
            rows.append(
                {
                    "trace_id": f"{station.joint.name}-{truck * station.positions + place + 1:03d}",
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
