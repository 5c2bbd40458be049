"""The report as one HTML file that needs no network: inline style, script and drawings."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from importlib import resources

from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup

from analysis.catalogue.verdicts import VERDICT_OF
from analysis.listener import NOBODY, Listener
from analysis.report.content import Block, JointReport, Plots, single_blocks
from analysis.report.palette import colour_of
from analysis.report.plot_spec import PlotSpec
from analysis.report.svg_plot import WIDTH, svg_plot
from analysis.shown_text import harmless

_TEMPLATES = ("report.html.j2", "report.css", "report.js")


def to_html(reports: Sequence[JointReport], listener: Listener = NOBODY) -> str:
    """All reports in one page with a list of contents; the same data as the printed pages.

    Every text from recordings, joints and templates is escaped. The page loads nothing and its content policy
    forbids it to.

    Raises
    ------
    ValueError
        Where there is no report.
    CancelledError
        Where the listener, who hears of every picture, no longer wants it.
    """
    if not reports:
        raise ValueError("no report to write")
    folder = resources.files("resources.templates")
    sources = {name: folder.joinpath(name).read_text("utf-8") for name in _TEMPLATES}
    environment = Environment(
        loader=DictLoader(sources),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    head = reports[0].head
    page = environment.get_template("report.html.j2").render(
        reports=reports,
        head=head,
        title=" · ".join(dict.fromkeys(report.title for report in reports)),
        # Style and script are the program's own files: no text of the user is in them.
        style=Markup(sources["report.css"]),
        script=Markup(sources["report.js"]),
        logo=base64.b64encode(head.logo_png).decode("ascii"),
        kind=_kind,
        plot=_Drawing(reports, listener),
        mark=_mark,
        key_colour=colour_of,
    )
    return harmless(page)


def _kind(block: Block) -> str:
    return type(block).__name__


class _Drawing:
    """Draws the plots one after the other, and tells which one it is at."""

    def __init__(self, reports: Sequence[JointReport], listener: Listener) -> None:
        blocks = (b for report in reports for part in report.sections for b in single_blocks(part.blocks))
        self._total = sum(len(block.plots) for block in blocks if isinstance(block, Plots))
        self._done = 0
        self._listener = listener

    def __call__(self, spec: PlotSpec, side_by_side: int) -> Markup:
        self._listener(self._done, self._total, f"picture {self._done + 1} of {self._total}")
        self._done += 1
        return Markup(svg_plot(spec, WIDTH if side_by_side < 2 else WIDTH * 0.58))


def _mark(verdict: str) -> Markup:
    return Markup('<span class="mark" style="color:{}" aria-hidden="true">{}</span>').format(
        VERDICT_OF[verdict].colour, VERDICT_OF[verdict].symbol
    )
