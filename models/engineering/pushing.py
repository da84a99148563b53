"""Pushing and climbing: what the drive holds at rest, and what limits it.

Contents
--------
Push, push: force against something that does not move, with its currents.
PushCurrents, push_currents: what each half of the motors carries and takes in a push.
GRADE_WORDS, Grade, grade: the steepest slope.
"""

from __future__ import annotations

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
    wheel_force,
)
from models.engineering.supply import (
    bus_current,
    coupled_bus_currents,
    limiting,
    motor_current,
    path_resistance,
)
from models.engineering.traction import TRACTION

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

GRADE_WORDS = ("traction", "motor", "tip")
"""What can limit a slope, in the order of `Grade.limited_by`."""


class Push(NamedTuple):
    """A push at rest against something that does not move."""

    force: FloatArray
    """[N]"""
    limited_by: IntArray
    """Index into `GOVERNING` of `models.engineering.traction`."""
    motor_current: FloatArray
    """Of the hardest-worked motor [A]."""
    total_current: FloatArray
    """From the battery, accessories included [A]."""


class PushCurrents(NamedTuple):
    """What the motors of the front and of the rear half carry, and take from the bus."""

    front_motor: FloatArray
    """Of one motor [A]."""
    rear_motor: FloatArray
    """[A]"""
    front_bus: FloatArray
    """What one of them takes through its branch [A]."""
    rear_bus: FloatArray
    """[A]"""
    total: FloatArray
    """From the battery, accessories included [A]."""


class Grade(NamedTuple):
    """The steepest slope; below zero where it could not even drive on the level."""

    angle: FloatArray
    """[rad]"""
    limited_by: IntArray
    """Index into `GRADE_WORDS`."""


def push(drive_of: Drive, stance: Stance, layout: Layout, *, angle: ArrayLike = 0.0) -> Push:
    """Return the force against something that does not move, along a way, and its currents.

    Linked: min(F(0), μ·M·g). Independent: min(F(0)/2, μ·N) of each axle with its static load.

    An axle at its grip is enough to call the push limited by traction. Where the axles are
    unequal, the current is that of the hardest-worked motor and the battery's is solved together
    for both axles.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    angle : float or array
        θ of the way from straight ahead; 0 for a tank [rad].

    Returns
    -------
    Push
        Arrays of the batch's shape.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.traction import GOVERNING
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> pushing = push(example_drive(), stance, "swerve")
    >>> round(float(pushing.force), 2), GOVERNING[int(pushing.limited_by)]
    (510.24, 'traction')

    Source: own derivation.
    """
    feed, resistance = drive_of.supply, drive_of.motor.resistance
    front, rear, able = _halves(drive_of, stance, layout, angle)
    force = np.asarray(front + rear)
    slips = force < able * (1.0 - 1e-12)
    word = np.where(slips, TRACTION, limiting(feed, emf=0.0, resistance=resistance))
    currents = push_currents(drive_of, stance, layout, angle=angle)
    hardest = np.maximum(currents.front_motor, currents.rear_motor)
    return Push(force, np.asarray(word), np.asarray(hardest), currents.total)


def _halves(
    drive_of: Drive, stance: Stance, layout: Layout, angle: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return what the front and the rear half push with, and what the motors could [N]."""
    factors = directions(layout, angle)
    strongest = motor_current(drive_of.supply, emf=0.0, resistance=drive_of.motor.resistance)
    able = factors.force * wheel_force(drive_of, strongest)
    held = factors.grip * drive_of.grip * stance.mass * STANDARD_GRAVITY
    if layout in LINKED:
        front = rear = np.minimum(able, held) / 2.0
    else:
        span = stance.to_front + stance.to_rear
        front, rear = (
            np.minimum(able / 2.0, held * np.maximum(reach, 0.0) / span)
            for reach in (stance.to_rear, stance.to_front)
        )
    return np.asarray(front), np.asarray(rear), np.asarray(able)


def push_currents(
    drive_of: Drive, stance: Stance, layout: Layout, *, angle: ArrayLike = 0.0
) -> PushCurrents:
    """Return what the motors carry and take from the bus in a push at rest.

    I = If + F·r/(n·η·Gr·kT·κf) of each half's force F, never above what the limits pass; Ib by
    the bus equation with R·I² at the terminals, solved together for both halves

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    angle : float or array
        θ of the way from straight ahead; 0 for a tank [rad].

    Returns
    -------
    PushCurrents
        Arrays of the batch's shape.

    Examples
    --------
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> from models.engineering.drive import example_drive
    >>> currents = push_currents(example_drive(), stance, "swerve")
    >>> round(float(currents.front_motor), 1), round(float(currents.front_bus), 1)
    (63.2, 19.1)

    Source: own derivation.
    """
    front, rear, _ = _halves(drive_of, stance, layout, angle)
    factors, feed = directions(layout, angle), drive_of.supply
    resistance = drive_of.motor.resistance
    strongest = motor_current(feed, emf=0.0, resistance=resistance)
    # Motors too weak to overcome their own friction carry what they can, and push with nothing
    most = np.maximum(strongest, 0.0)
    currents = [
        np.minimum(current_for_force(drive_of, half / factors.force, share=0.5), most)
        for half in (front, rear)
    ]
    powers = [resistance * current**2 for current in currents]
    if layout in LINKED:
        one = other = bus_current(
            source_voltage=feed.source_voltage, path=path_resistance(feed), motor_power=powers[0]
        )
    else:
        one, other = coupled_bus_currents(feed, first_power=powers[0], second_power=powers[1])
    total = feed.motor_count / 2.0 * (one + other) + feed.accessory_current
    return PushCurrents(currents[0], currents[1], one, other, np.asarray(total))


def grade(drive_of: Drive, stance: Stance, layout: Layout) -> Grade:
    """Return the steepest slope that the robot drives up straight ahead.

    tan θ = κμ·μ − crr, F(0) = M·g (sin θ + crr·cos θ), tan θ = xr/H: the least of the three

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity in the travelling pose [SI].
    layout : Layout
        Layout of the batch (word).

    Returns
    -------
    Grade
        Angle [rad] and what limits it.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> steepest = grade(example_drive(), stance, "swerve")
    >>> round(float(np.degrees(steepest.angle)), 4), GRADE_WORDS[int(steepest.limited_by)]
    (47.2026, 'traction')

    Source: own derivation; statics on an incline.
    """
    factors = directions(layout, 0.0)
    rolling = drive_of.rolling_coefficient
    strongest = motor_current(drive_of.supply, emf=0.0, resistance=drive_of.motor.resistance)
    weight = stance.mass * STANDARD_GRAVITY
    share = factors.force * wheel_force(drive_of, strongest) / weight / np.hypot(1.0, rolling)
    by_motor = np.where(
        share >= 1.0, np.pi / 2.0, np.arcsin(np.minimum(share, 1.0)) - np.arctan(rolling)
    )
    height = np.maximum(stance.cg_height, 1e-6)
    three = np.stack(
        np.broadcast_arrays(
            np.arctan(factors.grip * drive_of.grip - rolling),
            by_motor,
            np.arctan(stance.to_rear / height),
        )
    )
    return Grade(
        np.asarray(np.min(three, axis=0)), np.asarray(np.argmin(three, axis=0), dtype=np.int64)
    )
