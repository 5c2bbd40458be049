"""How often the interval of an index holds the true index, over many studies drawn from a known law.

``python -m tests.world.study_coverage [STUDIES]`` prints a table; 2000 studies unless said otherwise.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass

import numpy as np

from analysis.capability.indices import percentile_indices
from analysis.capability.quantity import QuantityStudy, Sample
from analysis.capability.quantity_study import study_quantity
from analysis.capability.settings import StudySettings, asked_for
from analysis.joint.definition import JointDefinition

SEED = 20240601
LIMITS = (61.0, 69.0)
JOINT = JointDefinition("hub", 65.0, torque_limits_nm=LIMITS)
_STUDIES = 2000


@dataclass(frozen=True)
class Coverage:
    """Shares over many studies."""

    law: str
    n: int  #: Values in a study.
    held: dict[str, float]  #: By index: share of the intervals that hold the true index.
    shown_wrongly: float  #: Share of studies that show an index a hair above the true one, 5 % asked.
    without: float  #: Share of studies without an index.


def _study(
    values: np.ndarray, limits: tuple[float | None, float | None], wanted: float, shape: str
) -> QuantityStudy:
    n = len(values)
    codes = np.zeros(n, np.int64)
    asked = asked_for(JOINT, StudySettings(wanted_cpk=wanted, shape=shape))
    sample = Sample(values, (codes, ()), None, np.ones(n, np.bool_), True, "drawn")
    return study_quantity(("final_torque_nm", "Final torque", "N·m"), sample, limits, asked)


def cover(law: str, n: int, shape: str = "auto", studies: int = _STUDIES, seed: int = SEED) -> Coverage:
    """Draw studies of one law and count.

    Parameters
    ----------
    law : {"normal", "normal, one limit", "lognormal", "lognormal from 20 on", "two populations"}
    shape : str
        As the study states it.
    """
    rng = np.random.default_rng([seed, n])
    draw, percentiles, limits = {
        "normal": (lambda: rng.normal(65.3, 0.8, n), (62.9, 65.3, 67.7), LIMITS),
        "normal, one limit": (lambda: rng.normal(65.3, 0.8, n), (62.9, 65.3, 67.7), (61.0, None)),
        "lognormal": (
            lambda: 40.0 * np.exp(0.3 * rng.normal(size=n)),
            tuple(40.0 * np.exp(0.3 * np.array([-2.99998, 0.0, 2.99998]))),
            (15.0, 110.0),
        ),
        "lognormal from 20 on": (
            lambda: 20.0 + 10.0 * np.exp(0.5 * rng.normal(size=n)),
            tuple(20.0 + 10.0 * np.exp(0.5 * np.array([-2.99998, 0.0, 2.99998]))),
            (18.0, 80.0),
        ),
        "two populations": (
            lambda: np.where(rng.uniform(size=n) < 0.6, rng.normal(63.5, 0.3, n), rng.normal(67.0, 0.3, n)),
            (62.6, 63.7, 67.9),
            LIMITS,
        ),
    }[law]
    truth = dict(zip(("pp", "ppk"), percentile_indices(percentiles, *limits), strict=True))
    wanted = (truth["ppk"] or 0.0) * (1.0 + 1e-9)
    found = [_study(draw(), limits, wanted, shape) for _ in range(studies)]
    held = {}
    for name, true in truth.items():
        intervals = [getattr(one, name) for one in found if getattr(one, name) is not None]
        if intervals and true is not None:
            held[name] = float(np.mean([one.low <= true <= one.high for one in intervals]))
    shown = float(np.mean([one.shown == "shown" for one in found]))
    return Coverage(law, n, held, shown, float(np.mean([one.ppk is None for one in found])))


CASES = (
    *(("normal", n, "auto") for n in (50, 100, 125)), ("normal, one limit", 50, "auto"),
    *(("lognormal", n, shape) for shape in ("lognormal", "auto") for n in (50, 100, 125)),
    ("lognormal", 500, "auto"), *(("lognormal from 20 on", n, "auto") for n in (50, 100, 125)),
    *(("two populations", n, "auto") for n in (50, 100, 125)),
)  # fmt: skip


def main() -> None:
    """Print the table."""
    studies = int(sys.argv[1]) if len(sys.argv) > 1 else _STUDIES
    print(f"{studies} studies each; 95 % intervals, bound at 95 %")
    for law, n, shape in CASES:
        found = cover(law, n, shape, studies)
        held = ", ".join(f"{name} {100 * share:.1f} %" for name, share in found.held.items())
        print(
            f"{law:20} n {n:4} shape {shape:9}: {held or 'no index':24} wrongly shown "
            f"{100 * found.shown_wrongly:.1f} %, without index {100 * found.without:.1f} %",
            flush=True,
        )


if __name__ == "__main__":
    main()
