"""Settings of a run: from a TOML file, then from the options typed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from analysis.checked_text import UnusableTextError, read_text, toml
from analysis.errors import SettingsFileError
from analysis.settings import Settings


def read_settings(path: Path) -> Settings:
    """Settings from a TOML file; what the file does not name keeps its default.

    Tables and keys are those of `analysis.settings`: ``[curve]`` with ``snug_rule = "slope-ratio"`` and so
    on.

    Raises
    ------
    SettingsFileError
        Where the file is no TOML, or a table, key or value is unknown; names the place and what is expected.
    """
    try:
        tables = toml(read_text(path))
    except UnusableTextError as error:
        raise SettingsFileError(f"{path}: {error}") from None
    return Settings().with_values(tables, str(path))


def with_options(settings: Settings, options: dict[str, Any]) -> Settings:
    """The settings with the typed choices of the curve laid over them; None means not typed."""
    typed = {name: value for name, value in options.items() if value is not None}
    changed = settings.with_values({"curve": typed}, "command line") if typed else settings
    curve = changed.curve
    if curve.snug_rule == "threshold-torque" and curve.snug_threshold_nm is None:
        raise SettingsFileError(
            'the snug rule "threshold-torque" needs the torque: --snug-threshold-nm, or snug_threshold_nm '
            "under [curve] in the settings file"
        )
    return changed
