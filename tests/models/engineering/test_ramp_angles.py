"""Angles of ramps that clear the underside, against lines and circles moved by a root finder."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from models.engineering.ramp_angles import axle_breakover, breakover_angle, clear_angle


def clearance_over_slope(angle: float, *, ahead: float, height: float, radius: float) -> float:
    """How far a point lies above the slope that touches the wheel from below."""
    normal = np.array([-np.sin(angle), np.cos(angle)])
    from_axle = np.array([ahead, height - radius])
    return float(normal @ from_axle) + radius


# Independent: the slope turned about the wheel until the point's distance from it is nothing.
@pytest.mark.parametrize(
    ("ahead", "height", "radius"),
    [(0.07, 0.035, 0.0635), (0.15, 0.11, 0.05), (0.2, 0.02, 0.0762), (0.08, 0.05, 0.0)],
)
def test_a_slope_at_the_clear_angle_touches_the_point(
    ahead: float, height: float, radius: float
) -> None:
    turned = brentq(
        lambda angle: clearance_over_slope(angle, ahead=ahead, height=height, radius=radius),
        0.0, np.pi / 2, xtol=1e-14,
    )  # fmt: skip
    found = clear_angle(overhang=ahead, height=height, wheel_radius=radius)
    assert float(found) == pytest.approx(turned, abs=1e-12)


def test_a_point_on_the_floor_clears_nothing_and_one_in_the_wheel_everything() -> None:
    assert float(clear_angle(overhang=0.1, height=0.0, wheel_radius=0.05)) == pytest.approx(0)
    assert float(clear_angle(overhang=0.02, height=0.05, wheel_radius=0.05)) == np.pi / 2


def highest_crest(angle: float, gap: float, radius: float) -> float:
    """How high a crest rises between two wheels, at the worst place of the robot over it."""

    def crest(front: float) -> float:
        """Where the two slopes meet, the front wheel's falling by `front` against the belly."""
        rear = angle - front
        rows = np.array([[np.sin(front), np.cos(front)], [-np.sin(rear), np.cos(rear)]])
        axles = np.array([[gap / 2, radius], [-gap / 2, radius]])
        return float(np.linalg.solve(rows, np.sum(rows * axles, axis=1) - radius)[1])

    worst = minimize_scalar(
        lambda front: -crest(front), bounds=(0.0, angle), method="bounded",
        options={"xatol": 1e-10},
    )  # fmt: skip
    return float(-worst.fun)


# Independent: two slopes touching the wheels, at every lean of the robot, met in their crest.
@pytest.mark.parametrize(
    ("gap", "belly", "radius"), [(0.56, 0.04, 0.05), (0.28, 0.035, 0.0635), (0.6, 0.09, 0.04)]
)
def test_the_sharpest_crest_just_reaches_the_belly(gap: float, belly: float, radius: float) -> None:
    sharpest = brentq(lambda angle: highest_crest(angle, gap, radius) - belly, 0.01, 1.4)
    found = breakover_angle(gap=gap, belly=belly, wheel_radius=radius)
    assert float(found) == pytest.approx(sharpest, abs=1e-6)


def test_without_wheel_radius_it_is_the_usual_break_over_angle() -> None:
    """Common formula for vehicles, 2·atan(2h/l), which takes the wheels as points."""
    found = breakover_angle(gap=0.5, belly=0.05, wheel_radius=0.0)
    assert float(found) == pytest.approx(2 * np.arctan(2 * 0.05 / 0.5))


def test_centre_wheels_let_a_sharper_crest_pass() -> None:
    level = axle_breakover(
        positions=[0.28, 0.0, -0.28], drops=[0.0, 0.0, 0.0], belly=0.04, wheel_radius=0.05
    )
    assert float(level.angle) > 2 * float(level.without_centre)
    assert float(level.angle) == pytest.approx(
        float(breakover_angle(gap=0.28, belly=0.04, wheel_radius=0.05))
    )


def test_hanging_outer_wheels_cost_half_the_drop() -> None:
    dropped = axle_breakover(
        positions=[0.28, 0.0, -0.28], drops=[0.004, 0.0, 0.004], belly=0.04, wheel_radius=0.05
    )
    half = breakover_angle(gap=0.28, belly=0.038, wheel_radius=0.05)
    assert float(dropped.angle) == pytest.approx(float(half))
    whole = breakover_angle(gap=0.56, belly=0.036, wheel_radius=0.05)
    assert float(dropped.without_centre) == pytest.approx(float(whole))


def test_many_robots_at_once() -> None:
    crest = axle_breakover(
        positions=[[0.3, -0.3], [0.2, -0.2]], drops=[[0, 0], [0, 0]],
        belly=[0.03, 0.03], wheel_radius=[0.05, 0.05],
    )  # fmt: skip
    assert crest.angle.shape == (2,)
    assert crest.angle[1] > crest.angle[0]
