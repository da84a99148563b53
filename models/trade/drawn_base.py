"""A candidate over many draws of its uncertain inputs, as the arrays that engineering takes.

What `models.trade.driving` does for one candidate, here with an axis for the draws wherever an
input has a range. Both are held equal in the tests, draw by draw.

Contents
--------
DrawnBase, drawn_base: drive, stance, poses and axles of a candidate over the draws.
possible_draws: in which of the draws there can be such a robot at all.
corner_places: where its corner wheels touch the floor.
axles_of: what rests on a tank's axles, where they stand and how they hold.
in_pose: a candidate in one of the robot's poses.
full_motion, side_grip_over, turning_over: what figures and routes both need of it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.battery import REFERENCE_TEMPERATURE, resistance_share, resting_share
from models.engineering.drive import LINKED, Drive, Layout, Stance
from models.engineering.mass import MassProperties, mass_properties, plate_mass, tube_mass
from models.engineering.materials import density_of
from models.engineering.motors import motor_constants
from models.engineering.placement import (
    CORNERS,
    AxleDistances,
    axle_distances,
    corner_contacts,
    footprint,
)
from models.engineering.supply import supply
from models.engineering.traction import Motion
from models.engineering.turning import (
    Turning,
    axle_loads,
    axle_positions,
    mean_side_grip,
    measured_skid_turn,
    skid_turn,
    turning,
)
from models.study.schema import Candidate, Part, Study
from models.trade.draws import Draws

FloatArray = NDArray[np.float64]


_LINES = ("slopes", "offsets")
"""Fields of a motion with an axis for its lines."""


class DrawnBase(NamedTuple):
    """A candidate over the draws; arrays have shape (draws,) unless said otherwise, or ()."""

    layout: Layout
    drive: Drive
    stance: Stance
    """In the travelling pose."""
    masses: FloatArray
    """Of the parts, shape (draws, parts) [kg]."""
    exempt: NDArray[np.bool_]
    poses: MassProperties
    """Shape (draws, poses)."""
    contacts: FloatArray
    """Of the corner wheels, shape (draws, 4, 2) [m]."""
    axles: AxleDistances
    """Shape (draws, poses) [m]."""
    loads: FloatArray | None
    """On each axle of linked sides, shape (draws, axles) [N]."""
    positions: FloatArray | None
    """Of those axles, shape (draws, axles) [m]."""
    side_grips: FloatArray | None
    """Of those axles' wheels, shape (draws, axles) [ratio]."""
    measured_track: FloatArray | None
    """2/γ of linked sides where it was measured [m]."""


def drawn_base(study: Study, candidate: Candidate, draws: Draws) -> DrawnBase:
    """Return a candidate as arrays over the draws."""
    parts = (*study.robot.parts, *candidate.parts)
    masses = _columns([_part_mass(study, part, draws) for part in parts], draws)
    poses = _posed(study, candidate, masses, draws)
    contacts = corner_places(candidate, draws)
    foot = footprint(contacts)
    axles = axle_distances(
        front_x=foot.front_x[..., None], rear_x=foot.rear_x[..., None], cg_x=poses.cg_x
    )
    stance = Stance(
        mass=poses.mass[:, 0],
        cg_x=poses.cg_x[:, 0],
        cg_height=poses.cg_z[:, 0],
        yaw_inertia=poses.yaw_inertia[:, 0],
        to_front=axles.front[:, 0],
        to_rear=axles.rear[:, 0],
        track=np.broadcast_to(foot.track, (draws.count,)),
    )
    drive = _drive(study, candidate, draws)
    measured = candidate.wheels.effective_track_m
    loads = positions = grips = None
    if candidate.layout in LINKED:
        loads, positions, grips = axles_of(candidate, drive, stance, draws)
    return DrawnBase(
        candidate.layout,
        drive,
        stance,
        masses,
        np.array([part.exempt for part in parts], dtype=bool),
        poses,
        contacts,
        axles,
        loads,
        positions,
        grips,
        None if measured is None else draws.of(measured),
    )


