"""A shoving match and a push's currents: force balance, symmetry, and what gives up."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.engineering.drive import Drive, Layout, Stance, rolling_drag, rotating_mass
from models.engineering.pushing import push, push_currents
from models.engineering.shoving import (
    MATCH_WORDS,
    from_the_side,
    grip_force,
    head_on,
    shove_motion,
    winding_time,
)
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import acceleration_at, governing_pieces, limit_speed
from models.engineering.supply import bus_voltage
from models.engineering.traction import travel_motion

G = 9.80665
Drives = Callable[..., Drive]
Stances = Callable[..., Stance]
LAYOUTS: tuple[Layout, ...] = ("tank", "swerve", "mecanum", "omni")


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(derandomize=True, deadline=None, max_examples=40)
@given(
    limit=st.floats(20.0, 200.0), grip=st.floats(0.4, 1.4), lead=st.floats(-0.12, 0.12),
    share=st.floats(0.2, 1.5), other=st.floats(10.0, 80.0),
)  # fmt: skip
def test_it_moves_the_other_where_its_push_beats_what_resists(
    layout: Layout,
    make_drive: Drives,
    make_stance: Stances,
    *,
    limit: float,
    grip: float,
    lead: float,
    share: float,
    other: float,
) -> None:
    drive = make_drive(stator_limit=limit, grip=grip)
    stance = make_stance(to_front=0.27 - lead, to_rear=0.27 + lead)
    force = float(push(drive, stance, layout).force)
    drag = float(rolling_drag(drive, stance.mass))
    against = share * force
    motion = shove_motion(drive, stance, layout, other_mass=other, against=against)
    first = float(acceleration_at(motion, 0.0)[0])
    spare = force - against - drag
    assert (first > 0.0) == (spare > 0.0)
    both = 50.0 + other
    if spare > 0.0:
        # All force at the floor pulls both; rotors take some of it where the motors limit
        assert spare / (both + float(rotating_mass(drive)) * 2.0) <= first <= spare / both + 1e-9
        assert float(limit_speed(motion)) > 0.0
    match = head_on(push_force=force, drag=drag, other_push=against, other_hold=against)
    assert (MATCH_WORDS[int(match.outcome)] == "it moves the other") == (spare > 0.0)


def test_against_nothing_it_drives_as_it_does_alone(
    make_drive: Drives, make_stance: Stances
) -> None:
    """But for what leaning and acceleration do to the axles' loads."""
    drive, stance = make_drive(stator_limit=40.0), make_stance(cg_height=1e-6)
    alone = travel_motion(drive, stance, "swerve", angle=0.0)
    free = shove_motion(drive, stance, "swerve", other_mass=0.0, against=0.0)
    speeds = np.linspace(0.0, 4.5, 10)
    np.testing.assert_allclose(
        acceleration_at(free, speeds)[0], acceleration_at(alone, speeds)[0], rtol=1e-5, atol=1e-6
    )


def test_at_the_steady_speed_forces_balance(make_drive: Drives, make_stance: Stances) -> None:
    drive, stance = make_drive(), make_stance()
    motion = shove_motion(drive, stance, "tank", other_mass=45.0, against=300.0)
    speed = float(limit_speed(motion))
    current = float(acceleration_at(motion, speed)[1])
    motor = drive.motor
    force = float(
        4 * drive.efficiency * drive.ratio * motor.torque_constant
        * (current - motor.free_current) / drive.wheel_radius
    )  # fmt: skip
    assert force == pytest.approx(300.0 + float(rolling_drag(drive, 50.0)), rel=1e-9)


def test_more_against_it_slows_it_and_takes_longer(
    make_drive: Drives, make_stance: Stances
) -> None:
    drive, stance = make_drive(stator_limit=60.0), make_stance()
    speeds, times = [], []
    for against in (50.0, 150.0, 300.0):
        motion = shove_motion(drive, stance, "tank", other_mass=50.0, against=against)
        speeds.append(float(limit_speed(motion)))
        run = run_over(governing_pieces(motion), distance=1.0, braking=np.inf)
        times.append(float(run.time))
    assert speeds == sorted(speeds, reverse=True)
    assert times == sorted(times)


