"""Acceleration, braking, pushing and slopes: force balances and limit cases."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq

from models.engineering.drive import (
    Drive,
    Stance,
    current_for_force,
    directions,
    free_speed,
    rolling_drag,
    rotating_mass,
    side_hold,
    wheel_force,
)
from models.engineering.pushing import GRADE_WORDS, grade, push
from models.engineering.sprint_pieces import acceleration_at, limit_speed
from models.engineering.supply import motor_current
from models.engineering.traction import (
    GOVERNING,
    axle_forces,
    axle_normal_forces,
    braking,
    joined,
    motor_brake_force,
    speed_at_current,
    tip_bound,
    top_speed,
    travel_motion,
)

G = 9.80665
Drives = Callable[..., Drive]
Stances = Callable[..., Stance]


def searched_acceleration(drive: Drive, at: Stance, layout: str, speed: float) -> float:
    """Acceleration of independent wheels by a search for the balance of forces."""
    factors = directions(layout, 0.0)  # type: ignore[arg-type]
    emf = drive.motor.emf_constant * drive.ratio / drive.wheel_radius * speed / factors.speed
    current = motor_current(drive.supply, emf=emf, resistance=drive.motor.resistance)
    force = float(factors.force * wheel_force(drive, current))
    rotating = float(rotating_mass(drive) / factors.speed**2)
    mass, grip = float(at.mass), float(factors.grip * drive.grip)
    drag = float(rolling_drag(drive, at.mass))

    def excess(a: float) -> float:
        loads = axle_normal_forces(at, acceleration=a, slope=0.0)
        passed = sum(
            min(force / 2 - rotating * a / 2, grip * max(float(load), 0.0)) for load in loads
        )
        return passed - drag - mass * a

    tip = float(tip_bound(at))
    return tip if excess(tip) >= 0 else float(brentq(excess, -5.0, tip, xtol=1e-13))


@pytest.mark.parametrize(
    ("layout", "lead", "height"),
    list(itertools.product(("swerve", "mecanum", "omni"), (-0.12, 0.0, 0.1), (0.1, 0.3, 0.6))),
)
def test_independent_wheels_balance_their_forces(
    make_drive: Drives, make_stance: Stances, layout: str, lead: float, height: float
) -> None:
    drive = make_drive(stator_limit=120.0, supply_limit=45.0, grip=0.9)
    at = make_stance(to_front=0.27 - lead, to_rear=0.27 + lead, cg_height=height)
    motion = travel_motion(drive, at, layout, angle=0.0)  # type: ignore[arg-type]
    for speed in np.linspace(0.0, 0.99 * float(limit_speed(motion)), 9):
        found = float(acceleration_at(motion, speed)[0])
        assert found == pytest.approx(searched_acceleration(drive, at, layout, speed), abs=1e-9)


def test_a_batch_gives_what_its_rows_give(make_drive: Drives, make_stance: Stances) -> None:
    ratios = np.array([4.0, 6.5, 9.0])
    batch = travel_motion(make_drive(ratio=ratios), make_stance(), "swerve", angle=0.0)
    for row, ratio in enumerate(ratios):
        alone = travel_motion(make_drive(ratio=ratio), make_stance(), "swerve", angle=0.0)
        assert float(limit_speed(batch)[row]) == pytest.approx(float(limit_speed(alone)))
        assert batch.slopes[row] == pytest.approx(alone.slopes)


def test_joined_motions_keep_their_rows(make_drive: Drives, make_stance: Stances) -> None:
    one = travel_motion(make_drive(), make_stance(), "tank", angle=0.0)
    three = travel_motion(make_drive(), make_stance(), "swerve", angle=np.zeros(2))
    both = joined([one, three])
    assert both.slopes.shape == (3, 3)
    assert limit_speed(both) == pytest.approx(
        np.concatenate([[float(limit_speed(one))], limit_speed(three)])
    )


@pytest.mark.parametrize("layout", ["tank", "swerve"])
def test_halves_share_what_moves_the_robot(
    make_drive: Drives, make_stance: Stances, layout: str
) -> None:
    drive, at = make_drive(grip=0.7), make_stance(to_front=0.2, to_rear=0.34)
    motion = travel_motion(drive, at, layout, angle=0.0)  # type: ignore[arg-type]
    a, current = acceleration_at(motion, np.array(1.0))
    front, rear = axle_forces(
        drive, at, layout, angle=0.0, current=current, acceleration=a  # type: ignore[arg-type]
    )  # fmt: skip
    moved = (float(at.mass) + float(rotating_mass(drive))) * float(a)
    assert float(front + rear) == pytest.approx(moved + float(rolling_drag(drive, at.mass)))
    assert (float(front) == pytest.approx(float(rear))) == (layout == "tank")


def test_top_speed_without_drag_is_that_of_no_force(
    make_drive: Drives, make_stance: Stances
) -> None:
    drive = make_drive(rolling_coefficient=0.0)
    motion = travel_motion(drive, make_stance(), "swerve", angle=0.0)
    speed = float(top_speed(drive, make_stance(), "swerve", motion=motion))
    emf = float(motion.emf) * speed
    current = motor_current(drive.supply, emf=emf, resistance=drive.motor.resistance)
    assert float(wheel_force(drive, current)) == pytest.approx(0.0, abs=1e-9)


def test_speed_and_current_turn_each_other_round(make_drive: Drives, make_stance: Stances) -> None:
    drive = make_drive(stator_limit=90.0, supply_limit=40.0)
    motion = travel_motion(drive, make_stance(), "tank", angle=0.0)
    for current in (10.0, 40.0, 60.0, 85.0):
        speed = float(speed_at_current(motion, current))
        back = motor_current(
            drive.supply, emf=float(motion.emf) * speed, resistance=drive.motor.resistance
        )
        assert float(back) == pytest.approx(current)
    assert float(speed_at_current(motion, 91.0)) == 0.0


def test_braking_is_the_least_of_motors_grip_and_tipping(
    make_drive: Drives, make_stance: Stances
) -> None:
    assert float(braking(make_drive(grip=0.5), make_stance(), "tank", angle=0.0)) == pytest.approx(
        0.5 * G
    )
    tall = make_stance(cg_height=0.9)
    assert float(braking(make_drive(), tall, "tank", angle=0.0)) == pytest.approx(G * 0.27 / 0.9)
    weak = make_drive(stator_limit=10.0)
    moved = 50.0 + float(rotating_mass(weak))
    expected = (float(motor_brake_force(weak)) + 0.02 * 50 * G) / moved
    assert float(braking(weak, make_stance(), "tank", angle=0.0)) == pytest.approx(expected)


@pytest.mark.parametrize(
    ("changes", "word"),
    [
        ({}, "traction"),
        ({"grip": 3.0, "stator_limit": 30.0}, "stator limit"),
        ({"grip": 3.0, "supply_limit": 10.0}, "supply limit"),
        ({"grip": 3.0, "ratio": 3.0}, "voltage"),
    ],
)
def test_a_push_says_what_limits_it(
    make_drive: Drives, make_stance: Stances, changes: dict[str, float], word: str
) -> None:
    for layout in ("tank", "swerve"):
        found = push(make_drive(**changes), make_stance(), layout)  # type: ignore[arg-type]
        assert GOVERNING[int(found.limited_by)] == word


def test_a_push_takes_its_power_from_the_bus(make_drive: Drives, make_stance: Stances) -> None:
    drive, at = make_drive(), make_stance(to_front=0.4, to_rear=0.14)
    found = push(drive, at, "swerve")
    front = float(drive.grip) * 50.0 * G * 0.14 / 0.54
    rear = float(found.force) - front
    currents = [float(current_for_force(drive, half, share=0.5)) for half in (front, rear)]
    assert float(found.motor_current) == pytest.approx(max(currents))
    total = float(found.total_current)
    heat = 2 * sum(float(drive.motor.resistance) * current**2 for current in currents)
    at_bus = 12.6 - 0.019 * total
    motors = (total - 8.0) * at_bus
    # What the branches burn lies between none and the worst split of their currents
    assert heat < motors < heat + 0.006 * (total - 8.0) ** 2
    assert GOVERNING[int(found.limited_by)] == "traction"


def test_slopes_are_limited_by_grip_motors_or_tipping(
    make_drive: Drives, make_stance: Stances
) -> None:
    by_grip = grade(make_drive(grip=0.5), make_stance(), "tank")
    assert float(np.tan(by_grip.angle)) == pytest.approx(0.5 - 0.02)
    by_motor = grade(make_drive(stator_limit=12.0), make_stance(), "tank")
    assert GRADE_WORDS[int(by_motor.limited_by)] == "motor"
    pull = float(wheel_force(make_drive(), 12.0))
    angle = float(by_motor.angle)
    assert 50 * G * (np.sin(angle) + 0.02 * np.cos(angle)) == pytest.approx(pull)
    by_tip = grade(make_drive(grip=3.0, ratio=20.0), make_stance(cg_height=0.8), "tank")
    assert GRADE_WORDS[int(by_tip.limited_by)] == "tip"
    assert float(np.tan(by_tip.angle)) == pytest.approx(0.27 / 0.8)


def test_a_tank_goes_nowhere_sideways_and_holds_by_its_side_grip(make_drive: Drives) -> None:
    drive = make_drive()
    assert float(free_speed(drive, "tank", np.pi / 2)) == 0.0
    assert float(side_hold(drive, "tank", mass=50.0, side_grip=0.6)) == pytest.approx(
        300 * 0.980665
    )
    assert float(side_hold(drive, "omni", mass=50.0, side_grip=0.6)) == pytest.approx(
        1.1 * 50 * G / np.sqrt(2)
    )
