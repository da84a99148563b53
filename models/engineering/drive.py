"""A drive base as arrays: motors, gearing, wheels and supply of a batch of designs, and its stance.

One batch has one layout; every field broadcasts against the others.

Contents
--------
Layout, LINKED, STANDARD_GRAVITY: words and constants.
Drive, example_drive: motors, supply, gearing, wheels.
Stance: mass and where it stands over the axles.
Directions, directions: how a layout turns wheel speed, force and grip into the chassis's.
force_per_ampere, wheel_force, current_for_force: from a motor's current to the force and back.
rotating_mass, rolling_drag: what else has to be moved.
free_speed, side_hold: two figures that need no more than this.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.motors import MotorConstants, motor_constants
from models.engineering.supply import Supply, supply

FloatArray = NDArray[np.float64]
Layout = Literal["tank", "swerve", "mecanum", "omni"]

STANDARD_GRAVITY = 9.80665
"""g [m/s²], exact by definition (CGPM 1901)."""

LINKED: tuple[Layout, ...] = ("tank",)
"""Layouts whose wheels of a side are linked, so that they share their load."""

_ROOT2 = float(np.sqrt(2.0))


class Drive(NamedTuple):
    """Motors, supply, gearing and wheels of a batch of designs of one layout."""

    motor: MotorConstants
    supply: Supply
    ratio: FloatArray
    """Gr, motor turns for a wheel turn [ratio]."""
    efficiency: FloatArray
    """η of the gearing [ratio]."""
    wheel_radius: FloatArray
    """r [m]."""
    wheel_count: FloatArray
    """nw [wheels]."""
    wheel_inertia: FloatArray
    """Jw of one wheel [kg·m²]."""
    grip: FloatArray
    """μ along the rolling direction [ratio]."""
    side_grip: FloatArray
    """μs across it [ratio]."""
    rolling_coefficient: FloatArray
    """crr [ratio]."""
    steer_time: FloatArray
    """Time that steered modules take to turn to a new direction [s]."""


class Stance(NamedTuple):
    """A mass and where it stands over the axles, in one pose."""

    mass: FloatArray
    """M [kg]."""
    cg_x: FloatArray
    """X of the centre of gravity, ahead of the middle of the frame [m]."""
    cg_height: FloatArray
    """H [m]."""
    yaw_inertia: FloatArray
    """Izz [kg·m²]."""
    to_front: FloatArray
    """xf from the centre of gravity to the front axle [m]."""
    to_rear: FloatArray
    """xr to the rear axle [m]."""
    track: FloatArray
    """Tr [m]."""


class Directions(NamedTuple):
    """Factors of a layout travelling at an angle."""

    speed: FloatArray
    """κv: chassis speed for each wheel-surface speed [ratio]."""
    force: FloatArray
    """κf: force on the chassis for each force at the wheel surfaces [ratio]."""
    grip: FloatArray
    """κμ: grip along the way for each grip of a wheel [ratio]."""


def directions(layout: Layout, angle: ArrayLike) -> Directions:
    """Return how a layout turns wheel-surface speed, force and grip into the chassis's.

    s = 1/(|cos θ| + |sin θ|); (κv, κf, κμ) = tank and steered (1, 1, 1), mecanum (s, s, s/√2),
    omni at 45° (√2·s, s/√2, s/√2)

    Parameters
    ----------
    layout : Layout
        One of tank, swerve, mecanum, omni (word).
    angle : float or array
        θ of the way from straight ahead; a tank drives at 0 only [rad].

    Returns
    -------
    Directions
        Three factors of the angle's shape.

    Examples
    --------
    >>> sideways = directions("mecanum", 1.5707963267948966)
    >>> round(float(sideways.speed), 6), round(float(sideways.grip), 6)
    (1.0, 0.707107)

    Source: Lynch and Park, Modern Robotics ch. 13, for the mecanum kinematics; power balance.
    """
    way = np.asarray(angle, dtype=np.float64)
    if layout in ("tank", "swerve"):
        one = np.ones(way.shape)
        return Directions(one, one, one)
    share = 1.0 / (np.abs(np.cos(way)) + np.abs(np.sin(way)))
    if layout == "mecanum":
        return Directions(share, share, share / _ROOT2)
    return Directions(_ROOT2 * share, share / _ROOT2, share / _ROOT2)


def force_per_ampere(drive_of: Drive) -> FloatArray:
    """Return what one more ampere in every motor adds to the force at the wheel surfaces.

    n·η·Gr·kT/r

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].

    Returns
    -------
    array
        Force for each ampere [N/A].

    Examples
    --------
    >>> float(force_per_ampere(example_drive())) > 0
    True

    Source: own derivation, torque through the gearing.
    """
    torque = drive_of.supply.motor_count * drive_of.efficiency * drive_of.motor.torque_constant
    return np.asarray(torque * drive_of.ratio / drive_of.wheel_radius)


def wheel_force(drive_of: Drive, current: ArrayLike) -> FloatArray:
    """Return the force of all motors at the wheel surfaces.

    Fw = n·η·Gr·kT (I − If)/r, never below 0

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    current : float or array
        I of each motor [A].

    Returns
    -------
    array
        Fw [N].

    Examples
    --------
    >>> round(float(wheel_force(example_drive(), 60.0)), 1)
    492.1

    Source: own derivation, torque through the gearing.
    """
    working = np.asarray(current, dtype=np.float64) - drive_of.motor.free_current
    return np.asarray(np.maximum(force_per_ampere(drive_of) * working, 0.0))


def current_for_force(drive_of: Drive, force: ArrayLike, *, share: float = 1.0) -> FloatArray:
    """Return the current of each motor where a share of the motors makes a wheel-surface force.

    I = If + F/(share·n·η·Gr·kT/r)

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    force : float or array
        F that the motors in question make together [N].
    share : float
        Which share of all motors they are: 1 for all, 0.5 for those of one axle [ratio].

    Returns
    -------
    array
        I [A].

    Examples
    --------
    >>> drive_of = example_drive()
    >>> round(float(current_for_force(drive_of, wheel_force(drive_of, 60.0))), 6)
    60.0

    Source: own derivation, torque through the gearing.
    """
    working = np.asarray(force, dtype=np.float64) / (share * force_per_ampere(drive_of))
    return np.asarray(drive_of.motor.free_current + working)


def rotating_mass(drive_of: Drive) -> FloatArray:
    """Return the mass that stands for rotors and wheels, at the wheel surface.

    mrot = (n·J·Gr² + nw·Jw)/r²

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].

    Returns
    -------
    array
        mrot; divide by κv² for the chassis [kg].

    Examples
    --------
    >>> round(float(rotating_mass(example_drive())), 3)
    4.549

    Source: own derivation, kinetic energy of the rotating parts.
    """
    rotors = drive_of.supply.motor_count * drive_of.motor.rotor_inertia * drive_of.ratio**2
    wheels = drive_of.wheel_count * drive_of.wheel_inertia
    return np.asarray((rotors + wheels) / drive_of.wheel_radius**2)


def rolling_drag(drive_of: Drive, mass: ArrayLike) -> FloatArray:
    """Return what rolling costs.

    D = crr·M·g

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    mass : float or array
        M [kg].

    Returns
    -------
    array
        D [N].

    Examples
    --------
    >>> round(float(rolling_drag(example_drive(), 50.0)), 4)
    9.8067

    Source: the usual coefficient of rolling resistance, such as Walter and Conant 1974.
    """
    return np.asarray(
        drive_of.rolling_coefficient * np.asarray(mass, dtype=np.float64) * STANDARD_GRAVITY
    )


def free_speed(drive_of: Drive, layout: Layout, angle: ArrayLike) -> FloatArray:
    """Return the datasheet's free speed through gearing and wheel.

    v = κv·ωf·r/Gr; 0 for a tank asked to go anywhere but straight

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    layout : Layout
        Its layout (word).
    angle : float or array
        θ of the way from straight ahead [rad].

    Returns
    -------
    array
        v [m/s].

    Examples
    --------
    >>> round(float(free_speed(example_drive(), "swerve", 0.0)), 4)
    4.8287

    Source: own derivation from rolling.
    """
    way = np.asarray(angle, dtype=np.float64)
    surface = drive_of.motor.free_speed * drive_of.wheel_radius / drive_of.ratio
    able = np.where(way == 0.0, 1.0, 0.0) if layout in LINKED else 1.0
    return np.asarray(directions(layout, way).speed * surface * able)


def side_hold(
    drive_of: Drive, layout: Layout, *, mass: ArrayLike, side_grip: ArrayLike
) -> FloatArray:
    """Return the sideways shove that a standing robot resists before it slides.

    tank μs·M·g, steered with crossed wheels μ·M·g, mecanum and omni μ·M·g/√2

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    layout : Layout
        Its layout (word).
    mass : float or array
        M [kg].
    side_grip : float or array
        μs of a tank: the mean over its wheels weighted with the load on them, since an axle with
        omni wheels hardly holds; of no effect on other layouts [ratio].

    Returns
    -------
    array
        Force [N].

    Examples
    --------
    >>> round(float(side_hold(example_drive(), "swerve", mass=47.3, side_grip=1.1)), 2)
    510.24

    Source: own derivation, Coulomb friction; rollers at 45° resist along their axis only.
    """
    held = {
        "tank": np.asarray(side_grip, dtype=np.float64),
        "swerve": drive_of.grip,
        "mecanum": drive_of.grip / _ROOT2,
        "omni": drive_of.grip / _ROOT2,
    }
    return np.asarray(held[layout] * np.asarray(mass, dtype=np.float64) * STANDARD_GRAVITY)


def example_drive() -> Drive:
    """Return an invented drive of four motors, for examples and first trials.

    Returns
    -------
    Drive
        Scalars [SI].

    Examples
    --------
    >>> float(example_drive().ratio)
    6.5

    Source: invented figures.
    """
    motor = motor_constants(
        nominal_voltage=12.0,
        free_speed_rpm=5900.0,
        free_current=2.0,
        stall_torque=4.2,
        stall_current=230.0,
        rotor_inertia=6e-5,
    )
    feed = supply(
        open_voltage=12.6,
        source_resistance=0.019,
        branch_resistance=0.006,
        accessory_current=8.0,
        motor_count=4,
        stator_limit=90.0,
        supply_limit=50.0,
    )
    figures = (6.5, 0.9, 0.0508, 4.0, 0.0004, 1.1, 1.1, 0.02, 0.15)
    return Drive(motor, feed, *(np.float64(figure) * np.ones(()) for figure in figures))
