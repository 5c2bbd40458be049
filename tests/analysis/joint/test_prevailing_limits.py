"""What ISO 2320 allows of a locking nut, and which side of it a measured torque lies on."""

from __future__ import annotations

import pytest

from analysis.joint.prevailing_limits import check_prevailing, standard_limits
from analysis.joint.thread import parse_thread

#: First-on highest, first-off lowest, fifth-off lowest, N·m, nut class 04: ISO 2320, as published.
PUBLISHED_NM = {
    "M5": (1.6, 0.29, 0.2), "M6": (3.0, 0.45, 0.3), "M8": (6.0, 0.85, 0.6), "M10": (10.5, 1.5, 1.0),
    "M12": (15.5, 2.3, 1.6), "M16": (32.0, 4.5, 3.0), "M20": (54.0, 7.5, 5.3),
}  # fmt: skip


@pytest.mark.parametrize("thread", PUBLISHED_NM)
def test_limits_are_the_standards(thread: str) -> None:
    limits = standard_limits(parse_thread(thread), "04")
    assert not isinstance(limits, str)
    found = (limits.first_on_highest_nm, limits.first_off_lowest_nm, limits.fifth_off_lowest_nm)
    assert found == PUBLISHED_NM[thread]


@pytest.mark.parametrize(
    ("run", "measured_nm", "met", "margin_nm"),
    [
        ("on", 10.0, True, 0.5), ("on", 11.0, False, -0.5), ("first off", 2.0, True, 0.5),
        ("first off", 1.0, False, -0.5), ("fifth off", 1.25, True, 0.25), ("fifth off", 0.5, False, -0.5),
    ],
)  # fmt: skip
def test_at_most_while_running_on_at_least_while_running_off(run, measured_nm, met, margin_nm) -> None:
    check = check_prevailing(measured_nm, parse_thread("M10"), "04", run=run)
    assert check.met is met
    assert check.margin_nm == pytest.approx(margin_nm)
