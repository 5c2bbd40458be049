"""The two colour schemes of the window; the marks of the verdicts stand in `analysis.catalogue.verdicts`."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Look:
    """One colour scheme; colours as ``#RRGGBB`` or ``#AARRGGBB``, text at 4.5:1 on what it stands on."""

    name: str
    background: str
    panel: str
    foreground: str
    faint: str
    grid: str
    crowd: str
    selected: str
    reference_band: str
    reference_median: str
    zone_tints: dict[str, str]
    focus: str
    refused: str


#: As on paper (`analysis.report.palette`): held together by a test, for an import would slow every start.
LIGHT = Look(
    name="light",
    background="#FFFFFF",
    panel="#F4F4F2",
    foreground="#1B1B1B",
    faint="#676767",
    grid="#D8D8D8",
    crowd="#9A9A9A",
    selected="#1B1B1B",
    reference_band="#E3E0EE",
    reference_median="#5B4E9A",
    zone_tints={
        "undetermined": "#F0F0F0",
        "rundown": "#EDF4FA",
        "drawdown": "#FFF3DC",
        "elastic": "#E4F4EC",
        "plastic": "#FBE6DA",
        "release": "#F1F1F1",
    },
    focus="#0072B2",
    refused="#B04A00",
)
DARK = Look(
    name="dark",
    background="#1E1E1E",
    panel="#262626",
    foreground="#ECECEC",
    faint="#A0A0A0",
    grid="#3C3C3C",
    crowd="#7C7C7C",
    selected="#FFFFFF",
    reference_band="#37334A",
    reference_median="#B5A9EE",
    zone_tints={
        "undetermined": "#292929",
        "rundown": "#22303B",
        "drawdown": "#3A3222",
        "elastic": "#213629",
        "plastic": "#402B20",
        "release": "#2C2C2C",
    },
    focus="#56B4E9",
    refused="#FF8F45",
)
