"""Where surfaces seize, torque says only what the clamp force is not above."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.joint.clamp_force import MOST_SEIZED, fuse_clamp
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.clamp_table import ClampTable
from analysis.joint.clamp_words import clamp_summary, explain_clamp
from analysis.joint.routes import BOTH
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


def test_torque_says_what_the_force_is_not_above_the_angle_how_low_it_may_be_and_none_is_best() -> None:
    found = table(STIFF, True)
    assert found.route == (BOTH,)
    assert found.clamp_force_low_kn[0] < TRUE_KN < found.clamp_force_high_kn[0]
    assert np.isnan(found.clamp_force_kn[0])
    assert found.clamp_force_low_kn[0] == pytest.approx(found.angle_force_low_kn[0])
    assert found.clamp_force_high_kn[0] == pytest.approx(found.torque_force_high_kn[0], rel=0.01)
    assert "surfaces seize" in clamp_summary(found, 0)
    told = " ".join(str(line) for line in explain_clamp(found, 0, STIFF))
    assert "The surfaces seize" in told
    assert "upper bound, the angle a lower one" in told


def test_without_an_angle_there_is_no_best_value_and_much_may_have_gone_to_friction() -> None:
    alone = replace(HUB, clamp_length_mm=None)
    found, plain = table(alone, True), table(alone, False)
    assert np.isnan(found.clamp_force_kn[0])
    told = " ".join(str(line) for line in explain_clamp(found, 0, alone))
    assert "no best value: the surfaces seize, and their friction is not known" in told
    assert "angle" not in told  # nothing is claimed of a route that is not there
    assert found.clamp_force_low_kn[0] < TRUE_KN
    assert found.clamp_force_low_kn[0] == pytest.approx(plain.clamp_force_low_kn[0] / MOST_SEIZED, rel=0.15)
    assert found.clamp_force_high_kn[0] == pytest.approx(plain.clamp_force_high_kn[0], rel=0.05)
