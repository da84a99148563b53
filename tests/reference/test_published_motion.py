"""Published checks of motors, load transfer, sprints and kinematics.

The source stands beside each check; values recalled rather than read say so. Tolerances are half
a unit of the last printed digit unless a line gives a reason for more.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from models.engineering.drive import Stance, directions, example_drive
from models.engineering.motors import best_efficiency, constants_ratio, motor_constants, peak_power
from models.engineering.sprint import run_over, state_at_speed, time_and_distance
from models.engineering.sprint_pieces import governing_pieces
from models.engineering.stability import tip_limits
from models.engineering.supply import bus_voltage, supply
from models.engineering.traction import Motion, axle_normal_forces, travel_motion
from models.engineering.turning import axle_loads, axle_positions, skid_turn, turning

MILE_AN_HOUR = 0.44704
FOOT = 0.3048


def stance(*, wheelbase: float, height: float, mass: float = 1.0, track: float = 1.5) -> Stance:
    """A mass midway between the axles."""
    half = wheelbase / 2.0
    return Stance(*(np.float64(x) for x in (mass, 0.0, height, 1.0, half, half, track)))


# M1: MIT course 2.007, "Designing with DC motors"; the watts are our own product of its figures
@pytest.mark.parametrize(("rpm", "torque", "watts"), [(600, 0.325, 5.105), (3750, 0.0722, 7.088)])
def test_power_peaks_at_half_speed_and_half_torque(rpm: float, torque: float, watts: float) -> None:
    power = float(peak_power(free_speed_rpm=rpm, stall_torque=torque))
    assert power == pytest.approx(watts, abs=5e-4)
    assert power == pytest.approx(rpm / 2 * 2 * math.pi / 60 * torque / 2)


# M2: standard motor-handbook formula, from memory
def test_the_best_efficiency_of_a_motor() -> None:
    assert float(best_efficiency(free_current=1.0, stall_current=100.0)) == pytest.approx(0.81)


# M2 again, by searching the motor's own equations
def test_the_best_efficiency_is_the_greatest_of_the_curve() -> None:
    motor = motor_constants(
        nominal_voltage=12, free_speed_rpm=5000, free_current=1, stall_torque=2,
        stall_current=100, rotor_inertia=0,
    )  # fmt: skip
    motor = motor._replace(emf_constant=motor.torque_constant)
    current = np.linspace(1.5, 60.0, 20001)
    speed = (12 - motor.resistance * current) / motor.emf_constant
    efficiency = motor.torque_constant * (current - 1.0) * speed / (12 * current)
    assert float(np.max(efficiency)) == pytest.approx(0.81, abs=1e-6)
    assert float(current[np.argmax(efficiency)]) == pytest.approx(10.0, abs=0.01)


# M3: a homework problem with this slip: kT 0.12 N·m/A stands beside kE 12 V/krpm (0.1146 V·s/rad)
def test_a_datasheet_that_contradicts_itself_shows_in_the_ratio() -> None:
    motor = motor_constants(
        nominal_voltage=12, free_speed_rpm=1000, free_current=0, stall_torque=12,
        stall_current=100, rotor_inertia=0,
    )  # fmt: skip
    assert float(motor.emf_constant) == pytest.approx(0.1146, abs=5e-5)
    assert float(constants_ratio(motor)) == pytest.approx(0.12 / 0.1146, rel=1e-3)


# V1: Jazar, Vehicle Dynamics ch. 2: all wheels driven, grip 1, 0-100 km/h in 2.83 s
def test_grip_alone_bounds_the_sprint_of_a_car() -> None:
    base = example_drive()
    drive = base._replace(
        motor=base.motor._replace(emf_constant=np.float64(1e-4), torque_constant=np.float64(10.0)),
        grip=np.float64(1.0),
        rolling_coefficient=np.float64(0.0),
    )
    motion = travel_motion(drive, stance(wheelbase=2.272, height=0.22), "swerve", angle=0.0)
    state = state_at_speed(governing_pieces(motion), speed=100 / 3.6)
    assert float(state.time) == pytest.approx(2.83, abs=5e-3)


def one_axle_at_grip(at: Stance, grip: float, axle: int) -> float:
    """Acceleration of a car of which one axle drives and is at its grip: μ·N(a) = M·a."""
    at_rest, at_one = (
        float(axle_normal_forces(at, acceleration=a, slope=0.0)[axle]) for a in (0.0, 1.0)
    )
    return grip * at_rest / (float(at.mass) - grip * (at_one - at_rest))


# V2: Jazar ch. 2, wheelbase 2.272 m, midway, height 0.22 m (inferred); rear value from memory
@pytest.mark.parametrize(("axle", "seconds"), [(0, 6.21), (1, 5.11)])
def test_one_driven_axle_and_its_load(axle: int, seconds: float) -> None:
    a = one_axle_at_grip(stance(wheelbase=2.272, height=0.22), 1.0, axle)
    assert 100 / 3.6 / a == pytest.approx(seconds, abs=8e-3)  # the source has g = 9.81


# V3: a published problem, answers our own: wheelbase 2.6 m, height 0.7 m, midway, grip 0.7
def test_traction_limits_of_rear_front_and_all_wheels() -> None:
    at = stance(wheelbase=2.6, height=0.7)
    g = 9.81 / 9.80665
    assert one_axle_at_grip(at, 0.7, 1) * g == pytest.approx(4.231, abs=5e-4)
    assert one_axle_at_grip(at, 0.7, 0) * g == pytest.approx(2.889, abs=5e-4)
    drive = example_drive()._replace(grip=np.float64(0.7), rolling_coefficient=np.float64(0.0))
    bound = float(travel_motion(drive, at, "swerve", angle=0.0).bound)
    assert bound * g == pytest.approx(6.867, abs=5e-4)


# V4: static stability factor T/2h by NHTSA's definition, numbers our own
def test_the_static_stability_factor() -> None:
    side = float(tip_limits(to_front=1.0, to_rear=1.0, to_side=0.3, height=0.25).side)
    assert side / 9.80665 == pytest.approx(1.2)
    assert math.degrees(math.atan(side / 9.80665)) == pytest.approx(50.19, abs=5e-3)


# V5: Jazar eq. 2.121, Fz = W (l2 cos φ − h sin φ)/L − M·a·h/L for the front axle
def test_axle_loads_on_a_slope_while_accelerating() -> None:
    at = Stance(*(np.float64(x) for x in (1200.0, 0.0, 0.55, 1.0, 1.1, 1.4, 1.5)))
    phi, a, weight = math.radians(12.0), 1.7, 1200.0 * 9.80665
    front, rear = (float(x) for x in axle_normal_forces(at, acceleration=a, slope=phi))
    expected = weight * (1.4 * math.cos(phi) - 0.55 * math.sin(phi)) / 2.5 - 1200 * a * 0.55 / 2.5
    assert front == pytest.approx(expected)
    assert front + rear == pytest.approx(weight * math.cos(phi))


# S1: a published worked example: constant force and square drag, Vf 80.67 ft/s, c 19.968 s
def test_constant_force_against_square_drag() -> None:
    final, constant = 80.67 * FOOT, 19.968
    end = 49.37 * MILE_AN_HOUR
    state = time_and_distance(
        lambda v: final / constant * (1 - (v / final) ** 2),
        speeds=[0.0, 30 * MILE_AN_HOUR, end],
        nodes=24,
    )
    assert float(state.time[1]) == pytest.approx(12.218, abs=2e-3)  # Vf has 4 digits
    assert float(state.time[2]) == pytest.approx(29.155, abs=0.01)  # the end speed has 4 digits
    assert float(state.distance[2]) / FOOT == pytest.approx(1320, abs=0.7)


# S2: Larminie and Lowry, Electric Vehicle Technology Explained: printed 9.1 s
def test_limited_force_then_constant_power() -> None:
    def law(v: np.ndarray) -> np.ndarray:
        pull = np.where(v <= 19.8, 3.117, 62.1 / np.maximum(v, 1e-9) - 0.046)
        return np.asarray(pull - 0.000136 * v**2)

    state = time_and_distance(law, speeds=[0.0, 19.8, 26.82], nodes=16)
    assert float(state.time[-1]) == pytest.approx(9.15, abs=5e-3)


# S3: closed form vf (1 − e^(−t/τ)), numbers our own: vf 4, τ 0.5, t 1.5
def test_a_linear_motor_without_other_limits() -> None:
    one = np.float64(1.0)
    motion = Motion(
        emf=one, resistance=0.5 * one, path=0.5 * one, source_voltage=4.0 * one,
        stator_limit=np.float64(np.inf), supply_limit=np.float64(np.inf),
        supply_power=np.float64(1e12), slopes=np.array([2.0]), offsets=np.array([0.0]),
        bound=np.float64(1e6), bound_tips=np.bool_(False),
    )  # fmt: skip
    run = run_over(governing_pieces(motion), distance=4.09957, braking=np.inf)
    assert float(run.speed) == pytest.approx(3.80085, abs=5e-6)
    assert float(run.time) == pytest.approx(1.5, abs=2e-6)


# S4: vega_datasets cars.json (Donoho and Ramos 1982): power [hp], weight [lb], 0-60 mph [s]; its
# first four complete rows and the one nearest to the bound, whose ratio is 1.527
CARS = [(130, 3504, 12.0), (165, 3693, 11.5), (150, 3436, 11.0), (150, 3433, 12.0), (140, 3353, 8)]


@pytest.mark.parametrize(("power", "weight", "seconds"), CARS)
def test_no_car_beats_its_power(power: float, weight: float, seconds: float) -> None:
    watts, mass, end = power * 745.6999, weight * 0.45359237, 60 * MILE_AN_HOUR
    least = time_and_distance(lambda v: watts / (mass * v), speeds=[0.0, end], nodes=8)
    assert float(least.time[-1]) == pytest.approx(mass * end**2 / (2 * watts))
    ratio = seconds / float(least.time[-1])
    assert ratio >= 1.526
    if (power, weight) == (140, 3353):
        assert ratio == pytest.approx(1.527, abs=5e-4)


# K1: Lynch and Park, Modern Robotics ch. 13: r 0.0475 m, l + w 0.385 m, 10 rad/s for 1 s
def test_a_mecanum_base_moves_as_published() -> None:
    surface = 0.0475 * 10.0
    ahead, aside = (float(directions("mecanum", a).speed) * surface for a in (0.0, math.pi / 2))
    assert ahead == pytest.approx(0.475, abs=5e-4)
    assert aside == pytest.approx(0.475, abs=5e-4)
    at = stance(wheelbase=0.4, height=0.2, track=0.37)
    spin = float(turning(example_drive(), at, "mecanum", skid=None).yaw_factor) * surface
    assert spin == pytest.approx(1.234, abs=5e-4)


# K2, K3: own, from the power balance
@pytest.mark.parametrize(
    ("layout", "degrees", "speed", "force"),
    [
        ("omni", 0, math.sqrt(2), 1 / math.sqrt(2)),
        ("omni", 45, 1.0, 0.5),
        ("mecanum", 45, 1 / math.sqrt(2), 1 / math.sqrt(2)),
    ],
)
def test_speed_and_force_along_a_way(
    layout: str, degrees: float, speed: float, force: float
) -> None:
    factors = directions(layout, math.radians(degrees))  # type: ignore[arg-type]
    assert float(factors.speed) == pytest.approx(speed)
    assert float(factors.force) == pytest.approx(force)


# K4: Wong, Theory of Ground Vehicles, from memory, numbers our own: 60 kg, μ 0.7, L 0.5 m
@pytest.mark.parametrize(("axles", "moment"), [(400, 51.50), (2, 103.01), (3, 68.67)])
def test_a_wide_base_resists_turning_by_lateral_slip_alone(axles: int, moment: float) -> None:
    at = axle_positions(axle_count=axles, wheelbase=0.5)
    turn = skid_turn(
        loads=axle_loads(mass=60.0, cg_x=0.0, positions=at, dropped=False),
        positions=at, grip=0.7, side_grips=np.full(axles, 0.7), track=500.0,
    )  # fmt: skip
    # 400 axles stand for a track: its mean arm is k/(4 (k − 1)) of the length
    about = 400 / 399 if axles == 400 else 1.0
    found = float(turn.resistance / turn.yaw_factor) / about * 9.81 / 9.80665
    assert found == pytest.approx(moment, abs=5e-3)


# B1: own
def test_the_bus_sags() -> None:
    feed = supply(
        open_voltage=12.7, source_resistance=0.015, branch_resistance=0.0, accessory_current=0.0,
        motor_count=4, stator_limit=np.inf, supply_limit=np.inf,
    )  # fmt: skip
    assert float(bus_voltage(feed, total_current=200.0)) == pytest.approx(9.70)
