"""A sound text of every kind of file that the program reads beside recordings, and what reads it."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from importlib import resources
from pathlib import Path

from analysis.catalogue.units import DisplayUnits
from analysis.checked_text import UnusableTextError, decoded
from analysis.errors import TautographError
from analysis.joint import load_joints
from analysis.joint.joint_class import load_classes
from analysis.joint.joints_document import JointsDocument
from analysis.joint.limits_import import read_limits
from analysis.parts.record_log import add_records, changed_recordings, read_log
from analysis.plant.archive import _counted, inputs_of
from analysis.plant.names import INPUTS
from analysis.plant.reading_back import read_events
from analysis.plant.year import events_of
from analysis.reading.mapping_file import load_mapping
from analysis.report.template import load_template
from analysis.shift.reference import load_references
from app.commands.settings import read_settings
from app.commands.strategy import strategy_settings
from app.commands.study import read_study
from app.display.columns import ColumnSet, number_column, text_column
from app.display.preferences import Preferences
from app.session.deciding import Signature, set_note
from app.session.loading import reference_sets
from app.session.state import Decisions
from app.workspace.session import settings_from
from app.workspace.workspace_file import (
    Workspace,
    append_changes,
    read_workspace,
    start_journal,
    write_workspace,
)
from sample_traces.sample_paths import sample_paths
from tests.app.known_references import figures, reference

_MAPPING = """name = "hand"
file_patterns = ["*_curve.csv"]
decimal = ","
header_line = 1
[columns]
angle_deg = {column = "rotation", unit = "turn"}
torque_nm = {column = 2, unit = "ft·lbf"}
"""
#: A joint with a part and an audit, in as few words as can be: many more are tried in the time of a long one.
_SHORT_JOINTS = """[joints.hub]
thread = "M10x1.5"
property_class = "10.9"
head = "hex"
friction = [0.10, 0.16]
clamp_length_mm = 35.0
target_torque_nm = 65.0
torque_limits_nm = [61.0, 69.0]
positions = [1, 2]
layout = [[0, 0], [120, 0]]
final_spread_s = 0.3
[joints.hub.audit]
definition = "ongoing"
"""
_SETTINGS = """[curve]
snug_rule = "threshold-torque"
snug_threshold_nm = 12.5
hard_limit_deg = 27.0
[population]
smallest_population = 8
"""
_STRATEGY = """snug_torque_nm = 12.5
angle_scatter_deg = 1.5
friction_correlation = 0.4
"""
_LIMITS = """joint;torque_low_nm;torque_high_nm;angle_low_deg
hub;58,5;72,0;20
rim;10,0;12,0;5
"""
_WINDOW = """[General]
look=dark
recent="[[\\"/a\\", \\"/b\\"], [\\"/c\\"]]"
joints_of="{\\"/a\\": \\"/j.toml\\"}"
torque_unit=ft·lbf
"""


def _workspace_text(changes: bool = False, *, short: bool = False) -> str:
    import tempfile

    decisions = set_note(Decisions(), ["a", "b"], "seen", Signature("Tester", "2026-03-02T06:00:00Z")).after
    decisions = decisions.with_limits("hub", "torque_limits_nm", (1.0, 2.0))
    if not short:
        decisions = decisions.with_reference("hub", reference("hub", "2026-03-02"))
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "a.json"
        workspace = Workspace(("/a",), {"/a": "sha256:1"}, "/j.toml", decisions=decisions, selected=("a",))
        if changes:
            start_journal(workspace, file)
            later = set_note(decisions, ["b"], "again", Signature("Tester", "2026-03-02T06:01:00Z")).after
            append_changes(workspace, replace(workspace, decisions=later, current="b"), file)
        else:
            write_workspace(workspace, file)
        return file.read_text("utf-8")


def _read_workspace(path: Path) -> None:
    workspace = read_workspace(path)
    workspace.missing()
    settings_from(workspace.settings)
    reference_sets(workspace.decisions)


def _read_window(path: Path) -> None:
    kept = Preferences(path)
    for words in (kept.recent, kept.joints_of, kept.torque_unit, kept.look, kept.user_name):
        str(words)
    kept.layout("window")


def _edit_joints(path: Path) -> None:
    document = JointsDocument.load(path)
    document.text()


def _read_filter(path: Path) -> None:
    from app.filtering.text import evaluate, parse, write_units

    columns = ColumnSet(
        {
            "joint": text_column("joint", ["hub", "cover", None]),
            "final_torque_nm": number_column("final_torque_nm", [1.0, 2.0, float("nan")], "N·m"),
        },
        3,
    )
    try:
        text = decoded(path.read_bytes())
    except UnusableTextError as error:
        raise TautographError(str(error)) from None
    evaluate(parse(text, columns), columns)
    write_units(text, columns, DisplayUnits())


def _log_text() -> str:
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "log.jsonl"
        stated = [{"trace_id": "t1", "trace": "sha256:1"}]
        add_records(file, [{"part": f"p{k}", "joint": "hub", "recordings": stated} for k in range(2)])
        return file.read_text("utf-8")


def _read_log(path: Path) -> None:
    log = read_log(path)
    log.latest()
    changed_recordings(log, {"t1": "sha256:2"})


_RUN = json.dumps(
    {
        "run": "a", "way": {"version": "1"}, "files": ["_days/a.parquet"],
        "inputs": [{"path": "/a.csv", "digest": "sha256:1", "verdicts": [["hub", "ok", 2]]}],
    }
)  # fmt: skip
_EVENTS = 'time,tool,kind,text\n2026-03-14T06:00Z,t1,calibration,"it, did"\n2026-03-15T06:00Z,,lot,x\n'


def _in_an_archive(path: Path, name: str, read: Callable[[Path], object]) -> None:
    """Read the file as the one of this name in an archive."""
    folder = path.parent / "archive"
    (folder / INPUTS).mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(path.read_bytes())
    try:
        read(folder)
    finally:
        (folder / name).unlink()


def _read_run(folder: Path) -> None:
    for one in inputs_of(folder).values():
        str(_counted([one]))


def _read_events(folder: Path) -> None:
    events_of(read_events(folder))


#: Name of a file of each kind: its text, and what reads it.
TEXT_FILES: dict[str, tuple[str, Callable[[Path], object]]] = {
    "joints.toml": (sample_paths().joints.read_text("utf-8"), load_joints),
    "short_joints.toml": (_SHORT_JOINTS, load_joints),
    "edited_joints.toml": (sample_paths().joints.read_text("utf-8"), _edit_joints),
    "mapping.toml": (_MAPPING, load_mapping),
    "report.toml": (
        resources.files("resources.templates").joinpath("report.toml").read_text("utf-8"),
        load_template,
    ),
    "settings.toml": (_SETTINGS, read_settings),
    "limits.csv": (_LIMITS, lambda path: read_limits(path, JointsDocument.new())),
    "kept.references.json": (json.dumps([figures("hub", "2026-03-02").as_dict()]), load_references),
    "a.tautograph.json": (_workspace_text(), _read_workspace),
    "journal.tautograph.json": (_workspace_text(changes=True), _read_workspace),
    "short.tautograph.json": (_workspace_text(short=True), _read_workspace),
    "short_journal.tautograph.json": (_workspace_text(changes=True, short=True), _read_workspace),
    "log.jsonl": (_log_text(), _read_log),
    "run.json": (_RUN, lambda path: _in_an_archive(path, f"{INPUTS}/a.json", _read_run)),
    "events.csv": (_EVENTS, lambda path: _in_an_archive(path, "_events.csv", _read_events)),
    "window.ini": (_WINDOW, _read_window),
    "study.toml": (sample_paths().joints.with_name("machine_study.toml").read_text("utf-8"), read_study),
    "strategy.toml": (_STRATEGY, strategy_settings),
    "classes.toml": (resources.files("resources").joinpath("classes.toml").read_text("utf-8"), load_classes),
    "filter.txt": (
        'final_torque > 12,5 N·m and not (joint in (hub, "x y") or final_torque is missing)',
        _read_filter,
    ),
}
