"""What is left of a drive when a motor or a whole module is dead, straight ahead and turning.

Linked sides: the motors that are left share the work; the dead one is turned along. Independent
wheels: the dead wheel passes what its other motors make, if it has any, and nothing else; a module
that is stuck at an angle rolls freely along its own direction and slides across it, so that
friction μ·N acts against the sliding. Its rotors and wheel keep their inertia in every case.

Left out: that a base with a dead wheel pulls to one side, and the grip of the other wheels that
keeping it straight takes.

Contents
--------
DeadPart, dead_part: which part is dead.
drive_left: the drive with its dead motors taken away.
loads_on_corners, slide_share: what rests on a corner; how much of its sliding acts on the way.
motion_left, braking_left, top_speed_left: what is left of driving straight ahead.
push_left: what is left of the push.
turning_left: what is left of turning in place.
"""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import (
    LINKED,
    STANDARD_GRAVITY,
    Drive,
    Layout,
    Stance,
    current_for_force,
    directions,
    force_per_ampere,
    rolling_drag,
    rotating_mass,
    wheel_force,
)
from models.engineering.supply import motor_current, supply
from models.engineering.traction import (
    Motion,
    braking,
    motion_of,
    motor_brake_force,
    speed_at_current,
    tip_bound,
    travel_motion,
)
from models.engineering.turning import Turning

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

CORNERS = 4
"""Wheels of a base with independent wheels."""


class DeadPart(NamedTuple):
    """Which part of a drive is dead; every field broadcasts against the batch."""

    motors_off: FloatArray
    """Drive motors that do not work, all of one wheel where the wheels are independent [motors]."""
    front: BoolArray
    """True where that wheel is a front one; of no effect on linked sides."""
    slides_ahead: FloatArray
    """|sin| of the angle between its rolling direction and straight ahead; 0: it rolls freely."""
    slides_turning: FloatArray
    """The same against the way that it takes in a turn in place."""


def dead_part(
    *,
    motors_off: ArrayLike,
    front: ArrayLike = True,
    slides_ahead: ArrayLike = 0.0,
    slides_turning: ArrayLike = 0.0,
) -> DeadPart:
    """Return which part is dead, as arrays.

    Parameters
    ----------
    motors_off : float or array
        Drive motors that do not work, one wheel's at most, if independent [motors].
    front : bool or array
        True where that wheel is a front one (truth).
    slides_ahead, slides_turning : float or array
        |sin| of a stuck wheel's angle to the way, ahead and in a turn; 0: it rolls [ratio].

    Returns
    -------
    DeadPart
        Fields as arrays.

    Examples
    --------
    >>> float(dead_part(motors_off=1).slides_ahead)
    0.0

    Source: own definition.
    """
    return DeadPart(
        np.asarray(motors_off, dtype=np.float64),
        np.asarray(front, dtype=bool),
        np.asarray(slides_ahead, dtype=np.float64),
        np.asarray(slides_turning, dtype=np.float64),
    )


def drive_left(drive_of: Drive, *, motors_off: ArrayLike) -> Drive:
    """Return a drive without its dead motors, whose rotors are still turned along.

    n − off motors on battery and wiring; J·Gr² of the dead ones added to the wheels' inertia

    Parameters
    ----------
    drive_of : Drive
        The whole drive [SI].
    motors_off : float or array
        How many of its motors are dead, fewer than it has [motors].

    Returns
    -------
    Drive
        What is left, its rotating mass that of the whole drive.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> left = drive_left(example_drive(), motors_off=1)
    >>> float(left.supply.motor_count), float(rotating_mass(left))
    (3.0, 4.549)

    Source: own derivation.
    """
    off, feed = np.asarray(motors_off, dtype=np.float64), drive_of.supply
    rotors = off * drive_of.motor.rotor_inertia * drive_of.ratio**2
    return drive_of._replace(
        supply=supply(
            open_voltage=feed.open_voltage,
            source_resistance=feed.source_resistance,
            branch_resistance=feed.branch_resistance,
            accessory_current=feed.accessory_current,
            motor_count=feed.motor_count - off,
            stator_limit=feed.stator_limit,
            supply_limit=feed.supply_limit,
        ),
        wheel_inertia=drive_of.wheel_inertia + rotors / drive_of.wheel_count,
    )


