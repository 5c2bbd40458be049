"""One recorded trace, seen as a frozen view into a set (no copy)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from analysis.arrays import FloatArray


@dataclass(frozen=True)
class Trace:
    """What was recorded while one fastener was turned."""

    trace_id: str  #: Unique within its set.
    #: Shape (n_samples,). Degrees; N·m. As recorded: angles may repeat or step back.
    angle_deg: FloatArray
    torque_nm: FloatArray
    #: Shape (n_samples,). Seconds; tool step; r/min; kN. None where the recording has no such channel; NaN at
    #: samples where the value is missing.
    time_s: FloatArray | None
    step: FloatArray | None
    speed_rpm: FloatArray | None
    clamp_force_kn: FloatArray | None
    #: Everything else that is known of the trace, `trace_id` and `joint` included.
    attributes: Mapping[str, Any]

    @property
    def joint(self) -> str | None:
        """Name of the joint that the recording gives, or None."""
        joint = self.attributes.get("joint")
        return None if joint is None else str(joint)

    def __len__(self) -> int:
        return len(self.angle_deg)
