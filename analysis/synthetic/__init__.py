"""Synthetic tightenings with known truth, by the program's own definitions."""

from __future__ import annotations

from analysis.synthetic.cases import CASES, make_cases
from analysis.synthetic.evaluation import EVALUATION_JOINTS, evaluation_joints_toml
from analysis.synthetic.faults import FAULTS
from analysis.synthetic.impulse import ImpulseTool, make_impulses, record_impulse
from analysis.synthetic.laboratory import make_laboratory
from analysis.synthetic.loosening import LooseningTruth, make_loosening
from analysis.synthetic.model import (
    Drawdown,
    Instrument,
    Joint,
    Pause,
    Plastic,
    Prevailing,
    Tool,
    TraceModel,
)
from analysis.synthetic.recording import Recording, make_trace, record
from analysis.synthetic.sample_paths import SamplePaths, sample_paths
from analysis.synthetic.shift import EVALUATION_FAULTS, ShiftJoint, make_shift
from analysis.synthetic.truth import Truth
from analysis.synthetic.varied import joints_toml, varied_joints

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
