"""Every mutation, in one list; a number of the command is a place in it."""

from __future__ import annotations

from tests.mutations.mutation import Mutation
from tests.mutations.of_curve import OF_CURVE
from tests.mutations.of_joint import OF_JOINT
from tests.mutations.of_parts_and_plant import OF_PARTS_AND_PLANT
from tests.mutations.of_shift_and_report import OF_SHIFT_AND_REPORT
from tests.mutations.of_verdict import OF_VERDICT

MUTATIONS: tuple[Mutation, ...] = (
    *OF_CURVE,
    *OF_VERDICT,
    *OF_JOINT,
    *OF_SHIFT_AND_REPORT,
    *OF_PARTS_AND_PLANT,
)
