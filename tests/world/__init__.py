"""Synthetic tightenings with known truth, by the program's own definitions."""

from __future__ import annotations

from sample_traces.sample_paths import SamplePaths, sample_paths
from tests.world.cases import CASES, make_cases
from tests.world.evaluation import EVALUATION_JOINTS, evaluation_joints_toml
from tests.world.faults import FAULTS
from tests.world.impulse import ImpulseTool, make_impulses, record_impulse
from tests.world.laboratory import make_laboratory
from tests.world.loosening_traces import LooseningTruth, make_loosening
from tests.world.model import (
    Drawdown,
    Instrument,
    Joint,
    Pause,
    Plastic,
    Prevailing,
    Tool,
    TraceModel,
)
from tests.world.recording import Recording, make_trace, record
from tests.world.shift import EVALUATION_FAULTS, ShiftJoint, make_shift
from tests.world.truth import Truth
from tests.world.varied import joints_toml, varied_joints

__all__ = [
    "CASES",
    "EVALUATION_FAULTS",
    "EVALUATION_JOINTS",
    "FAULTS",
    "Drawdown",
    "ImpulseTool",
    "Instrument",
    "Joint",
    "LooseningTruth",
    "Pause",
    "Plastic",
    "Prevailing",
    "Recording",
    "SamplePaths",
    "ShiftJoint",
    "Tool",
    "TraceModel",
    "Truth",
    "evaluation_joints_toml",
    "joints_toml",
    "make_cases",
    "make_impulses",
    "make_laboratory",
    "make_loosening",
    "make_shift",
    "make_trace",
    "record",
    "record_impulse",
    "sample_paths",
    "varied_joints",
]
