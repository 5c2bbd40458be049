"""The mark of a verdict in the table is a copy of the one that is drawn elsewhere."""

from __future__ import annotations

import numpy as np
import pytest
from PySide6.QtCore import QPointF
from PySide6.QtGui import QImage, QPainter

from analysis.catalogue.verdicts import VERDICTS
from app.items.verdict_mark import MARK_RIM_PX, draw_mark, mark_image

SIZE_PX = 11.0


def pixels(image: QImage) -> np.ndarray:
    return np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), -1).copy()


@pytest.mark.parametrize("density", [1.0, 1.5, 2.0])
@pytest.mark.parametrize("verdict", VERDICTS)
def test_a_copied_mark_is_the_drawn_one(verdict: str, density: float) -> None:
    drawn, copied = (QImage(60, 40, QImage.Format.Format_ARGB32_Premultiplied) for _ in range(2))
    for image in (drawn, copied):
        image.setDevicePixelRatio(density)
        image.fill(0xFFFFFFFF)
    place = QPointF(7.0, 5.0)  # on a whole pixel at each density
    painter = QPainter(drawn)
    draw_mark(painter, verdict, place + QPointF(SIZE_PX / 2.0, SIZE_PX / 2.0), SIZE_PX)
    painter.end()
    painter = QPainter(copied)
    painter.drawImage(place - QPointF(MARK_RIM_PX, MARK_RIM_PX), mark_image(verdict, SIZE_PX, density))
    painter.end()
    assert np.abs(pixels(drawn).astype(int) - pixels(copied)).max() <= 2
    assert len(np.unique(pixels(drawn))) > 3
