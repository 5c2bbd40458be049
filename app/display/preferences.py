"""What the program remembers from one day to the next.

A file given by the caller, so that tests stay apart.
"""

from __future__ import annotations

import getpass
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QSettings

from analysis.catalogue.units import LOCAL
from analysis.checked_text import UnusableTextError, json_data
from analysis.traces.units import TORQUE_UNITS

APPLICATION = "tautograph"
#: How the window may look; the first is how it comes.
LOOKS = ("system", "light", "dark")
#: Entries that the list of recent files keeps.
RECENT_COUNT = 10


def settings_folder() -> Path:
    """Where this user's settings belong on this system."""
    from platformdirs import user_config_path

    return user_config_path(APPLICATION, appauthor=False)


def data_folder() -> Path:
    """Where autosaved work and saved import mappings belong on this system."""
    from platformdirs import user_data_path

    return user_data_path(APPLICATION, appauthor=False)


class Preferences:
    """Typed access to one INI file.

    Parameters
    ----------
    file : Path, optional
        The settings file; by default the user's own.
    data : Path, optional
        The folder for autosaved work and import mappings.
    """

    def __init__(self, file: Path | None = None, data: Path | None = None) -> None:
        self.file = file if file is not None else settings_folder() / "window.ini"
        self.data = data if data is not None else (data_folder() if file is None else file.parent / "data")
        self._settings = QSettings(str(self.file), QSettings.Format.IniFormat)

    @property
    def recent(self) -> list[tuple[str, ...]]:
        """What was opened recently, newest first; each entry is the paths that were opened together."""
        found = self._read_json("recent", [])
        entries = [paths for paths in found if isinstance(paths, list)] if isinstance(found, list) else []
        return [tuple(map(str, paths)) for paths in entries if paths]

    def remember_recent(self, paths: Sequence[str]) -> None:
        """Put these paths at the top of the list."""
        entry = tuple(paths)
        kept = [entry, *(old for old in self.recent if old != entry)][:RECENT_COUNT]
        self._settings.setValue("recent", json.dumps(kept))

    @property
    def joints_of(self) -> dict[str, str]:
        """Joints file that was last used with the first path of an entry."""
        found = self._read_json("joints_of", {})
        return {str(k): str(v) for k, v in found.items()} if isinstance(found, dict) else {}

    def remember_joints(self, first_path: str, joints_path: str) -> None:
        """Remember which joints file belongs to what was opened."""
        kept = dict(list({**self.joints_of, first_path: joints_path}.items())[-RECENT_COUNT * 5 :])
        self._settings.setValue("joints_of", json.dumps(kept))

    @property
    def torque_unit(self) -> str:
        """The torque unit that is shown."""
        return self._one_of("torque_unit", ("N·m", *TORQUE_UNITS))

    @torque_unit.setter
    def torque_unit(self, symbol: str) -> None:
        self._settings.setValue("torque_unit", symbol)

    @property
    def time_zone(self) -> str:
        """The zone that times are shown in: "local", "UTC", or as in "Europe/Vienna"."""
        return str(self._settings.value("time_zone", LOCAL))

    @time_zone.setter
    def time_zone(self, name: str) -> None:
        self._settings.setValue("time_zone", name)

    @property
    def look(self) -> str:
        """One of `LOOKS`."""
        return self._one_of("look", LOOKS)

    @look.setter
    def look(self, name: str) -> None:
        self._settings.setValue("look", name)

    @property
    def user_name(self) -> str:
        """The name that decisions are signed with."""
        return str(self._settings.value("user_name", "")) or _login_name()

    @user_name.setter
    def user_name(self, name: str) -> None:
        self._settings.setValue("user_name", name.strip())

    def layout(self, name: str) -> QByteArray | None:
        """A remembered arrangement of the window, or None."""
        value = self._settings.value(f"layout/{name}")
        return value if isinstance(value, QByteArray) else None

    def remember_layout(self, name: str, value: QByteArray) -> None:
        """Keep an arrangement of the window."""
        self._settings.setValue(f"layout/{name}", value)

    def forget_layout(self) -> None:
        """Back to the arrangement that the program came with, from the next start."""
        self._settings.remove("layout")

    def flush(self) -> None:
        """Write to disk now."""
        self._settings.sync()

    def _read_json(self, key: str, default: Any) -> Any:
        text = str(self._settings.value(key, ""))
        try:
            return json_data(text) if text else default
        except UnusableTextError:
            return default

    def _one_of(self, key: str, known: Sequence[str]) -> str:
        """What is kept, where it is known; else the first."""
        value = str(self._settings.value(key, known[0]))
        return value if value in known else known[0]


def _login_name() -> str:
    try:
        return getpass.getuser()
    except (OSError, KeyError):  # no login name on this system
        return "unnamed"
