"""The last pages: method and definitions, data quality, settings, versions, source files, cautions."""

from __future__ import annotations

import math
import platform
from collections import Counter
from collections.abc import Mapping
from importlib.metadata import PackageNotFoundError, version
from typing import Any

import numpy as np

from analysis import __version__
from analysis.catalogue.cautions import JUDGEMENT, NOT_MEASURED, PREVAIL
from analysis.catalogue.method import STEPS
from analysis.catalogue.point_rules import hardness_meaning, snug_meaning, yield_meaning
from analysis.catalogue.sentences import as_text
from analysis.catalogue.units import DisplayUnits
from analysis.curve.reasons import REASONS
from analysis.figure_text import number_text
from analysis.report.content import Block, Bullets, Cell, Heading, Paragraph, ReportColumn, Section, Table
from analysis.report.method_constants import constants
from analysis.report.reported import JointData
from analysis.report.template import ReportTemplate
from analysis.settings import Settings
from analysis.spread import spread_of

CAUTIONS = (
    JUDGEMENT,
    PREVAIL,
    f"{NOT_MEASURED} It follows from torque, friction and geometry.",
    "Torque and angle alone give only the product of friction and stiffness: where a cause is named, the "
    "next check decides.",
    "Limits taken from classes and standards are defaults that the user confirms.",
    "A trace that could not be evaluated is never counted as good.",
)
#: Libraries that the figures depend on.
_LIBRARIES = ("numpy", "scipy", "pyarrow", "numba")


UNCERTAINTY = (
    "Uncertainty: figures of a curve stand with their standard uncertainty (k = 1), from the fit and the "
    "steps of the recording; clamp force stands with its bounds. What the torque and angle transducers are "
    "uncertain by is not in the recordings and not included: add it from their calibration certificates."
)


def method_section(data: JointData, anchor: str) -> Section:
    """What the words mean, with the settings' values put in; the same for every joint."""
    words = Bullets((*definitions(data.analysis.settings, data.units), UNCERTAINTY))
    blocks = (words, *how_points_are_found())
    return Section("Method and definitions", f"{anchor}-method", blocks, shared=True)


def basis_section(data: JointData, anchor: str, template: ReportTemplate) -> Section:
    """Settings, versions and cautions; the same for every joint."""
    blocks: tuple[Block, ...] = (
        _pairs("Settings", "Settings of the analysis", _flat(data.analysis.settings.as_dict())),
        _pairs("Versions", "Versions", _versions()),
        Heading("Cautions"),
        Bullets((*CAUTIONS, *template.cautions)),
        *((Paragraph(template.closing),) if template.closing else ()),
    )
    return Section("Settings, versions, cautions", f"{anchor}-basis", blocks, new_page=False, shared=True)


def how_points_are_found() -> tuple[Block, ...]:
    """The steps of the method with their formulas, and its constants with unit and source."""
    steps: list[Block] = [Heading("How points are found")]
    for step in STEPS:
        steps.append(Paragraph(f"{step.title}. {step.words}"))
        steps += [Paragraph(line, "small") for line in step.formula.splitlines()]
    columns = (
        ReportColumn("Constant", weight=4.0),
        ReportColumn("Value", align="right"),
        ReportColumn("Unit"),
        ReportColumn("Source", weight=3.0),
    )
    rows = tuple(
        (Cell(one.words, one.words), Cell(f"{one.value:g}", one.value), Cell(one.unit), Cell(one.source))
        for one in constants()
    )
    return (*steps, Table("Method constants", columns, rows, "Constants of the method"))


def definitions(settings: Settings, units: DisplayUnits) -> tuple[str, ...]:
    """Definitions as sentences; each names the setting it depends on."""
    curve = settings.curve
    return (
        "Tightening curve: torque against angle in forward rotation, from the first sample to the final "
        "point; pauses, restarts, backward movement and the release after the final point are left out of "
        "the estimates and still drawn.",
        "Final point: the sample of highest torque, the last one where several tie.",
        "Elastic slope: the steepest slope per degree that is sustained over a stretch, fitted per degree.",
        as_text(snug_meaning(curve), units),
        yield_meaning(curve),
        "Drawdown start: the angle at which the torque leaves the prevailing level for good.",
        "Prevailing torque: median over the last half turn of rundown, just ahead of the drawdown; a "
        "once-a-turn ripple is taken off.",
        "Elastic origin: where the elastic line, drawn backward, meets the prevailing torque.",
        "Angle from snug to final (joint rate): degrees from snug point to final point.",
        hardness_meaning(curve),
        "Verdicts: ok, every rule of the joint was evaluated and met and nothing unusual was found; "
        "suspect, every limit is met but something is unusual; not ok, at least one limit is broken; not "
        "evaluated, a rule could not be evaluated.",
        "Intervals of shares: Wilson, 95 % two-sided. Percentiles: linear interpolation between order "
        "statistics. s: sample standard deviation (n − 1).",
    )


