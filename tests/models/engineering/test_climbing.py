"""Climbing and standing on a ramp, against force balances solved by a root finder."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.optimize import brentq

from models.engineering.climbing import CLIMB_WORDS, climb, hold_still
from models.engineering.drive import (
    STANDARD_GRAVITY,
    Drive,
    Layout,
    Stance,
    directions,
    example_drive,
    wheel_force,
)
from models.engineering.pushing import grade
from models.engineering.supply import motor_current
from models.engineering.traction import top_speed, travel_motion

STANCE = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
LAYOUTS: tuple[Layout, ...] = ("tank", "swerve", "mecanum", "omni")


def excess(drive: Drive, stance: Stance, layout: Layout, *, speed: float, slope: float) -> float:
    """Force up the slope less what the climb takes, each axle of independent wheels by itself."""
    way = directions(layout, 0.0)
    emf = drive.motor.emf_constant * drive.ratio * speed / drive.wheel_radius / way.speed
    current = motor_current(drive.supply, emf=emf, resistance=drive.motor.resistance)
    able = float(way.force * wheel_force(drive, current))
    weight = float(stance.mass) * STANDARD_GRAVITY
    grip = float(way.grip * drive.grip)
    across, along = weight * np.cos(slope), weight * np.sin(slope)
    span = float(stance.to_front + stance.to_rear)
    rear = (across * float(stance.to_front) + along * float(stance.cg_height)) / span
    if layout == "tank":
        pull = min(able, grip * across)
    else:
        pull = sum(min(able / 2, grip * max(load, 0.0)) for load in (across - rear, rear))
    return pull - along - float(drive.rolling_coefficient) * across


# Independent: the speed at which the axles' forces and the slope balance, by bracketing.
@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("degrees", [0.0, 6.0, 12.0, 20.0])
def test_the_climb_is_steady_where_the_forces_balance(layout: Layout, degrees: float) -> None:
    drive, slope = example_drive(), float(np.radians(degrees))
    balanced = brentq(
        lambda v: excess(drive, STANCE, layout, speed=v, slope=slope), 0.0, 10.0, xtol=1e-12
    )
    found = climb(drive, STANCE, layout, slope=slope)
    assert float(found.speed) == pytest.approx(balanced, rel=1e-9)


def test_a_light_front_axle_leaves_the_work_to_the_rear() -> None:
    back = STANCE._replace(to_front=np.float64(0.45), to_rear=np.float64(0.1))
    slope = float(np.radians(15.0))
    drive = example_drive()
    balanced = brentq(
        lambda v: excess(drive, back, "swerve", speed=v, slope=slope), 0.0, 10.0, xtol=1e-12
    )
    found = climb(drive, back, "swerve", slope=slope)
    assert float(found.speed) == pytest.approx(balanced, rel=1e-9)
    even = climb(drive, STANCE, "swerve", slope=slope)
    assert float(found.current) > float(even.current)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_on_the_level_it_is_the_top_speed(layout: Layout) -> None:
    drive = example_drive()
    motion = travel_motion(drive, STANCE, layout, angle=0.0)
    expected = top_speed(drive, STANCE, layout, motion=motion)
    assert float(climb(drive, STANCE, layout, slope=0.0).speed) == pytest.approx(float(expected))


@pytest.mark.parametrize(
    ("layout", "changes", "word"),
    [
        ("tank", {"grip": 0.4}, "traction"),
        ("tank", {"ratio": 1.2}, "supply limit"),
        ("swerve", {"grip": 0.5}, "traction"),
    ],
)
def test_beyond_the_steepest_slope_it_does_not_climb(
    layout: Layout, changes: dict[str, float], word: str
) -> None:
    drive = example_drive()._replace(**{key: np.float64(value) for key, value in changes.items()})
    steepest = grade(drive, STANCE, layout).angle
    below = climb(drive, STANCE, layout, slope=steepest * 0.999)
    above = climb(drive, STANCE, layout, slope=steepest * 1.001)
    assert float(below.speed) > 0.0
    assert float(above.speed) == 0.0
    assert CLIMB_WORDS[int(above.limited_by)] == word


def test_a_tall_robot_tips_before_it_slips() -> None:
    tall = STANCE._replace(cg_height=np.float64(0.9))
    found = climb(example_drive(), tall, "tank", slope=np.radians([10.0, 18.0]))
    assert [CLIMB_WORDS[int(word)] for word in found.limited_by] == ["voltage", "tip"]
    assert found.speed[0] > 0.0 == found.speed[1]
    assert np.isnan(found.current[1])


def test_a_supply_limit_that_sets_the_speed_is_named() -> None:
    drive = example_drive()
    feed = drive.supply._replace(
        supply_limit=np.float64(12.0),
        supply_power=np.float64((float(drive.supply.source_voltage) - 12 * 0.082) * 12),
    )
    found = climb(drive._replace(supply=feed), STANCE, "tank", slope=np.radians(12.0))
    assert CLIMB_WORDS[int(found.limited_by)] == "supply limit"
    assert 0.0 < float(found.speed) < float(climb(drive, STANCE, "tank", slope=0.2).speed)


def held(layout: Layout = "swerve", **changes: float) -> Any:
    figures = {"slope": 0.2, "to_side": 0.25, "side_grip": 0.9, **changes}
    return hold_still(example_drive(), STANCE, layout, **figures)  # type: ignore[arg-type]


def test_axle_loads_on_the_slope_add_up_to_what_presses_on_it() -> None:
    found = held()
    weight = float(STANCE.mass) * STANDARD_GRAVITY
    assert float(found.front_load + found.rear_load) == pytest.approx(weight * np.cos(0.2))


def test_the_front_axle_is_empty_where_it_tips_backwards() -> None:
    steep = float(held().tip_up)
    assert float(held(slope=steep).front_load) == pytest.approx(0.0, abs=1e-9)
    assert float(held().tip_down) == pytest.approx(np.arctan2(0.27, 0.25))
    assert float(held().tip_across) == pytest.approx(np.pi / 4)


def test_each_layout_slides_across_by_its_own_grip() -> None:
    grip = float(example_drive().grip)
    slides = {layout: float(np.tan(held(layout).slip_across)) for layout in LAYOUTS}
    rollers = grip / np.sqrt(2)
    assert slides == pytest.approx(
        {"tank": 0.9, "swerve": grip, "mecanum": rollers, "omni": rollers}
    )
