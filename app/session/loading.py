"""The slow work of the window as functions of a frozen request: reading files, and analysing; no Qt.

Everything heavy is imported inside, in the worker, so that the window stands before it is needed.
"""

from __future__ import annotations

import gc
import os
import threading
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.catalogue.figures import FIGURE_OF
from analysis.errors import JointDefinitionError, ReadProblem
from analysis.traces import TraceSet
from app.display.columns import Column, ColumnSet, column_from_arrow, text_column

if TYPE_CHECKING:
    from analysis.joint.definition import JointDefinition
    from analysis.pipeline import Analysis
    from analysis.settings import Settings
    from analysis.shift.reference import ReferenceSet
    from app.display.margins import Margins
    from app.session.jobs import Progress
    from app.session.state import Decisions

#: Files that no layout recognises, as a share of those read, up to which they are listed and not asked
#: about (own choice: a log among recordings is no import).
_FEW_UNFAMILIAR = 0.05
REFERENCE_HELP = "Inside or outside the reference set that is pinned for the joint; empty where none is."
Cancelled = Callable[[], bool]
Joints = Mapping[str, "JointDefinition"]
#: Held from the first warming up on.
_WARMED = threading.Lock()


@dataclass(frozen=True)
class ReadRequest:
    """What to read."""

    paths: tuple[str, ...]  #: Files and folders; a ``.toml`` among them is the joints file.
    joints_path: str = ""  #: The joints file; empty: looked for among and beside the paths.
    before: TraceSet | None = None  #: Traces that the new ones are added to.
    mappings: tuple[Any, ...] = ()  #: Saved import mappings, tried by their file pattern.
    mapping: Any = None  #: The one that the user has just confirmed for these paths.
    purpose: str = "open"  #: "open", "add", "reload" or "follow": what the answer is for.


@dataclass(frozen=True)
class ReadAnswer:
    """What was read, and everything that could not be."""

    request: ReadRequest
    traces: TraceSet
    problems: tuple[ReadProblem, ...]
    unfamiliar: tuple[str, ...]
    joints: Mapping[str, JointDefinition]
    joints_path: str
    joints_problem: str
    stopped: bool = False
    new_ids: tuple[str, ...] = ()


@dataclass(frozen=True)
class AnalysisRequest:
    """What to judge."""

    traces: TraceSet
    joints: Mapping[str, JointDefinition]
    settings: Settings
    decisions: Decisions


@dataclass(frozen=True)
class AnalysisAnswer:
    """The judgement, and its columns ready for the table."""

    request: AnalysisRequest
    analysis: Analysis
    columns: ColumnSet
    margins: Margins


@dataclass(frozen=True)
class ReadPart:
    """What was read so far, while the rest is still read."""

    request: ReadRequest
    traces: TraceSet


def read(request: ReadRequest, progress: Progress, cancelled: Cancelled) -> ReadAnswer:
    """Read the traces and the joints; what was read before a cancel is kept."""
    from analysis.reading import read_paths

    trace_paths = [path for path in request.paths if Path(path).suffix.lower() != ".toml"]
    joints_path = request.joints_path or find_joints_file(request.paths)
    joints, joints_problem = read_joints(joints_path)
    before = request.before if request.before is not None else TraceSet.empty()
    known = set(before.trace_ids)
    if request.purpose == "follow":
        before = without_files(before, request.paths)
    if not trace_paths:
        return ReadAnswer(request, before, (), (), joints, joints_path, joints_problem)
    reading = read_paths(
        trace_paths,
        mapping=request.mapping,
        mappings=request.mappings,
        progress=progress,
        cancelled=cancelled,
        so_far=lambda traces: progress.partly(ReadPart(request, traces)),
    )
    traces, doubled = add_traces(before, reading.traces)
    return ReadAnswer(
        request=request,
        traces=traces,
        problems=(*reading.problems, *doubled),
        unfamiliar=tuple(reading.unfamiliar),
        joints=joints,
        joints_path=joints_path,
        joints_problem=joints_problem,
        stopped=cancelled(),
        new_ids=tuple(trace_id for trace_id in traces.trace_ids if trace_id not in known),
    )


def asks_for_mapping(answer: ReadAnswer) -> bool:
    """Whether files that no layout recognises are asked about; a few among many are only listed."""
    n_read = len({int(answer.traces.source_index[answer.traces.row_of(one)]) for one in answer.new_ids})
    return len(answer.unfamiliar) > _FEW_UNFAMILIAR * n_read


def without_files(traces: TraceSet, paths: tuple[str, ...]) -> TraceSet:
    """The traces that came from other files: a followed file that grew is read again as a whole."""
    again = {os.path.abspath(path) for path in paths}
    gone = [n for n, source in enumerate(traces.sources) if os.path.abspath(source.path) in again]
    if not gone:
        return traces
    return traces.take([row for row in range(len(traces)) if int(traces.source_index[row]) not in gone])


def add_traces(before: TraceSet, new: TraceSet) -> tuple[TraceSet, list[ReadProblem]]:
    """Both sets as one; a `trace_id` that is there already is left out and listed with both places."""
    known = set(before.trace_ids)
    doubled = [row for row, trace_id in enumerate(new.trace_ids) if trace_id in known]
    if not doubled:
        return TraceSet.concatenate([before, new]), []
    problems = [
        ReadProblem(
            path=_source_path(new, row),
            line=None,
            found=f"trace_id {new.trace_ids[row]!r}, which {_place_of(before, new.trace_ids[row])} has",
            expected="a trace_id that occurs once",
            advice="the trace that was there first is kept; rename the other or start afresh",
        )
        for row in doubled
    ]
    gone = set(doubled)
    kept = [row for row in range(len(new)) if row not in gone]
    return TraceSet.concatenate([before, new.take(kept)]), problems


