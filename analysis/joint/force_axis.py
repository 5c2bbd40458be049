"""Every route to the clamp force of one trace on one force axis, the result, and what it is held against."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from analysis.catalogue.figures import CLAMP_FORCE
from analysis.catalogue.units import DisplayUnits
from analysis.figure_text import bounded_texts, given_text, number_text, titled
from analysis.joint.clamp_basis import clamp_basis
from analysis.joint.clamp_table import ClampTable
from analysis.joint.clamp_words import contradiction
from analysis.joint.definition import JointDefinition
from analysis.joint.property_class import STAINLESS, proof_load_n
from analysis.joint.routes import COVERAGE
from analysis.joint.utilisation import utilisation

#: Name of the row that holds what the routes leave together.
RESULT = "result"
#: Shown beyond the outermost force on either side, as a share of the range (own choice).
_BESIDE = 0.05


@dataclass(frozen=True)
class ForceRow:
    """One route, or the result; forces in the unit of the axis."""

    name: str  #: Of `analysis.joint.routes.ROUTE_NAMES`, or `RESULT`.
    low: float
    best: float | None  #: None: the routes contradict each other, and the bounds are their hull.
    high: float

    @property
    def text(self) -> str:
        """Value and bounds, without the unit: "17.2 (15.0 to 19.8)"."""
        if self.best is None:
            return f"{' to '.join(bounded_texts(self.low, self.high))}, no best value"
        low, high, best = bounded_texts(self.low, self.high, self.best)
        return best if low == high else f"{best} ({low} to {high})"


@dataclass(frozen=True)
class ForceMark:
    """A force that the estimate is held against, in the unit of the axis; `text` names it with its value."""

    force: float
    text: str


@dataclass(frozen=True)
class ForceAxis:
    """What is drawn: rows from top to bottom, the result last; lines across them."""

    rows: tuple[ForceRow, ...]  #: Empty where there is no figure.
    #: Wanted force, proof load, yield; the outermost first. Named from the top down in this order and toward
    #: the middle, no name lies on the line of another that is nearer to the same end.
    marks: tuple[ForceMark, ...]
    unit: str  #: Symbol of the force that is shown.
    reason: str = ""  #: Why there is no figure; empty where there is one.
    contradiction: str = ""  #: What it means that routes contradict each other; empty where they do not.

    @property
    def title(self) -> str:
        """What the axis shows."""
        return titled("Clamp force by each route", self.unit)

    @property
    def caption(self) -> str:
        """How the picture is read, and what to know of it."""
        bars = f"Bar: ±{COVERAGE:g} standard uncertainties (about 95 %); diamond: best value."
        if self.rows and self.rows[-1].best is None:
            bars += " The result's bar holds all that any route allows."
        return f"{bars} {self.contradiction}".rstrip()

    @property
    def words(self) -> str:
        """All of it in one text, for those who do not see the picture."""
        if not self.rows:
            return self.reason
        told = [f"{row.name} {row.text} {self.unit}" for row in self.rows]
        told += [mark.text for mark in self.marks]
        return f"{'; '.join(told)}. {self.contradiction}".rstrip()

    @property
    def range(self) -> tuple[float, float]:
        """Lowest and highest force of the axis, a little beside the outermost."""
        ends = [end for row in self.rows for end in (row.low, row.high)] + [m.force for m in self.marks]
        low, high = min(ends), max(ends)
        room = _BESIDE * (high - low) or _BESIDE * abs(high) or 1.0
        return low - room, high + room

    def before(self, mark: ForceMark) -> bool:
        """Whether the name of a line stands ahead of it: toward the middle of the axis."""
        return mark.force > sum(self.range) / 2


def force_axis(
    clamp: ClampTable, row: int, definition: JointDefinition | None, units: DisplayUnits | None = None
) -> ForceAxis:
    """Routes, result and marks of one trace.

    Parameters
    ----------
    definition : JointDefinition or None
        Joint of the trace; gives the marks.
    units : DisplayUnits or None
        None: the internal ones.
    """
    shown = units or DisplayUnits()
    unit, factor = CLAMP_FORCE.symbol(shown), CLAMP_FORCE.factor(shown)
    low, high = float(clamp.clamp_force_low_kn[row]), float(clamp.clamp_force_high_kn[row])
    if clamp.reason[row] or definition is None or not (math.isfinite(low) and math.isfinite(high)):
        why = clamp.reason[row] or "not evaluated: no joint assigned"
        return ForceAxis((), (), unit, f"Clamp force {why}.")
    rows = [
        ForceRow(name, least * factor, best * factor, most * factor)
        for name, least, best, most in clamp.routes_of(row)
    ]
    best = float(clamp.clamp_force_kn[row])
    rows.append(ForceRow(RESULT, low * factor, best * factor if math.isfinite(best) else None, high * factor))
    told = " ".join(contradiction(clamp, row))
    found = ForceAxis(tuple(rows), _marks(definition, unit, factor), unit, contradiction=told)
    middle = sum(found.range) / 2
    return replace(found, marks=tuple(sorted(found.marks, key=lambda mark: -abs(mark.force - middle))))


def _marks(definition: JointDefinition, unit: str, factor: float) -> tuple[ForceMark, ...]:
    """Wanted force as given; proof load of the class; force at yield at the middle of the friction range."""
    found: list[ForceMark] = []
    wanted = definition.parts.get("wanted_clamp_force_kn")
    if wanted is not None:
        found.append(ForceMark(wanted * factor, f"wanted {given_text(wanted, factor)} {unit}"))
    basis = clamp_basis(definition)
    if isinstance(basis, str):
        return tuple(found)
    grade, mu = definition.property_class, basis.mu_thread_middle
    # Stainless classes have no proof load in their standard.
    if grade is not None and grade not in STAINLESS:
        proof = proof_load_n(basis.thread, grade) / 1000.0 * factor
        found.append(ForceMark(proof, f"proof load {number_text(proof, 1)} {unit}"))
    if basis.yield_mpa is not None and mu is not None:
        # The force at yield does not depend on the force that is asked about.
        at = utilisation(basis.thread, 1.0, mu, yield_mpa=basis.yield_mpa).force_at_yield_kn * factor
        found.append(ForceMark(at, f"yield at friction {number_text(mu, 2)}: {number_text(at, 1)} {unit}"))
    return tuple(found)
