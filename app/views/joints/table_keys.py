"""What the joint form shows beside the plain keys of a joint: its part, its audit, a screw in plastic."""

from __future__ import annotations

from typing import cast

from analysis.joint.definition_keys import KEYS, Key, Kind
from analysis.joint.key_tables import TABLES

_KINDS = {"pair": "range", "pairs": "rows"}


def _key(name: str, title: str, text: str, unit: str = "") -> Key:
    """Kind, bounds and choices stand in `TABLES`; a name with a dot is a key of a table within the joint."""
    table, _, key = name.rpartition(".")
    declared = TABLES[table or "joint"][key]
    kind = cast("Kind", _KINDS.get(declared.kind, declared.kind))
    return Key(name, kind, title, text, unit, choices=declared.choices, part=True)


_TABLE_KEYS = (
    _key("positions", "Positions", "of this joint on one part, such as 1 … 4, or 1, 2, left"),
    _key("layout", "Places", 'of the positions: "circle", or x y of each, such as 0 0; 40 0; 40 40; 0 40'),
    _key("passes", "Passes", "how often each position is gone over, as it is laid down"),
    _key("wanted_sum_kn", "Wanted sum", "of the clamp forces of all positions of a part", "kN"),
    _key("evenness_limit", "Evenness limit", "highest clamp force of a part over its lowest"),
    _key(
        "interaction",
        "Interaction",
        "share of what another bolt gains that a bolt loses: on a circle nearest first, such as 0.10 0.04, "
        "else a row for each position, parted by semicolons",
    ),
    _key(
        "group_window_s",
        "Part within",
        "seconds from the first trace of a part to its last; later is another part",
        "s",
    ),
    _key(
        "final_spread_s",
        "Final points within",
        "seconds between the final points of one part's spindles",
        "s",
    ),
    _key("reuse_limit", "Bolt re-used at most", "how often a bolt may be tightened again after loosening"),
    _key("audit.definition", "Residual torque is", "which of the torques of an audit the limits are for"),
    _key("audit.limits_nm", "Residual limits", "of the audit, not those of the tightening", "N·m"),
    _key(
        "audit.fit_deg",
        "Line from, to",
        "degrees after the movement that a plain straight line is fitted to",
        "deg",
    ),
    _key(
        "audit.at_angle_deg",
        "Read at",
        "degrees after the movement, where the torque at an angle is meant",
        "deg",
    ),
    _key("audit.max_turn_deg", "Largest turn", "degrees after the movement that an audit may turn", "deg"),
    _key("audit.sample", "Sample", "how many are audited, in words, such as 5 per shift"),
)
_PLASTIC_KEYS = (
    _key("plastic.screw_diameter_mm", "Screw diameter", "outside, over the thread's crests", "mm"),
    _key("plastic.pitch_mm", "Pitch", "of the screw", "mm"),
    _key("plastic.core_hole_mm", "Core hole", "moulded or drilled in the plastic", "mm"),
    _key("plastic.engaged_mm", "Engaged length", "of the screw in the plastic", "mm"),
    _key("plastic.head_mm", "Head diameter", "of the face under the head", "mm"),
    _key("plastic.clearance_mm", "Clearance hole", "under the head; the screw's diameter unless given", "mm"),
    _key("plastic.flank_angle_deg", "Flank angle", "of the thread, 30 unless given", "deg"),
    _key("plastic.yield_strength_mpa", "Strength of plastic", "yield in tension, from its data sheet", "MPa"),
    _key("plastic.friction_thread", "Thread friction", "screw on plastic, lowest and highest"),
    _key("plastic.friction_head", "Head friction", "under the head, lowest and highest"),
)
#: Every key that the form has a field for.
FORM_KEYS: dict[str, Key] = {**KEYS, **{key.name: key for key in (*_TABLE_KEYS, *_PLASTIC_KEYS)}}
#: Their sections.
TABLE_SECTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("Part", tuple(key.name for key in _TABLE_KEYS if "." not in key.name)),
    ("Audit of the tight joint", tuple(key.name for key in _TABLE_KEYS if "." in key.name)),
    ("Screw in plastic", tuple(key.name for key in _PLASTIC_KEYS)),
)
