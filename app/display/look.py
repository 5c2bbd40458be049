"""The two colour schemes of the window; the marks of the verdicts stand in `analysis.catalogue.verdicts`."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.report.palette import ROLE_COLOURS


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


_DARK_ZONES = {
    "undetermined": "#292929",
    "rundown": "#22303B",
    "drawdown": "#3A3222",
    "elastic": "#213629",
    "plastic": "#402B20",
    "release": "#2C2C2C",
}
#: On white, as on paper.
LIGHT = Look(
    name="light",
    background="#FFFFFF",
    panel="#F4F4F2",
    foreground=ROLE_COLOURS["ink"],
    faint=ROLE_COLOURS["faint"],
    grid=ROLE_COLOURS["grid"],
    crowd=ROLE_COLOURS["crowd"],
    selected=ROLE_COLOURS["selected"],
    reference_band="#E3E0EE",
    reference_median=ROLE_COLOURS["reference median"],
    zone_tints={zone: ROLE_COLOURS[zone] for zone in _DARK_ZONES},
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
    zone_tints=_DARK_ZONES,
    focus="#56B4E9",
    refused="#FF8F45",
)
