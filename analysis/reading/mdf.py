"""ASAM MDF 3 and 4: each channel group with angle and torque is a trace (optional package asammdf).

The master channel is the time where no channel names it.
"""

from __future__ import annotations

from typing import Any

from analysis.reading.channel_groups import CurveGroup, GroupedContent
from analysis.reading.claims import check_claim
from analysis.reading.columns import claimed_channel
from analysis.reading.grouped_format import GroupedFormat
from analysis.reading.source_file import SourceFile

#: Loaded before a file has its budget.
LIBRARY = "asammdf"
FORMAT = GroupedFormat("ASAM MDF", LIBRARY, "asammdf", (b"MDF     ", b"UnFinMF "), __name__)


def groups_here(file: SourceFile) -> GroupedContent:
    """What the file holds, group by group, read in this process."""
    with FORMAT.loaded(file) as (asammdf, said), asammdf.MDF(file.path, memory="low") as content:
        sizes = [group.channel_group.cycles_nr * len(group.channels) for group in content.groups]
        check_claim(file, sum(sizes))
        return GroupedContent([_group(content, index) for index in range(len(content.groups))], said)


def _group(content: Any, index: int) -> CurveGroup:
    group = content.groups[index]
    name = str(getattr(group.channel_group, "acq_name", "") or index + 1)
    made = CurveGroup(name, {}, {}, {"started_at": content.start_time})
    master = content.masters_db.get(index)
    timestamps = None
    for position, channel in enumerate(group.channels):
        signal = content.get(group=index, index=position)
        timestamps = signal.timestamps
        if position == master and claimed_channel(channel.name) != "time_s":
            continue
        if signal.samples.ndim == 1 and signal.samples.dtype.names is None:
            made.columns[channel.name] = signal.samples
            made.units[channel.name] = str(signal.unit or "")
    has_time = any(claimed_channel(channel) == "time_s" for channel in made.columns)
    if timestamps is not None and not has_time and made.columns:
        made.columns["time_s"] = timestamps  # seconds, by the standard
    return made
