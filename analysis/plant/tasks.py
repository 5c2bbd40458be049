"""The work on one piece of traces, or one group: done by whoever is free, and kept in files."""

from __future__ import annotations

import json
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from analysis.errors import ReadProblem, TautographError
from analysis.joint.clamp_basis import clamp_basis
from analysis.measured import SecondLook, look_again, measure
from analysis.operation.table import is_unsteady
from analysis.plant.arrays_file import DamagedArraysError, read_arrays
from analysis.plant.measured_file import (
    ROW_TABLES,
    RowRange,
    load_measured,
    load_seen,
    load_sources,
    load_story,
    measured_path,
    row_table,
    save_measured,
    save_seen,
    seen_path,
)
from analysis.plant.names import DIGEST, LEVER, LOT, PLACE
from analysis.plant.pieces import Group, Job, Piece, read_piece
from analysis.plant.table_file import write_table
from analysis.traces.arrow_arrays import ArrowArray, coded_text_array, number_array, text_array
from analysis.verdict.joint_rows import JointRows, find_joint_rows
from analysis.verdict.rise_signs import RiseScan, ToothMeasure, measure_teeth_by

if TYPE_CHECKING:
    from analysis.analysed import Analysis
    from analysis.traces import TraceSet

FloatArray = NDArray[np.float64]

#: What this process read last, until its second look or the next piece: often the one that it looks at first.
_held: dict[tuple[str, Piece], TraceSet] = {}

#: Traces of a piece are numbered below this (own choice: more than any file holds).
_MOST_IN_PIECE = 1 << 40


class ChangedFileError(TautographError):
    """A recording was changed while it was worked on."""


@dataclass(frozen=True)
class Story:
    """What reading and measuring a piece told."""

    piece: Piece
    groups: tuple[Group, ...]
    problems: tuple[ReadProblem, ...]
    unfamiliar: tuple[str, ...]
    too_early: int
    digests: tuple[str, ...]  #: Of the files that traces came from.


@dataclass(frozen=True, eq=False)
class Wanted:
    """What the second look at a piece needs to know of the traces' company; arrays of shape (n,)."""

    by: ToothMeasure
    span_deg: FloatArray


def measure_piece(folder: str, job: Job, piece: Piece) -> Story:
    """Read a piece, find points and features, and keep them in its folder; once done, only told.

    Raises OSError.
    """
    place = Path(folder, piece.name)
    if measured_path(place).exists():
        with suppress(DamagedArraysError, KeyError, TypeError):  # then it is measured again
            story = _told(load_story(place))
            if story.piece == piece:
                return story
    seen_path(place).unlink(missing_ok=True)
    _held.clear()
    found = read_piece(job, piece)
    measured = measure(found.traces, found.rows, job.settings.curve)
    story = Story(
        piece,
        found.groups,
        found.problems,
        found.unfamiliar,
        found.too_early,
        tuple(source.digest for source in found.traces.sources),
    )
    save_measured(
        place, measured, found.order + piece.number * _MOST_IN_PIECE, json.loads(json.dumps(asdict(story)))
    )
    _held[folder, piece] = found.traces
    return story


def look_at_piece(folder: str, job: Job, piece: Piece, wanted: Wanted) -> None:
    """Read a piece again for what needs the company of its traces; once done, nothing.

    Raises
    ------
    ChangedFileError
        Where a file is not what it was at the first look.
    OSError
    """
    place = Path(folder, piece.name)
    if seen_path(place).exists():
        return
    held = _held.pop((folder, piece), None)
    _held.clear()
    traces = read_piece(job, piece).traces if held is None else held
    arrays = read_arrays(measured_path(place))
    if traces.sources != load_sources(place) or len(traces) != len(arrays["order"]):
        raise ChangedFileError(
            f"{piece.paths[0]} (or one of {len(piece.paths)} files read with it) was changed "
            "while it was read; run the command again"
        )
    rows = slice(0, len(traces))
    curves = row_table(ROW_TABLES["curves"], "curves", arrays, rows)
    scan = row_table(RiseScan, "scan", arrays, rows)
    save_seen(place, look_again(traces, curves, scan, wanted.by, wanted.span_deg))


def wanted_of(job: Job, joint: str | None, ranges: Sequence[RowRange]) -> list[Wanted]:
    """What the second look needs to know of each range of a group: only these few columns are loaded."""
    from analysis.pipeline import spans_deg

    parts = [(read_arrays(measured_path(one.folder)), one.rows) for one in ranges]

    def of(name: str) -> NDArray[Any]:
        return np.concatenate([arrays[name][rows] for arrays, rows in parts])

    scan = RiseScan(of("scan.signs"), of("scan.foot"), of("scan.cells"))
    unsteady = is_unsteady(of("operation"), of("loosenings.is_loosening"))
    codes = np.full(len(unsteady), -1 if joint is None else 0, np.int64)
    names = () if joint is None else (joint,)
    rows = JointRows(names, codes, tuple(job.joints.get(name) for name in names))
    by = measure_teeth_by(scan, of("curves.final_torque_nm"), codes)
    span_deg = spans_deg(scan, unsteady, rows, job.reference)
    stops = np.cumsum([one.stop - one.start for one in ranges])[:-1]
    return [
        Wanted(ToothMeasure(reach, usual), span)
        for reach, usual, span in zip(
            np.split(by.reach_nm, stops), np.split(by.usual_nm, stops), np.split(span_deg, stops), strict=True
        )
    ]


def judge_group(target: str, job: Job, ranges: Sequence[RowRange]) -> str:
    """Judge the traces of one joint and one stretch of time, and keep their results; gives the file's path.

    Raises OSError.
    """
    from analysis.pipeline import judge_measured

    if Path(target).exists():
        return target
    measured, rows, place = load_measured(
        ranges, lambda traces: find_joint_rows(traces, job.joints, job.default_joint)
    )

    def look(_by: ToothMeasure, _span_deg: FloatArray) -> SecondLook:
        return load_seen(ranges, ranked_only=not job.reference)

    found = judge_measured(measured, rows, job.joints, job.settings, look, reference=job.reference)
    results, traces = found.results(), found.traces
    digests = [source.digest for source in traces.sources]
    beside = {
        PLACE: number_array(place),
        LOT: text_array([None if one is None else str(one) for one in traces.column(LOT)]),
        DIGEST: coded_text_array(traces.source_index, digests),
        LEVER: _lever_mm(found),
    }
    for name, values in beside.items():
        results = results.append_column(name, values)
    write_table(Path(target), results)
    return target


def _lever_mm(found: Analysis) -> ArrowArray:
    """Torque per clamp force of each trace: its elastic slope over its joint's force per degree, mm."""
    bases = [one if one is None else clamp_basis(one) for one in found.joint_rows.definitions]
    known = [None if one is None or isinstance(one, str) else one.stiffness_kn_per_deg for one in bases]
    per_degree_kn = np.array([np.nan if one is None else one for one in (*known, None)])
    lever = found.curves.elastic_slope_nm_per_deg / per_degree_kn[found.joint_rows.codes]
    return number_array(lever, np.isfinite(lever))


def _told(plain: Any) -> Story:
    piece = plain["piece"]
    return Story(
        Piece(piece["number"], tuple(piece["paths"]), tuple(piece["left_out"])),
        tuple(Group(**one) for one in plain["groups"]),
        tuple(ReadProblem(**one) for one in plain["problems"]),
        tuple(plain["unfamiliar"]),
        plain["too_early"],
        tuple(plain["digests"]),
    )
