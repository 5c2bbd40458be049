"""A joint to begin with: from bolt and friction alone, and a small library of such joints to copy from."""

from __future__ import annotations

import math
from importlib import resources

from analysis.errors import CallError
from analysis.joint.bearing import bearing
from analysis.joint.definition import JointDefinition
from analysis.joint.joints_file import joints_from_text
from analysis.joint.thread import parse_thread
from analysis.joint.utilisation import ASSEMBLY_USE, assembly_load

CONFIRM = "proposed from the bolt alone: confirm torque and friction for your parts, and set the limits"


def propose_torque_nm(
    thread: str,
    property_class: str,
    head: str,
    hole: str,
    friction: tuple[float, float],
    *,
    use: float = ASSEMBLY_USE,
) -> float:
    """Largest torque that keeps a bolt below a share of its yield strength at the lowest friction, N·m.

    Rounded down to two figures. Says nothing about what the parts bear or how much clamp force they need.

    Raises
    ------
    CallError
        Where thread, class, head or hole is not known, or the lowest friction is not above zero.

    References
    ----------
    VDI 2230, assembly load and tightening torque.

    Examples
    --------
    >>> propose_torque_nm("M10", "8.8", "hex", "medium", (0.12, 0.18))
    48.0
    """
    lowest = friction[0]
    if not lowest > 0.0:
        raise CallError(f"a lowest friction of {lowest:g} is not above zero")
    bolt = parse_thread(thread)
    ring = bearing(bolt, head, hole).friction_diameter_mm
    torque = assembly_load(bolt, property_class, ring, lowest, lowest, use=use).torque_nm
    step = 10.0 ** (math.floor(math.log10(torque)) - 1)
    return round(math.floor(torque / step) * step, 6)


def propose_joint(
    thread: str, property_class: str, head: str, hole: str, friction: tuple[float, float]
) -> dict[str, object]:
    """Keys and values of a joint to begin with, ready for `JointsDocument.add`; it has no limits yet."""
    return {
        "thread": thread,
        "property_class": property_class,
        "head": head,
        "hole": hole,
        "friction": friction,
        "stop": "torque",
        "target_torque_nm": propose_torque_nm(thread, property_class, head, hole, friction),
        "may_yield": False,
    }


def library_joints() -> dict[str, JointDefinition]:
    """The joints of the library that comes with the program, by name.

    Examples
    --------
    >>> library_joints()["hex-M10-8.8"].target_torque_nm
    48.0
    """
    return joints_from_text(library_text(), path="joint library")


def library_text() -> str:
    """The library as it stands in its file, comments included."""
    return resources.files("resources").joinpath("joint_library", "hex_bolts.toml").read_text("utf-8")
