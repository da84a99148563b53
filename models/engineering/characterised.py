"""What the constants of a characterised drive, V = kS + kV·v + kA·a, imply in this model.

Contents
--------
METRES_PER, SPEED_UNITS: units in which the constants are usually written.
metres_per_unit, in_si: from the unit written to metres and volts.
Constants, constants_of: what the model itself would measure.
implied_speed, implied_ratio, implied_diameter: from kV.
implied_mass: from kA.
implied_drag: from kS.
"""

from __future__ import annotations

from typing import Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import (
    Drive,
    Layout,
    directions,
    force_per_ampere,
    rolling_drag,
    rotating_mass,
)

FloatArray = NDArray[np.float64]

SpeedUnit = Literal["m", "in", "ft", "wheel_rev", "wheel_rad", "motor_rev", "motor_rpm"]
"""What a speed is counted in: metres, inches, feet, turns or radians a second, turns a minute."""
SPEED_UNITS: tuple[SpeedUnit, ...] = get_args(SpeedUnit)

METRES_PER: dict[str, float] = {"m": 1.0, "in": 0.0254, "ft": 0.3048}
"""Units of length in metres, exact (international yard and pound agreement, 1959)."""

NOMINAL_VOLTAGE = 12.0
"""The voltage of which a command is a share where constants are written without volts [V]."""


class Constants(NamedTuple):
    """The three constants in SI units."""

    static: FloatArray
    """kS [V]."""
    velocity: FloatArray
    """kV [V·s/m]."""
    acceleration: FloatArray
    """kA [V·s²/m]."""


def metres_per_unit(
    unit: SpeedUnit, *, wheel_radius: ArrayLike, ratio: ArrayLike, speed_factor: ArrayLike = 1.0
) -> FloatArray:
    """Return how many metres the chassis goes for one unit of what the constants count.

    Parameters
    ----------
    unit : SpeedUnit
        What a speed is counted in (word).
    wheel_radius : float or array
        r [m].
    ratio : float or array
        Gr, motor turns for a wheel turn [ratio].
    speed_factor : float or array
        κv of the layout straight ahead [ratio].

    Returns
    -------
    array
        Metres for each unit; for turns a minute, metres a second for each [m].

    Examples
    --------
    >>> round(float(metres_per_unit("wheel_rev", wheel_radius=0.0504, ratio=5.89)), 4)
    0.3167

    Source: own derivation from rolling.
    """
    factor = np.asarray(speed_factor, dtype=np.float64)
    around = np.asarray(2.0 * np.pi * np.asarray(wheel_radius, dtype=np.float64) * factor)
    geared = np.asarray(ratio, dtype=np.float64)
    if unit == "wheel_rev":
        return np.asarray(around)
    if unit == "wheel_rad":
        return np.asarray(around / (2.0 * np.pi))
    if unit == "motor_rev":
        return np.asarray(around / geared)
    if unit == "motor_rpm":
        return np.asarray(around / geared / 60.0)
    return np.full(np.broadcast_shapes(around.shape, geared.shape), METRES_PER[unit])


def in_si(
    *, static: ArrayLike, velocity: ArrayLike, acceleration: ArrayLike, metres: ArrayLike,
    share: bool = False,
) -> Constants:  # fmt: skip
    """Return constants in volts and metres from those in another unit.

    A share of the nominal 12 V counts twelve volts for each 1.

    Parameters
    ----------
    static, velocity, acceleration : float or array
        kS, kV and kA as written [V, or a share of 12 V; for each unit of speed].
    metres : float or array
        Metres for each unit, from `metres_per_unit` [m].
    share : bool
        Whether they give a share of 12 V, not volts (truth).

    Returns
    -------
    Constants
        In SI units.

    Examples
    --------
    >>> found = in_si(static=0, velocity=0.0588, acceleration=0, metres=0.0254)
    >>> round(float(found.velocity), 3)
    2.315

    Source: own derivation, conversion of units.
    """
    volts = NOMINAL_VOLTAGE if share else 1.0
    per = volts / np.asarray(metres, dtype=np.float64)
    return Constants(
        np.asarray(static, dtype=np.float64) * volts,
        np.asarray(velocity, dtype=np.float64) * per,
        np.asarray(acceleration, dtype=np.float64) * per,
    )


