"""What is lost after tightening: embedding of the faces, torque lost while the tool stands still."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.joint.definition import JointDefinition
from analysis.joint.stiffness import Stiffness
from analysis.joint.thread import parse_thread
from analysis.traces import Trace

#: Embedding by roughness of the faces (Rz in micrometres) and direction of the working load, micrometres:
#: thread, each face under head or nut, each inner interface. The sum for 10 to 40, axial, through bolt, one
#: inner interface (11) was seen (VDI 2230); the single figures are recalled, not confirmed.
_EMBEDDING_UM: dict[tuple[str, str], tuple[float, float, float]] = {
    ("below 10", "axial"): (3.0, 2.5, 1.5),
    ("below 10", "shear"): (3.0, 3.0, 2.0),
    ("10 to 40", "axial"): (3.0, 3.0, 2.0),
    ("10 to 40", "shear"): (3.0, 4.5, 2.5),
    ("40 to 160", "axial"): (3.0, 4.0, 3.0),
    ("40 to 160", "shear"): (3.0, 6.5, 3.5),
}
EMBEDDING_SOURCE = "VDI 2230, guide values for embedding; single figures recalled, not confirmed"
SURFACES = ("below 10", "10 to 40", "40 to 160")


@dataclass(frozen=True)
class EmbeddingLoss:
    """Clamp force that embedding takes.

    Attributes
    ----------
    embedding_um : float
        f_Z, micrometres.
    force_kn : float
        F_Z, kN.
    faces : str
        What was counted.
    notes : tuple of str
    """

    embedding_um: float
    force_kn: float
    faces: str
    notes: tuple[str, ...] = ()

    def remaining_kn(self, force_kn: float) -> float:
        """What is left of a clamp force, kN; not below zero."""
        return max(force_kn - self.force_kn, 0.0)


def embedding_um(
    surface: str, *, direction: str = "axial", inner_interfaces: int = 1, counterpart: str = "nut"
) -> float:
    """Sum of embedding of thread, bearing faces and inner interfaces, micrometres.

    A through bolt has two bearing faces (head and nut), a tapped one has one.

    Examples
    --------
    >>> embedding_um("10 to 40")
    11.0
    """
    thread, face, inner = _EMBEDDING_UM[surface, direction]
    return thread + (2 if counterpart == "nut" else 1) * face + inner_interfaces * inner


def estimate_embedding(definition: JointDefinition, stiffness: Stiffness) -> EmbeddingLoss | str:
    """Clamp force lost by embedding, F_Z = f_Z/(delta_S + delta_P), or the reason why it is not known.

    Notes
    -----
    Guide values for steel parts without coating or gasket, well below the limit of surface pressure; paint,
    gaskets and plastic lose more. Most of it is lost within minutes to hours.

    References
    ----------
    VDI 2230.
    """
    surface = definition.parts.get("surface")
    if surface is None:
        return "not evaluated: no surface roughness given"
    if stiffness.bolt_compliance_mm_per_n is None or stiffness.parts_compliance_mm_per_n is None:
        if definition.thread is None:
            return "not evaluated: no thread given"
        # A measured force per degree holds the same sum of compliances.
        compliance = parse_thread(definition.thread).pitch_mm / (360.0 * stiffness.force_per_degree_n)
    else:
        compliance = stiffness.bolt_compliance_mm_per_n + stiffness.parts_compliance_mm_per_n
    direction = definition.parts.get("load_direction", "axial")
    inner = definition.parts.get("inner_interfaces", 1)
    counterpart = definition.parts.get("counterpart", "nut")
    total = embedding_um(surface, direction=direction, inner_interfaces=inner, counterpart=counterpart)
    words = (
        f"thread, {2 if counterpart == 'nut' else 1} bearing faces, {inner} inner interfaces, Rz {surface}"
    )
    notes = tuple(
        f"{what}: not stated"
        for key, what in (
            ("load_direction", "axial load taken"),
            ("inner_interfaces", "one inner interface taken"),
            ("counterpart", "through bolt with nut taken"),
        )
        if key not in definition.parts
    )
    return EmbeddingLoss(total, total / 1000.0 / compliance / 1000.0, words, notes)


@dataclass(frozen=True)
class Pause:
    """The tool stood still in the rise and went on.

    Attributes
    ----------
    from_s, to_s : float
        On the trace's own time axis.
    angle_deg : float
    torque_before_nm, torque_after_nm : float
        When the turning ended, and the lowest before it began again.
    restart_peak_nm : float
        Highest torque within `RESTART_DEG` of the restart: static friction lifts it above the curve.
    """

    from_s: float
    to_s: float
    angle_deg: float
    torque_before_nm: float
    torque_after_nm: float
    restart_peak_nm: float

    @property
    def lost_nm(self) -> float:
        """Torque lost while standing."""
        return self.torque_before_nm - self.torque_after_nm

    @property
    def overshoot_nm(self) -> float:
        """Highest torque of the restart above the torque before the pause."""
        return self.restart_peak_nm - self.torque_before_nm


#: A pause is a stretch of at least this many seconds in which the angle moves less than this many degrees:
#: common practice, no source.
SHORTEST_PAUSE_S, STILL_DEG = 0.03, 1.0
#: A smaller loss, as a share of the torque before, is noise: common practice, no source.
SMALLEST_LOSS = 0.01
#: Degrees of turn after a pause in which the restart peak is looked for: common practice, no source.
RESTART_DEG = 5.0


def detect_pauses(trace: Trace, *, above_nm: float, shortest_s: float = SHORTEST_PAUSE_S) -> list[Pause]:
    """Pauses before the final point with the torque lost in each.

    Torque falls in a pause because the drive lets go and because the joint settles; the fall alone does not
    tell which, so it is an upper bound of what settling took from the torque.

    Parameters
    ----------
    trace : Trace
        Needs a time channel; without one there is no pause to be seen and the list is empty.
    above_nm : float
        Pauses at a torque below this (running down) are not counted.
    shortest_s : float
    """
    if trace.time_s is None or len(trace) < 3:
        return []
    final = len(trace) - 1 - int(np.argmax(trace.torque_nm[::-1]))
    upto = slice(0, final + 1)
    time, angle, torque = trace.time_s[upto], trace.angle_deg[upto], trace.torque_nm[upto]
    pauses: list[Pause] = []
    start = 0
    while start < final:
        # The furthest sample that is reached without turning; NaN times never count as a pause.
        beyond = np.flatnonzero(np.abs(angle[start:] - angle[start]) > STILL_DEG)
        stop = start + int(beyond[0]) - 1 if beyond.size else final
        # The way of a restart goes up: the pause ends at its lowest torque.
        lowest = start + int(np.argmin(torque[start : stop + 1]))
        long_enough = time[stop] - time[start] >= shortest_s
        before = float(torque[start : lowest + 1].max())
        lost = before - float(torque[lowest])
        if stop < final and long_enough and before > above_nm and lost > SMALLEST_LOSS * before:
            restart = slice(lowest, final + 1)
            near = np.abs(angle[restart] - angle[lowest]) <= RESTART_DEG
            pauses.append(
                Pause(
                    float(time[start]),
                    float(time[lowest]),
                    float(angle[start]),
                    before,
                    float(torque[lowest]),
                    float(torque[restart][near].max()),
                )
            )
            start = max(stop, start + 1)
        else:
            start += 1
    return pauses
