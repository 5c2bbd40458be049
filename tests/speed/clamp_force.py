"""Prints how stated clamp force holds against the truth: by fault, over wrong lots, and over sound shifts.

Run from the project's folder: ``python -m tests.speed.clamp_force`` (``--quick`` for a first look, in seconds
once the kernels are compiled; ``--help`` lists the choices). Shares, widths and errors in per cent.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from analysis.joint import joints_from_text
from analysis.pipeline import analyse
from analysis.traces import TraceSet
from tests.world.back_offs import back_off_toml, random_back_off, record_back_off
from tests.world.known_clamp import (
    DRY,
    NO_FORCE_FAULTS,
    OILY,
    KnownJoint,
    Lot,
    draw_joint,
    make_known_shift,
    sound_lot,
)

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

#: Faults that the clamp force must hold on; the others are printed beside them.
JUDGED_FAULTS = (
    "low-friction",
    "high-friction",
    "softer-joint",
    "stiffer-joint",
    "seated-early",
    "prevailing-missing",
    "prevailing-high",
    "yielded",
)
#: Where any clamp force is a made-up one.
JUDGED_NONE = ("cross-thread", "thread-stripping", "already-tight")


@dataclass(frozen=True)
class Size:
    """How much is made: joints and traces of each kind of shift."""

    fault_joints: int
    good: int
    each_fault: int
    lot_joints: int
    lot_traces: int
    back_offs: int


FULL, QUICK = Size(30, 100, 2, 20, 60, 400), Size(10, 50, 1, 4, 30, 60)


@dataclass(frozen=True, eq=False)
class Stated:
    """What the program says of n traces beside what is true; arrays of shape (n,), NaN where absent."""

    kind: NDArray[np.object_]
    joint: NDArray[np.object_]
    true_kn: FloatArray
    best_kn: FloatArray
    low_kn: FloatArray
    high_kn: FloatArray
    ok: BoolArray
    audit: BoolArray

    @property
    def any(self) -> BoolArray:
        """Whether anything is said of the clamp force."""
        return np.asarray(np.isfinite(self.best_kn) | np.isfinite(self.low_kn) | np.isfinite(self.high_kn))

    @property
    def inside(self) -> BoolArray:
        """Whether the true clamp force lies within the bounds; not where there are none."""
        return np.asarray((self.low_kn <= self.true_kn) & (self.true_kn <= self.high_kn))

    @property
    def width(self) -> FloatArray:
        """Distance of the bounds over the true value."""
        return np.asarray((self.high_kn - self.low_kn) / self.true_kn)

    @property
    def best_error(self) -> FloatArray:
        """Best value over the true one, less one, whatever the sign."""
        return np.asarray(np.abs(self.best_kn / self.true_kn - 1.0))


def judged(joints: Sequence[KnownJoint], traces: TraceSet, truth: pa.Table) -> Stated:
    """Analyse a shift and put the answers beside the truth."""
    defined = joints_from_text("\n".join(joint.definition for joint in joints))
    results = analyse(traces, defined).results()
    force = {name: _real(results, f"clamp_force{name}_kn") for name in ("", "_low", "_high")}
    return Stated(
        kind=np.array([cause or "good" for cause in truth["cause"].to_pylist()], object),
        joint=np.array(truth["joint"].to_pylist(), object),
        true_kn=_real(truth, "clamp_force_kn"),
        best_kn=force[""],
        low_kn=force["_low"],
        high_kn=force["_high"],
        ok=np.array([verdict == "ok" for verdict in results["verdict"].to_pylist()]),
        audit=np.array([operation == "audit" for operation in results["operation"].to_pylist()]),
    )


def _real(table: pa.Table, name: str) -> FloatArray:
    return np.array([np.nan if value is None else value for value in table[name].to_pylist()], np.float64)


def share(what: BoolArray, among: BoolArray) -> float:
    """Per cent of `among` that is also `what`; NaN of nothing."""
    return 100.0 * float(what[among].mean()) if among.any() else float("nan")


def quantile(values: FloatArray, among: BoolArray, q: float) -> float:
    """Quantile of the finite ones of `among`, in per cent."""
    finite = values[among & np.isfinite(values)]
    return 100.0 * float(np.quantile(finite, q)) if len(finite) else float("nan")


HEADER = (
    f"{'':<24}{'n':>6}{'ok':>7}{'stated':>8}{'best':>7}{'inside':>8}{'width med':>11}{'p95':>7}"
    f"{'best p50':>10}{'p95':>7}"
)


def line(name: str, stated: Stated, rows: BoolArray) -> str:
    """One row of the table: shares of all rows of the kind, width of the bounds, error of the best value."""
    found = (
        share(stated.ok, rows),
        share(stated.any, rows),
        share(np.isfinite(stated.best_kn), rows),
        share(stated.inside, rows),
        quantile(stated.width, rows, 0.5),
        quantile(stated.width, rows, 0.95),
        quantile(stated.best_error, rows, 0.5),
        quantile(stated.best_error, rows, 0.95),
    )
    widths = (7, 8, 7, 8, 11, 7, 10, 7)
    return f"{name:<24}{int(rows.sum()):>6}" + "".join(
        f"{value:>{w}.1f}" for value, w in zip(found, widths, strict=True)
    )


def fault_shift(size: Size, seed: int) -> Stated:
    """Sound lots with seeded faults, on joints of every size."""
    joints = [draw_joint(f"joint-{number:02d}", seed + number) for number in range(size.fault_joints)]
    rng = np.random.default_rng([seed, 1])
    lots = [sound_lot(joint, rng) for joint in joints]
    shift = make_known_shift(joints, lots, seed, good=size.good, each_fault=size.each_fault)
    return judged(joints, *shift)


def lot_shift(size: Size, seed: int, levers: tuple[float, float] | None) -> Stated:
    """Shifts of one lot each: wrong by these torques per clamp force, or sound; stiffness stated to 10 %."""
    first = seed + 1000
    joints = [
        draw_joint(f"lot-{number:02d}", first + number, measured_stiffness=levers is not None or None)
        for number in range(size.lot_joints)
    ]
    rng = np.random.default_rng([seed, 2])
    lots = [sound_lot(joint, rng) for joint in joints]
    if levers is not None:
        lots = [Lot(float(rng.uniform(*levers)), lot.stiffness) for lot in lots]
    return judged(joints, *make_known_shift(joints, lots, seed + 1, good=size.lot_traces))


def fault_lines(stated: Stated) -> list[str]:
    """What must be shown on single wrong joints among sound ones."""
    kind = stated.kind
    faults, good = np.isin(kind, JUDGED_FAULTS), kind == "good"
    worst = min((share(stated.inside, kind == name), name) for name in JUDGED_FAULTS if (kind == name).any())
    flagged = ~stated.ok & ~np.isin(kind, NO_FORCE_FAULTS)
    none = np.isin(kind, JUDGED_NONE)
    made_up = share(stated.any & ~stated.audit, none)
    # What is tight and moves on shows what holds it: that is no clamp force that this torque made.
    audits = none & stated.audit & stated.any
    shown = (
        ("judged faults, truth inside", share(stated.inside, faults), "at least 92"),
        (f"  worst kind ({worst[1]})", worst[0], "at least 80"),
        ("flagged, truth inside", share(stated.inside, flagged), "at least 90"),
        ("good, truth inside", share(stated.inside, good), "at least 95"),
        ("good, width of the bounds, median", quantile(stated.width, good, 0.5), "at most 30"),
        ("judged faults, best value, p95", quantile(stated.best_error, faults, 0.95), "at most 15"),
        ("stated where torque made none", made_up, "at most 2"),
        (
            f"  told as audits ({int(audits.sum())}), truth inside",
            share(stated.inside, audits),
            "at least 92",
        ),
    )
    return [f"{words:<42} {value:6.1f}   {wanted}" for words, value, wanted in shown]


def back_off_lines(size: Size, seed: int) -> list[str]:
    """What must be shown on back-offs, each of a joint of its own; and how often two uncertainties hold."""
    rng = np.random.default_rng([seed, 3])
    cases = [random_back_off(rng) for _ in range(size.back_offs)]
    made = [record_back_off(case, rng) for case in cases]
    ids = [f"bolt-{number:03d}" for number in range(len(cases))]
    traces = TraceSet.from_lists(ids, [one[0] for one in made], [one[1] for one in made], {"joint": ids})
    texts = [
        back_off_toml(name, case.fastener, float(one[1].max()))
        for name, case, one in zip(ids, cases, made, strict=True)
    ]
    results = analyse(traces, joints_from_text("\n".join(texts))).results()
    lines = []
    for words, column, true in (
        ("stiffness", "measured_stiffness{}_n_per_deg", [one[3].stiffness_n_per_deg for one in made]),
        ("friction", "measured_friction{}", [one[3].friction for one in made]),
    ):
        value, spread = (_real(results, column.format(part)) for part in ("", "_uncertainty"))
        found = np.isfinite(value)
        error = np.abs(value / np.array(true) - 1.0)
        held = np.abs(value - np.array(true)) <= 2.0 * spread
        lines.append(
            f"{f'back-offs, {words}, median':<42} {quantile(error, found, 0.5):6.1f}   at most 3; p95 "
            f"{quantile(error, found, 0.95):4.1f}, at most 10; found {100.0 * found.mean():5.1f}; within 2 u "
            f"{share(held, found):5.1f}"
        )
    return lines


def lot_lines(name: str, stated: Stated, *, sound: bool) -> list[str]:
    """What must be shown on whole shifts."""
    rows = np.ones(len(stated.ok), np.bool_)
    by_joint = [share(stated.ok, stated.joint == one) for one in dict.fromkeys(stated.joint)]
    inside = f"truth inside {share(stated.inside, rows):5.1f}, at least {95 if sound else 92}"
    extreme = f"worst joint {min(by_joint) if sound else max(by_joint):5.1f}"
    wanted = "at least 97" if sound else "at most 2"
    return [f"{name + ' shifts, ok':<42} {share(stated.ok, rows):6.1f}   {wanted}; {extreme}; {inside}"]


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the tables."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help="fewer joints and traces")
    parser.add_argument("--seed", type=int, default=512, help="seed of the world (512)")
    chosen = parser.parse_args(arguments)
    size = QUICK if chosen.quick else FULL
    begun = time.perf_counter()
    stated = fault_shift(size, chosen.seed)
    print(HEADER)
    for name in dict.fromkeys(["good", *JUDGED_FAULTS, *sorted(set(stated.kind))]):
        if (stated.kind == name).any():
            print(line(name, stated, stated.kind == name))
    shifts = {
        "oily": lot_shift(size, chosen.seed, OILY),
        "dry": lot_shift(size, chosen.seed, DRY),
        "sound": lot_shift(size, chosen.seed, None),
    }
    for name, one in shifts.items():
        print(line(f"{name} shifts", one, np.ones(len(one.ok), np.bool_)))
    print()
    for text in fault_lines(stated):
        print(text)
    for name, one in shifts.items():
        print(*lot_lines(name, one, sound=name == "sound"), sep="\n")
    print(*back_off_lines(size, chosen.seed), sep="\n")
    print(f"{time.perf_counter() - begun:.0f} s, seed {chosen.seed}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
