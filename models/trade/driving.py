"""What a candidate can do: its study figures as arrays, and every figure of its motion.

Contents
--------
Base, base_of, skid_of: a candidate as the arrays that the engineering functions take.
Performance, performance_of: sprint, push, turns, slopes and routes of one candidate.
in_pose, side_grip_of: a candidate in another pose, and its side grip.
runs_of: its sprints, legs and turns in one batch.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import LINKED, Drive, Layout, Stance, side_hold
from models.engineering.mass import MassProperties, mass_properties
from models.engineering.motors import motor_constants
from models.engineering.placement import AxleDistances, axle_distances, footprint
from models.engineering.pushing import Grade, Push, grade, push
from models.engineering.sprint import Run, state_at_speed
from models.engineering.sprint_pieces import Pieces
from models.engineering.sprint_supply import SupplyRun, supply_over_run
from models.engineering.supply import supply
from models.engineering.traction import Motion, top_speed
from models.engineering.turning import (
    SkidTurn,
    Turning,
    axle_loads,
    axle_positions,
    mean_side_grip,
    measured_skid_turn,
    skid_turn,
    turning,
)
from models.study.schema import Candidate, Study
from models.trade.assembly import (
    PartTable,
    corner_wheels,
    part_table,
    posed_centres,
    posed_masses,
)
from models.trade.battery import battery_in_use
from models.trade.route_runs import Posed, RouteRun, Runs, plan_of

FloatArray = NDArray[np.float64]


class Base(NamedTuple):
    """A candidate as arrays."""

    layout: Layout
    drive: Drive
    stance: Stance
    """In the travelling pose, with what is carried in it."""
    parts: PartTable
    centres: FloatArray
    """Of the parts in every pose [m]."""
    poses: MassProperties
    """Over the poses, with what is carried in each."""
    contacts: FloatArray
    """Of the corner wheels, shape (4, 2) [m]."""
    axles: AxleDistances
    """Over the poses [m]."""
    loads: FloatArray | None
    """On each axle of linked sides, none for the other layouts [N]."""
    positions: FloatArray | None
    """Of those axles [m]."""
    side_grips: FloatArray | None
    """Of those axles' wheels [ratio]."""
    measured_track: FloatArray | None = None
    """2/γ of linked sides where it was measured, none to compute it [m]."""


class Performance(NamedTuple):
    """What one candidate can do."""

    motion: Motion
    """Straight ahead."""
    pieces: Pieces
    passing: Run
    stopping: Run
    accel_time: float
    """To the yardstick speed; infinite where it is never reached [s]."""
    taken: SupplyRun | None
    """From the battery over the sprint; none where it does not get going."""
    push: Push
    top_speed: float
    turn: Turning
    turn_times: FloatArray
    """Quarter and half turn with steering [s]."""
    spin_speed: float
    """Of the wheel surface in a steady spin [m/s]."""
    brake: float
    grade: Grade
    side_grip: FloatArray
    routes: tuple[RouteRun, ...]


def _array(value: float | None, *, missing: float = 0.0) -> FloatArray:
    return np.asarray(missing if value is None else float(value), dtype=np.float64)


def drive_of(study: Study, candidate: Candidate) -> Drive:
    """Return a candidate's motors, supply, gearing and wheels as arrays of shape ()."""
    motor, power = study.motors[candidate.drive.motor], study.power
    figures, wheels, battery = candidate.drive, candidate.wheels, battery_in_use(study)
    grip = _array(wheels.grip)
    return Drive(
        motor=motor_constants(
            nominal_voltage=_array(motor.nominal_v),
            free_speed_rpm=_array(motor.free_speed_rpm),
            free_current=_array(motor.free_current_a),
            stall_torque=_array(motor.stall_torque_nm),
            stall_current=_array(motor.stall_current_a),
            rotor_inertia=_array(motor.rotor_inertia_kgm2),
        ),
        supply=supply(
            open_voltage=_array(battery.open_circuit_v),
            source_resistance=_array(battery.internal_resistance_ohm)
            + _array(power.main_wiring_ohm),
            branch_resistance=_array(figures.branch_ohm),
            accessory_current=_array(power.accessory_current_a),
            motor_count=_array(figures.motor_count),
            stator_limit=_array(figures.stator_limit_a, missing=np.inf),
            supply_limit=_array(figures.supply_limit_a, missing=np.inf),
        ),
        ratio=_array(figures.ratio),
        efficiency=_array(figures.efficiency),
        wheel_radius=_array(wheels.diameter_m) / 2.0,
        wheel_count=_array(wheels.count),
        wheel_inertia=_array(wheels.inertia_kgm2),
        grip=grip,
        side_grip=grip if wheels.side_grip is None else _array(wheels.side_grip),
        rolling_coefficient=_array(wheels.rolling_coefficient),
        steer_time=_array(figures.steer_time_s if candidate.layout == "swerve" else 0.0),
    )


