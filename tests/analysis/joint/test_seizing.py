"""Where surfaces seize, torque says only what the clamp force is not above."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.joint.clamp_force import MOST_SEIZED, fuse_clamp
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.clamp_table import ClampTable
from analysis.joint.clamp_words import explain_clamp
from analysis.joint.routes import ANGLE
from tests.analysis.joint.curves import make_curves
from tests.analysis.joint.test_clamp_force import HUB, STIFF, _elastic

SEIZED_FRICTION = 0.20
#: Clamp force of the S1 joint at 48 N·m and that friction, kN (derived, by the long form).
TRUE_KN = 18.7


def table(joint, seizing: bool) -> ClampTable:
    curves = make_curves(
        1, **{"prevailing_torque_nm": 0.0, "final_torque_nm": 48.0, **_elastic(SEIZED_FRICTION)}
    )
    return fuse_clamp(clamp_routes(curves, ["hub"], {"hub": joint}), seizing=np.array([seizing]))


def test_the_angle_carries_the_value_and_torque_its_upper_end() -> None:
    found = table(STIFF, True)
    assert found.route == (ANGLE,)
    assert found.clamp_force_low_kn[0] < TRUE_KN < found.clamp_force_high_kn[0]
    assert found.clamp_force_kn[0] == pytest.approx(TRUE_KN, rel=0.05)
    assert found.clamp_force_high_kn[0] <= found.torque_force_high_kn[0]
    told = " ".join(str(line) for line in explain_clamp(found, 0, STIFF))
    assert "surfaces seize" in told
    assert "The angle gives the clamp force" in told


def test_without_an_angle_there_is_no_best_value_and_much_may_have_gone_to_friction() -> None:
    alone = replace(HUB, clamp_length_mm=None)
    found, plain = table(alone, True), table(alone, False)
    assert np.isnan(found.clamp_force_kn[0])
    told = " ".join(str(line) for line in explain_clamp(found, 0, alone))
    assert "no best value: the surfaces seize, and the joint's stiffness is not known" in told
    assert "angle" not in told  # nothing is claimed of a route that is not there
    assert found.clamp_force_low_kn[0] < TRUE_KN
    assert found.clamp_force_low_kn[0] == pytest.approx(plain.clamp_force_low_kn[0] / MOST_SEIZED, rel=0.15)
    assert found.clamp_force_high_kn[0] == pytest.approx(plain.clamp_force_high_kn[0], rel=0.05)
