"""Exported pictures: white paper, the right tick labels at the right places, the bundle as a picture."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from pypdf import PdfReader
from PySide6.QtCore import QPointF
from PySide6.QtGui import QGuiApplication
from pytestqt.qtbot import QtBot

from app.display.look import DARK
from app.views.curves.export import PictureError, twin
from app.views.curves.view import CurveView
from tests.app.plots.known_curves import hat_traces

WIDTH, HEIGHT = 1000, 640


@pytest.fixture(params=[4, 400], ids=["vectors", "bundle"])
def view(request: pytest.FixtureRequest, qtbot: QtBot) -> Iterator[CurveView]:
    """A dark view at another size than the export's, zoomed to -20 ... 230 deg, 0 ... 12 N·m."""
    view = CurveView(DARK)
    qtbot.addWidget(view)
    view.resize(700, 420)
    view.show()
    view.set_data(*hat_traces(request.param))
    view.set_selected([1])
    view.set_view_range((-20.0, 230.0, 0.0, 12.0))
    yield view
    view.plot.crowd.worker.close()


def expected_place(view: CurveView, x: float, y: float) -> tuple[float, float]:
    """Where a plot point stands on the paper, by a plot laid out for it."""
    copy = twin(view.plot, WIDTH, HEIGHT, DARK, 1.0)
    at = copy.box.mapViewToScene(QPointF(x, y))
    copy.shut_down()
    return at.x(), at.y()


def number(text: str) -> float | None:
    text = text.strip().replace("−", "-")
    return float(text) if re.fullmatch(r"-?\d+(\.\d+)?", text) else None


def check_ticks(view: CurveView, labels: list[tuple[float, float, float]]) -> None:
    """Labels as (value, x, y) on the paper: every one must stand at its value, and there must be enough."""
    left, foot = expected_place(view, -20.0, 0.0)
    across = [(value, x) for value, x, y in labels if y > foot + 10.0]
    upward = [(value, y) for value, x, y in labels if y <= foot + 10.0 and x < left]
    assert {0.0, 50.0, 100.0, 150.0, 200.0} <= {value for value, _ in across}
    assert {2.0, 4.0, 6.0, 8.0, 10.0} <= {value for value, _ in upward}
    for value, x in across:
        assert x == pytest.approx(expected_place(view, value, 0.0)[0], abs=20.0)
    for value, y in upward:
        assert y == pytest.approx(expected_place(view, 0.0, value)[1], abs=10.0)


def test_svg_ticks_stand_at_their_values(view: CurveView, tmp_path: Path) -> None:
    path = tmp_path / "curves.svg"
    view.export_picture(path, WIDTH, HEIGHT)
    tree = ElementTree.parse(path)
    labels = []
    for group in tree.iter("{http://www.w3.org/2000/svg}g"):
        matrix = re.match(r"matrix\(([^)]*)\)", group.get("transform", ""))
        for text in group.findall("{http://www.w3.org/2000/svg}text"):
            value = number("".join(text.itertext()))
            if value is None or matrix is None:
                continue
            a, b, c, d, e, f = (float(v) for v in matrix.group(1).split(","))
            x, y = float(text.get("x", 0)), float(text.get("y", 0))
            labels.append((value, a * x + c * y + e, b * x + d * y + f))
    check_ticks(view, labels)


def test_pdf_ticks_stand_at_their_values_and_text_is_text(view: CurveView, tmp_path: Path) -> None:
    path = tmp_path / "curves.pdf"
    view.export_picture(path, WIDTH, HEIGHT)
    (page,) = PdfReader(path).pages
    # 96 units an inch on the screen, 72 points an inch on paper.
    assert float(page.mediabox.width) == pytest.approx(WIDTH * 0.75, abs=0.5)
    labels: list[tuple[float, float, float]] = []

    def visit(text: str, cm: list[float], tm: list[float], *_: object) -> None:
        value = number(text)
        if value is not None:
            x = cm[0] * tm[4] + cm[2] * tm[5] + cm[4]
            y = cm[1] * tm[4] + cm[3] * tm[5] + cm[5]
            labels.append((value, x / 0.75, HEIGHT - y / 0.75))

    words = " ".join(page.extract_text(visitor_text=visit).split())
    check_ticks(view, labels)
    for word in ("Torque (N·m)", "Angle from start (deg)", "snug", "elastic"):
        assert word in words


def test_bundle_is_a_picture_and_the_file_small(view: CurveView, tmp_path: Path) -> None:
    path = tmp_path / "curves.pdf"
    view.export_picture(path, WIDTH, HEIGHT)
    (page,) = PdfReader(path).pages
    assert len(page.images) == (0 if view.plot.crowd.draws_vectors else 1)
    assert path.stat().st_size < 1_500_000


def test_png_is_white_with_the_curve_where_it_belongs(view: CurveView, tmp_path: Path) -> None:
    image = view.to_image(WIDTH, HEIGHT, scale=1.0)
    assert (image.width(), image.height()) == (WIDTH, HEIGHT)
    assert image.pixelColor(WIDTH - 3, 3).name() == "#ffffff"
    x, y = expected_place(view, 150.0, 5.5)
    around = [image.pixelColor(int(x) + i, int(y) + j).lightness() for i in (-1, 0, 1) for j in (-1, 0, 1)]
    assert min(around) < 90, "the selected curve is dark on paper although it is white on the dark screen"
    view.export_picture(tmp_path / "curves.png")
    assert (tmp_path / "curves.png").stat().st_size > 5000


def test_screen_keeps_its_look_and_place(view: CurveView) -> None:
    before = (view.view_range(), view.plot.look, view.size())
    view.to_image(WIDTH, HEIGHT)
    assert (view.view_range(), view.plot.look, view.size()) == before
    assert (
        view.to_image(300, 200, white=False, scale=1.0).pixelColor(297, 3).name() == DARK.background.lower()
    )


def test_copy_picture_fills_the_clipboard(view: CurveView) -> None:
    view.copy_picture()
    image = QGuiApplication.clipboard().image()
    assert (image.width(), image.height()) == (2 * view.plot.width(), 2 * view.plot.height())


@pytest.mark.parametrize(
    "name", ["curves.bmp", "missing/curves.pdf", "missing/curves.png", "missing/curves.svg"]
)
def test_what_cannot_be_written_is_said(view: CurveView, tmp_path: Path, name: str) -> None:
    with pytest.raises(PictureError, match="curves"):
        view.export_picture(tmp_path / name)


def test_picture_at_thrice_the_size_shows_the_same(view: CurveView) -> None:
    small = view.to_image(400, 260, scale=1.0)
    large = view.to_image(400, 260, scale=3.0)
    shrunk = large.scaled(small.size())
    pairs = [
        (small.pixelColor(x, y).lightness(), shrunk.pixelColor(x, y).lightness())
        for x in range(0, 400, 7)
        for y in range(0, 260, 7)
    ]
    difference = np.abs(np.subtract(*np.array(pairs).T))
    assert np.mean(difference) < 12.0