def loads_on_corners(stance: Stance) -> tuple[FloatArray, FloatArray]:
    """Return what rests on one front and on one rear wheel of a base with four, standing.

    N = M·g·xr/(2L) in front, M·g·xf/(2L) behind, not below 0

    Parameters
    ----------
    stance : Stance
        Mass and place of the centre of gravity [SI].

    Returns
    -------
    tuple of two arrays
        Load of a front and of a rear wheel [N].

    Examples
    --------
    >>> stance = Stance(*(np.float64(x) for x in (50.0, 0.0, 0.25, 2.6, 0.25, 0.25, 0.51)))
    >>> [round(float(load), 2) for load in loads_on_corners(stance)]
    [122.58, 122.58]

    Source: moments about the axles.
    """
    half = stance.mass * STANDARD_GRAVITY / (stance.to_front + stance.to_rear) / 2.0
    return (
        np.asarray(half * np.maximum(stance.to_rear, 0.0)),
        np.asarray(half * np.maximum(stance.to_front, 0.0)),
    )


def slide_share(
    stance: Stance, *, stuck_angle: ArrayLike, front: ArrayLike, left: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return how much of a stuck wheel's friction acts against driving and against turning.

    |sin δ| straight ahead; |sin(δ − τ)| in a turn in place, τ the direction in which the corner
    moves then: square to its place (±L/2, ±Tr/2)

    Parameters
    ----------
    stance : Stance
        Wheelbase as xf + xr, and track [SI].
    stuck_angle : float or array
        δ of the wheel's rolling direction from straight ahead, to the left [rad].
    front, left : bool or array
        Which corner it is (truth).

    Returns
    -------
    tuple of two arrays
        Share ahead, share turning [ratio].

    Examples
    --------
    >>> stance = Stance(*(np.float64(x) for x in (50.0, 0.0, 0.25, 2.6, 0.25, 0.25, 0.5)))
    >>> ahead, turning = slide_share(stance, stuck_angle=np.pi / 4, front=True, left=True)
    >>> round(float(ahead), 4), round(float(turning), 4)
    (0.7071, 1.0)

    Source: own derivation, Coulomb friction acts against the sliding.
    """
    angle = np.asarray(stuck_angle, dtype=np.float64)
    ahead = np.where(np.asarray(front, dtype=bool), 1.0, -1.0)
    aside = np.where(np.asarray(left, dtype=bool), 1.0, -1.0)
    place = np.arctan2(aside * stance.track, ahead * (stance.to_front + stance.to_rear))
    return np.asarray(np.abs(np.sin(angle))), np.asarray(np.abs(np.cos(angle - place)))


class _Group(NamedTuple):
    """Wheels that share one load and one force: of the axle without, and of that with the dead."""

    force: FloatArray
    """Of what all working motors make [ratio]."""
    inertia: FloatArray
    """Of the rotating mass [ratio]."""
    load: FloatArray
    """Of its axle's load [ratio]."""
    front: BoolArray


def _groups(drive_of: Drive, part: DeadPart) -> tuple[_Group, _Group, _Group]:
    """Return the sound axle, the sound wheel beside the dead one, and the dead wheel."""
    count = drive_of.supply.motor_count
    working = count - part.motors_off
    of_wheel = count / CORNERS
    whole, half, quarter = (np.asarray(share) for share in (1.0, 0.5, 0.25))
    # Rounding must not leave a hundredth of a motor in a wheel that has none
    rest = np.where(part.motors_off >= of_wheel * (1.0 - 1e-12), 0.0, of_wheel - part.motors_off)
    return (
        _Group(2.0 * of_wheel / working, half, whole, ~part.front),
        _Group(of_wheel / working, quarter, half, part.front),
        _Group(rest / working, quarter, half, part.front),
    )


def _static(stance: Stance, group: _Group) -> FloatArray:
    """Return what rests on a group of wheels, standing [N]."""
    front, rear = loads_on_corners(stance)
    return np.asarray(2.0 * group.load * np.where(group.front, front, rear))


def motion_left(drive_of: Drive, stance: Stance, layout: Layout, *, part: DeadPart) -> Motion:
    """Return how motor current accelerates what is left of a drive, straight ahead.

    Linked: the law of the whole drive with n − off motors. Independent: M·a is the sum over the
    wheels of min(φ·F − ι·m·a, μ·N(a)), φ and ι a group's shares of force and rotating mass, less
    D and, where a wheel is stuck, less μ·N(a)·|sin δ|; the least of the lines that follow from
    each way of having some groups at their grip.

    Parameters
    ----------
    drive_of : Drive
        The whole drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    part : DeadPart
        What is dead.

    Returns
    -------
    Motion
        Law of acceleration; that of the whole drive where nothing is dead.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.27, 0.51)))
    >>> part = dead_part(motors_off=1, front=False)
    >>> motion = motion_left(example_drive(), stance, "swerve", part=part)
    >>> round(float(motion.bound), 3)
    6.174

    Source: own derivation; axle loads as in Jazar, Vehicle Dynamics, eq. 2.121.
    """
    left = drive_left(drive_of, motors_off=part.motors_off)
    if layout in LINKED:
        return travel_motion(left, stance, layout, angle=0.0)
    factors = directions(layout, 0.0)
    mass, grip = stance.mass, factors.grip * drive_of.grip
    rotating = rotating_mass(left) / factors.speed**2
    pull = factors.force * force_per_ampere(left)
    idle, drag = drive_of.motor.free_current, rolling_drag(drive_of, mass)
    shift = mass * stance.cg_height / (stance.to_front + stance.to_rear)
    groups = _groups(drive_of, part)
    slopes: list[FloatArray] = []
    offsets: list[FloatArray] = []
    bound = np.asarray(1e6)
    for held in product((False, True), repeat=len(groups)):
        inertia, force, constant = mass, np.asarray(0.0), -drag
        for group, slips in zip(groups, held, strict=True):
            gains = np.where(group.front, -shift, shift)
            if slips:
                inertia = inertia - grip * group.load * gains
                constant = constant + grip * _static(stance, group)
            else:
                inertia = inertia + group.inertia * rotating
                force = force + group.force
        dead = groups[-1]
        sliding = drive_of.grip * part.slides_ahead
        inertia = inertia + sliding * dead.load * np.where(dead.front, -shift, shift)
        constant = constant - sliding * _static(stance, dead)
        real = inertia > 1e-9 * mass
        if held[-1]:
            # A wheel without a working motor is never at the limit of its grip
            real = real & (dead.force > 0.0)
        safe = np.where(real, inertia, 1.0)
        slope = force * pull / safe
        offset = (constant - force * pull * idle) / safe
        if all(held[:2]) and not held[2]:
            # Both sound groups at their grip and the dead wheel only turned along
            none_left = dead.force <= 0.0
            bound = np.where(real & none_left, offset, bound)
            real = real & ~none_left
        if all(held):
            bound = np.where(real, offset, bound)
            continue
        slopes.append(np.where(real, slope, slopes[0] if slopes else slope))
        offsets.append(np.where(real, offset, offsets[0] if offsets else offset))
    tips = tip_bound(stance)
    return motion_of(
        left,
        speed_factor=factors.speed,
        slopes=np.stack(np.broadcast_arrays(*slopes), axis=-1),
        offsets=np.stack(np.broadcast_arrays(*offsets), axis=-1),
        bound=np.minimum(bound, tips),
        bound_tips=tips < bound,
    )


def top_speed_left(
    drive_of: Drive, stance: Stance, layout: Layout, *, part: DeadPart, motion: Motion
) -> FloatArray:
    """Return the speed at which the motors that are left meet drag and sliding.

    F(v) = D + μ·N·|sin δ|, as for the whole drive whatever the grip; 0 where it does not move

    Parameters
    ----------
    drive_of : Drive
        The whole drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    part : DeadPart
        What is dead.
    motion : Motion
        What `motion_left` gave.

    Returns
    -------
    array
        Speed [m/s].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.27, 0.51)))
    >>> part = dead_part(motors_off=1, slides_ahead=1, slides_turning=1)
    >>> motion = motion_left(example_drive(), stance, "swerve", part=part)
    >>> bool(top_speed_left(example_drive(), stance, "swerve", part=part, motion=motion) < 4.0)
    True

    Source: own derivation.
    """
    left = drive_left(drive_of, motors_off=part.motors_off)
    against = rolling_drag(drive_of, stance.mass)
    if layout not in LINKED:
        against = against + _sliding(drive_of, stance, part)
    need = current_for_force(left, against / directions(layout, 0.0).force)
    speed = np.maximum(speed_at_current(motion, need), 0.0)
    stands = np.min(motion.slopes * _strongest(left)[..., None] + motion.offsets, axis=-1) <= 0.0
    return np.asarray(np.where(stands | (motion.bound <= 0.0), 0.0, speed))


def _strongest(left: Drive) -> FloatArray:
    """Return the greatest current of the motors that are left, at rest [A]."""
    return motor_current(left.supply, emf=0.0, resistance=left.motor.resistance)


def _sliding(drive_of: Drive, stance: Stance, part: DeadPart) -> FloatArray:
    """Return what a stuck wheel's sliding resists straight ahead, standing loads [N]."""
    dead = _groups(drive_of, part)[-1]
    return np.asarray(drive_of.grip * part.slides_ahead * _static(stance, dead))


def braking_left(drive_of: Drive, stance: Stance, layout: Layout, *, part: DeadPart) -> FloatArray:
    """Return the deceleration to a stop of what is left.

    min((Fb + D + S)/(M + mrot), κμ·μ·g (1 − λ) + S/M, g·xf/H), λ the share of the weight on the
    dead wheel that its own motors no longer brake, S = μ·N·|sin δ| of a stuck one

    Parameters
    ----------
    drive_of : Drive
        The whole drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    part : DeadPart
        What is dead.

    Returns
    -------
    array
        ab [m/s²].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.27, 0.51)))
    >>> part = dead_part(motors_off=1)
    >>> round(float(braking_left(example_drive(), stance, "swerve", part=part)), 3)
    8.09

    Source: own derivation.
    """
    left = drive_left(drive_of, motors_off=part.motors_off)
    if layout in LINKED:
        return braking(left, stance, layout, angle=0.0)
    factors = directions(layout, 0.0)
    rotating = rotating_mass(left) / factors.speed**2
    sliding = _sliding(drive_of, stance, part)
    able = factors.force * motor_brake_force(left) + rolling_drag(drive_of, stance.mass) + sliding
    by_grip = (
        factors.grip * drive_of.grip * STANDARD_GRAVITY * (1.0 - _lost(drive_of, stance, part))
        + sliding / stance.mass
    )
    by_tip = STANDARD_GRAVITY * stance.to_front / np.maximum(stance.cg_height, 1e-6)
    by_motors = able / (stance.mass + rotating)
    return np.asarray(np.minimum(np.minimum(by_motors, by_grip), by_tip))


def _lost(drive_of: Drive, stance: Stance, part: DeadPart) -> FloatArray:
    """Return the share of the weight whose grip the dead motors no longer use."""
    dead = _groups(drive_of, part)[-1]
    share = np.minimum(part.motors_off * CORNERS / drive_of.supply.motor_count, 1.0)
    return np.asarray(share * _static(stance, dead) / (stance.mass * STANDARD_GRAVITY))


def push_left(drive_of: Drive, stance: Stance, layout: Layout, *, part: DeadPart) -> FloatArray:
    """Return what is left of the push, forward or back, against something that gives way.

    Linked: min(F(0), μ·M·g). Independent: the sum over the wheels of min(φ·F(0), μ·N), less
    μ·N·|sin δ| of a stuck wheel; not below 0

    Parameters
    ----------
    drive_of : Drive
        The whole drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    part : DeadPart
        What is dead.

    Returns
    -------
    array
        Force [N].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.27, 0.51)))
    >>> part = dead_part(motors_off=1)
    >>> round(float(push_left(example_drive(), stance, "swerve", part=part)), 2)
    382.68

    Source: own derivation; with even loads a free wheel leaves three quarters of the grip.
    """
    left = drive_left(drive_of, motors_off=part.motors_off)
    factors = directions(layout, 0.0)
    able = factors.force * wheel_force(left, _strongest(left))
    grip = factors.grip * drive_of.grip
    if layout in LINKED:
        return np.asarray(np.minimum(able, grip * stance.mass * STANDARD_GRAVITY))
    passed = sum(
        np.minimum(group.force * able, grip * _static(stance, group))
        for group in _groups(drive_of, part)
    )
    return np.asarray(np.maximum(passed - _sliding(drive_of, stance, part), 0.0))


def turning_left(
    drive_of: Drive, stance: Stance, layout: Layout, *, part: DeadPart, turn: Turning
) -> Turning:
    """Return what a turn in place asks of what is left of the drive.

    The yaw rate stays; the grip loses the dead wheel's share, the resistance gains a stuck wheel's
    sliding μ·N·|sin(δ − τ)|. Linked sides: unchanged, since all wheels are still driven.

    Parameters
    ----------
    drive_of : Drive
        The whole drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    part : DeadPart
        What is dead.
    turn : Turning
        What it asks of the whole drive [SI].

    Returns
    -------
    Turning
        To be used with `drive_left`.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.turning import turning
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.27, 0.51)))
    >>> part = dead_part(motors_off=1)
    >>> whole = turning(example_drive(), stance, "swerve", skid=None)
    >>> left = turning_left(example_drive(), stance, "swerve", part=part, turn=whole)
    >>> float(left.cap / whole.cap)
    0.75

    Source: own derivation, Coulomb friction.
    """
    if layout in LINKED:
        return turn
    dead = _groups(drive_of, part)[-1]
    sliding = drive_of.grip * part.slides_turning * _static(stance, dead)
    return Turning(
        turn.yaw_factor,
        np.asarray(turn.resistance + sliding),
        np.asarray(turn.cap * (1.0 - _lost(drive_of, stance, part))),
    )
