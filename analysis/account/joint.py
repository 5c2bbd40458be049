"""What a shift says about one joint: how many, why, what the odd ones share, what moved over time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from analysis.account.over_time import step_sentence
from analysis.account.unlike import unlike_sentence
from analysis.arrays import FloatArray, IntArray
from analysis.catalogue.causes import CAUSE_NAMES, CAUSE_OF
from analysis.catalogue.figures import Figure
from analysis.catalogue.sentences import Sentence, as_text, joined, plain
from analysis.catalogue.verdicts import NOT_OK, SUSPECT, VERDICTS, WORST_FIRST
from analysis.errors import CallError
from analysis.facts import Facts, attribute_values
from analysis.figure_text import capitalised, plural
from analysis.shift.drift import Step, find_steps
from analysis.shift.population import Population
from analysis.shift.sharing import Shared, coded_attributes, find_shared_codes
from analysis.verdict.features import FEATURES

#: Traces with one cause from which it is asked what they share; fewer share something by chance alone.
LEAST_GROUP = 4
#: Steps of less than this many standard deviations are not worth a sentence (common practice, no source).
LEAST_STEP = 1.0
#: Key of what all flagged traces share, beside the causes.
ALL_FLAGGED = "flagged"


@dataclass(frozen=True)
class FigureStep:
    """A step of one figure: between which traces, when, and by how much."""

    figure: Figure
    step: Step  #: Index in order of time within the joint.
    row: int  #: Row of the analysis that the new level begins with.
    at: datetime | None  #: Its start, where the recordings say when.

    def sentence(self) -> Sentence:
        """Such as: prevailing torque steps from 0.30 to 0.52 N·m at 2024-03-12 11:40 UTC."""
        return step_sentence(self.figure.said, self.figure.unit, self.step, self.at)


@dataclass(frozen=True, eq=False)
class JointShift:
    """The traces of one joint within a shift."""

    joint: str
    rows: NDArray[np.integer]  #: The joint's rows.
    #: Shape (n,). Of all traces; indices into `VERDICTS` and `CAUSES` (-1: none).
    verdict: NDArray[np.int8]
    likeliest: NDArray[np.integer]
    attributes: Mapping[str, Sequence[Any]]
    #: (Figure, values): what is looked through for steps over time.
    figures: Sequence[tuple[Figure, FloatArray]]
    population: Population  #: What the traces were compared with.


@dataclass(frozen=True)
class JointAccount:
    """What a shift says about one joint."""

    joint: str
    counts: dict[str, int]
    causes: dict[str, int]
    #: Of each cause, what its traces share (`ALL_FLAGGED`: all flagged ones); significant findings only.
    shared: dict[str, tuple[Shared, ...]]
    steps: tuple[FigureStep, ...]
    population: Population
    #: How the joint contradicts its definition, where it does; first of all that is said.
    unlike: tuple[Sentence, ...] = ()
    #: Which tightenings surely hold the wanted clamp force, its scatter, and the chances; said next.
    held: tuple[Sentence, ...] = ()
    audited: tuple[Sentence, ...] = ()  #: What audits found against the tightenings; empty without audits.

    @property
    def foremost(self) -> tuple[Sentence, ...]:
        """What is said before all counts."""
        return (*self.unlike, *self.held)

    @property
    def basis(self) -> tuple[Sentence, ...]:
        """What the traces were compared with, and what to know before trusting it."""
        population = self.population
        lines = [f"Compared with {population.basis} (n = {population.n_used})."]
        lines += [population.chance] if population.chance else []
        return tuple(map(plain, lines + ([f"Note: {population.note}."] if population.note else [])))

    @property
    def sentences(self) -> tuple[Sentence, ...]:
        """All of it for a colleague, most important first."""
        total = sum(self.counts.values())
        numbers = ", ".join(f"{number} {word}" for word, number in self.counts.items() if number)
        lines: list[Sentence] = [plain(f"{plural(total, 'trace')}: {numbers}.")]
        lines = [*self.foremost, *lines, *self.audited]
        lines += [plain(self._of_cause(cause, number)) for cause, number in self.causes.items()]
        if ALL_FLAGGED in self.shared and not any(cause in self.shared for cause in self.causes):
            said_of = "; ".join(one.sentence() for one in self.shared[ALL_FLAGGED][:3])
            lines.append(plain(f"Of the flagged traces, {said_of}."))
        lines += [_as_sentence(step.sentence()) for step in self.steps[:3]]
        return (*lines, *self.basis)

    def _of_cause(self, cause: str, number: int) -> str:
        line = f"{capitalised(CAUSE_OF[cause].words)}: likeliest cause of {plural(number, 'trace')}."
        if cause in self.shared:
            line += f" Of these, {'; '.join(one.sentence() for one in self.shared[cause][:2])}."
        return f"{line} Check next: {CAUSE_OF[cause].next_check}"


def _as_sentence(part: Sentence) -> Sentence:
    """Part of a sentence with a capital and a full stop."""
    name = as_text(part.fields["figure"])
    return joined((Sentence(part.template, {**part.fields, "figure": name[0].upper() + name[1:]}), "."), "")


def account_of_joint(facts: Facts, joint: str, rows: IntArray | None = None) -> JointAccount:
    """What the shift says about one joint.

    Raises
    ------
    CallError
        Where no trace belongs to this joint.
    """
    if joint not in facts.joint_rows.names:
        raise CallError(f"no trace belongs to joint {joint!r}")
    values = facts.evidence.features.T
    if rows is None:
        rows = np.flatnonzero(facts.joint_rows.codes == facts.joint_rows.names.index(joint))
    contradicting = rows[facts.company.unlike[rows]]
    unlike = (unlike_sentence(facts, contradicting),) if len(contradicting) else ()
    account = diagnose(
        JointShift(
            joint,
            rows,
            facts.verdict,
            facts.causes.likeliest,
            attribute_values(facts.traces),
            [(one.figure, values[k]) for k, one in enumerate(FEATURES) if one.scored],
            facts.outliers.populations[joint],
        )
    )
    return replace(account, unlike=unlike)


def diagnose(shift: JointShift) -> JointAccount:
    """Count, look for what the odd ones share, and for steps over time."""
    rows, likeliest = shift.rows, shift.likeliest
    counts = {word: int(np.sum(shift.verdict[rows] == VERDICTS.index(word))) for word in WORST_FIRST}
    numbers = np.bincount(likeliest[rows][likeliest[rows] >= 0], minlength=len(CAUSE_NAMES))
    order = [int(code) for code in np.argsort(-numbers, kind="stable") if numbers[code]]
    causes = {CAUSE_NAMES[code]: int(numbers[code]) for code in order}
    return JointAccount(shift.joint, counts, causes, _shared(shift, order), _steps(shift), shift.population)


def _shared(shift: JointShift, order: Sequence[int]) -> dict[str, tuple[Shared, ...]]:
    rows = np.sort(shift.rows)  # only the joint's own values: a shift has many joints
    own = coded_attributes(
        {name: [values[row] for row in rows.tolist()] for name, values in shift.attributes.items()}
    )
    groups = {ALL_FLAGGED: np.isin(shift.verdict[rows], [NOT_OK, SUSPECT])}
    groups |= {CAUSE_NAMES[code]: shift.likeliest[rows] == code for code in order}
    found = {
        name: tuple(one for one in find_shared_codes(own, group) if one.is_significant)
        for name, group in groups.items()
        if int(group.sum()) >= LEAST_GROUP
    }
    return {name: shared for name, shared in found.items() if shared}


def _steps(shift: JointShift) -> tuple[FigureStep, ...]:
    starts, ordered = shift.attributes.get("started_at"), shift.rows
    if starts is not None and any(starts[row] is None for row in ordered.tolist()):
        starts = None
    if starts is not None:
        moments = starts
        ordered = np.array(sorted(ordered.tolist(), key=lambda row: (moments[row], row)), np.int64)
    found = [
        FigureStep(figure, step, row, None if starts is None else starts[row])
        for figure, values in shift.figures
        for step in find_steps(values[ordered])
        if abs(step.strength) >= LEAST_STEP
        for row in (int(ordered[step.index]),)
    ]
    return tuple(sorted(found, key=lambda one: -abs(one.step.strength)))
