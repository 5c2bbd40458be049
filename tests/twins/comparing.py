"""Where the compiled fit and its twin give different figures."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from analysis.curve import CurveTable
from analysis.traces import TraceSet
from tests.twins import whole_fit

#: Largest difference that is rounding, as a share of the figure; of an uncertainty, which is made of
#: numerical derivatives.
ROUNDING, ROUNDING_OF_UNCERTAINTY = 1e-6, 1e-4
#: A fit whose data do not tell its parameters apart (condition of the scaled normal matrix) has figures that
#: hang on the last digit of every sum: only its reasons are compared.
UNDETERMINED = 1e10
REASONS = tuple(f"{name}_reason" for name in whole_fit.REASONS)


def differences(curves: CurveTable, row: int, twin: dict[str, float]) -> dict[str, tuple[float, float]]:
    """Figures of one trace that differ: the program's and the twin's."""
    compared = (*REASONS, "final_index", "yielded", "final_angle_deg", "final_torque_nm")
    if twin.get("condition", 0.0) < UNDETERMINED:
        compared += whole_fit.FIGURES
    result = {}
    for name in compared:
        ours, theirs = float(getattr(curves, name)[row]), float(twin[name])
        share = ROUNDING_OF_UNCERTAINTY if "uncertainty" in name else ROUNDING
        if not np.isclose(ours, theirs, rtol=share, atol=1e-9, equal_nan=True):
            result[name] = (ours, theirs)
    return result


@dataclass
class Agreement:
    """Of n traces: those with different figures, by row, and how many fits are undetermined."""

    n: int = 0
    undetermined: int = 0
    different: dict[int, dict[str, tuple[float, float]]] = field(default_factory=dict)

    def text(self) -> str:
        """For people."""
        head = f"{self.n - len(self.different)} of {self.n} traces agree in every figure"
        rows = [f"{row}: {found}" for row, found in self.different.items()]
        return "\n".join([f"{head}; {self.undetermined} fits are undetermined", *rows])


def agreement(traces: TraceSet, curves: CurveTable) -> Agreement:
    """Compare every trace of a set."""
    found = Agreement(len(traces))
    for row, trace in enumerate(traces):
        twin = whole_fit.find_points(trace.angle_deg, trace.torque_nm)
        found.undetermined += twin.get("condition", 0.0) >= UNDETERMINED
        different = differences(curves, row, twin)
        if different:
            found.different[row] = different
    return found
