"""From motor current to acceleration: grip, load transfer, tipping; braking and top speed.

An acceleration is the least of a few straight lines in the motor current and a bound that does
not depend on it. `Motion` holds the lines, so that a sprint can be split where one line takes
over from another, and the same machinery runs straight, sideways and turning.

Contents
--------
GOVERNING: what can govern an acceleration.
Motion, motion_of, travel_motion, tip_bound: how motor current accelerates along a way.
joined: several motions as one batch.
braking, motor_brake_force: deceleration to a stop.
axle_normal_forces, axle_forces: what presses on the axles, and how they share the drive.
top_speed, speed_at_current: where the motors' force and rolling drag meet.
"""

from __future__ import annotations

from collections.abc import Sequence
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
from models.engineering.supply import LIMIT_WORDS, path_resistance

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

TRACTION, TIP = len(LIMIT_WORDS), len(LIMIT_WORDS) + 1
GOVERNING = (*LIMIT_WORDS, "traction", "tip")
"""What can govern an acceleration: a motor limit, the grip of an axle, the tip-over bound."""


class Motion(NamedTuple):
    """Acceleration along a way as the least of lines in the motor current, and what limits that.

    Fields have the batch's shape; `slopes` and `offsets` have one more axis for the lines. The
    first line is that of all motors; a further one has an axle at its grip. Units of speed and
    acceleration are the chassis's for travel, the wheel surface's for a turn.
    """

    emf: FloatArray
    """Motor voltage for each unit of speed [V·s/m]."""
    resistance: FloatArray
    """R [Ω]."""
    path: FloatArray
    """Rt [Ω]."""
    source_voltage: FloatArray
    """V0 [V]."""
    stator_limit: FloatArray
    """Istator [A]."""
    supply_limit: FloatArray
    """Isup, infinite for none [A]."""
    supply_power: FloatArray
    """P at the supply limit [W]."""
    slopes: FloatArray
    """Acceleration for each ampere [m/s² A]."""
    offsets: FloatArray
    """Acceleration at no current [m/s²]."""
    bound: FloatArray
    """Acceleration that grip or tipping allows, whatever the current [m/s²]."""
    bound_tips: BoolArray
    """True where that bound is tipping."""


def motion_of(
    drive_of: Drive,
    *,
    speed_factor: ArrayLike,
    slopes: FloatArray,
    offsets: FloatArray,
    bound: ArrayLike,
    bound_tips: ArrayLike,
) -> Motion:
    """Return a motion from its lines and the drive's electrical side, all of one shape.

    emf = kE·Gr/(r·κv)

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    speed_factor : float or array
        κv, speed of the motion for each wheel-surface speed [ratio].
    slopes, offsets : array, shape (…, lines)
        Lines of the acceleration over the current [m/s² A, m/s²].
    bound : float or array
        Acceleration that does not depend on the current [m/s²].
    bound_tips : bool or array
        True where that is tipping (truth).

    Returns
    -------
    Motion
        Fields broadcast to the batch's shape.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> straight = motion_of(example_drive(), speed_factor=1.0, slopes=np.array([0.2]),
    ...                      offsets=np.array([-0.5]), bound=9.0, bound_tips=False)
    >>> round(float(straight.emf), 3)
    2.464

    Source: own derivation, rolling and gearing.
    """
    motor, feed = drive_of.motor, drive_of.supply
    factor = np.asarray(speed_factor, dtype=np.float64)
    emf = motor.emf_constant * drive_of.ratio / (drive_of.wheel_radius * factor)
    scalars = (
        emf, motor.resistance, path_resistance(feed), feed.source_voltage, feed.stator_limit,
        feed.supply_limit, feed.supply_power, np.asarray(bound, dtype=np.float64),
    )  # fmt: skip
    shape = np.broadcast_shapes(*(item.shape for item in scalars), slopes.shape[:-1])
    flat = [_spread(item, shape) for item in scalars]
    lines = (*shape, slopes.shape[-1])
    tips = np.asarray(bound_tips, dtype=bool)
    return Motion(
        emf=flat[0],
        resistance=flat[1],
        path=flat[2],
        source_voltage=flat[3],
        stator_limit=flat[4],
        supply_limit=flat[5],
        supply_power=flat[6],
        slopes=_spread(slopes, lines),
        offsets=_spread(offsets, lines),
        bound=flat[7],
        bound_tips=tips if tips.shape == shape else np.broadcast_to(tips, shape),
    )


