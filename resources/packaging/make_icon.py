"""Draws the Windows icon from the drawing: ``python resources/packaging/make_icon.py``."""

from __future__ import annotations

import struct
from pathlib import Path

from PySide6.QtCore import QBuffer, QIODevice, Qt
from PySide6.QtGui import QGuiApplication, QImage, QPainter
from PySide6.QtSvg import QSvgRenderer

#: Sides of the pictures in the icon, pixels.
SIDES = (16, 24, 32, 48, 64, 128, 256)
HERE = Path(__file__).resolve().parent


def png(renderer: QSvgRenderer, side: int) -> bytes:
    """The drawing at a size."""
    image = QImage(side, side, QImage.Format.Format_ARGB32)
    image.fill(Qt.GlobalColor.transparent)
    painter = QPainter(image)
    renderer.render(painter)
    painter.end()
    buffer = QBuffer()
    buffer.open(QIODevice.OpenModeFlag.WriteOnly)
    image.save(buffer, "PNG")
    return bytes(buffer.data().data())


def main() -> None:
    """Write the icon beside this file: a directory of PNG pictures."""
    _app = QGuiApplication([])
    renderer = QSvgRenderer(str(HERE.parent / "icons" / "tautograph.svg"))
    pictures = [png(renderer, side) for side in SIDES]
    head = struct.pack("<HHH", 0, 1, len(SIDES))
    place = len(head) + 16 * len(SIDES)
    entries = b""
    for side, picture in zip(SIDES, pictures, strict=True):
        entries += struct.pack("<BBBBHHII", side % 256, side % 256, 0, 0, 1, 32, len(picture), place)
        place += len(picture)
    (HERE / "tautograph.ico").write_bytes(head + entries + b"".join(pictures))


if __name__ == "__main__":
    main()
