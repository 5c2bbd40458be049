"""Settings of a run: from a TOML file, then from the options typed."""

from __future__ import annotations

import dataclasses
import tomllib
import types
import typing
from pathlib import Path
from typing import Any

from analysis.errors import TautographError
from analysis.settings import Settings


class SettingsFileError(TautographError):
    """A settings file or option that cannot be used; names the file and the key."""


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
        tables = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise SettingsFileError(f"{path}: not a TOML file: {error}") from None
    return typing.cast(Settings, _filled(Settings(), tables, str(path)))


def with_options(settings: Settings, options: dict[str, Any]) -> Settings:
    """The settings with the typed choices of the curve laid over them; None means not typed."""
    typed = {name: value for name, value in options.items() if value is not None}
    changed = (
        typing.cast(Settings, _filled(settings, {"curve": typed}, "command line")) if typed else settings
    )
    curve = changed.curve
    if curve.snug_rule == "threshold-torque" and curve.snug_threshold_nm is None:
        raise SettingsFileError(
            'the snug rule "threshold-torque" needs the torque: --snug-threshold-nm, or snug_threshold_nm '
            "under [curve] in the settings file"
        )
    return changed


def _filled(record: Any, values: dict[str, Any], place: str) -> Any:
    """The frozen record with these values in place of its own, each checked against its declared type."""
    hints = typing.get_type_hints(type(record))
    changes: dict[str, Any] = {}
    for name, value in values.items():
        if name not in hints:
            raise SettingsFileError(f"{place}: unknown key {name!r}; known: {', '.join(hints)}")
        old = getattr(record, name)
        if dataclasses.is_dataclass(old):
            if not isinstance(value, dict):
                raise SettingsFileError(f"{place}: {name!r} is a table: write [{name}] above its keys")
            changes[name] = _filled(old, value, f"{place} [{name}]")
        else:
            changes[name] = _checked(value, hints[name], f"{place}: {name}")
    return dataclasses.replace(record, **changes)


def _checked(value: Any, hint: Any, place: str) -> Any:
    if typing.get_origin(hint) is typing.Literal:
        choices = typing.get_args(hint)
        if value in choices:
            return value
        raise SettingsFileError(f"{place}: found {value!r}; expected one of {', '.join(map(str, choices))}")
    allowed = [kind for kind in _kinds(hint) if kind is not types.NoneType]
    if float in allowed and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if type(value) not in allowed:
        words = " or ".join(
            {float: "a number", int: "a whole number", bool: "true or false"}.get(k, "text") for k in allowed
        )
        raise SettingsFileError(f"{place}: found {value!r}; expected {words}")
    return value


def _kinds(hint: Any) -> tuple[Any, ...]:
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        return typing.get_args(hint)
    return (hint,)
