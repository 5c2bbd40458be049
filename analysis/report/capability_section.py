"""Capability of a joint in its report: indices with intervals, and what its class asks."""

from __future__ import annotations

from analysis.capability.class_check import check_class, since_last_sound
from analysis.capability.settings import StudySettings
from analysis.capability.study import study_joint
from analysis.report.class_pages import class_section
from analysis.report.content import Block, Paragraph, Section
from analysis.report.reported import JointData
from analysis.report.study_tables import answer, facts_of, indices_table, streams_table
from analysis.report.study_units import joint_in_units

_MORE = "Shape, charts and each quantity on its own: the study (Tools, or `tautograph study`)."


def capability_sections(data: JointData, anchor: str) -> tuple[Section, ...]:
    """The joint's study in short, and its class; nothing of joints without limits, or without traces."""
    definition = data.definition
    if definition is None or not len(data):
        return ()
    attributes = data.analysis.traces.attributes.take(data.rows)
    study = study_joint(data.records, attributes, definition, StudySettings())
    sections = []
    shown = joint_in_units(study, data.units)
    if study.quantities:
        blocks: list[Block] = [Paragraph(answer(shown), "lead"), facts_of(shown), indices_table(shown)]
        blocks += [streams_table(one) for one in list(shown.quantities.values())[:1] if one.streams]
        blocks.append(Paragraph(_MORE, "small"))
        sections.append(
            Section(f"{data.title}: capability", f"{anchor}-capability", tuple(blocks), new_page=False)
        )
    items = check_class(definition, data.records, study)
    standing = class_section(definition, items, since_last_sound(data.records), anchor)
    return (*sections, standing) if standing is not None else tuple(sections)