def test_two_like_robots_stand_even() -> None:
    match = head_on(push_force=500.0, drag=8.0, other_push=500.0, other_hold=500.0)
    assert MATCH_WORDS[int(match.outcome)] == "stalemate"
    assert float(match.spare) == 0.0


def test_the_stronger_moves_the_weaker_either_way() -> None:
    forces = np.array([300.0, 495.0, 520.0, 700.0])
    match = head_on(push_force=forces, drag=8.0, other_push=500.0, other_hold=500.0)
    words = [MATCH_WORDS[int(one)] for one in match.outcome]
    assert words == ["the other moves it", "stalemate", "it moves the other", "it moves the other"]
    assert match.spare.tolist() == pytest.approx([192.0, 0.0, 12.0, 192.0])


def test_a_shove_from_the_side_meets_the_hold() -> None:
    match = from_the_side(hold=np.array([400.0, 600.0]), other_push=500.0)
    assert [MATCH_WORDS[int(one)] for one in match.outcome] == ["the other moves it", "stalemate"]
    assert match.spare.tolist() == [100.0, 0.0]
    assert float(grip_force(grip=0.7, mass=60.0)) == pytest.approx(0.7 * 60.0 * G)


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("lead", [0.0, 0.1])
def test_currents_of_a_push_close_on_the_battery(
    layout: Layout, lead: float, make_drive: Drives, make_stance: Stances
) -> None:
    drive = make_drive(stator_limit=90.0, supply_limit=45.0)
    stance = make_stance(to_front=0.27 - lead, to_rear=0.27 + lead)
    found, currents = push(drive, stance, layout), push_currents(drive, stance, layout)
    assert float(found.total_current) == float(currents.total)
    assert float(found.motor_current) == max(
        float(currents.front_motor), float(currents.rear_motor)
    )
    volts = float(bus_voltage(drive.supply, total_current=currents.total))
    for motor, bus in (
        (currents.front_motor, currents.front_bus), (currents.rear_motor, currents.rear_bus)
    ):  # fmt: skip
        terminals = (volts - float(drive.supply.branch_resistance) * float(bus)) * float(bus)
        assert terminals == pytest.approx(float(drive.motor.resistance * motor**2), rel=1e-6)
    if layout != "tank" and lead:
        assert float(currents.front_motor) > float(currents.rear_motor)


def test_a_push_sideways_meets_the_rollers(make_drive: Drives, make_stance: Stances) -> None:
    drive, stance = make_drive(), make_stance()
    angles = np.radians([0.0, 45.0, 90.0])
    grip_limit = float(drive.grip) * 50.0 * G
    mecanum = push(drive, stance, "mecanum", angle=angles).force
    assert mecanum.tolist() == pytest.approx(
        [grip_limit / 2**0.5, grip_limit / 2, grip_limit / 2**0.5]
    )
    steered = push(drive, stance, "swerve", angle=angles).force
    assert steered.tolist() == pytest.approx([grip_limit] * 3)


def test_a_winding_warms_by_what_its_resistance_loses() -> None:
    """60 A in 50 mΩ are 180 W: 40 J/K warm by 130 K in 28.9 s."""
    time = winding_time(
        current=[60.0, 30.0, 0.0], resistance=0.05, heat_capacity=40.0, limit=155.0, ambient=25.0
    )
    assert time.tolist() == pytest.approx([40.0 * 130.0 / 180.0, 4 * 40.0 * 130.0 / 180.0, np.inf])
    warm = winding_time(current=60.0, resistance=0.05, heat_capacity=40.0, limit=20.0, ambient=25.0)
    assert float(warm) == 0.0