def possible_draws(study: Study, candidate: Candidate, draws: Draws) -> NDArray[np.bool_]:
    """Return in which draws a candidate keeps the rules that a study is held to.

    Ranges may reach further than any one study may: a motor that stalls at less than it takes
    idling, a wall thicker than its tube, no mass at all, a centre of gravity beyond the wheels.

    Returns
    -------
    array of bool, shape (draws,)
        No figure means anything where it is false.
    """
    motor = study.motors[candidate.drive.motor]
    parts = (*study.robot.parts, *candidate.parts)
    possible = np.broadcast_to(
        draws.of(motor.free_current_a) < draws.of(motor.stall_current_a), (draws.count,)
    )
    for tube in (part.tube for part in parts if part.tube is not None):
        across = np.minimum(draws.of(tube.width_m), draws.of(tube.height_m))
        possible = possible & (2.0 * draws.of(tube.wall_m) < across)
    masses = _columns([_part_mass(study, part, draws) for part in parts], draws)
    weight = np.sum(masses, axis=1)
    for pose in study.robot.poses:
        possible = possible & (weight + sum(draws.of(load.mass_kg) for load in pose.loads) > 0.0)
    if not possible.all():
        draws = draws.typed_where(~possible)
        masses = _columns([_part_mass(study, part, draws) for part in parts], draws)
    poses, contacts = _posed(study, candidate, masses, draws), corner_places(candidate, draws)
    foot = footprint(contacts)
    cg_x, cg_y = poses.cg_x[:, 0], poses.cg_y[:, 0]
    left = (contacts[:, 0, 1] + contacts[:, 2, 1]) / 2.0
    right = (contacts[:, 1, 1] + contacts[:, 3, 1]) / 2.0
    stands = (foot.rear_x < cg_x) & (cg_x < foot.front_x) & (right < cg_y) & (cg_y < left)
    return np.asarray(possible & stands & np.all(poses.cg_z > 0.0, axis=1))


def in_pose(candidate: Candidate, base: DrawnBase, pose: int, draws: Draws) -> DrawnBase:
    """Return a candidate in one of the robot's poses: its stance and what rests on its axles."""
    if pose == 0:
        return base
    whole = base.poses
    stance = Stance(
        mass=whole.mass[:, pose],
        cg_x=whole.cg_x[:, pose],
        cg_height=whole.cg_z[:, pose],
        yaw_inertia=whole.yaw_inertia[:, pose],
        to_front=base.axles.front[:, pose],
        to_rear=base.axles.rear[:, pose],
        track=base.stance.track,
    )
    loads = None
    if base.loads is not None:
        loads = axles_of(candidate, base.drive, stance, draws)[0]
    return base._replace(stance=stance, loads=loads)


def _columns(items: Iterable[FloatArray], draws: Draws) -> FloatArray:
    """Return arrays of the draws side by side, shape (draws, items)."""
    spread = [np.broadcast_to(item, (draws.count,)) for item in items]
    return np.stack(spread, axis=1) if spread else np.zeros((draws.count, 0))


def _points(points: Sequence[Sequence[float]], draws: Draws) -> FloatArray:
    """Return points over the draws, shape (draws, points, 3)."""
    flat = _columns([draws.of(value) for point in points for value in point], draws)
    return flat.reshape(draws.count, len(points), 3)


def _part_mass(study: Study, part: Part, draws: Draws) -> FloatArray:
    if part.tube is not None:
        tube = part.tube
        each = tube_mass(
            density=density_of(tube.material, study.densities),
            width=draws.of(tube.width_m),
            height=draws.of(tube.height_m),
            wall=draws.of(tube.wall_m),
            length=draws.of(tube.length_m),
        )
    elif part.plate is not None:
        plate = part.plate
        each = plate_mass(
            density=density_of(plate.material, study.densities),
            width=draws.of(plate.width_m),
            length=draws.of(plate.length_m),
            thickness=draws.of(plate.thickness_m),
            solid_fraction=draws.of(plate.solid_fraction),
        )
    else:
        each = draws.of(part.mass_kg)
    return np.asarray(each * part.quantity)


def _posed(study: Study, candidate: Candidate, masses: FloatArray, draws: Draws) -> MassProperties:
    """Return mass, centre of gravity and yaw inertia in every pose, shape (draws, poses)."""
    poses = study.robot.poses
    parts = (*study.robot.parts, *candidate.parts)
    owners = [(row, load) for row, pose in enumerate(poses) for load in pose.loads]
    centres = _points([part.centre_m for part in parts], draws)
    places = _points([load.centre_m for _, load in owners], draws)
    sizes = _points([*(part.size_m for part in parts), *(load.size_m for _, load in owners)], draws)
    found = []
    for row, pose in enumerate(poses):
        moved = centres.copy()
        for name, offset in pose.offsets.items():
            by = _points([offset], draws)
            moved[:, [index for index, part in enumerate(parts) if part.name == name]] += by
        carried = _columns(
            [draws.of(load.mass_kg) if owner == row else np.zeros(()) for owner, load in owners],
            draws,
        )
        found.append(
            mass_properties(
                masses=np.concatenate([masses, carried], axis=1),
                centres=np.concatenate([moved, places], axis=1),
                sizes=sizes,
            )
        )
    return MassProperties._make(np.stack(fields, axis=1) for fields in zip(*found, strict=True))


def corner_places(candidate: Candidate, draws: Draws) -> FloatArray:
    """Return the contact points of the corner wheels, shape (draws, 4, 2) [m]."""
    insets = None
    if candidate.modules is not None:
        corners = candidate.modules.corners
        flat = [draws.of(value) for name in CORNERS for value in getattr(corners, name).inset_m]
        insets = _columns(flat, draws).reshape(draws.count, len(CORNERS), 2)
    wheels = candidate.wheels
    places = corner_contacts(
        wheelbase=draws.of(wheels.wheelbase_m), track=draws.of(wheels.track_m), insets=insets
    )
    return np.broadcast_to(places, (draws.count, len(CORNERS), 2))