def base_of(study: Study, candidate: Candidate) -> Base:
    """Return a candidate as the arrays that the engineering functions take."""
    parts = part_table(study, candidate)
    centres = posed_centres(parts, study.robot.poses)
    poses = mass_properties(**posed_masses(study, candidate, study.robot.poses)._asdict())
    contacts = corner_wheels(candidate)
    foot = footprint(contacts)
    axles = axle_distances(front_x=foot.front_x, rear_x=foot.rear_x, cg_x=poses.cg_x)
    stance = Stance(
        mass=_array(poses.mass[0]),
        cg_x=_array(poses.cg_x[0]),
        cg_height=_array(poses.cg_z[0]),
        yaw_inertia=_array(poses.yaw_inertia[0]),
        to_front=_array(axles.front[0]),
        to_rear=_array(axles.rear[0]),
        track=np.asarray(foot.track),
    )
    drive = drive_of(study, candidate)
    measured = candidate.wheels.effective_track_m
    base = Base(
        layout=candidate.layout,
        drive=drive,
        stance=stance,
        parts=parts,
        centres=centres,
        poses=poses,
        contacts=contacts,
        axles=axles,
        loads=None,
        positions=None,
        side_grips=None,
        measured_track=None if measured is None else _array(measured),
    )
    if candidate.layout not in LINKED:
        return base
    loads, positions, grips = _linked_axles(candidate, drive, stance)
    return base._replace(loads=loads, positions=positions, side_grips=grips)


def _linked_axles(
    candidate: Candidate, drive: Drive, stance: Stance
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return loads, positions and side grips of a tank's axles."""
    wheels = candidate.wheels
    count = wheels.count // 2
    positions = axle_positions(axle_count=count, wheelbase=wheels.wheelbase_m)
    grips = np.full(count, float(drive.side_grip))
    if wheels.omni_axles:
        grips[list(wheels.omni_axles)] = float(_array(wheels.omni_side_grip))
    loads = axle_loads(
        mass=stance.mass,
        cg_x=stance.cg_x,
        positions=positions,
        dropped=float(wheels.centre_drop_m) > 0.0,
    )
    return loads, positions, grips


def performance_of(study: Study, candidate: Candidate, base: Base) -> Performance:
    """Return what a candidate can do on the study's yardsticks and routes."""
    drive, stance, layout = base.drive, base.stance, base.layout
    runs = runs_of(study, candidate, base)
    motion, pieces, passing = runs.motion, runs.pieces, runs.passing
    target = float(study.yardsticks.target_speed_mps)
    steer = float(drive.steer_time)
    taken = None
    if np.isfinite(passing.time):
        taken = supply_over_run(
            drive, stance, layout, motion=motion, angle=0.0, pieces=pieces, run=passing
        )
    return Performance(
        motion=motion,
        pieces=pieces,
        passing=passing,
        stopping=runs.stopping,
        accel_time=float(state_at_speed(pieces, speed=target).time),
        taken=taken,
        push=push(drive, stance, layout),
        top_speed=float(top_speed(drive, stance, layout, motion=motion)),
        turn=runs.turn,
        turn_times=runs.yardstick_turns + steer,
        spin_speed=runs.spin_speed,
        brake=runs.brake,
        grade=grade(drive, stance, layout),
        side_grip=side_grip_of(base),
        routes=runs.routes(steer),
    )


def skid_of(base: Base, *, computed: bool = False) -> SkidTurn | None:
    """Return the skid turn of linked sides, none for other layouts.

    Where the effective track was measured it takes the place of the computed one, unless the
    computed one is asked for.
    """
    if base.loads is None or base.positions is None or base.side_grips is None:
        return None
    given = {
        "loads": base.loads,
        "positions": base.positions,
        "grip": base.drive.grip,
        "side_grips": base.side_grips,
        "track": base.stance.track,
    }
    if base.measured_track is None or computed:
        return skid_turn(**given)
    return measured_skid_turn(**given, effective_track=base.measured_track)


def in_pose(candidate: Candidate, base: Base, pose: int) -> Base:
    """Return a candidate in one of the robot's poses: its stance and what rests on its axles."""
    if pose == 0:
        return base
    whole = base.poses
    stance = base.stance._replace(
        mass=_array(whole.mass[pose]),
        cg_x=_array(whole.cg_x[pose]),
        cg_height=_array(whole.cg_z[pose]),
        yaw_inertia=_array(whole.yaw_inertia[pose]),
        to_front=_array(base.axles.front[pose]),
        to_rear=_array(base.axles.rear[pose]),
    )
    loads = None if base.loads is None else _linked_axles(candidate, base.drive, stance)[0]
    return base._replace(stance=stance, loads=loads)


def side_grip_of(base: Base) -> FloatArray:
    """Return the side grip, of linked sides the mean over the axles weighted with their loads."""
    if base.loads is None or base.side_grips is None:
        return base.drive.side_grip
    return mean_side_grip(loads=base.loads, side_grips=base.side_grips)


def runs_of(study: Study, candidate: Candidate, base: Base, *, eased: Collection[int] = ()) -> Runs:
    """Return all runs of a candidate; `eased` are poses whose tip limits count for nothing."""

    def posed(pose: int) -> Posed:
        own = in_pose(candidate, base, pose)
        drive, layout, mass = own.drive, own.layout, own.stance.mass
        hold = side_hold(drive, layout, mass=mass, side_grip=side_grip_of(own))
        turn = turning(drive, own.stance, layout, skid=skid_of(own))
        return Posed(own.stance, turn, float(hold / mass))

    plans = [plan_of(study, route, base.layout) for route in study.routes]
    return Runs(study, base, posed, plans, eased=eased)