def _place_of(traces: TraceSet, trace_id: str) -> str:
    return _source_path(traces, traces.row_of(trace_id))


def _source_path(traces: TraceSet, row: int) -> str:
    index = int(traces.source_index[row])
    return traces.sources[index].path if index >= 0 else "the open set"


def find_joints_file(paths: tuple[str, ...]) -> str:
    """The joints file among the paths, inside an opened folder, or beside an opened file.

    Empty where none is.
    """
    for path in paths:
        if Path(path).suffix.lower() == ".toml":
            return path
    for path in paths:
        folder = Path(path) if Path(path).is_dir() else Path(path).parent
        candidate = folder / "joints.toml"
        if candidate.is_file():
            return str(candidate)
    return ""


def changed_joints(before: Joints, after: Joints) -> tuple[str, ...]:
    """Names of the joints that a file read again gives otherwise than those in use; none where none were."""
    names = {**before, **after} if before else ()
    return tuple(name for name in names if before.get(name) != after.get(name))


def read_joints(path: str) -> tuple[dict[str, JointDefinition], str]:
    """The joints of a file, and what is wrong with it (empty where nothing is)."""
    if not path:
        return {}, ""
    from analysis.joint import load_joints

    try:
        return dict(load_joints(path)), ""
    except (JointDefinitionError, OSError) as error:
        return {}, str(error)


def analyse(request: AnalysisRequest, progress: Progress, cancelled: Cancelled) -> AnalysisAnswer:
    """Judge all traces and lay the results out in columns."""
    from analysis.compilation import is_compiled
    from analysis.first_run import FIRST_RUN, first_run_is_told

    if not is_compiled():
        progress(0, 0, FIRST_RUN)
    from analysis.pipeline import analyse as run_pipeline
    from app.display.margins import work_out_margins

    with first_run_is_told(lambda text: progress(0, 0, text)):
        analysis = run_pipeline(
            request.traces,
            request.joints,
            request.settings,
            default_joint=request.decisions.default_joint or None,
            reference=reference_sets(request.decisions),
            decisions=request.decisions,
            progress=progress,
            cancelled=cancelled,
        )
    columns = with_reference(results_columns(analysis.results(), request.traces), analysis)
    return AnalysisAnswer(
        request, analysis, columns, work_out_margins(columns, analysis.rules, analysis.judgement)
    )


def warm_up() -> None:
    """Load what reading and judging need before the first file, once: it takes as long as a small shift."""
    if _WARMED.acquire(blocking=False):  # never let go
        _judge_two_traces()
        gc.freeze()


def _judge_two_traces() -> None:
    import analysis.reading  # noqa: F401
    from analysis.first_run import first_run_is_told
    from analysis.pipeline import analyse as run_pipeline

    angle_deg = np.linspace(0.0, 400.0, 400)
    torque_nm = 1.0 + 0.5 * np.maximum(angle_deg - 300.0, 0.0)
    traces = TraceSet.from_lists(["a", "b"], [angle_deg] * 2, [torque_nm] * 2, {"joint": ["", ""]})
    with first_run_is_told(lambda _text: None):  # whoever judges meanwhile is told
        run_pipeline(traces, {}).results()


def reference_sets(decisions: Decisions) -> dict[str, ReferenceSet]:
    """The pinned reference sets in the form that the pipeline takes."""
    return {joint: one.figures for joint, one in decisions.references.items() if one.figures is not None}


def with_reference(columns: ColumnSet, analysis: Analysis) -> ColumnSet:
    """The columns with the place of each trace in or outside its joint's reference, where one is pinned."""
    from analysis.pipeline import outside_references

    if not analysis.reference:
        return columns
    outside = outside_references(analysis)
    pinned = [analysis.joint_rows.name_of(row) in analysis.reference for row in range(len(analysis))]
    words = [
        ("outside" if out else "inside") if known else ""
        for out, known in zip(outside.tolist(), pinned, strict=True)
    ]
    return columns.with_columns(text_column("reference", words, "reference", REFERENCE_HELP))


def results_columns(results: Any, traces: TraceSet) -> ColumnSet:
    """Results first, then the recordings' attributes, as columns."""
    columns: dict[str, Column] = {}
    for name in results.column_names:
        about = FIGURE_OF.get(name)
        title, unit, help_text = (about.title, about.unit, about.help) if about else ("", "", "")
        columns[name] = column_from_arrow(name, results.column(name), title, unit, help_text)
    basis = columns.get("hardness_basis")
    if basis is not None and len(traces):
        columns["hardness"] = replace(
            columns["hardness"], title=f"{columns['hardness'].title} ({basis.words(0)})"
        )
    return ColumnSet({**columns, **_attribute_columns(traces, set(columns))}, len(traces))


def attribute_columns(traces: TraceSet) -> ColumnSet:
    """Columns of what the recordings say of themselves, before there are results."""
    return ColumnSet(_attribute_columns(traces, set()), len(traces))


def _attribute_columns(traces: TraceSet, taken: set[str]) -> dict[str, Column]:
    columns = {
        name: column_from_arrow(name, traces.attributes.column(name))
        for name in traces.attributes.column_names
        if name not in taken
    }
    if "trace_id" in columns:
        columns["trace_id"] = column_from_arrow("trace_id", traces.attributes.column("trace_id"), "trace")
    return columns
