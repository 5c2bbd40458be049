"""TDMS: each group with angle and torque is a trace (optional package npTDMS).

A waveform's increment (s) makes the time where no channel holds it.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from analysis.reading.channel_groups import CurveGroup, GroupedContent
from analysis.reading.claims import check_claim
from analysis.reading.columns import claimed_channel
from analysis.reading.grouped_format import GroupedFormat
from analysis.reading.source_file import SourceFile

#: Loaded before a file has its budget.
LIBRARY = "nptdms"
FORMAT = GroupedFormat("TDMS", LIBRARY, "npTDMS", (b"TDSm",), __name__)
#: Properties that state a channel's unit, the usual one first.
_UNIT_PROPERTIES = ("unit_string", "NI_UnitDescription", "unit")
#: Properties of the format itself, not of the tightening.
_OWN_PROPERTIES = ("name", "wf_increment", "wf_start_offset", "wf_samples")


def groups_here(file: SourceFile) -> GroupedContent:
    """What the file holds, group by group, read in this process."""
    with FORMAT.loaded(file) as (nptdms, said), nptdms.TdmsFile.open(file.path) as content:
        check_claim(file, sum(len(channel) for group in content.groups() for channel in group.channels()))
        shared = _kept(content.properties)
        return GroupedContent([_group(group, shared) for group in content.groups()], said)


def _kept(properties: Any) -> dict[str, Any]:
    return {name: value for name, value in properties.items() if name not in _OWN_PROPERTIES}


def _group(group: Any, shared: dict[str, Any]) -> CurveGroup:
    made = CurveGroup(group.name, {}, {}, {**shared, **_kept(group.properties)})
    for channel in group.channels():
        made.columns[channel.name] = channel[:]
        unit = next((channel.properties[key] for key in _UNIT_PROPERTIES if channel.properties.get(key)), "")
        made.units[channel.name] = str(unit)
    increments = {
        channel.properties["wf_increment"]
        for channel in group.channels()
        if claimed_channel(channel.name) in ("angle_deg", "torque_nm")
        and "wf_increment" in channel.properties
    }
    has_time = any(claimed_channel(name) == "time_s" for name in made.columns)
    if not has_time and len(increments) == 1 and made.columns:
        made.columns["time_s"] = np.arange(len(next(iter(made.columns.values())))) * float(increments.pop())
    return made
