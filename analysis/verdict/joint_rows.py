"""Which joint each trace belongs to, as integer codes that arrays can be indexed with."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from analysis.joint.definition import JointDefinition
from analysis.traces import TraceSet

NO_JOINT = -1


@dataclass(frozen=True, eq=False)
class JointRows:
    """Joint of every trace."""

    names: tuple[str, ...]  #: Distinct joint names in the order of their first trace.
    #: Shape (n,). Index into `names`; -1 where the recording names no joint and none was assigned.
    codes: NDArray[np.int64]
    #: One entry a name; None where the joints file does not know it.
    definitions: tuple[JointDefinition | None, ...]

    def name_of(self, row: int) -> str | None:
        """Name of the joint of one trace, or None."""
        code = int(self.codes[row])
        return None if code == NO_JOINT else self.names[code]

    def definition_of(self, row: int) -> JointDefinition | None:
        """Definition of the joint of one trace, or None."""
        code = int(self.codes[row])
        return None if code == NO_JOINT else self.definitions[code]

    def per_trace(self) -> list[str | None]:
        """The name of each trace's joint."""
        table: list[str | None] = [*self.names, None]
        return [table[code] for code in self.codes.tolist()]


def find_joint_rows(
    traces: TraceSet,
    joints: Mapping[str, JointDefinition],
    default_joint: str | None = None,
    assigned: Mapping[str, str] | None = None,
) -> JointRows:
    """The joint that each recording names; nothing is guessed.

    A joints file with a single joint is no reason to assign it: a recording that names no joint stays without
    one unless the caller says so.

    Parameters
    ----------
    default_joint : str or None
        For recordings that name no joint.
    assigned : Mapping of trace_id to joint name, or None
        Given by hand to recordings that name no joint; goes before `default_joint`.
    """
    names, codes = _named(traces)
    if assigned and np.any(codes == NO_JOINT):
        for row in np.flatnonzero(codes == NO_JOINT).tolist():
            name = assigned.get(traces.trace_ids[row])
            if name:
                codes[row] = _code_of(name, names)
    if default_joint is not None and np.any(codes == NO_JOINT):
        codes = np.where(codes == NO_JOINT, _code_of(default_joint, names), codes)
    return JointRows(tuple(names), codes, tuple(joints.get(name) for name in names))


def _named(traces: TraceSet) -> tuple[list[str], NDArray[np.int64]]:
    # A blank text names none: a table has it where a text file has an empty cell.
    given = [name if name is not None and str(name).strip() else None for name in traces.column("joint")]
    order = dict.fromkeys(name for name in given if name is not None)
    code_of = {name: code for code, name in enumerate(order)}
    codes = np.array([code_of.get(name, NO_JOINT) for name in given], np.int64)
    return [str(name) for name in order], codes


def _code_of(name: str, names: list[str]) -> int:
    if name not in names:
        names.append(name)
    return names.index(name)
