"""The library of joints to begin with, copying, and the words beside a clamp force."""

import math
from importlib import resources

import numpy as np
import pytest

from analysis.curve.reasons import STARTS_IN_RISE
from analysis.errors import CallError
from analysis.joint import JointDefinition, JointsDocument, joints_from_text
from analysis.joint.bearing import bearing
from analysis.joint.clamp_force import fuse_clamp
from analysis.joint.clamp_routes import clamp_routes
from analysis.joint.clamp_words import explain_clamp, torque_budget
from analysis.joint.thread import parse_thread
from analysis.joint.torque import lever_mm
from tests.analysis.joint.curves import make_curves
from tests.analysis.joint.levers import assembly_load

STIFF = JointDefinition(
    "hub",
    48.0,
    thread="M10",
    property_class="8.8",
    head="hex",
    hole="medium",
    friction=(0.10, 0.14),
    parts={"stiffness_n_per_deg": 931.0},
)


LIBRARY = (resources.files("resources") / "joint_library" / "hex_bolts.toml").read_text("utf-8")


def _rounded_down(size: str, property_class: str, mu: float) -> float:
    """Torque of the assembly load, rounded down to two figures, N·m."""
    thread = parse_thread(size)
    ring = bearing(thread, "hex", "medium").friction_diameter_mm
    torque = assembly_load(thread, property_class, ring, mu).torque_nm
    step = 10.0 ** (math.floor(math.log10(torque)) - 1)
    return round(math.floor(torque / step) * step, 6)


def test_the_library_uses_the_yield_strength_at_the_lowest_friction() -> None:
    joints = joints_from_text(LIBRARY)
    assert len(joints) == 14
    for name, joint in joints.items():
        _, size, property_class = name.split("-")
        friction = (0.12, 0.18)
        assert (joint.thread, joint.property_class, joint.friction) == (size, property_class, friction)
        assert (joint.head, joint.hole, joint.stop, joint.may_yield) == ("hex", "medium", "torque", False)
        assert joint.target_torque_nm == _rounded_down(size, property_class, friction[0])
        # No limits: those are the user's to set.
        assert joint.torque_limits_nm is None
    assert "to be confirmed" in LIBRARY


def test_a_library_joint_can_be_copied_into_a_plants_file() -> None:
    library = JointsDocument.from_text(LIBRARY)
    plant = JointsDocument.from_text(
        "[joints.mast]\ntarget_torque_nm = 20.0  # keep\nattributes.drawing = 'A'\n"
    )
    plant.add("axle", library.values("hex-M12-8.8"))
    plant.copy("mast", "mast-left")
    again = joints_from_text(plant.text())
    assert again["axle"].thread == "M12"
    assert again["mast-left"].extra == {"attributes": {"drawing": "A"}}
    assert "# keep" in plant.text()
    with pytest.raises(CallError, match="already"):
        plant.copy("mast", "axle")


def test_the_budget_adds_up_to_the_final_torque() -> None:
    budget = torque_budget(STIFF, 50.0, 5.0)
    assert not isinstance(budget, str)
    assert budget.total_nm == pytest.approx(50.0, rel=1e-12)
    # A15: 14.6 / 38.3 / 47.1 % of what makes clamp force, at mu 0.12.
    shares = [100 * part / 45.0 for part in (budget.pitch_nm, budget.thread_nm, budget.bearing_nm)]
    assert shares == pytest.approx([14.6, 38.3, 47.1], abs=0.06)
    assert str(torque_budget(STIFF, 4.0, 5.0)).startswith("not evaluated: ")
    assert str(torque_budget(JointDefinition("a", 1.0), 4.0, 1.0)) == "not evaluated: no thread given"
    short = JointDefinition("a", 1.0, thread="M10", parts={"torque_coefficient": (0.2, 0.2)})
    assert "K alone" in str(torque_budget(short, 4.0, 1.0))


def _words(true_mu: float, **points: object) -> str:
    slope = 0.931 * float(lever_mm(parse_thread("M10"), 12.815, true_mu, true_mu))
    curves = make_curves(
        1,
        **{
            "final_torque_nm": 48.0,
            "prevailing_torque_nm": 0.0,
            "elastic_slope_nm_per_deg": slope,
            "elastic_origin_deg": 0.0,
            "final_angle_deg": 48.0 / slope,
            **points,
        },
    )
    table = fuse_clamp(clamp_routes(curves, ["hub"], {"hub": STIFF}))
    return " ".join(map(str, explain_clamp(table, 0, STIFF)))


def test_the_words_say_what_the_estimate_rests_on() -> None:
    text = _words(0.12)
    # S3: 25.7 to 34.3 kN at 48 N·m and friction 0.14 to 0.10.
    assert "friction 0.1 to 0.14: 25.7" in text
    assert "implies a friction of 0.120" in text
    assert text.startswith("29.4 kN (27.1 to 31.9 kN), by torque and angle.")
    assert "not measured" in text
    assert "qualified engineer" in text


def test_the_words_name_a_disagreement_and_what_would_settle_it() -> None:
    text = _words(0.25)
    assert "nothing in common" in text
    assert "loosening torque" in text
    assert "no best value" in text


def test_the_words_pass_on_reasons_and_notes() -> None:
    unknown = _words(0.12, prevailing_torque_nm=np.nan, prevailing_reason=STARTS_IN_RISE)
    assert "Prevailing torque not read from the recording, none taken off." in unknown
    table = fuse_clamp(clamp_routes(make_curves(1, final_torque_nm=48.0), [None], {}))
    assert explain_clamp(table, 0, None) == ["Clamp force not evaluated: no joint assigned."]
