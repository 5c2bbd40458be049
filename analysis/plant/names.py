"""Names that the parts of the archive share: columns beside the results, and folders."""

from __future__ import annotations

#: What stands beside the results of each trace: its place among all, its lot, its file's digest.
PLACE, LOT, DIGEST = "place", "lot", "source_digest"
#: Torque per clamp force: elastic slope over force per degree; friction and thread in one length.
LEVER = "torque_per_clamp_force_mm"
#: Folders of an archive; data tools pass over names that begin with a stroke.
DAYS, INPUTS, UNFINISHED = "_days", "_inputs", "_unfinished"
#: What the folder of a look-back at work begins with, in the archive.
LOOKING_BACK = ".looking-back-"
