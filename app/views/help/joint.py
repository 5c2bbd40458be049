"""Help on the joint's engineering, from the bolt's marking to what a load cell says."""

from __future__ import annotations

from app.views.help.topic import Topic

JOINT_TOPICS: tuple[Topic, ...] = (
    Topic(
        "property class",
        "Clamp force",
        "Property class of a bolt",
        "The two numbers of the marking are nominal: 10.9 means 10 x 100 = 1000 MPa tensile "
        "strength, of which 0.9 is yield, 900 MPa. The standard's smallest values are a little "
        "higher, 1040 and 940 MPa for 10.9, and the program counts with those.\n\nA bolt without "
        "such a class takes its yield strength from the joint's key yield_strength_mpa.",
        "A.B:   Rm,nominal = 100 · A MPa,   yield/tensile strength = 0.B",
        "",
        "ISO 898-1:2013, Table 3.",
    ),
    Topic(
        "torque budget",
        "Clamp force",
        "Where the torque goes",
        "Only the part that climbs the thread's helix stretches the bolt; thread and head keep the "
        "rest. Prevailing torque makes no clamp force and is taken off first.\n\nAbout 10 % of the "
        "torque becomes clamp force is common practice without a source: true near a friction of "
        "0.18 to 0.20, too little at lower friction.",
        "T = T_prevailing + F P/2π + F μ_th d2/(2 cos 30°) + F μ_b D_Km/2",
        "",
        "MIL-HDBK-60, 100.5 and 110.3; VDI 2230.",
    ),
    Topic(
        "expected slope",
        "Clamp force",
        "Expected slope and joint rate",
        "Where the joint's stiffness is known, friction and stiffness give the slope of the "
        "elastic zone and the degrees from snug to final. The fan behind the curves (menu View) "
        "spans the friction range and the scatter of the force per degree. A slope outside it says "
        "that friction or stiffness is not as the joint says; torque and angle alone cannot tell "
        "which.",
        "F per degree = P/(360 (δ_S + δ_P)),   dT/dα = (F per degree) · (T/F)",
        "",
        "VDI 2230, compliance of bolt and parts; scatter of 20 % computed, 10 % measured: common "
        "practice, no source.",
    ),
    Topic(
        "after tightening",
        "Clamp force",
        "What is left after tightening",
        "The faces embed, the bolt gets shorter, and clamp force is lost: the more, the stiffer "
        "the joint. The estimate counts thread, bearing faces and inner interfaces by their "
        "roughness.\n\nWhere the tool stood still in the rise, the fall of torque is told. It holds "
        "what the drive let go and what the joint settled, so it is the most that settling can "
        "have taken. A restart tightens anew: what settled before the final point is in the final "
        "torque already and is not taken off again.\n\nGuide values for bare steel. Paint, gaskets "
        "and plastic lose more.",
        "F_left = F − f_Z/(δ_S + δ_P)",
        "",
        "VDI 2230; single guide values recalled, not confirmed.",
    ),
    Topic(
        "laboratory",
        "Clamp force",
        "Tests with a load cell",
        "A recording with clamp_force_kn gives the torque coefficient K and friction where the "
        "force reaches 75 % of the proof load, in the manner of ISO 16047. The standard does not "
        "cover thread-forming or self-locking fasteners; such joints are marked.\n\nThe measured "
        "force has zones of its own: where it begins to rise, becomes straight over angle, leaves "
        "its line. They are found by the rules for torque and stand beside the torque curve's "
        "points: where the two part, friction changed on the way.",
        "K = T/(F d),   μ = (T/F − P/2π)/(0.577 d2 + D_b/2)",
        "",
        "ISO 16047 for scope and form (form recalled, not confirmed).",
    ),
    Topic(
        "loosening pair",
        "Clamp force",
        "Tightened and loosened",
        "A tightening and a loosening of the same joint, part and position give the clamp force "
        "from the difference of their torques, whatever the friction. It presumes the same "
        "friction both ways and no loss in between; the difference of two large torques carries "
        "both their errors.",
        "F = π (T_on − T_off)/P",
        "",
        "Follows from the long form; Coulomb friction.",
    ),
)
