"""The commands that give the same results as the window, ready to be pasted into a terminal; no Qt."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.settings import Settings
from app.session.command_text import analyse_text, report_text, settings_file_text


@dataclass(frozen=True)
class Opened:
    """What the window has open."""

    paths: tuple[str, ...]  #: Files and folders.
    #: Empty where there is none.
    joints_path: str
    default_joint: str = ""
    settings: Settings = field(default_factory=Settings)
    mappings: tuple[str, ...] = ()  #: Files and folders of import mappings.
    overlaid: tuple[str, ...] = ()  #: Decisions that a command cannot know, in words.


def equivalent_commands(opened: Opened) -> str:
    """`analyse` and `report` for what is open, and what they cannot know of the window."""
    joints = opened.joints_path or "JOINTS.toml"
    lines = [
        write(
            opened.paths,
            joints,
            joint=opened.default_joint,
            mappings=opened.mappings,
            settings=opened.settings,
        )
        for write in (analyse_text, report_text)
    ]
    if not opened.joints_path:
        lines.insert(0, "# no joints file is open: put the name of yours for JOINTS.toml")
    if opened.overlaid:
        decided = ", ".join(opened.overlaid)
        lines.append(f"# decisions in this window that the command does not know: {decided}")
    if any("--settings" in line for line in lines):
        lines += [
            "# settings.toml:",
            *(f"#   {line}" for line in settings_file_text(opened.settings).split("\n")),
        ]
    return "\n".join(lines)
