"""All that the joint's engineering says about one trace, in titled parts that window and report share."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from analysis.catalogue.sentences import Amount, Said, said
from analysis.curve.curve_table import CurveTable
from analysis.figure_text import Uncertainty, bounded_texts, measured_text
from analysis.joint.back_off_values import back_off_value, value_sentences
from analysis.joint.calculation import CAUTION
from analysis.joint.clamp_table import ClampTable
from analysis.joint.clamp_words import explain_clamp, torque_budget, why_no_best_value
from analysis.joint.definition import JointDefinition
from analysis.joint.expected import expected_fan
from analysis.joint.force_zones import ForceZones, find_force_points, force_rows, zones_by_force
from analysis.joint.laboratory_table import LaboratoryRow, evaluate_series
from analysis.joint.laboratory_words import explain_laboratory, prevailing_or_none
from analysis.joint.loosening_pairs import LooseningPair, estimate_pair, find_pairs
from analysis.joint.prevailing_limits import check_prevailing, prevailing_intent
from analysis.joint.remaining import estimate_remaining, explain_remaining
from analysis.joint.stiffness import joint_yield_offset_deg
from analysis.joint.thread import parse_thread
from analysis.operation.table import OperationTable
from analysis.settings import CurveSettings
from analysis.traces import TraceSet
from analysis.traces.recorded_step import RecordedSteps

ESTIMATE, BUDGET, EXPECTED, PREVAILING, LEFT, MEASURED, LOOSENED, BACKED, NARROWER = (
    "Estimated clamp force",
    "Where the torque went",
    "Against what is expected of the joint",
    "Prevailing torque",
    "What is left after tightening",
    "Measured clamp force",
    "From the loosening torque",
    "From the back-off",
    "What would narrow the bounds",
)


#: Parts of a torque below this are not told, N·m: less than any tool shows (own choice).
SMALLEST_PART_NM = 0.0005


@dataclass(frozen=True)
class StoryPart:
    """One part: a title and sentences, torques in N·m, forces in kN."""

    title: str
    lines: tuple[Said, ...]


@dataclass(frozen=True, eq=False)
class TraceEngineering:
    """What is needed to tell the story of any trace of a set."""

    traces: TraceSet
    curves: CurveTable
    clamp: ClampTable
    joints: Mapping[str, JointDefinition]
    settings: CurveSettings
    operations: OperationTable  #: Stages with their stops, and loosenings.

    @cached_property
    def steps(self) -> RecordedSteps:
        """Steps of the recordings."""
        return RecordedSteps(self.traces)

    def torque(self, row: int, value_nm: float) -> Amount:
        """A torque of one trace, to the digits that its recording has."""
        return Amount(value_nm, "N·m", Uncertainty(step=self.steps.torque_nm(row)))

    def level(self, row: int) -> Uncertainty:
        """How well the prevailing torque is known."""
        return Uncertainty(float(self.curves.prevailing_uncertainty_nm[row]), self.steps.torque_nm(row))

    def zones(self, row: int, joint: str | None) -> ForceZones | str:
        """Zones by the measured force, by the rules of the settings, or why there are none."""
        offset = self._offset_deg(joint)
        return zones_by_force(self.traces, self.curves, row, self.settings, yield_offset_deg=offset)

    def tests(self, joint_names: Sequence[str | None]) -> list[LaboratoryRow]:
        """Every test with a load cell and a known joint, its zones by force with it.

        Parameters
        ----------
        joint_names : sequence of str or None
            One a trace; only traces that have one are evaluated.
        """
        rows = force_rows(self.traces)
        if not rows:
            return []
        offsets = [self._offset_deg(joint_names[row]) for row in rows]
        chosen = None if None in offsets else np.array(offsets, np.float64)
        zones = find_force_points(self.traces, self.curves, rows, self.settings, yield_offset_deg=chosen)
        return evaluate_series(self.traces, self.curves, self.clamp, joint_names, self.joints, zones=zones)

    def pairs(self, joint_names: Sequence[str | None]) -> list[LooseningPair]:
        """Every tightening with its loosening, in the order of the loosenings."""
        return [self._pair(on, off, joint_names[on]) for on, off in self._pairs]

    def _pair(self, on: int, off: int, joint: str | None) -> LooseningPair:
        loosenings = self.operations.loosenings
        return estimate_pair(
            self.traces,
            self.curves,
            loosenings,
            self.clamp,
            tightening_row=on,
            loosening_row=off,
            joints=self.joints,
            joint=joint or "",
            back_off=self.operations.back_off_of(off),
        )

    def _offset_deg(self, joint: str | None) -> float | None:
        """Angle of permanent elongation for the offset rule; NaN where unknown, None where not asked for."""
        if not self.settings.offset_by_joint:
            return self.settings.yield_offset_deg
        known = joint_yield_offset_deg(self._definition(joint))
        return math.nan if isinstance(known, str) else known

    def pair(self, row: int, joint: str | None) -> LooseningPair | None:
        """The loosening that belongs to this tightening (or the other way round), where there is one."""
        for on, off in self._pairs:
            if row in (on, off):
                return self._pair(on, off, joint)
        return None

    @cached_property
    def _pairs(self) -> list[tuple[int, int]]:
        return find_pairs(self.traces, self.operations.loosenings)

    def story(self, row: int, joint: str | None) -> list[StoryPart]:
        """Every part that this trace has something to say about; the caution that belongs beside is
        `CAUTION`.

        Parameters
        ----------
        joint : str or None
            Key in `joints`.
        """
        definition = self._definition(joint)
        parts = []
        if not self.operations.loosenings.is_loosening[row]:
            estimate = explain_clamp(self.clamp, row, definition, self.level(row))
            parts.append(StoryPart(ESTIMATE, tuple(line for line in estimate if line != CAUTION)))
            # The height of a pulse is no torque to be split, and what lies between pulses is no pause.
            steady = not self.operations.pulsed[row]
            if definition is not None and steady:
                parts.append(StoryPart(BUDGET, tuple(_budget(self, row, definition))))
                parts.append(StoryPart(EXPECTED, tuple(_expected(self, row, definition))))
            if definition is not None:
                parts.append(StoryPart(PREVAILING, tuple(_prevailing(self, row, definition))))
            if steady:
                remaining = estimate_remaining(self.clamp, row, definition, self.operations.stages)
                left = explain_remaining(remaining, Uncertainty(step=self.steps.torque_nm(row)))
                parts.append(StoryPart(LEFT, tuple(line for line in left if line != CAUTION)))
        zones = self.zones(row, joint)
        if isinstance(zones, ForceZones):
            lines = explain_laboratory(
                self.traces[row], self.curves, self.clamp, row, definition=definition, zones=zones
            )
            parts.append(StoryPart(MEASURED, tuple(lines)))
        pair = self.pair(row, joint)
        if pair is not None:
            lines = [*explain_pair(pair, self.traces), *_first_off(pair, definition)]
            parts.append(StoryPart(LOOSENED, tuple(lines)))
        back_off = self.operations.back_off_of(row)
        if back_off is not None and back_off.back_rows:
            parts.append(StoryPart(BACKED, tuple(value_sentences(back_off_value(back_off, definition)))))
        return parts

    def _definition(self, joint: str | None) -> JointDefinition | None:
        return None if joint is None else self.joints.get(joint)


def _budget(known: TraceEngineering, row: int, definition: JointDefinition) -> list[Said]:
    final = float(known.curves.final_torque_nm[row])
    if not math.isfinite(final):
        return ["Not evaluated: no final torque."]
    taken, force = (float(c[row]) for c in (known.clamp.prevailing_taken_nm, known.clamp.clamp_force_kn))
    if not math.isfinite(force):
        reason = known.clamp.reason[row] or f"not evaluated: {why_no_best_value(known.clamp, row)}"
        return [f"{reason[:1].upper()}{reason[1:]}."]
    budget = torque_budget(definition, final, taken, force)
    if isinstance(budget, str):
        return [f"{budget[:1].upper()}{budget[1:]}."]
    uses = (
        ("Taken by the prevailing torque", budget.prevailing_nm),
        ("Stretches the bolt", budget.pitch_nm),
        ("Lost in the thread", budget.thread_nm),
        ("Lost under the head", budget.bearing_nm),
    )
    lines: list[Said] = [
        said(
            "{words}: {torque}, {share} %.",
            words=words,
            torque=known.torque(row, value),
            share=f"{100.0 * value / budget.total_nm:.1f}",
        )
        for words, value in uses
        if abs(value) >= SMALLEST_PART_NM
    ]
    none = "Not evaluated: a final torque of {final} is too small to be split."
    return lines or [said(none, final=known.torque(row, final))]


def _expected(known: TraceEngineering, row: int, definition: JointDefinition) -> list[Said]:
    curves = known.curves
    fan = expected_fan(definition, prevailing_nm=prevailing_or_none(curves, row))
    if isinstance(fan, str):
        return [f"Slope and angle: {fan}."]
    slope, rate = float(curves.elastic_slope_nm_per_deg[row]), float(curves.joint_rate_deg[row])
    if not math.isfinite(slope):
        return ["Slope and angle: not evaluated: the recording shows no straight stretch."]
    steepness = Uncertainty(float(curves.elastic_slope_uncertainty_nm_per_deg[row]))
    judged = fan.judge_slope(slope, steepness)
    lines: list[Said] = [said("{judged} ({basis}).", judged=judged, basis=fan.basis)]
    if int(curves.yielded[row]) == 1:
        lines.append(
            "Angle from snug to final: not evaluated: the bolt yielded, and turns further than its line."
        )
    elif math.isfinite(rate):
        snug, final = float(curves.snug_torque_nm[row]), float(curves.final_torque_nm[row])
        angle = Uncertainty(float(curves.snug_angle_uncertainty_deg[row]), known.steps.angle_deg(row))
        lines.append(said("{judged}.", judged=fan.judge_rate(rate, snug, final, angle)))
    return lines


def _prevailing(known: TraceEngineering, row: int, definition: JointDefinition) -> list[Said]:
    read = float(known.curves.prevailing_torque_nm[row])
    highest = float(known.curves.prevailing_highest_nm[row])
    intent = {
        "intended": "the joint is meant to have one",
        "not intended": "the joint is meant to have none",
        "not stated": "the joint does not say whether it is meant to have one",
    }[prevailing_intent(definition)]
    if not math.isfinite(read):
        return [f"Not read from the recording; {intent}."]
    lines: list[Said] = [
        said(
            "{read} just ahead of the rise, highest {highest} during the rundown; {intent}.",
            read=Amount(read, "N·m", known.level(row)),
            highest=known.torque(row, highest),
            intent=intent,
        )
    ]
    nut_class = definition.parts.get("nut_class")
    if nut_class is not None and definition.thread is not None:
        thread = parse_thread(definition.thread)
        check = check_prevailing(highest, thread, nut_class, known=known.torque(row, highest).known)
        lines.append(said("Nut class {nut}: {check}.", nut=nut_class, check=check.sentence))
    return lines


def _first_off(pair: LooseningPair, definition: JointDefinition | None) -> list[Said]:
    """What a locking nut still held when it came off, against the standard; taken as the first time."""
    nut_class = None if definition is None else definition.parts.get("nut_class")
    if nut_class is None or definition is None or definition.thread is None:
        return []
    thread = parse_thread(definition.thread)
    check = check_prevailing(pair.free_running_nm, thread, nut_class, run="first off")
    words = "Nut class {nut}, taken as coming off for the first time: {check}."
    return [said(words, nut=nut_class, check=check.sentence)]


def explain_pair(pair: LooseningPair, traces: TraceSet) -> list[Said]:
    """Clamp force from tightening and loosening of one bolt, in sentences."""
    on, off = (traces.trace_ids[row] for row in (pair.tightening_row, pair.loosening_row))
    estimate = pair.estimate
    if estimate.force_kn is None or estimate.uncertainty_kn is None:
        return [f"{on} and {off}: {estimate.reason}."]
    lines: list[Said] = [
        said(
            "{on} tightened with {tightening}, {off} {loose} {loosening}, prevailing torque taken off "
            "both: T_on - T_off = F P/π gives {least}{force}, whatever the friction.",
            loose="broke away at" if estimate.at_least else "ran loose from its first movement on with",
            least="at least " if estimate.at_least else "",
            on=on,
            off=off,
            tightening=Amount(estimate.tightening_nm, "N·m"),
            loosening=Amount(estimate.loosening_nm, "N·m"),
            force=measured_text(estimate.force_kn, Uncertainty(estimate.uncertainty_kn), "kN"),
        )
    ]
    if pair.from_torque_kn is not None:
        low, high = pair.from_torque_kn
        fits = "agrees with" if pair.agrees else "disagrees with"
        bounds = " to ".join(bounded_texts(low, high))
        lines.append(f"This {fits} the {bounds} kN that the final torque alone gives.")
    if pair.note:
        lines.append(f"{pair.note[:1].upper()}{pair.note[1:]}.")
    return [*lines, f"{estimate.caution[:1].upper()}{estimate.caution[1:]}."]
