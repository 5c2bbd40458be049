"""The declared schema of recordings: which columns hold samples and which hold attributes."""

from __future__ import annotations

import pyarrow as pa

#: Columns with one number per sample; the first two are required. Units stand in the names.
REQUIRED_CHANNELS = ("angle_deg", "torque_nm")
OPTIONAL_CHANNELS = ("time_s", "step", "speed_rpm", "clamp_force_kn")
CHANNELS = REQUIRED_CHANNELS + OPTIONAL_CHANNELS
#: Largest value, of either sign, that a recording of a joint can hold, in the unit of the name: 2777 turns,
#: ten times what the largest hydraulic wrenches give, seconds since 1970 (own choice, far beyond any joint).
LARGEST_VALUES = {
    "angle_deg": 1e6, "torque_nm": 1e6, "time_s": 1e10, "step": 1e9, "speed_rpm": 1e6, "clamp_force_kn": 1e6,
}  # fmt: skip

#: Attributes with a declared type, one value per trace; any other attribute keeps the type it came with.
ATTRIBUTE_TYPES: dict[str, pa.DataType] = {
    "trace_id": pa.string(),
    "joint": pa.string(),
    "tool": pa.string(),
    "spindle": pa.string(),
    "program": pa.string(),
    "part": pa.string(),
    "position": pa.string(),
    "started_at": pa.timestamp("us", tz="UTC"),
}
