"""``tautograph study``: traces in, capability of process or tool out, without a display."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from analysis.listener import Listener
from analysis.whole_file import whole_file
from app.commands.compare import filter_mask
from app.commands.libraries import check_drawing
from app.commands.output import refuse_overwriting
from app.commands.parsing import BatchArguments
from app.commands.progress import Console
from app.commands.report import known_joints, report_time, template_of, torque_unit_of, write_pages
from app.commands.run import CommandError, read_toml, run

if TYPE_CHECKING:
    from analysis.capability.sensors import Calibrated
    from analysis.capability.settings import StudySettings
    from analysis.capability.study import Study
    from analysis.joint.joint_class import ClassTable
    from analysis.pipeline import Analysis

STUDY_ENDINGS = (".pdf", ".html", ".xlsx", ".json")
#: By what was found: shown, not met, met but not shown (or nothing could be studied).
EXIT_CODES = {"shown": 0, "not met": 1, "met, not shown": 2, None: 2}


def study_command(arguments: BatchArguments) -> int:
    """Carry out ``tautograph study``; returns the exit code."""
    ending = arguments.output.suffix.lower()
    if ending == ".pdf":
        check_drawing()
    settings, template = read_study(arguments.study), template_of(arguments.template)
    classes, unit = _classes(arguments.classes), torque_unit_of(arguments.torque_unit)
    console = Console(quiet=arguments.quiet, verbose=arguments.verbose)
    found = run(arguments, STUDY_ENDINGS, console)
    known_joints(found.analysis, console)
    with console.step("study"):
        study = _study(found.analysis, settings, _calibrated(arguments.events))
    for line in study_lines(study):
        console.say(line)
    refuse_overwriting([arguments.output], found.inputs)
    with whole_file(arguments.output) as unfinished:
        if ending == ".json":
            text = json.dumps(study.as_dict(), indent=1, ensure_ascii=False, allow_nan=False)
            unfinished.write_text(text + "\n", encoding="utf-8")
        else:
            from analysis.catalogue.units import DisplayUnits
            from analysis.report.study_pages import study_reports

            results = found.analysis.results()
            units = None if unit is None else DisplayUnits(unit)
            reports = study_reports(
                study, results, now=report_time(), template=template, classes=classes, units=units
            )
            write_pages(reports, unfinished, ending, Listener(console.progress))
    console.say(f"written: {arguments.output}")
    return EXIT_CODES[study.shown]


def _classes(path: Path | None) -> ClassTable | None:
    from analysis.joint.joint_class import load_classes

    return None if path is None else load_classes(path)


def read_study(path: Path | None) -> StudySettings:
    """The study file, or the defaults where none is given. Raises CommandError or StudyFileError."""
    from analysis.capability.settings import StudySettings, study_settings

    if path is None:
        return StudySettings()
    return study_settings(read_toml("--study", path), str(path))


def _calibrated(path: Path | None) -> Calibrated | None:
    """Calibrations of each tool from a file of events. Raises CommandError or ArchiveError."""
    if path is None:
        return None
    if not path.exists():
        raise CommandError(f"--events {path}: there is no such file")
    from analysis.plant.calibration import calibrated_until, calibrations_of
    from analysis.plant.reading_back import read_events

    return calibrated_until(calibrations_of(read_events(path).to_pylist()))


def _study(analysis: Analysis, settings: StudySettings, calibrated: Calibrated | None) -> Study:
    from analysis.capability.study import make_study
    from app.session.loading import results_columns

    results = analysis.results()
    columns = results_columns(results, analysis.traces)
    masks = {
        name: filter_mask(f"{name} of the study", text, columns)
        for name in ("only", "hard", "soft")
        if (text := getattr(settings, name)) is not None
    }
    if settings.kind == "tool-over-joints" and not {"hard", "soft"} <= masks.keys():
        raise CommandError("a study of a tool over joints needs the filters hard and soft under [study]")
    known = (*results.column_names, *analysis.traces.attributes.column_names)
    for key in ("reference", "streams", "subgroup"):
        name = getattr(settings, key)
        if isinstance(name, str) and name != "none" and name not in known:
            raise CommandError(f"[study] {key} {name!r}: no such column; the traces have {', '.join(known)}")
    study = make_study(
        results, analysis.traces.attributes, analysis.joints, settings, calibrated=calibrated, **masks
    )
    if not any(np.size(one.rows.rows) for one in study.joints.values()):
        raise CommandError("no trace is left to study: the filter leaves none of a joint of the joints file")
    return study


def study_lines(study: Study) -> Sequence[str]:
    """One line for each quantity."""
    lines = []
    for name, joint in study.joints.items():
        if not joint.quantities:
            lines.append(f"{name}: no limits and no wanted clamp force given: nothing to study")
        for one in joint.quantities.values():
            words = one.shown or f"not studied: {one.reason}"
            index = one.deciding
            figure = "" if index is None else (
                f" {one.decided_by} {index.value:.2f} ({index.low:.2f} to "
                f"{index.high:.2f}, n = {one.n}), at least {one.asked.wanted_cpk:g} wanted:"
            )  # fmt: skip
            lines.append(f"{name}, {one.title.lower()}:{figure} {words}")
    return lines