def _battery(study: Study, draws: Draws) -> tuple[FloatArray, FloatArray]:
    """Return open-circuit voltage and resistance of the battery in use."""
    power = study.power
    own = draws.of(power.open_circuit_v), draws.of(power.internal_resistance_ohm)
    one = next((item for item in power.batteries if item.name == power.battery), None)
    if one is None:
        return own
    full = own[0] if one.open_circuit_v is None else draws.of(one.open_circuit_v)
    at = {
        "charge": draws.of(one.charge),
        "temperature": draws.of(one.temperature_c, missing=REFERENCE_TEMPERATURE),
    }
    ohms = draws.of(one.internal_resistance_ohm)
    return np.asarray(full * resting_share(**at)), np.asarray(ohms * resistance_share(**at))


def _drive(study: Study, candidate: Candidate, draws: Draws) -> Drive:
    motor, power = study.motors[candidate.drive.motor], study.power
    figures, wheels = candidate.drive, candidate.wheels
    volts, ohms = _battery(study, draws)
    grip = draws.of(wheels.grip)
    return Drive(
        motor=motor_constants(
            nominal_voltage=draws.of(motor.nominal_v),
            free_speed_rpm=draws.of(motor.free_speed_rpm),
            free_current=draws.of(motor.free_current_a),
            stall_torque=draws.of(motor.stall_torque_nm),
            stall_current=draws.of(motor.stall_current_a),
            rotor_inertia=draws.of(motor.rotor_inertia_kgm2),
        ),
        supply=supply(
            open_voltage=volts,
            source_resistance=ohms + draws.of(power.main_wiring_ohm),
            branch_resistance=draws.of(figures.branch_ohm),
            accessory_current=draws.of(power.accessory_current_a),
            motor_count=draws.of(figures.motor_count),
            stator_limit=draws.of(figures.stator_limit_a, missing=np.inf),
            supply_limit=draws.of(figures.supply_limit_a, missing=np.inf),
        ),
        ratio=draws.of(figures.ratio),
        efficiency=draws.of(figures.efficiency),
        wheel_radius=draws.of(wheels.diameter_m) / 2.0,
        wheel_count=draws.of(wheels.count),
        wheel_inertia=draws.of(wheels.inertia_kgm2),
        grip=grip,
        side_grip=grip if wheels.side_grip is None else draws.of(wheels.side_grip),
        rolling_coefficient=draws.of(wheels.rolling_coefficient),
        steer_time=draws.of(figures.steer_time_s if candidate.layout == "swerve" else 0.0),
    )


def axles_of(
    candidate: Candidate, drive: Drive, stance: Stance, draws: Draws
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return loads, positions and side grips of a tank's axles, shape (draws, axles)."""
    wheels = candidate.wheels
    count = wheels.count // 2
    positions = np.broadcast_to(
        axle_positions(axle_count=count, wheelbase=draws.of(wheels.wheelbase_m)),
        (draws.count, count),
    )
    grips = [drive.side_grip] * count
    for axle in wheels.omni_axles:
        grips[axle] = draws.of(wheels.omni_side_grip)
    loads = axle_loads(
        mass=stance.mass,
        cg_x=stance.cg_x,
        positions=positions,
        dropped=draws.of(wheels.centre_drop_m) > 0.0,
    )
    return loads, positions, _columns(grips, draws)


def full_motion(motion: Motion, count: int) -> Motion:
    """Return a motion with every field along all draws."""
    lines = motion.slopes.shape[-1]
    return Motion(
        **{
            name: np.broadcast_to(field, (count, lines) if name in _LINES else (count,))
            for name, field in motion._asdict().items()
        }
    )


def side_grip_over(base: DrawnBase) -> FloatArray:
    """Return the side grip, of linked sides the mean over the axles weighted with their loads."""
    if base.loads is None or base.side_grips is None:
        return base.drive.side_grip
    return mean_side_grip(loads=base.loads, side_grips=base.side_grips)


def turning_over(base: DrawnBase) -> Turning:
    """Return what turning in place asks of the wheels over the draws.

    Parameters
    ----------
    base : DrawnBase
        A candidate over the draws.

    Returns
    -------
    Turning
        Arrays over the draws.
    """
    skid = None
    if base.loads is not None and base.positions is not None and base.side_grips is not None:
        given = {
            "loads": base.loads,
            "positions": base.positions,
            "grip": base.drive.grip,
            "side_grips": base.side_grips,
            "track": base.stance.track,
        }
        if base.measured_track is None:
            skid = skid_turn(**given)
        else:
            skid = measured_skid_turn(**given, effective_track=base.measured_track)
    return turning(base.drive, base.stance, base.layout, skid=skid)
