"""The command line that does without a window what the window shows: to copy for tonight's run."""

from __future__ import annotations

import os
import shlex
import subprocess
from collections.abc import Iterable
from dataclasses import fields
from pathlib import Path

from analysis.catalogue.point_rules import POINT_OPTIONS
from analysis.settings import CurveSettings, PopulationSettings, Settings

#: Settings that have an option of their own; any other choice needs a settings file.
_OPTIONS = tuple(option.key for option in POINT_OPTIONS)


def analyse_text(
    inputs: Iterable[str | Path],
    joints: str | Path,
    results: str | Path = "results.parquet",
    *,
    joint: str | None = None,
    mappings: Iterable[str | Path] = (),
    settings: Settings | None = None,
) -> str:
    """The ``tautograph analyse`` that judges these traces in the same way.

    Parameters
    ----------
    joint : str or None
        Joint that traces without one were given.
    mappings : paths of the import mappings that were used
    settings : Settings or None
        Choices that differ from the defaults become options; one that has no option is given by a file named
        ``settings.toml``, whose text is `settings_file_text`.

    Examples
    --------
    >>> analyse_text(["shift 1.parquet"], "joints.toml", joint="hub")
    "tautograph analyse 'shift 1.parquet' --joints joints.toml --results results.parquet --joint hub"
    """
    output = ("--results", str(results))
    chosen = settings or Settings()
    return _text("analyse", inputs, joints, output, joint=joint, mappings=mappings, settings=chosen)


def report_text(
    inputs: Iterable[str | Path],
    joints: str | Path,
    out: str | Path = "report.pdf",
    *,
    joint: str | None = None,
    mappings: Iterable[str | Path] = (),
    settings: Settings | None = None,
) -> str:
    """The ``tautograph report`` on these traces; parameters as in `analyse_text`."""
    chosen = settings or Settings()
    return _text(
        "report", inputs, joints, ("--out", str(out)), joint=joint, mappings=mappings, settings=chosen
    )


def settings_file_text(settings: Settings) -> str:
    """The settings as the text of a file for ``--settings``; empty where all are the defaults."""
    lines: list[str] = []
    for table, default in (("curve", CurveSettings()), ("population", PopulationSettings())):
        record = getattr(settings, table)
        changed = [name for name in _names(default) if getattr(record, name) != getattr(default, name)]
        if changed:
            lines += [f"[{table}]", *(f"{name} = {_toml(getattr(record, name))}" for name in changed), ""]
    return "\n".join(lines)


def _text(
    command: str,
    inputs: Iterable[str | Path],
    joints: str | Path,
    output: tuple[str, str],
    *,
    joint: str | None,
    mappings: Iterable[str | Path],
    settings: Settings,
) -> str:
    words = ["tautograph", command, *map(_as_input, inputs), "--joints", str(joints), *output]
    if joint:
        words += ["--joint", joint]
    for mapping in mappings:
        words += ["--mapping", str(mapping)]
    words += _choices(settings)
    # One line for this system's shell.
    return subprocess.list2cmdline(words) if os.name == "nt" else shlex.join(words)


def _as_input(path: str | Path) -> str:
    """A name that begins with a dash must not be taken for an option."""
    text = str(path)
    return f"./{text}" if text.startswith("-") else text


def _choices(settings: Settings) -> list[str]:
    default = CurveSettings()
    changed = [name for name in _names(default) if getattr(settings.curve, name) != getattr(default, name)]
    if settings.population != PopulationSettings() or not set(changed) <= set(_OPTIONS):
        return ["--settings", "settings.toml"]
    return [
        word
        for name in changed
        for word in (f"--{name.replace('_', '-')}", str(getattr(settings.curve, name)))
    ]


def _names(record: CurveSettings | PopulationSettings) -> list[str]:
    return [field.name for field in fields(record)]


def _toml(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'
    return repr(value)