def quality_section(data: JointData, anchor: str) -> Section:
    """What the recordings allow: density, noise, left-out samples, absent points with their reasons."""
    curves, rows = data.analysis.curves, data.rows
    quality = (
        ("Samples a trace", "", curves.n_samples[rows].astype(float), 0),
        ("Samples per degree in the rise", "1/deg", curves.samples_per_deg[rows], 2),
        ("Torque noise", data.torque_unit, data.torque(curves.torque_noise_nm[rows]), 3),
        ("Samples left out (pauses, restarts, backward)", "", curves.left_out_samples[rows].astype(float), 0),
        ("Snug point, standard uncertainty", "deg", curves.snug_angle_uncertainty_deg[rows], 2),
        ("Yield onset, standard uncertainty", "deg", curves.yield_angle_uncertainty_deg[rows], 2),
    )
    columns = (
        ReportColumn("Quantity", weight=4.0),
        ReportColumn("Unit"),
        *(
            ReportColumn(title, align="right")
            for title in ("n", "Median", "5 %", "95 %", "Lowest", "Highest")
        ),
    )
    table_rows = []
    for title, unit, values, digits in quality:
        spread = spread_of(values)
        numbers = (spread.median, spread.low_5, spread.high_95, spread.lowest, spread.highest)
        cells = (Cell("–" if v is None else number_text(v, digits), v) for v in numbers)
        table_rows.append((Cell(title, title), Cell(unit), Cell(str(spread.n), spread.n), *cells))
    blocks: list[Block] = [Table("Data quality", columns, tuple(table_rows), "Recordings")]
    blocks.append(_absent_table(data))
    return Section(f"{data.title}: data quality", f"{anchor}-quality", tuple(blocks), new_page=False)


def _absent_table(data: JointData) -> Table | Paragraph:
    """Points that traces do not have, by reason."""
    curves, rows = data.analysis.curves, data.rows
    lines = []
    for point, codes in (
        ("Elastic slope", curves.slope_reason),
        ("Snug point", curves.snug_reason),
        ("Drawdown start", curves.drawdown_reason),
        ("Prevailing torque", curves.prevailing_reason),
        ("Yield onset", curves.yield_reason),
    ):
        for code, count in Counter(codes[rows].tolist()).most_common():
            if code:
                lines.append(
                    (Cell(point, point), Cell(REASONS.get(code, f"reason {code}")), Cell(str(count), count))
                )
    if not lines:
        return Paragraph("Every trace has every point.")
    columns = (
        ReportColumn("Absent point", weight=2.0),
        ReportColumn("Because", weight=5.0),
        ReportColumn("Traces", align="right"),
    )
    return Table("Absent points", columns, tuple(lines), "Points that traces do not have")


def origin_section(data: JointData, anchor: str) -> Section:
    """Where the joint's figures came from: definition, reference, files with digests."""
    _, pinned = data.pinned()
    band = f"Reference band: 5 to 95 % and median of {pinned or 'the traces that are ok'}, aligned at snug."
    blocks: tuple[Block, ...] = (
        _pairs("Definition", "Joint definition (N·m, deg, mm)", _definition(data)),
        Paragraph(band, "small"),
        _sources(data),
    )
    return Section(f"{data.title}: definition and sources", f"{anchor}-origin", blocks, new_page=False)


def _pairs(name: str, title: str, pairs: list[tuple[str, str]]) -> Table:
    columns = (ReportColumn("Name", weight=2.0), ReportColumn("Value", weight=4.0))
    return Table(name, columns, tuple((Cell(key, key), Cell(value, value)) for key, value in pairs), title)


def _definition(data: JointData) -> list[tuple[str, str]]:
    if data.definition is None:
        return [("joint", f"{data.name or 'none'}: not in the joints file")]
    pairs = []
    for key, value in vars(data.definition).items():
        if key in ("parts", "extra"):
            pairs += [(name, _plain(item)) for name, item in value.items()]
        elif value not in (None, ""):
            by_hand = " (set by hand, over the joints file)" if key in data.set_by_hand else ""
            pairs.append((key, _plain(value) + by_hand))
    return pairs


def _plain(value: Any) -> str:
    if isinstance(value, Mapping):
        return "; ".join(f"{key} {_plain(item)}" for key, item in value.items())
    if isinstance(value, tuple | list):
        if value and value[0] == -math.inf:
            return f"at most {_plain(value[1])}"
        if value and value[-1] == math.inf:
            return f"at least {_plain(value[0])}"
        return " to ".join(_plain(item) for item in value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "none" if value is None else f"{value:g}" if isinstance(value, float) else str(value)


def _flat(settings: Mapping[str, Any], prefix: str = "") -> list[tuple[str, str]]:
    pairs: list[tuple[str, str]] = []
    for key, value in settings.items():
        if isinstance(value, Mapping):
            pairs += _flat(value, f"{prefix}{key}.")
        else:
            pairs.append((f"{prefix}{key}", _plain(value)))
    return pairs


def _versions() -> list[tuple[str, str]]:
    pairs = [("tautograph", __version__), ("python", platform.python_version())]
    for library in _LIBRARIES:
        try:
            pairs.append((library, version(library)))
        except PackageNotFoundError:
            pairs.append((library, "not known"))
    return pairs


def _sources(data: JointData) -> Table | Paragraph:
    """The files that traces of this joint came from, with digests and counts."""
    traces = data.analysis.traces
    counts = np.bincount(
        traces.source_index[data.rows][traces.source_index[data.rows] >= 0], minlength=len(traces.sources)
    )
    rows = [
        (
            Cell(source.path, source.path),
            Cell(str(count), int(count)),
            Cell(source.layout),
            Cell(source.digest),
        )
        for source, count in zip(traces.sources, counts, strict=True)
        if count
    ]
    if not rows:
        return Paragraph("The traces did not come from files.")
    columns = (
        ReportColumn("Source file", weight=3.0),
        ReportColumn("Traces", weight=0.8, align="right"),
        ReportColumn("Layout", weight=1.3),
        ReportColumn("Digest", weight=5.0),
    )
    shown = rows[:_MOST_FILES]
    note = "" if len(rows) == len(shown) else f"{len(shown)} of {len(rows)} files are listed."
    return Table("Sources", columns, tuple(shown), "Source files", note)


#: Files listed; a folder of ten thousand one-trace files would fill a hundred pages (own choice).
_MOST_FILES = 200