def _spread(item: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    """Return an array broadcast to a shape; numpy takes its time even where nothing changes."""
    return item if item.shape == shape else np.broadcast_to(item, shape)


def travel_motion(drive_of: Drive, stance: Stance, layout: Layout, *, angle: ArrayLike) -> Motion:
    """Return how motor current accelerates the robot along a way.

    Linked: a = min((F − D)/(M + m), (μ·M·g − D)/M, g·xr/H), F = κf·Fw, m = mrot/κv², μ = κμ·grip.
    Independent: M·a = Σ min(F/2 − m·a/2, μ·N(a)) − D over the two axles, a ≤ g·xr/H, with
    Nf = M (g·xr − a·H)/L, Nr = M (g·xf + a·H)/L. The right side less the left is the least of
    four straight lines in a, so a is the least of their four roots, each a line in F:
    (F − D)/(M + m) with both axles below their grip, (F/2 + μ·M·g·x/L − D)/(M + m/2 ± μ·M·H/L)
    with the front (x = xr, +) or the rear (x = xf, −) at it, μ·g − D/M with both.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity in the travelling pose [SI].
    layout : Layout
        Layout of the batch (word).
    angle : float or array
        θ of the way from straight ahead; 0 for a tank [rad].

    Returns
    -------
    Motion
        One line for linked sides, three for independent wheels.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = travel_motion(example_drive(), stance, "swerve", angle=0.0)
    >>> round(float(motion.bound), 3)
    10.591

    Source: own derivation; axle loads as in Jazar, Vehicle Dynamics, eq. 2.121.
    """
    factors = directions(layout, angle)
    mass, height = stance.mass, stance.cg_height
    drag, grip = rolling_drag(drive_of, mass), factors.grip * drive_of.grip
    rotating = rotating_mass(drive_of) / factors.speed**2
    pull = factors.force * force_per_ampere(drive_of)
    idle = drive_of.motor.free_current
    held = grip * STANDARD_GRAVITY - drag / mass
    tips = tip_bound(stance)
    slopes = [pull / (mass + rotating)]
    offsets = [-(pull * idle + drag) / (mass + rotating)]
    if layout not in LINKED:
        span = stance.to_front + stance.to_rear
        shift = grip * mass * height / span
        for reach, sign in ((stance.to_rear, 1.0), (stance.to_front, -1.0)):
            inertia = mass + rotating / 2.0 + sign * shift
            load = grip * mass * STANDARD_GRAVITY * np.maximum(reach, 0.0) / span
            # A rear axle that gains grip faster than it loses force never slips: no line of its own
            slips = inertia > 1e-9 * mass
            safe = np.where(slips, inertia, 1.0)
            slopes.append(np.where(slips, pull / 2.0 / safe, slopes[0]))
            offsets.append(np.where(slips, (load - pull * idle / 2.0 - drag) / safe, offsets[0]))
    return motion_of(
        drive_of,
        speed_factor=factors.speed,
        slopes=np.stack(np.broadcast_arrays(*slopes), axis=-1),
        offsets=np.stack(np.broadcast_arrays(*offsets), axis=-1),
        bound=np.minimum(held, tips),
        bound_tips=tips < held,
    )


def tip_bound(stance: Stance) -> FloatArray:
    """Return the acceleration at which the front wheels lift when driving off.

    g·xr/H

    Parameters
    ----------
    stance : Stance
        Mass and place of the centre of gravity [SI].

    Returns
    -------
    array
        Acceleration; a million where the centre of gravity lies on the floor [m/s²].

    Examples
    --------
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> round(float(tip_bound(stance)), 4)
    10.9834

    Source: moments about the rear axle.
    """
    height = np.maximum(stance.cg_height, 1e-6)
    return np.asarray(np.minimum(STANDARD_GRAVITY * stance.to_rear / height, 1e6))


def joined(motions: Sequence[Motion]) -> Motion:
    """Return several motions as one batch along a new first axis that holds them all.

    A motion with fewer lines than the others repeats its first, which changes nothing.

    Parameters
    ----------
    motions : sequence of Motion
        Motions of at most one axis each [SI].

    Returns
    -------
    Motion
        One axis, the motions' rows one after another.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = travel_motion(example_drive(), stance, "swerve", angle=0.0)
    >>> joined([motion, motion]).emf.shape
    (2,)

    Source: own definition.
    """
    lines = max(motion.slopes.shape[-1] for motion in motions)
    fields = []
    for name in Motion._fields:
        parts = [np.asarray(getattr(motion, name)) for motion in motions]
        if name in ("slopes", "offsets"):
            parts = [part.reshape(-1, part.shape[-1]) for part in parts]
            parts = [
                np.concatenate([part, *[part[:, :1]] * (lines - part.shape[-1])], axis=-1)
                for part in parts
            ]
        fields.append(np.concatenate([np.atleast_1d(part) for part in parts]))
    return Motion(*fields)


def braking(drive_of: Drive, stance: Stance, layout: Layout, *, angle: ArrayLike) -> FloatArray:
    """Return the deceleration to a stop.

    ab = min((Fb + D)/(M + mrot/κv²), κμ·μ·g, g·xf/H), Fb = κf·n·Gr·kT (Ilim + If)/(r·η)

    Ilim is the stator limit, or the stall current where none is set. Losses of the gearing help
    to brake.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    angle : float or array
        θ of the way from straight ahead [rad].

    Returns
    -------
    array
        ab [m/s²].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> round(float(braking(example_drive(), stance, "swerve", angle=0.0)), 4)
    10.5912

    Source: own derivation, moments about the front axle for the last term.
    """
    factors = directions(layout, angle)
    drag = rolling_drag(drive_of, stance.mass)
    rotating = rotating_mass(drive_of) / factors.speed**2
    by_motors = (factors.force * motor_brake_force(drive_of) + drag) / (stance.mass + rotating)
    height = np.maximum(stance.cg_height, 1e-6)
    by_tip = STANDARD_GRAVITY * stance.to_front / height
    by_grip = factors.grip * drive_of.grip * STANDARD_GRAVITY
    return np.asarray(np.minimum(np.minimum(by_motors, by_grip), by_tip))


def motor_brake_force(drive_of: Drive) -> FloatArray:
    """Return the braking force of all motors at the wheel surfaces.

    Fb = n·Gr·kT (Ilim + If)/(r·η)

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].

    Returns
    -------
    array
        Fb [N].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> round(float(motor_brake_force(example_drive())), 1)
    963.7

    Source: own derivation, torque through the gearing, whose losses help to brake.
    """
    limit = drive_of.supply.stator_limit
    strongest = np.where(np.isfinite(limit), limit, drive_of.motor.stall_current)
    per_ampere = force_per_ampere(drive_of) / drive_of.efficiency**2
    return np.asarray(per_ampere * (strongest + drive_of.motor.free_current))


def axle_forces(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    angle: ArrayLike,
    current: ArrayLike,
    acceleration: ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """Return what the motors of the front and rear half make while the robot accelerates.

    Linked: half of (M + m)·a + D each. Independent: front min(F/2, μ·Nf(a) + m·a/2), the rear
    what is left of (M + m)·a + D.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    angle : float or array
        θ of the way from straight ahead [rad].
    current : float or array
        Greatest current that the motors could carry at this speed [A].
    acceleration : float or array
        a that results, as the motion's law gives it [m/s²].

    Returns
    -------
    tuple of two arrays
        Force on the chassis of the front and of the rear half, rotating parts included [N].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> front, rear = axle_forces(example_drive(), stance, "swerve", angle=0.0, current=89.0,
    ...                           acceleration=0.0)
    >>> round(float(front + rear), 3)
    9.277

    Source: own derivation.
    """
    factors = directions(layout, angle)
    speeding = np.asarray(acceleration, dtype=np.float64)
    rotating = rotating_mass(drive_of) / factors.speed**2
    whole = (stance.mass + rotating) * speeding + rolling_drag(drive_of, stance.mass)
    if layout in LINKED:
        return np.asarray(whole / 2.0), np.asarray(whole / 2.0)
    able = factors.force * wheel_force(drive_of, current) / 2.0
    load = axle_normal_forces(stance, acceleration=speeding, slope=0.0)[0]
    held = factors.grip * drive_of.grip * np.maximum(load, 0.0) + rotating * speeding / 2.0
    front = np.minimum(able, held)
    return np.asarray(front), np.asarray(whole - front)


def axle_normal_forces(
    stance: Stance, *, acceleration: ArrayLike, slope: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return what presses the front and rear axle on the ground.

    Nf = M (g (xr·cos φ − H·sin φ) − a·H)/L, Nr = M (g (xf·cos φ + H·sin φ) + a·H)/L

    Parameters
    ----------
    stance : Stance
        Mass and place of the centre of gravity [SI].
    acceleration : float or array
        a, uphill [m/s²].
    slope : float or array
        φ of the ground, rising ahead [rad].

    Returns
    -------
    tuple of two arrays
        Nf and Nr, below 0 where that axle would lift [N].

    Examples
    --------
    >>> stance = Stance(*(np.float64(x) for x in (50.0, 0.0, 0.25, 2.6, 0.25, 0.25, 0.51)))
    >>> [round(float(load), 3) for load in axle_normal_forces(stance, acceleration=2, slope=0)]
    [195.166, 295.166]

    Source: Jazar, Vehicle Dynamics, eq. 2.121.
    """
    speeding, rise = (np.asarray(item, dtype=np.float64) for item in (acceleration, slope))
    span = stance.to_front + stance.to_rear
    upright, leaning = STANDARD_GRAVITY * np.cos(rise), STANDARD_GRAVITY * np.sin(rise)
    moved = stance.cg_height * (leaning + speeding)
    front = stance.mass * (upright * stance.to_rear - moved) / span
    rear = stance.mass * (upright * stance.to_front + moved) / span
    return np.asarray(front), np.asarray(rear)


def top_speed(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    motion: Motion,
    angle: ArrayLike = 0.0,
) -> FloatArray:
    """Return the speed along a way at which the motors' force and rolling drag meet.

    F(v) = D on a full battery, F = 0 where D is 0; solved back from the current that F = D takes,
    whatever the grip of the axles

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass [SI].
    layout : Layout
        Layout of the batch (word).
    motion : Motion
        Its motion along that way [SI].
    angle : float or array
        θ of the way from straight ahead [rad].

    Returns
    -------
    array
        Speed, 0 where the drive cannot overcome the drag [m/s].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = travel_motion(example_drive(), stance, "swerve", angle=0.0)
    >>> round(float(top_speed(example_drive(), stance, "swerve", motion=motion)), 4)
    4.8844

    Source: own derivation.
    """
    drag = rolling_drag(drive_of, stance.mass) / directions(layout, angle).force
    need = current_for_force(drive_of, drag)
    return np.asarray(np.maximum(speed_at_current(motion, need), 0.0))


def speed_at_current(motion: Motion, current: ArrayLike) -> FloatArray:
    """Return the greatest speed at which the motors can still carry a current.

    Full duty (V0 − (R + Rt)·I)/e, supply limit (P/I − R·I)/e, whichever is less; 0 above Istator

    Parameters
    ----------
    motion : Motion
        A motion whose fields broadcast against the current [SI].
    current : float or array
        I [A].

    Returns
    -------
    array
        Speed, below 0 where not even a standing motor carries it [m/s].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> motion = motion_of(example_drive(), speed_factor=1.0, slopes=np.array([0.2]),
    ...                    offsets=np.array([-0.5]), bound=9.0, bound_tips=False)
    >>> round(float(speed_at_current(motion, 50.0)), 4)
    2.329

    Source: own derivation, the motor limits turned round.
    """
    carried = np.asarray(current, dtype=np.float64)
    full = motion.source_voltage - (motion.resistance + motion.path) * carried
    some = np.maximum(carried, 1e-9)
    limited = motion.supply_power / some - motion.resistance * some
    speed = np.minimum(full, limited) / motion.emf
    return np.asarray(np.where(carried > motion.stator_limit, 0.0, speed))
