"""The ways in which a residual torque is read, and what each is biased by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.audit.readings import Reading
from analysis.audit.turned_back import TURNED_BACK

if TYPE_CHECKING:
    from analysis.audit.table import AuditTable


@dataclass(frozen=True)
class Definition:
    """One way of reading it."""

    #: In the files; in a table; within a sentence.
    name: str
    title: str
    words: str
    bias: str  #: What it takes in beside the torque that holds the joint.


DEFINITIONS: tuple[Definition, ...] = (
    Definition("first-movement", "First movement", "at the first movement", "high by the static friction"),
    Definition(
        "ongoing", "Drawn back", "the line of moving on, drawn back to the first movement",
        "free of static friction and of turning on",
    ),
    Definition("dip", "Lowest after it", "lowest after the first movement", "near the line, noisy"),
    Definition(
        "at-angle", "At an angle", "at a fixed angle after the first movement",
        "high by the slope times that angle",
    ),
    Definition("peak", "Peak", "highest torque", "high by the slope times all turning"),
    Definition(
        "loosening", "On loosening", "the line of running back, drawn back to the first movement",
        "lower by F P/π: the pitch helps; the joint has to be tightened again",
    ),
    Definition(
        "return-to-mark", "Back at the mark", "back at the mark after turning back",
        "after one more pass of the friction",
    ),
)  # fmt: skip
DEFINITION_OF = {one.name: one for one in DEFINITIONS}


def side_by_side(audits: AuditTable, row: int) -> list[tuple[Definition, Reading | None, bool]]:
    """Every definition of one audit: its torque, where it can be read, and whether it is the plant's.

    Those that need the fastener turned back are there only where it was, or where they are the plant's.
    """
    k = audits.index_of(row)
    if k is None:
        return []
    own, chosen = audits.of[k].readings, audits.settings[k].definition
    told = [one for one in DEFINITIONS if one.name not in TURNED_BACK or one.name in {chosen, *own}]
    return [(one, own.get(one.name), one.name == chosen) for one in told]
