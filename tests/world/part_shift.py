"""Shifts of parts with known histories: rework, re-hits, missing positions, and bolts that interact."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from analysis.traces import TraceSet
from tests.world.loosening_traces import make_loosening
from tests.world.model import TraceModel
from tests.world.plant import STATIONS
from tests.world.recording import record
from tests.world.shapes import FloatArray
from tests.world.shift import ShiftJoint, naturally
from tests.world.true_curve import build_true_curve

DRIVE_UNIT, WHEEL_HUB = (
    next(station.joint for station in STATIONS if station.joint.name == name)
    for name in ("drive-unit", "wheel-hub")
)
START = datetime(2024, 3, 13, 6, 0, tzinfo=UTC)
#: A reject: the tool stops at this share of what it should.
_TOO_EARLY = 0.85
#: What each mishap does at its position, in order; then the state, the attempts, and what is to be found.
DEEDS: Mapping[str, tuple[str, ...]] = {
    "": ("tighten",),
    "missing": (),
    "left": ("reject",),
    "reworked": ("reject", "loosen", "tighten"),
    "reworked twice": ("reject", "loosen", "reject", "loosen", "tighten"),
    "loosening lost": ("reject", "tighten"),
    "not loosened": ("reject", "on"),
    "re-hit": ("tighten", "on"),
    "loosened": ("tighten", "loosen"),
    "disordered": ("loosen", "tighten"),
    "untimed": ("reject", "loosen", "tighten"),
}
TRUTH: Mapping[str, tuple[str, int, tuple[str, ...]]] = {
    "": ("sound first time", 1, ()),
    "missing": ("open", 0, ("missing",)),
    "left": ("not sound", 1, ()),
    "reworked": ("sound after rework", 2, ()),
    "reworked twice": ("sound after rework", 3, ()),
    "loosening lost": ("sound after rework", 2, ("loosening-not-recorded",)),
    "not loosened": ("not sound", 2, ("rework-without-loosening",)),
    "re-hit": ("sound first time", 1, ("re-hit",)),
    "loosened": ("loosened", 1, ()),
    "disordered": ("sound first time", 1, ("out-of-order",)),
    "untimed": ("unknown order", 2, ("unknown-order",)),
}


@dataclass
class Recorded:
    """Traces as they are written down one after the other."""

    rows: list[dict[str, Any]] = field(default_factory=list)
    channels: list[tuple[FloatArray, FloatArray, FloatArray]] = field(default_factory=list)

    def add(self, channels: tuple[FloatArray, FloatArray, FloatArray], **attributes: Any) -> None:
        """One trace: angle, torque, time, and its attributes."""
        self.rows.append({"trace_id": f"{attributes['joint']}-{len(self.rows) + 1:04d}", **attributes})
        self.channels.append(channels)

    def traces(self, order: Sequence[int] | None = None) -> TraceSet:
        """All of them, in this order."""
        at = list(range(len(self.rows)) if order is None else order)
        names = [name for name in self.rows[0] if name != "trace_id"]
        return TraceSet.from_lists(
            [self.rows[k]["trace_id"] for k in at],
            [self.channels[k][0] for k in at],
            [self.channels[k][1] for k in at],
            {name: [self.rows[k][name] for k in at] for name in names},
            time_s=[self.channels[k][2] for k in at],
        )


def tighten(model: TraceModel, rng: np.random.Generator, share: float = 1.0) -> tuple[FloatArray, ...]:
    """From loose to this share of where the tool stops."""
    tool = replace(model.tool, stop_torque_nm=share * model.tool.stop_torque_nm)
    made = record(replace(model, tool=tool), rng)
    return made.angle_deg, made.torque_nm, made.time_s


def turn_on(
    model: TraceModel, rng: np.random.Generator, held: float, wind_up_deg: float = 3.0, static: float = 0.04
) -> tuple[FloatArray, ...]:
    """From a bolt that holds this share of the clamp force that its tool stops at, to the stop."""
    curve = build_true_curve(model)
    start = float(np.interp(held * curve.clamp_force_kn[-1], curve.clamp_force_kn, curve.angle_deg))
    breakaway = static * held * model.tool.stop_torque_nm
    tool = replace(
        model.tool, wind_up_deg=wind_up_deg, breakaway_nm=breakaway, pause=None,
        speeds_deg_per_s=model.tool.speeds_deg_per_s[-1:], switch_deg=(), dip_nm=0.0,
    )  # fmt: skip
    instrument = replace(model.instrument, record_from_deg=start)
    made = record(replace(model, tool=tool, instrument=instrument), rng)
    return made.angle_deg, made.torque_nm, made.time_s


def make_part_shift(
    seed: int,
    parts: int,
    mishaps: Mapping[tuple[int, int], str],
    positions: int = 4,
    late: tuple[int, int] | None = None,
    joint: ShiftJoint = DRIVE_UNIT,
) -> Recorded:
    """Parts of a joint with these mishaps by part and position (both from 0).

    All spindles of a part start together; that of `late` starts half a second after the others.
    """
    rng = np.random.default_rng(seed)
    made = Recorded()
    for part in range(parts):
        for position in range(positions):
            model = naturally(joint.model, rng)
            mishap = mishaps.get((part, position), "")
            behind = 0.5 if late == (part, position) else 0.0
            begun = START + timedelta(minutes=6 * part, seconds=behind)
            deeds = DEEDS[mishap]
            for step, deed in enumerate(deeds):
                # What is loosened holds what the deed before it reached.
                reached = deeds[max(step - 1, 0)] if deed == "loosen" else deed
                moment = begun + timedelta(seconds=60 * step + float(rng.uniform(0.0, 0.04)))
                made.add(
                    _recording(deed, model, rng, reached),
                    joint=joint.name,
                    tool="nutrunner-7",
                    spindle=f"D{position + 1}",
                    part=f"truck-{part + 1:03d}",
                    position=str(position + 1),
                    started_at=None if mishap == "untimed" else moment,
                )
    return made


def _recording(deed: str, model: TraceModel, rng: np.random.Generator, reached: str = "") -> Any:
    """One deed; `reached` is the tightening that is loosened, where it is not the whole one."""
    if deed == "on":
        return turn_on(model, rng, float(rng.uniform(0.85, 0.97)))
    share = _TOO_EARLY if "reject" in (deed, reached) else 1.0
    if deed != "loosen":
        return tighten(model, rng, share)
    tool = replace(model.tool, stop_torque_nm=share * model.tool.stop_torque_nm)
    angle, torque, time, _ = make_loosening(replace(model, tool=tool), rng)
    return angle, torque, time


def ring_interaction(n: int, neighbours: Sequence[float]) -> FloatArray:
    """Coefficients of a circle from those of the next bolt, the next but one and so on."""
    steps = np.abs(np.subtract.outer(np.arange(n), np.arange(n)))
    table = np.zeros(n)
    table[1 : 1 + len(neighbours)] = neighbours
    return np.asarray(table[np.minimum(steps, n - steps)])


@dataclass(frozen=True, eq=False)
class Circle:
    """A flange of eight bolts tightened one after the other, and what each truly has at the end."""

    part: str
    order: tuple[int, ...]
    ends: FloatArray
    loads: FloatArray


def add_circles(
    made: Recorded, seed: int, parts: int, c: FloatArray, passes: int = 2, joint: str = "ring-flange"
) -> Iterator[Circle]:
    """Record flanges tightened crosswise in passes; `ends` and `loads` are clamp forces, kN."""
    rng = np.random.default_rng(seed)
    n = len(c)
    order = tuple(k for i in range(n // 4) for k in (i, i + n // 2, i + n // 4, i + 3 * n // 4))
    base = replace(WHEEL_HUB.model, tool=replace(WHEEL_HUB.model.tool, pause=None))
    for part in range(parts):
        models = [naturally(base, rng, friction_scatter=0.04) for _ in range(n)]
        force, loads = np.zeros(n), np.zeros(n)
        moment = START + timedelta(minutes=12 * part, hours=4)
        for number in range(passes):
            for bolt in order:
                target = float(build_true_curve(models[bolt]).clamp_force_kn[-1])
                held = force[bolt] / target
                channels = tighten(models[bolt], rng) if number == 0 else turn_on(models[bolt], rng, held)
                made.add(
                    channels, joint=joint, tool="nutrunner-9", spindle="R1", part=f"flange-{part + 1:02d}",
                    position=str(bolt + 1), started_at=moment,
                )  # fmt: skip
                moment += timedelta(seconds=8.0)
                force = np.maximum(force - c[:, bolt] * (target - force[bolt]), 0.0)
                force[bolt] = loads[bolt] = target
        yield Circle(f"flange-{part + 1:02d}", order, force.copy(), loads.copy())


def mishaps_of(
    seed: int, parts: int, positions: int, counts: Mapping[str, int]
) -> dict[tuple[int, int], str]:
    """Where each mishap is, at most one on a part."""
    rng = np.random.default_rng(seed)
    wanted = [name for name, count in counts.items() for _ in range(count)]
    chosen = rng.permutation(parts)[: len(wanted)]
    return {
        (int(part), int(rng.integers(positions))): name for part, name in zip(chosen, wanted, strict=True)
    }
