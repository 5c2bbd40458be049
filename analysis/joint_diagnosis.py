"""The diagnosis of a joint over a shift, in words: how many, why, what the odd ones share, what moved
over time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.shift.drift import Step, find_steps
from analysis.shift.population import Population
from analysis.shift.sharing import Shared, comparable_texts, find_shared_texts
from analysis.verdict.finding import CAUSES, VERDICTS, WORST_FIRST
from analysis.verdict.sign_words import NEXT_CHECKS

FloatArray = NDArray[np.float64]

#: Traces with one cause from which it is asked what they share; fewer share something by chance alone.
LEAST_GROUP = 4
#: Steps of less than this many standard deviations are not worth a sentence (common practice, no source).
LEAST_STEP = 1.0


@dataclass(frozen=True)
class QuantityStep:
    """A step of one quantity: between which traces, when, and by how much.

    Attributes
    ----------
    quantity, unit : str
    step : Step
        Index in order of time within the joint.
    row : int
        Row of the analysis that the new level begins with.
    at : datetime or None
        Its start, where the recordings say when.
    """

    quantity: str
    unit: str
    step: Step
    row: int
    at: datetime | None

    def sentence(self) -> str:
        """Such as: prevailing torque steps from 0.30 to 0.52 N·m at 2024-03-12 11:40 UTC."""
        when = (
            f"at {self.at:%Y-%m-%d %H:%M} UTC"
            if self.at is not None
            else f"from trace {self.step.index + 1} on"
        )
        return (
            f"{self.quantity} steps from {self.step.before:.3g} to {self.step.after:.3g} {self.unit} {when} "
            f"({abs(self.step.strength):.1f} standard deviations)"
        )


@dataclass(frozen=True)
class JointDiagnosis:
    """What a shift says about one joint.

    Attributes
    ----------
    joint : str
    counts : dict of verdict to number, worst first
    causes : dict of cause to number, most frequent first
    shared : dict of cause to what its traces share ("flagged" for all flagged ones); significant
    findings only
    steps : tuple of QuantityStep
    notes : tuple of str
        What to know before trusting the comparison.
    sentences : tuple of str
        All of it for a colleague, most important first.
    """

    joint: str
    counts: dict[str, int]
    causes: dict[str, int]
    shared: dict[str, tuple[Shared, ...]]
    steps: tuple[QuantityStep, ...]
    notes: tuple[str, ...]
    sentences: tuple[str, ...]


def diagnose_joint(
    joint: str,
    rows: NDArray[np.integer],
    verdict: NDArray[np.int8],
    likeliest: NDArray[np.integer],
    attributes: Mapping[str, Sequence[Any]],
    quantities: Sequence[tuple[str, str, FloatArray]],
    population: Population,
) -> JointDiagnosis:
    """Put together what a shift says about one joint.

    Parameters
    ----------
    rows : ndarray
        The joint's rows.
    verdict, likeliest : ndarray, shape (n,)
        Of all traces; indices into `VERDICTS` and `CAUSES` (-1: none).
    attributes : Mapping of name to one value a trace
    quantities : sequence of (words, unit, values)
        What is looked through for steps over time.
    """
    counts = {word: int(np.sum(verdict[rows] == VERDICTS.index(word))) for word in WORST_FIRST}
    numbers = np.bincount(likeliest[rows][likeliest[rows] >= 0], minlength=len(CAUSES))
    order = [int(code) for code in np.argsort(-numbers, kind="stable") if numbers[code]]
    causes = {CAUSES[code]: int(numbers[code]) for code in order}
    inside = np.zeros(len(verdict), np.bool_)
    inside[rows] = True
    shared = _shared(inside, verdict, likeliest, attributes, order)
    steps = _steps(rows, attributes, quantities)
    notes = (population.note,) if population.note else ()
    return JointDiagnosis(
        joint, counts, causes, shared, steps, notes, _sentences(counts, causes, shared, steps, population)
    )


def _shared(
    inside: NDArray[np.bool_],
    verdict: NDArray[np.int8],
    likeliest: NDArray[np.integer],
    attributes: Mapping[str, Sequence[Any]],
    order: Sequence[int],
) -> dict[str, tuple[Shared, ...]]:
    rows = np.flatnonzero(inside)  # only the joint's own values: a shift has many joints
    own = comparable_texts(
        {name: [values[row] for row in rows.tolist()] for name, values in attributes.items()}
    )
    flagged = np.isin(verdict[rows], [VERDICTS.index("not ok"), VERDICTS.index("suspect")])
    groups = {"flagged": flagged} | {CAUSES[code]: likeliest[rows] == code for code in order}
    found = {
        name: tuple(one for one in find_shared_texts(own, group) if one.is_significant)
        for name, group in groups.items()
        if int(group.sum()) >= LEAST_GROUP
    }
    return {name: shared for name, shared in found.items() if shared}


def _steps(
    rows: NDArray[np.integer],
    attributes: Mapping[str, Sequence[Any]],
    quantities: Sequence[tuple[str, str, FloatArray]],
) -> tuple[QuantityStep, ...]:
    starts = attributes.get("started_at")
    dated = starts is not None and all(starts[row] is not None for row in rows.tolist())
    ordered = rows
    if dated and starts is not None:
        ordered = np.array(sorted(rows.tolist(), key=lambda row: (starts[row], row)), np.int64)
    found = []
    for words, unit, values in quantities:
        for step in find_steps(values[ordered]):
            row = int(ordered[step.index])
            if abs(step.strength) >= LEAST_STEP:
                at = starts[row] if dated and starts is not None else None
                found.append(QuantityStep(words, unit, step, row, at))
    return tuple(sorted(found, key=lambda one: -abs(one.step.strength)))


def _sentences(
    counts: Mapping[str, int],
    causes: Mapping[str, int],
    shared: Mapping[str, tuple[Shared, ...]],
    steps: Sequence[QuantityStep],
    population: Population,
) -> tuple[str, ...]:
    total = sum(counts.values())
    numbers = ", ".join(f"{number} {word}" for word, number in counts.items() if number)
    lines = [f"{total} {'trace' if total == 1 else 'traces'}: {numbers}."]
    for cause, number in causes.items():
        words = cause.replace("-", " ")
        line = f"{words.capitalize()} is the likeliest cause of {number}."
        if cause in shared:
            line += f" Of these, {'; '.join(one.sentence() for one in shared[cause][:2])}."
        lines.append(f"{line} {NEXT_CHECKS[cause]}")
    if "flagged" in shared and not any(cause in shared for cause in causes):
        lines.append(f"Of the flagged traces, {'; '.join(one.sentence() for one in shared['flagged'][:3])}.")
    lines += [f"{text[0].upper()}{text[1:]}." for text in (step.sentence() for step in steps[:3])]
    lines.append(f"Compared with {population.basis} (n = {population.n_used}).")
    if population.note:
        lines.append(f"Note: {population.note}.")
    return tuple(lines)
