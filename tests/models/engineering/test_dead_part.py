"""A dead motor or module: the whole drive's figures as its share goes, and simple cases."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.engineering.dead_part import (
    DeadPart,
    braking_left,
    dead_part,
    drive_left,
    loads_on_corners,
    motion_left,
    push_left,
    slide_share,
    top_speed_left,
    turning_left,
)
from models.engineering.drive import Drive, Layout, Stance, example_drive, rotating_mass
from models.engineering.pushing import push
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import acceleration_at, governing_pieces
from models.engineering.supply import supply
from models.engineering.traction import braking, top_speed, travel_motion
from models.engineering.turning import SkidTurn, turn_motion, turning

G = 9.80665
Drives = Callable[..., Drive]
Stances = Callable[..., Stance]
LAYOUTS: tuple[Layout, ...] = ("tank", "swerve", "mecanum", "omni")


def dead(
    motors: float = 1.0, *, front: bool = True, ahead: float = 0.0, turns: float = 0.0
) -> DeadPart:
    return dead_part(motors_off=motors, front=front, slides_ahead=ahead, slides_turning=turns)


def sprint(drive: Drive, stance: Stance, layout: Layout, part: DeadPart) -> float:
    pieces = governing_pieces(motion_left(drive, stance, layout, part=part))
    return float(run_over(pieces, distance=6.0, braking=np.inf).time)


def invented(ratio: float, limit: float, grip: float, motors: int) -> Drive:
    feed = supply(
        open_voltage=12.6, source_resistance=0.02, branch_resistance=0.006, accessory_current=5.0,
        motor_count=motors, stator_limit=limit, supply_limit=np.inf,
    )  # fmt: skip
    return example_drive()._replace(
        supply=feed, ratio=np.float64(ratio), grip=np.float64(grip), side_grip=np.float64(grip)
    )


@pytest.mark.parametrize("layout", LAYOUTS)
@settings(derandomize=True, deadline=None, max_examples=25)
@given(
    ratio=st.floats(4.0, 12.0), limit=st.floats(30.0, 300.0), grip=st.floats(0.5, 1.5),
    lead=st.floats(-0.1, 0.1), height=st.floats(0.05, 0.4),
)  # fmt: skip
def test_with_nothing_dead_every_figure_is_the_whole_drives(
    layout: Layout, *, ratio: float, limit: float, grip: float, lead: float, height: float
) -> None:
    drive = invented(ratio, limit, grip, 4)
    stance = Stance(*map(np.float64, (50.0, lead, height, 3.0, 0.27 - lead, 0.27 + lead, 0.5)))
    nothing = dead(0.0)
    whole = travel_motion(drive, stance, layout, angle=0.0)
    left = motion_left(drive, stance, layout, part=nothing)
    speeds = np.linspace(0.0, 4.0, 21)
    np.testing.assert_allclose(
        acceleration_at(left, speeds)[0], acceleration_at(whole, speeds)[0], rtol=1e-9, atol=1e-9
    )
    assert push_left(drive, stance, layout, part=nothing) == pytest.approx(
        float(push(drive, stance, layout).force)
    )
    assert braking_left(drive, stance, layout, part=nothing) == pytest.approx(
        float(braking(drive, stance, layout, angle=0.0))
    )
    assert top_speed_left(drive, stance, layout, part=nothing, motion=left) == pytest.approx(
        float(top_speed(drive, stance, layout, motion=whole))
    )


@pytest.mark.parametrize("layout", LAYOUTS)
def test_figures_tend_to_the_whole_drives_as_the_share_of_the_dead_motor_vanishes(
    layout: Layout, make_stance: Stances
) -> None:
    stance = make_stance()
    whole = invented(7.0, 60.0, 1.1, 4)
    gaps = []
    for share in (0.5, 0.1, 0.01, 0.001):
        part = dead(share)
        gaps.append(
            (
                abs(sprint(whole, stance, layout, part) - sprint(whole, stance, layout, dead(0.0))),
                abs(
                    float(push_left(whole, stance, layout, part=part))
                    - float(push(whole, stance, layout).force)
                ),
            )
        )
    times, forces = zip(*gaps, strict=True)
    assert list(times) == sorted(times, reverse=True)
    assert times[-1] < 1e-3
    assert forces[-1] < 0.5


@pytest.mark.parametrize("layout", LAYOUTS)
def test_one_dead_motor_of_many_hardly_shows(layout: Layout, make_stance: Stances) -> None:
    stance = make_stance()
    losses = []
    for motors in (4, 8, 40, 400):
        # The same drive in smaller pieces: half the motor, twice as many of them
        drive = invented(7.0, 60.0 * 4 / motors, 1.1, motors)._replace(
            motor=example_drive().motor._replace(
                resistance=example_drive().motor.resistance * motors / 4,
                free_current=example_drive().motor.free_current * 4 / motors,
                rotor_inertia=example_drive().motor.rotor_inertia * 4 / motors,
            )
        )
        whole = float(push_left(drive, stance, layout, part=dead(0.0)))
        losses.append(1.0 - float(push_left(drive, stance, layout, part=dead())) / whole)
    assert losses == sorted(losses, reverse=True)
    assert losses[-1] < 0.01


@settings(derandomize=True, deadline=None, max_examples=40)
@given(grip=st.floats(0.3, 1.5), mass=st.floats(20.0, 70.0), height=st.floats(0.0, 0.4))
def test_a_free_wheel_with_even_loads_leaves_three_quarters_of_the_grip(
    grip: float, mass: float, height: float
) -> None:
    drive = invented(12.0, np.inf, grip, 4)
    stance = Stance(*map(np.float64, (mass, 0.0, height, 3.0, 0.27, 0.27, 0.5)))
    left = float(push_left(drive, stance, "swerve", part=dead()))
    assert left == pytest.approx(0.75 * grip * mass * G)
    turn = turning(drive, stance, "swerve", skid=None)
    turned = turning_left(drive, stance, "swerve", part=dead(), turn=turn)
    assert float(turned.cap / turn.cap) == pytest.approx(0.75)


def test_a_wheel_that_carries_nothing_is_not_missed(make_stance: Stances) -> None:
    drive = invented(7.0, 60.0, 1.1, 4)
    losses = []
    for reach in (0.27, 0.1, 0.01, 0.0):
        # The centre of gravity moves over the rear axle; the front wheels lose their load
        stance = make_stance(to_rear=reach, to_front=0.54 - reach, cg_height=0.05)
        whole = float(push(drive, stance, "swerve").force)
        losses.append(whole - float(push_left(drive, stance, "swerve", part=dead())))
    assert losses == sorted(losses, reverse=True)
    assert losses[-1] == pytest.approx(0.0, abs=1e-9)


def test_linked_motors_share_the_work_of_the_dead_one(make_stance: Stances) -> None:
    stance = make_stance()
    drive = invented(7.0, 50.0, 1.5, 4)
    whole, left = (float(push_left(drive, stance, "tank", part=dead(off))) for off in (0.0, 1.0))
    assert left == pytest.approx(0.75 * whole)
    three = drive_left(drive, motors_off=1.0)
    assert float(rotating_mass(three)) == pytest.approx(float(rotating_mass(drive)))
    assert float(three.supply.motor_count) == 3.0


def test_grip_that_the_motors_outdo_leaves_a_tank_its_push(make_stance: Stances) -> None:
    drive, stance = invented(12.0, np.inf, 0.8, 6), make_stance()
    assert push_left(drive, stance, "tank", part=dead()) == pytest.approx(0.8 * 50.0 * G)


@pytest.mark.parametrize("layout", LAYOUTS[1:])
@settings(derandomize=True, deadline=None, max_examples=120)
@given(
    ratio=st.floats(4.0, 12.0), limit=st.floats(30.0, 300.0), grip=st.floats(0.5, 1.5),
    lead=st.floats(-0.1, 0.1), front=st.booleans(), ahead=st.floats(0.0, 1.0),
    motors=st.sampled_from([4, 8]),
)  # fmt: skip
def test_a_dead_part_never_pushes_or_accelerates_harder(
    layout: Layout,
    *,
    ratio: float,
    limit: float,
    grip: float,
    lead: float,
    front: bool,
    ahead: float,
    motors: int,
) -> None:
    drive = invented(ratio, limit, grip, motors)
    stance = Stance(*map(np.float64, (50.0, lead, 0.2, 3.0, 0.27 - lead, 0.27 + lead, 0.5)))
    # No sag is saved: what the motors can carry at rest is the same with fewer of them
    drive = drive._replace(supply=supply(
        open_voltage=12.6, source_resistance=0.0, branch_resistance=0.02, accessory_current=0.0,
        motor_count=motors, stator_limit=limit, supply_limit=np.inf,
    ))  # fmt: skip
    part = dead(motors / 4, front=front, ahead=ahead)
    free = dead(motors / 4, front=front)
    whole = float(push(drive, stance, layout).force)
    one_free, stuck = (float(push_left(drive, stance, layout, part=p)) for p in (free, part))
    assert stuck <= one_free + 1e-9
    assert one_free <= whole + 1e-9
    speeds = np.linspace(0.0, 3.0, 7)
    motions = [
        travel_motion(drive, stance, layout, angle=0.0),
        motion_left(drive, stance, layout, part=free),
        motion_left(drive, stance, layout, part=part),
    ]
    at = [acceleration_at(motion, speeds)[0] for motion in motions]
    # Faster than the motors go, fewer of them would brake less
    driving = at[0] > 0.0
    assert np.all((at[1] <= at[0] + 1e-9)[driving])
    assert np.all(at[2] <= at[1] + 1e-9)
    resting = float(acceleration_at(motions[2], 0.0)[0])
    drag = float(drive.rolling_coefficient) * 50.0 * G
    assert (resting > 0.0) == (stuck > drag)


def test_the_law_is_the_force_balance_of_its_wheels(make_stance: Stances) -> None:
    """Solved apart: bisection on a of Σ min(share of force, grip under a) = M·a."""
    drive = invented(6.0, 120.0, 0.9, 8)
    stance = make_stance(cg_height=0.3, to_front=0.3, to_rear=0.24)
    part = dead(1.0, front=False)
    motion = motion_left(drive, stance, "swerve", part=part)
    for speed in (0.0, 1.0, 2.5):
        found, current = (float(x) for x in acceleration_at(motion, speed))
        motor = drive.motor
        each = float(
            drive.efficiency * motor.torque_constant * drive.ratio / drive.wheel_radius
            * (current - motor.free_current)
        )  # fmt: skip
        whole = float(rotating_mass(drive))

        def left_over(a: float, each: float = each, whole: float = whole) -> float:
            rear = 50.0 * (G * 0.3 + a * 0.3) / 0.54 / 2
            front = 50.0 * (G * 0.24 - a * 0.3) / 0.54 / 2
            spent = whole / 4 * a
            passed = 2 * min(2 * each - spent, 0.9 * front)
            passed += min(2 * each - spent, 0.9 * rear) + min(each - spent, 0.9 * rear)
            return passed - float(drive.rolling_coefficient) * 50.0 * G - 50.0 * a

        low, high = -5.0, 20.0
        for _ in range(200):
            middle = (low + high) / 2
            low, high = (middle, high) if left_over(middle) > 0 else (low, middle)
        # The tipping bound g·xr/H is not part of the balance
        assert found == pytest.approx(min(low, G * 0.24 / 0.3), rel=1e-6)


def test_a_module_stuck_across_drags_its_whole_grip(make_stance: Stances) -> None:
    drive, stance = invented(12.0, np.inf, 1.0, 4), make_stance()
    front, _ = loads_on_corners(stance)
    free = float(push_left(drive, stance, "swerve", part=dead()))
    across = float(push_left(drive, stance, "swerve", part=dead(ahead=1.0)))
    assert across == pytest.approx(free - float(front))
    along = float(push_left(drive, stance, "swerve", part=dead(ahead=0.0)))
    assert along == pytest.approx(free)


@pytest.mark.parametrize(
    ("front", "left", "tangent"),
    [(True, True, 135.0), (True, False, 45.0), (False, True, 45.0), (False, False, 135.0)],
)
def test_a_stuck_wheel_drags_by_its_angle_to_the_way(
    make_stance: Stances, front: bool, left: bool, tangent: float
) -> None:
    """On a square base the corners move at 45° to the frame in a turn."""
    stance = make_stance(track=0.54)
    for degrees in (0.0, 30.0, 45.0, 90.0, -60.0):
        ahead, turns = slide_share(stance, stuck_angle=np.radians(degrees), front=front, left=left)
        assert float(ahead) == pytest.approx(abs(np.sin(np.radians(degrees))))
        assert float(turns) == pytest.approx(abs(np.sin(np.radians(degrees - tangent))))


def test_a_dead_wheel_slows_the_turn_and_a_stuck_one_slows_it_more(make_stance: Stances) -> None:
    drive, stance = invented(7.0, 60.0, 1.0, 4), make_stance()
    turn = turning(drive, stance, "swerve", skid=None)
    times = []
    for part in (dead(0.0), dead(), dead(turns=0.7)):
        left = drive_left(drive, motors_off=part.motors_off)
        asked = turning_left(drive, stance, "swerve", part=part, turn=turn)
        pieces = governing_pieces(turn_motion(left, stance, asked))
        times.append(float(run_over(pieces, distance=1.0, braking=10.0).time))
    assert times[0] < times[1] < times[2]


def test_a_tank_turns_as_before_but_with_fewer_motors(make_stance: Stances) -> None:
    drive, stance = invented(7.0, 60.0, 1.0, 4), make_stance()
    skid = SkidTurn(np.float64(2.0), np.float64(0.0), np.float64(200.0))
    turn = turning(drive, stance, "tank", skid=skid)
    assert turning_left(drive, stance, "tank", part=dead(), turn=turn) == turn


def test_a_robot_whose_stuck_wheel_holds_it_does_not_move(make_stance: Stances) -> None:
    drive, stance = invented(7.0, 6.0, 1.2, 4), make_stance(to_front=0.1, to_rear=0.44)
    part = dead(ahead=1.0)
    motion = motion_left(drive, stance, "swerve", part=part)
    assert push_left(drive, stance, "swerve", part=part) == 0.0
    assert top_speed_left(drive, stance, "swerve", part=part, motion=motion) == 0.0
    assert np.isnan(run_over(governing_pieces(motion), distance=6.0, braking=np.inf).time)


@pytest.mark.parametrize("layout", LAYOUTS[1:])
def test_turning_and_braking_tend_to_the_whole_drives_too(
    layout: Layout, make_stance: Stances
) -> None:
    drive, stance = invented(7.0, 60.0, 0.9, 4), make_stance()
    turn = turning(drive, stance, layout, skid=None)
    gaps = []
    for share in (1.0, 0.1, 0.01, 0.0):
        part = dead(share)
        left = drive_left(drive, motors_off=share)
        asked = turning_left(drive, stance, layout, part=part, turn=turn)
        spin = turn_motion(left, stance, asked)
        whole = turn_motion(drive, stance, turn)
        gaps.append(
            (
                float(whole.bound - spin.bound),
                float(acceleration_at(whole, 0.0)[0] - acceleration_at(spin, 0.0)[0]),
                float(
                    braking(drive, stance, layout, angle=0.0)
                    - braking_left(drive, stance, layout, part=part)
                ),
            )
        )
    for column in zip(*gaps, strict=True):
        assert list(column) == sorted(column, reverse=True)
        assert column[0] > 0.0
        assert column[-1] == pytest.approx(0.0, abs=1e-9)
