"""The legend stands above the curves, groups keep their colours, and a picture says what it is of."""

from __future__ import annotations

from pathlib import Path

from app.main_window import MainWindow
from app.views.curves.export import twin


def colours(window: MainWindow) -> dict[str, str]:
    """Colour of each group by its name."""
    return {entry.text.split(":")[0]: entry.colour for entry in window.curves.plot.legend.entries}


def test_a_group_keeps_its_colour_when_others_are_filtered_away(sample: MainWindow) -> None:
    sample.session.set_view(colour_by="joint")
    before = colours(sample)
    assert len(before) == 6
    sample.session.add_condition("joint in (mast-nut, wheel-hub)")
    after = colours(sample)
    assert set(after) == {"mast-nut", "wheel-hub"}
    assert after == {name: before[name] for name in after}


def test_the_legend_is_never_over_the_curves(sample: MainWindow) -> None:
    plot = sample.curves.plot
    legend = plot.legend.mapRectToScene(plot.legend.boundingRect())
    assert plot.legend.entries
    assert legend.top() + plot.legend.height <= plot.window.area().top()


def test_a_picture_names_trace_and_file_and_has_no_grips(sample: MainWindow) -> None:
    sample.links.overview.joint_opened.emit("wheel-hub")
    plot = sample.curves.plot
    assert plot.names.edges
    copy = twin(plot, 900, 500, plot.look, 1.0)
    try:
        file = Path(sample.session.paths[0]).name
        assert copy.legend.caption == f"{sample.session.current_id} · {file}"
        assert not copy.names.edges
        assert copy.window.shown == plot.window.shown
    finally:
        copy.shut_down()
    assert not plot.legend.caption
