"""What is lost after tightening: embedding of the faces, torque lost while the tool stands still."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.joint.definition import JointDefinition
from analysis.joint.stiffness import Stiffness
from analysis.joint.thread import parse_thread
from analysis.traces import Trace

FloatArray = NDArray[np.float64]

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
    faces = "2 bearing faces" if counterpart == "nut" else "1 bearing face"
    words = f"thread, {faces}, {inner} inner {'interface' if inner == 1 else 'interfaces'}, Rz {surface} µm"
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


#: A pause is a stretch of at least this many seconds in which the angle does not go on by this many degrees
#: (the step of a common angle encoder): common practice, no source.
SHORTEST_PAUSE_S, STILL_DEG = 0.03, 0.25
#: A smaller loss, as a share of the torque before, is noise: common practice, no source.
SMALLEST_LOSS = 0.01
#: Degrees beyond the furthest angle before a pause in which the restart peak is looked for: static friction
#: lets go within less (common practice, no source), and in more the curve itself rises.
RESTART_DEG = 1.0
#: The lowest torque lies this share of the stretch or later: settling goes on while the tool stands, a dip
#: right after the beginning is a restart's vibration. Common practice, no source.
STILL_SHARE = 0.1


def detect_pauses(trace: Trace, *, above_nm: float, shortest_s: float = SHORTEST_PAUSE_S) -> list[Pause]:
    """Pauses before the final point with the torque lost in each.

    Between two samples that turn the fastener further than it was ever turned, the tool stands still or
    springs back. Such a stretch is a pause where it lasts and the torque falls in it. Torque falls because
    the drive lets go and because the joint settles; the fall alone does not tell which, so it is an upper
    bound of what settling took from the torque.

    Parameters
    ----------
    trace : Trace
        Needs a time channel; without one there is no pause to be seen and the list is empty.
    above_nm : float
        Pauses at a torque below this (running down) are not counted.
    shortest_s : float
    """
    if trace.time_s is None or len(trace) < 3 or not np.isfinite(trace.torque_nm).all():
        return []
    final = len(trace) - 1 - int(np.argmax(trace.torque_nm[::-1]))
    upto = slice(0, final + 1)
    time, angle, torque = trace.time_s[upto], trace.angle_deg[upto], trace.torque_nm[upto]
    reached = np.fmax.accumulate(angle)
    pauses: list[Pause] = []
    # Samples that set a new furthest angle; time that is not a number never counts as a pause.
    onward = np.flatnonzero(np.diff(reached, prepend=-np.inf) > 0.0)
    there = reached[onward]
    # For each of them the one by which the fastener has gone on by `STILL_DEG`, or the last one.
    stop = np.minimum(np.searchsorted(there, there + STILL_DEG), len(onward) - 1)
    begin = 0
    for start in np.flatnonzero(time[onward[stop]] - time[onward] >= shortest_s).tolist():
        if start < begin:
            continue
        found = _pause(time, angle, torque, int(onward[start]), int(onward[stop[start]]), above_nm)
        if found is not None:
            pauses.append(found)
            begin = int(stop[start])
    return pauses


def _pause(
    time: FloatArray, angle: FloatArray, torque: FloatArray, first: int, last: int, above_nm: float
) -> Pause | None:
    """What a stretch without turning shows, where the torque falls in it."""
    # The way of a restart goes up: the pause ends at its lowest torque.
    lowest = first + int(np.argmin(torque[first : last + 1]))
    before = float(torque[first : lowest + 1].max())
    lost = before - float(torque[lowest])
    if before <= above_nm or lost <= SMALLEST_LOSS * before:
        return None
    if time[lowest] - time[first] < (time[last] - time[first]) * STILL_SHARE:
        return None
    near = angle[lowest:] <= angle[first] + RESTART_DEG
    return Pause(
        float(time[first]),
        float(time[lowest]),
        float(angle[first]),
        before,
        float(torque[lowest]),
        float(torque[lowest:][near].max()),
    )
