"""Tests with a plank, scales, a tape and a meter, against worked and published examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from models.engineering.simple_tests import (
    balance_on_scales,
    battery_from_loads,
    braking_from_tape,
    height_from_tilt,
    speed_from_tape,
    tilt_grip,
    track_from_time,
    track_from_turns,
)
from models.errors import OutOfRangeError
from models.units import FOOT_M, POUND_KG


def test_four_scales_find_masses_whose_places_are_known() -> None:
    """Own example: 30 kg at (0.10, 0.05) and 20 kg at (-0.05, -0.10) on wheels at ±0.3, ±0.25 m."""
    masses, xs, ys = np.array([30.0, 20.0]), np.array([0.10, -0.05]), np.array([0.05, -0.10])
    forward, left = np.array([0.3, 0.3, -0.3, -0.3]), np.array([0.25, -0.25, 0.25, -0.25])
    share_x = (1 + np.outer(xs / 0.3, np.sign(forward))) / 2
    share_y = (1 + np.outer(ys / 0.25, np.sign(left))) / 2
    loads = masses @ (share_x * share_y)
    found = balance_on_scales(loads=loads, forward=forward, left=left, error=0.1)
    assert float(found.mass.value) == pytest.approx(50.0)
    assert float(found.forward.value) == pytest.approx(0.04)  # (30·0.10 − 20·0.05)/50
    assert float(found.left.value) == pytest.approx(-0.01)  # (30·0.05 − 20·0.10)/50
    assert float(found.mass.high) == pytest.approx(50.2)  # four scales, 0.1 kg each: 0.1·√4


def test_six_scales_need_no_rule_of_how_the_load_is_shared() -> None:
    forward = [0.3, 0.3, 0.0, 0.0, -0.3, -0.3]
    left = [0.25, -0.25] * 3
    loads = [6.0, 8.0, 10.0, 9.0, 9.0, 8.0]
    found = balance_on_scales(loads=loads, forward=forward, left=left)
    assert float(found.mass.value) == 50.0
    assert float(found.forward.value) == pytest.approx(0.3 * (14.0 - 17.0) / 50.0)
    assert float(found.left.value) == 0.0


def test_the_error_of_the_centre_is_that_of_random_errors() -> None:
    """Monte Carlo with scales that err independently; the spread is the one stated."""
    forward, left = np.array([0.3, 0.3, -0.3, -0.3]), np.array([0.25, -0.25, 0.25, -0.25])
    loads = np.array([14.0, 12.0, 15.0, 11.0])
    stated = balance_on_scales(loads=loads, forward=forward, left=left, error=0.2)
    drawn = np.random.default_rng(4).normal(loads, 0.2, (40_000, 4))
    many = balance_on_scales(loads=drawn, forward=forward, left=left)
    off = float(stated.forward.high - stated.forward.value)
    assert float(np.std(many.forward.value)) == pytest.approx(off, rel=0.02)


def test_a_car_on_four_scales_as_a_text_on_statics_has_it() -> None:
    """R. C. Hibbeler, Engineering Mechanics: Statics, chapter 9, the car on four scales; memory.

    Front wheels read 1129 and 1168 lb, rear ones 975 and 984 lb; wheelbase 9.40 ft, tyres of
    1.98 ft diameter; with the rear wheels 3.0 ft higher the front reads 1269 and 1307 lb. The
    text's centre of gravity lies 5.07 ft ahead of the rear axle; the height follows from its data.
    """
    level = np.array([1129.0, 1168.0, 975.0, 984.0]) * POUND_KG
    base = 9.40 * FOOT_M
    found = balance_on_scales(loads=level, forward=[base, base, 0, 0], left=[1, -1, 1, -1])
    assert float(found.forward.value) / FOOT_M == pytest.approx(5.07, abs=0.005)
    raised_front = (1269.0 + 1307.0) * POUND_KG
    mass = float(found.mass.value)
    # The function raises the front; a rear that is raised is the same car driven backwards.
    height = height_from_tilt(
        mass=mass,
        front_level=float(level[2:].sum()),
        front_raised=mass - raised_front,
        wheelbase=base,
        rise=3.0 * FOOT_M,
        wheel_radius=1.98 / 2 * FOOT_M,
    )
    # Moments about the rear axle in the raised position, by hand:
    angle = math.asin(3.0 / 9.40)
    ahead = (2576.0 * 9.40 * math.cos(angle)) / 4256.0
    by_hand = (ahead / math.cos(angle) - 5.0733) / math.tan(angle) + 0.99
    assert float(height.value) / FOOT_M == pytest.approx(by_hand, abs=0.002)
    assert float(height.value) / FOOT_M == pytest.approx(2.82, abs=0.01)


def test_the_height_comes_back_from_a_rigid_robot_turned_about_its_rear_wheels() -> None:
    """Contacts stay below the axles; loads follow from where the mass has moved to."""
    mass, base, radius, ahead, height, rise = 52.0, 0.58, 0.05, 0.31, 0.27, 0.2
    angle = math.asin(rise / base)
    moved = ahead * math.cos(angle) - (height - radius) * math.sin(angle)
    raised = mass * moved / (base * math.cos(angle))
    found = height_from_tilt(
        mass=mass, front_level=mass * ahead / base, front_raised=raised, wheelbase=base, rise=rise,
        wheel_radius=radius, error=0.1,
    )  # fmt: skip
    assert float(found.value) == pytest.approx(height, rel=1e-9)
    assert float(found.low) < height < float(found.high)


@pytest.mark.parametrize("rise", [0.0, 0.6, 0.7])
def test_blocks_that_no_robot_stands_on_are_refused(rise: float) -> None:
    with pytest.raises(OutOfRangeError, match="blocks"):
        height_from_tilt(mass=50, front_level=25, front_raised=20, wheelbase=0.6, rise=rise,
                         wheel_radius=0.05)  # fmt: skip


def test_scales_that_carry_nothing_are_refused() -> None:
    with pytest.raises(OutOfRangeError, match="carry nothing"):
        balance_on_scales(loads=[0, 0, 0, 0], forward=[1, 1, -1, -1], left=[1, -1, 1, -1])


def test_grip_is_the_tangent_of_the_slope() -> None:
    """Serway and Beichner give rubber on dry concrete 1.0 at the edge: 45°."""
    found = tilt_grip(angle=math.radians(45.0), error=math.radians(2.0))
    assert float(found.value) == pytest.approx(1.0)
    assert float(found.low) == pytest.approx(math.tan(math.radians(43.0)))
    assert float(found.high) == pytest.approx(math.tan(math.radians(47.0)))


def test_a_battery_comes_back_from_two_loads() -> None:
    """12.7 V and 15 mΩ under 20 A and 200 A: 12.40 and 9.70 V."""
    ohms, volts = battery_from_loads(
        first_voltage=12.40, first_current=20, second_voltage=9.70, second_current=200,
        voltage_error=0.02, current_share=0.03,
    )  # fmt: skip
    assert float(ohms.value) == pytest.approx(0.015)
    assert float(volts.value) == pytest.approx(12.7)
    assert float(ohms.low) == pytest.approx(2.66 / (180 * 1.03))
    assert float(ohms.high) == pytest.approx(2.74 / (180 * 0.97))
    with pytest.raises(OutOfRangeError, match="greater"):
        battery_from_loads(first_voltage=12, first_current=50, second_voltage=11, second_current=50)


def test_turns_and_time_tell_the_same_track() -> None:
    track, diameter, turns, speed = 0.72, 0.1, 10.0, 2.0
    rolled = turns * math.pi * track
    counted = track_from_turns(
        wheel_turns=rolled / (math.pi * diameter), wheel_diameter=diameter, turns=turns,
        turn_error=0.1, wheel_error=0.25,
    )  # fmt: skip
    timed = track_from_time(surface_speed=speed, time=rolled / speed, turns=turns, time_error=0.3)
    for found in (counted, timed):
        assert float(found.value) == pytest.approx(track)
        assert float(found.low) < track < float(found.high)


def test_speed_and_stop_follow_from_length_and_time() -> None:
    speed = speed_from_tape(length=4.0, time=1.0, time_error=0.2)
    assert (float(speed.low), float(speed.high)) == pytest.approx((4 / 1.2, 4 / 0.8))
    brake = braking_from_tape(speed=speed, length=1.0, length_error=0.05)
    assert float(brake.value) == pytest.approx(8.0)
    assert float(brake.low) < 8.0 < float(brake.high)
    assert math.isinf(float(speed_from_tape(length=1.0, time=0.2, time_error=0.2).high))
