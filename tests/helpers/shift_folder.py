"""A shift as thousands of one-trace files with semicolon and decimal comma, three of them broken."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

FILES = 2000
#: A binary file, a word among the numbers, an empty file.
BROKEN = ("t0005.csv", "t0700.csv", "t1999.csv")


def one_trace(
    index: int, *, preamble: bool = True, n: int = 40
) -> tuple[str, NDArray[np.float64], NDArray[np.float64]]:
    """The text of a file, and what it says: angle and torque."""
    angle = np.arange(n) * 0.25 + index
    torque = np.round(np.arange(n) * 0.125 + index / 8, 3)
    rows = "".join(f"{a};{t}\n" for a, t in zip(angle, torque, strict=True)).replace(".", ",")
    above = f"joint: hub\nspindle: {index % 4}\nseries: {index}\n" if preamble else ""
    return f"{above}angle_deg;torque_nm\n{rows}", angle, torque


def write_shift_folder(folder: Path) -> Path:
    """2000 files, a quarter of them in a subfolder, a third of them without lines above the header."""
    (folder / "night").mkdir()
    for index in range(FILES):
        text, _, _ = one_trace(index, preamble=index % 3 > 0)
        place = folder / "night" if index >= 1500 else folder
        (place / f"t{index:04d}.csv").write_text(text)
    (folder / "t0005.csv").write_bytes(bytes(range(256)) * 8)
    lines = one_trace(700)[0].splitlines()
    lines[20] = "12,5;kaputt"
    (folder / "t0700.csv").write_text("\n".join(lines))
    (folder / "night" / "t1999.csv").write_bytes(b"")
    return folder
