"""The engineering of the joint: thread, class, friction, clamp force, stiffness, the joints file."""

from __future__ import annotations

from analysis.joint.clamp_table import ClampTable
from analysis.joint.definition import JointDefinition
from analysis.joint.joints_document import JointsDocument
from analysis.joint.joints_file import joints_from_text, load_joints

__all__ = [
    "ClampTable",
    "JointDefinition",
    "JointsDocument",
    "joints_from_text",
    "load_joints",
]
