"""What is lost after tightening: embedding of the faces."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.joint.definition import JointDefinition
from analysis.joint.stiffness import Stiffness
from analysis.joint.thread import parse_thread

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


@dataclass(frozen=True)
class EmbeddingLoss:
    """Clamp force that embedding takes."""

    embedding_um: float  #: F_Z, micrometres.
    force_kn: float  #: F_Z, kN.
    faces: str  #: What was counted.
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
