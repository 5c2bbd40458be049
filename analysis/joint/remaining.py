"""What is left of the clamp force of one trace: embedding, and torque lost in pauses on the way."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.arrays import finite_or_none
from analysis.catalogue.sentences import Amount, Said, Sentence, said
from analysis.figure_text import UNKNOWN, Uncertainty, bounded_texts, difference_text
from analysis.joint.calculation import CAUTION, shown
from analysis.joint.clamp_basis import joint_ring
from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.relaxation import EMBEDDING_SOURCE, EmbeddingLoss, estimate_embedding
from analysis.joint.stiffness import Stiffness, joint_stiffness
from analysis.operation.stages import Stage, StageTable

#: Static friction of a restart below this share of the torque is not told (own choice).
SMALLEST_OVERSHOOT = 0.01
MORE_TO_LOSE = (
    "Guide values for bare steel, well below the limit of surface pressure; paint, gaskets and plastic "
    "lose more. Most of the embedding is over within minutes to hours (common practice, no source)."
)


@dataclass(frozen=True)
class RemainingForce:
    """Clamp force of one trace after settling, kN; estimated, not measured."""

    #: As tightened: middle, lowest, highest.
    force_kn: float | None
    low_kn: float | None
    high_kn: float | None
    loss: EmbeddingLoss | None
    #: After embedding.
    left_kn: float | None
    left_low_kn: float | None
    left_high_kn: float | None
    reason: str  #: Why nothing is left to tell; empty where there is an estimate.
    pauses: tuple[Stage, ...]  #: The stages that a stop ended, with what the stop cost.
    wanted_kn: float | None  #: The smallest clamp force that the joint needs, where it says so.

    @property
    def is_enough(self) -> bool | None:
        """Whether the wanted force is reached: even by the lowest bound, or not even by the highest.

        None where it lies between the bounds, or something is not known.
        """
        if self.left_low_kn is None or self.left_high_kn is None or self.wanted_kn is None:
            return None
        if self.left_low_kn >= self.wanted_kn:
            return True
        return False if self.left_high_kn < self.wanted_kn else None


def joint_embedding(definition: JointDefinition) -> EmbeddingLoss | str:
    """Embedding loss of a joint, or why it is not known ("not evaluated: no surface roughness given").

    Examples
    --------
    >>> joint_embedding(JointDefinition("a", 48.0, thread="M10"))
    "not evaluated: no clamp length, parts' diameter or parts' modulus given"
    """
    ring = joint_ring(definition)
    stiffness = joint_stiffness(definition, None if isinstance(ring, str) else ring)
    if not isinstance(stiffness, Stiffness):
        return f"not evaluated: {stiffness}"
    return estimate_embedding(definition, stiffness)


def estimate_remaining(
    clamp: ClampTable, row: int, definition: JointDefinition | None, stages: StageTable
) -> RemainingForce:
    """Clamp force of one trace less what embedding takes, and the stops on the way to it.

    Notes
    -----
    Left = clamp force - F_Z, not below zero, for the middle and both bounds. The torque lost in a pause is
    not taken off: the tool went on and tightened anew, so that what settled before is in the final torque
    already.

    References
    ----------
    VDI 2230, loss by embedding; single guide values recalled, not confirmed.
    """
    force, low, high = (
        finite_or_none(column[row])
        for column in (clamp.clamp_force_kn, clamp.clamp_force_low_kn, clamp.clamp_force_high_kn)
    )
    loss: EmbeddingLoss | str = (
        "not evaluated: no joint assigned" if definition is None else joint_embedding(definition)
    )
    reason = clamp.reason[row] if low is None else (loss if isinstance(loss, str) else "")
    known = loss if isinstance(loss, EmbeddingLoss) else None
    left = [
        None if known is None or value is None else known.remaining_kn(value) for value in (force, low, high)
    ]
    stopped = tuple(stage for stage in stages.of(row) if stage.rest_torque_nm is not None)
    wanted = None if definition is None else definition.parts.get("wanted_clamp_force_kn")
    return RemainingForce(force, low, high, known, left[0], left[1], left[2], reason, stopped, wanted)


def explain_remaining(remaining: RemainingForce, step: Uncertainty = UNKNOWN) -> list[Said]:
    """In sentences for a colleague; torques in N·m, forces in kN. The last one is the caution."""
    lines = _pause_lines(remaining, step)
    loss, left = remaining.loss, left_texts(remaining)
    if loss is not None:
        notes = "".join(f"; {note}" for note in loss.notes)
        share = (
            f", {100.0 * loss.force_kn / remaining.force_kn:.0f} % of the estimate"
            if remaining.force_kn
            else ""
        )
        lines.append(
            f"Embedding takes {left[0] if left else shown(loss.force_kn)} kN{share}: "
            f"{loss.embedding_um:g} µm over {loss.faces}{notes} ({EMBEDDING_SOURCE})."
        )
    if left is None:
        lines.append(f"Clamp force left: {remaining.reason}.")
        return [*lines, CAUTION]
    _, low, high, *best = left
    lines.append(
        f"Clamp force left after embedding: {''.join(f'{one} kN, ' for one in best)}{low} to {high} kN."
    )
    if remaining.wanted_kn is not None:
        lines.append(f"The joint wants at least {shown(remaining.wanted_kn)} kN: {_enough(remaining)}.")
    return [*lines, MORE_TO_LOSE, CAUTION]


def left_texts(remaining: RemainingForce) -> tuple[str, ...] | None:
    """What embedding takes, the bounds of what is left and its best value, all to the same place."""
    if remaining.left_low_kn is None or remaining.left_high_kn is None or remaining.loss is None:
        return None
    best = () if remaining.left_kn is None else (remaining.left_kn,)
    low, high, loss, *left = bounded_texts(
        remaining.left_low_kn, remaining.left_high_kn, remaining.loss.force_kn, *best
    )
    return (loss, low, high, *left)


def _enough(remaining: RemainingForce) -> str:
    """Whether what is left is enough, in words."""
    if remaining.is_enough is not None:
        return "even the lowest is enough" if remaining.is_enough else "not even the highest is enough"
    assert remaining.wanted_kn is not None
    low, high = remaining.left_low_kn, remaining.left_high_kn
    assert low is not None
    assert high is not None
    missing = difference_text(low, remaining.wanted_kn, Uncertainty(width=(high - low) / 2.0)).lstrip("−")
    return f"torque and angle cannot tell; the lowest lacks {missing} kN"


def _pause_lines(remaining: RemainingForce, step: Uncertainty) -> list[Said]:
    if not remaining.pauses:
        return ["The tool did not stop in the rise."]
    lines: list[Said] = [_pause_line(stage, step) for stage in remaining.pauses]
    lines.append(
        "Torque falls in a stop because the drive lets go and because the joint settles: the fall is the "
        "most that settling can have taken. What settled before the final point is in the final torque "
        "already."
    )
    return lines


def _pause_line(stage: Stage, step: Uncertainty) -> Sentence:
    assert stage.rest_torque_nm is not None
    share = 100.0 * (stage.end_torque_nm - stage.rest_torque_nm) / stage.end_torque_nm
    lasted = "" if stage.pause_s is None else f" for {1000.0 * stage.pause_s:.0f} ms"
    more = stage.overshoot_nm or 0.0
    felt = more >= SMALLEST_OVERSHOOT * stage.end_torque_nm
    return said(
        "Stopped{lasted} at {angle} deg: torque fell from {end} to {rest} ({share} %){again}.",
        lasted=lasted,
        angle=f"{stage.end_angle_deg:.1f}",
        end=Amount(stage.end_torque_nm, "N·m", step, bare=True),
        rest=Amount(stage.rest_torque_nm, "N·m", step),
        share=f"{share:.0f}",
        again=said(", {more} more to restart it", more=Amount(more, "N·m", step)) if felt else "",
    )