def constants_of(drive_of: Drive, layout: Layout, *, mass: ArrayLike) -> Constants:
    """Return the constants that a drive would show if it were just as the model has it.

    kV = kE·Gr/(κv·r), kA = R·(M + mrot/κv²)/(κf·n·η·Gr·kT/r), kS = R·(If + D/(κf·n·η·Gr·kT/r))

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    layout : Layout
        Its layout; straight ahead (word).
    mass : float or array
        M that it moves [kg].

    Returns
    -------
    Constants
        kS [V], kV [V·s/m], kA [V·s²/m].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> found = constants_of(example_drive(), "swerve", mass=50.0)
    >>> round(float(found.velocity), 3), round(float(implied_mass(example_drive(), "swerve",
    ...     acceleration_constant=found.acceleration)), 6)
    (2.463, 50.0)

    Source: own derivation from the motor's equations and Newton's law, voltage at the motor.
    """
    factors = directions(layout, 0.0)
    force = factors.force * force_per_ampere(drive_of)
    motor = drive_of.motor
    moved = np.asarray(mass, dtype=np.float64) + rotating_mass(drive_of) / factors.speed**2
    return Constants(
        np.asarray(motor.resistance * (motor.free_current + rolling_drag(drive_of, mass) / force)),
        np.asarray(motor.emf_constant * drive_of.ratio / (factors.speed * drive_of.wheel_radius)),
        np.asarray(motor.resistance * moved / force),
    )


def implied_speed(velocity_constant: ArrayLike) -> FloatArray:
    """Return the speed at which 12 V are used up by kV alone.

    v = 12/kV

    Parameters
    ----------
    velocity_constant : float or array
        kV [V·s/m].

    Returns
    -------
    array
        v, near the geared free speed [m/s].

    Examples
    --------
    >>> round(float(implied_speed(2.31)), 2)
    5.19

    Source: own derivation from V = kS + kV·v + kA·a.
    """
    return np.asarray(NOMINAL_VOLTAGE / np.asarray(velocity_constant, dtype=np.float64))


def implied_ratio(drive_of: Drive, layout: Layout, *, velocity_constant: ArrayLike) -> FloatArray:
    """Return the ratio that kV means where motor and wheel are as given.

    Gr = kV·κv·r/kE

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    layout : Layout
        Its layout; straight ahead (word).
    velocity_constant : float or array
        kV [V·s/m].

    Returns
    -------
    array
        Motor turns for a wheel turn [ratio].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> kept = constants_of(example_drive(), "tank", mass=50.0).velocity
    >>> round(float(implied_ratio(example_drive(), "tank", velocity_constant=kept)), 4)
    6.5

    Source: own derivation, the back-EMF through gearing and wheel.
    """
    speed = directions(layout, 0.0).speed
    per = np.asarray(velocity_constant, dtype=np.float64) * speed
    return np.asarray(per * drive_of.wheel_radius / drive_of.motor.emf_constant)


def implied_diameter(
    drive_of: Drive, layout: Layout, *, velocity_constant: ArrayLike
) -> FloatArray:
    """Return the wheel diameter that kV means where motor and ratio are as given.

    2r = 2·kE·Gr/(κv·kV)

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    layout : Layout
        Its layout; straight ahead (word).
    velocity_constant : float or array
        kV [V·s/m].

    Returns
    -------
    array
        Diameter [m].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> kept = constants_of(example_drive(), "tank", mass=50.0).velocity
    >>> round(float(implied_diameter(example_drive(), "tank", velocity_constant=kept)), 4)
    0.1016

    Source: own derivation, the back-EMF through gearing and wheel.
    """
    speed = directions(layout, 0.0).speed
    per = np.asarray(velocity_constant, dtype=np.float64) * speed
    return np.asarray(2.0 * drive_of.motor.emf_constant * drive_of.ratio / per)


def implied_mass(
    drive_of: Drive, layout: Layout, *, acceleration_constant: ArrayLike
) -> FloatArray:
    """Return the moving mass that kA means.

    M = kA·κf·n·η·Gr·kT/(R·r) − mrot/κv²

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    layout : Layout
        Its layout; straight ahead (word).
    acceleration_constant : float or array
        kA [V·s²/m].

    Returns
    -------
    array
        M; below zero where kA is less than the rotors alone ask for [kg].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> round(float(implied_mass(example_drive(), "swerve", acceleration_constant=0.03)), 1)
    0.3

    Source: own derivation, Newton's law with the motor's equations.
    """
    factors = directions(layout, 0.0)
    force = factors.force * force_per_ampere(drive_of) / drive_of.motor.resistance
    moved = np.asarray(acceleration_constant, dtype=np.float64) * force
    return np.asarray(moved - rotating_mass(drive_of) / factors.speed**2)


def implied_drag(drive_of: Drive, layout: Layout, *, static_constant: ArrayLike) -> FloatArray:
    """Return the drag at the wheels that kS means beyond the motors' free current.

    D = (kS/R − If)·κf·n·η·Gr·kT/r

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    layout : Layout
        Its layout; straight ahead (word).
    static_constant : float or array
        kS [V].

    Returns
    -------
    array
        D; below zero where kS is less than the free current alone takes [N].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> kept = constants_of(example_drive(), "tank", mass=50.0).static
    >>> round(float(implied_drag(example_drive(), "tank", static_constant=kept)), 3)
    9.807

    Source: own derivation, the motor's equations at the edge of moving.
    """
    force = directions(layout, 0.0).force * force_per_ampere(drive_of)
    motor = drive_of.motor
    current = np.asarray(static_constant, dtype=np.float64) / motor.resistance - motor.free_current
    return np.asarray(current * force)
