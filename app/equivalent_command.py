"""The command that gives the same results as the window, ready to be pasted into a terminal; no Qt."""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Sequence
from dataclasses import dataclass, field

from analysis.settings import CurveSettings


@dataclass(frozen=True)
class Opened:
    """What the window has open."""

    paths: tuple[str, ...]
    joints_path: str
    default_joint: str = ""
    curve: CurveSettings = field(default_factory=CurveSettings)
    overlaid: tuple[str, ...] = ()


def equivalent_commands(opened: Opened) -> str:
    """`analyse` and `report` for what is open, and what they cannot know of the window."""
    joints = opened.joints_path or "JOINTS.toml"
    options = [*opened.paths, "--joints", joints, *_choices(opened)]
    lines = [
        joined(["tautograph", "analyse", *options, "--results", "results.parquet"]),
        joined(["tautograph", "report", *options, "--out", "report.pdf"]),
    ]
    if not opened.joints_path:
        lines.insert(0, "# no joints file is open: put the name of yours for JOINTS.toml")
    if opened.overlaid:
        lines.append(
            "# decisions in this window that the command does not know: " + ", ".join(opened.overlaid)
        )
    return "\n".join(lines)


def _choices(opened: Opened) -> list[str]:
    options: list[str] = []
    if opened.default_joint:
        options += ["--joint", opened.default_joint]
    usual = CurveSettings()
    if opened.curve.snug_rule != usual.snug_rule:
        options += ["--snug-rule", opened.curve.snug_rule]
    if opened.curve.snug_threshold_nm is not None:
        options += ["--snug-threshold-nm", f"{opened.curve.snug_threshold_nm:g}"]
    if opened.curve.yield_rule != usual.yield_rule:
        options += ["--yield-rule", opened.curve.yield_rule]
    if opened.curve.yield_offset_deg is not None:
        options += ["--yield-offset-deg", f"{opened.curve.yield_offset_deg:g}"]
    return options


def joined(words: Sequence[str]) -> str:
    """One line for this system's shell."""
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)
