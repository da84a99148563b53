"""Battery, wiring and current limits: what the motors get and what the bus gives.

The controller is a lossless chopper, `V·I = Vc·Ib`: a motor that carries the winding current I at
the voltage V takes Ib from the bus. The battery's and main wiring's resistance carry the sum of
all motors and the accessories, a branch that of one motor.

Contents
--------
Supply: the battery side of a drive, ready for the equations.
supply, path_resistance: how to make it; what n equal motors see.
full_duty_current, supply_limited_current: two of the three limits of a motor's current.
motor_current, LIMIT_WORDS, limiting: the least of the three, and which it is.
bus_current: what one of n equal motors takes.
coupled_bus_currents: what two groups of unequal motors take.
total_of_halves: what all motors take, the two halves alike or not.
bus_voltage: what the sum of currents leaves.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

LIMIT_WORDS = ("voltage", "stator limit", "supply limit")
"""What can limit a motor's current, in the order of `limiting`."""

_ALIKE = 1e-9
"""Two halves whose motors differ by less power work alike [W]."""

UNLIMITED_POWER = 1e12
"""Stands for the power that a supply limit passes where there is none [W]."""


class Supply(NamedTuple):
    """The battery side of a drive of n motors; every field broadcasts."""

    source_voltage: FloatArray
    """V0 = Voc − Rb·Ia, what the motors' feed starts from [V]."""
    open_voltage: FloatArray
    """Voc [V]."""
    source_resistance: FloatArray
    """Rb of battery and main wiring [Ω]."""
    branch_resistance: FloatArray
    """Rw of one motor's branch [Ω]."""
    accessory_current: FloatArray
    """Ia [A]."""
    motor_count: FloatArray
    """n [motors]."""
    stator_limit: FloatArray
    """Istator, infinite where none is set [A]."""
    supply_limit: FloatArray
    """Isup, infinite where none is set or where it can never be reached [A]."""
    supply_power: FloatArray
    """What a controller at the supply limit passes on to its motor [W]."""


def path_resistance(supply_of: Supply) -> FloatArray:
    """Return the resistance between battery and one of n equal motors, as that motor sees it.

    Rt = n·Rb + Rw

    Parameters
    ----------
    supply_of : Supply
        The battery side [SI].

    Returns
    -------
    array
        Rt [Ω].

    Examples
    --------
    >>> feed = supply(open_voltage=12.6, source_resistance=0.019, branch_resistance=0.006,
    ...               accessory_current=8, motor_count=4, stator_limit=90, supply_limit=50)
    >>> round(float(path_resistance(feed)), 6)
    0.082

    Source: Ohm's law; n equal currents through Rb.
    """
    return np.asarray(
        supply_of.motor_count * supply_of.source_resistance + supply_of.branch_resistance
    )


def supply(
    *,
    open_voltage: ArrayLike,
    source_resistance: ArrayLike,
    branch_resistance: ArrayLike,
    accessory_current: ArrayLike,
    motor_count: ArrayLike,
    stator_limit: ArrayLike,
    supply_limit: ArrayLike,
) -> Supply:
    """Return the battery side of a drive, with what a supply limit lets through worked out.

    V0 = Voc − Rb·Ia; P = (V0 − Rt·Isup)·Isup for Isup < V0/(2·Rt), else no limit

    A battery behind Rt passes at most V0²/(4·Rt), at the current V0/(2·Rt), and no chopper draws
    more than that current by the lower root. A supply limit above it is never reached, so that it
    limits nothing; without this bound P would fall again as the limit is raised.

    Parameters
    ----------
    open_voltage : float or array
        Voc of the battery [V].
    source_resistance : float or array
        Rb of battery and main wiring [Ω].
    branch_resistance : float or array
        Rw of one motor's branch [Ω].
    accessory_current : float or array
        Ia, which flows throughout [A].
    motor_count : int or array
        n [motors].
    stator_limit, supply_limit : float or array
        Istator of a winding, Isup of what a controller takes; infinite for none [A].

    Returns
    -------
    Supply
        Arrays, each of its own shape.

    Examples
    --------
    >>> feed = supply(open_voltage=12.6, source_resistance=0.019, branch_resistance=0.006,
    ...               accessory_current=8, motor_count=4, stator_limit=90, supply_limit=50)
    >>> round(float(feed.source_voltage), 3), round(float(feed.supply_power), 1)
    (12.448, 417.4)

    Source: own derivation from Ohm's law and the lossless chopper.
    """
    rest, main, branch, idle, count, stator, asked = (
        np.asarray(value, dtype=np.float64)
        for value in (
            open_voltage, source_resistance, branch_resistance, accessory_current, motor_count,
            stator_limit, supply_limit,
        )
    )  # fmt: skip
    source = rest - main * idle
    path = count * main + branch
    stated = np.isfinite(asked)
    finite = np.where(stated, asked, 0.0)
    reached = stated & (2.0 * path * finite < source)
    limit = np.where(reached, asked, np.inf)
    power = np.where(reached, (source - path * finite) * finite, UNLIMITED_POWER)
    return Supply(source, rest, main, branch, idle, count, stator, limit, power)


def full_duty_current(
    *, source_voltage: ArrayLike, emf: ArrayLike, resistance: ArrayLike, path: ArrayLike
) -> FloatArray:
    """Return the current of a motor that is switched straight to the bus.

    I = (V0 − kE·ω)/(R + Rt)

    Parameters
    ----------
    source_voltage : float or array
        V0 [V].
    emf : float or array
        kE·ω, the motor's own voltage [V].
    resistance, path : float or array
        R of the winding and Rt of the path to it [Ω].

    Returns
    -------
    array
        I, below zero where the motor outruns the bus [A].

    Examples
    --------
    >>> float(full_duty_current(source_voltage=12, emf=2, resistance=0.06, path=0.04))
    100.0

    Source: Ohm's law.
    """
    whole = np.asarray(resistance, dtype=np.float64) + np.asarray(path, dtype=np.float64)
    drive = np.asarray(source_voltage, dtype=np.float64) - np.asarray(emf, dtype=np.float64)
    return np.asarray(drive / whole)


def supply_limited_current(
    *, emf: ArrayLike, resistance: ArrayLike, power: ArrayLike
) -> FloatArray:
    """Return the winding current that a given power can sustain.

    (kE·ω + R·I)·I = P, so I = (−kE·ω + √((kE·ω)² + 4·R·P))/(2R), here without cancellation

    Parameters
    ----------
    emf : float or array
        kE·ω [V].
    resistance : float or array
        R of the winding [Ω].
    power : float or array
        P that reaches the motor [W].

    Returns
    -------
    array
        I [A].

    Examples
    --------
    >>> round(float(supply_limited_current(emf=0, resistance=0.05, power=405)), 6)
    90.0

    Source: own derivation, the quadratic's upper root.
    """
    own = np.asarray(emf, dtype=np.float64)
    given = np.asarray(power, dtype=np.float64)
    root = np.sqrt(own * own + 4.0 * np.asarray(resistance, dtype=np.float64) * given)
    return np.asarray(2.0 * given / (own + root))


def _three_currents(supply_of: Supply, emf: ArrayLike, resistance: ArrayLike) -> list[FloatArray]:
    """Return the three limits of a motor's current, in the order of `LIMIT_WORDS` [A]."""
    return [
        full_duty_current(
            source_voltage=supply_of.source_voltage,
            emf=emf,
            resistance=resistance,
            path=path_resistance(supply_of),
        ),
        supply_of.stator_limit,
        supply_limited_current(emf=emf, resistance=resistance, power=supply_of.supply_power),
    ]


def motor_current(supply_of: Supply, *, emf: ArrayLike, resistance: ArrayLike) -> FloatArray:
    """Return the greatest current that the motors of a drive can carry, all alike.

    I = min(full duty, Istator, supply-limited)

    Parameters
    ----------
    supply_of : Supply
        The battery side [SI].
    emf : float or array
        kE·ω [V].
    resistance : float or array
        R of the winding [Ω].

    Returns
    -------
    array
        I [A].

    Examples
    --------
    >>> feed = supply(open_voltage=12.6, source_resistance=0.019, branch_resistance=0.006,
    ...               accessory_current=8, motor_count=4, stator_limit=90, supply_limit=50)
    >>> float(motor_current(feed, emf=0.0, resistance=0.0521739))
    89.4

    Source: own derivation, the least of three.
    """
    full, stator, limited = _three_currents(supply_of, emf, resistance)
    return np.asarray(np.minimum(np.minimum(full, stator), limited))


def limiting(supply_of: Supply, *, emf: ArrayLike, resistance: ArrayLike) -> IntArray:
    """Return which of the three limits a motor's current, as an index into `LIMIT_WORDS`.

    Parameters
    ----------
    supply_of : Supply
        The battery side [SI].
    emf : float or array
        kE·ω [V].
    resistance : float or array
        R of the winding [Ω].

    Returns
    -------
    array of int
        Index into `LIMIT_WORDS`, the first of equals.

    Examples
    --------
    >>> feed = supply(open_voltage=12.6, source_resistance=0.019, branch_resistance=0.006,
    ...               accessory_current=8, motor_count=4, stator_limit=80, supply_limit=50)
    >>> LIMIT_WORDS[int(limiting(feed, emf=0.0, resistance=0.0521739))]
    'stator limit'

    Source: own derivation, the least of three.
    """
    three = np.broadcast_arrays(*_three_currents(supply_of, emf, resistance))
    return np.asarray(np.argmin(np.stack(three), axis=0), dtype=np.int64)


def bus_current(
    *, source_voltage: ArrayLike, path: ArrayLike, motor_power: ArrayLike
) -> FloatArray:
    """Return what one of n equal motors takes from the bus.

    Lower root of Rt·Ib² − V0·Ib + P = 0, P = (kE·ω + R·I)·I; here 2P/(V0 + √(V0² − 4·Rt·P))

    Parameters
    ----------
    source_voltage : float or array
        V0 [V].
    path : float or array
        Rt [Ω].
    motor_power : float or array
        P at the motor's terminals [W], at most V0²/(4·Rt); more counts as that, and so does
        any power behind a supply that the accessories alone pull down to nothing.

    Returns
    -------
    array
        Ib [A].

    Examples
    --------
    >>> round(float(bus_current(source_voltage=12.0, path=0.05, motor_power=350.0)), 6)
    33.976747

    Source: own derivation from Ohm's law and the lossless chopper.
    """
    source = np.asarray(source_voltage, dtype=np.float64)
    power = np.asarray(motor_power, dtype=np.float64)
    inside = source * source - 4.0 * np.asarray(path, dtype=np.float64) * power
    return np.asarray(2.0 * power / np.maximum(source + np.sqrt(np.maximum(inside, 0.0)), 1e-9))


def coupled_bus_currents(
    supply_of: Supply, *, first_power: ArrayLike, second_power: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Return what a motor takes from the bus where two halves of the motors work unequally.

    Ib_j = lower root of Rw·Ib² − Vbus·Ib + P_j = 0 with Vbus = V0 − Rb·S, S = n/2·(Ib_1 + Ib_2)

    Solved for S by Newton's rule from the root without branch wiring, which lies below; the
    remainder is convex in S, so that the lower root is approached from one side.

    Parameters
    ----------
    supply_of : Supply
        The battery side; n motors, half of them in each group [SI].
    first_power, second_power : float or array
        P at the terminals of one motor of each group [W].

    Returns
    -------
    tuple of two arrays
        Bus current of one motor of each group [A].

    Examples
    --------
    >>> feed = supply(open_voltage=12.6, source_resistance=0.019, branch_resistance=0.006,
    ...               accessory_current=8, motor_count=4, stator_limit=90, supply_limit=50)
    >>> [round(float(item), 4) for item in coupled_bus_currents(feed, first_power=300.0,
    ...                                                         second_power=100.0)]
    [27.5469, 9.0899]

    Source: own derivation from Ohm's law and the lossless chopper.
    """
    first = np.asarray(first_power, dtype=np.float64)
    second = np.asarray(second_power, dtype=np.float64)
    half = supply_of.motor_count / 2.0
    main, branch, source = (
        supply_of.source_resistance,
        supply_of.branch_resistance,
        supply_of.source_voltage,
    )
    total = bus_current(source_voltage=source, path=main, motor_power=half * (first + second))
    for _ in range(60):
        at_bus = source - main * total
        one, slope_one = _branch_current(at_bus, branch, first)
        other, slope_other = _branch_current(at_bus, branch, second)
        excess = half * (one + other) - total
        slope = main * half * (slope_one + slope_other) - 1.0
        step = excess / np.where(slope < -1e-12, -slope, np.inf)
        total = total + step
        # The error after a step is of the order of its square
        if np.all(np.abs(step) <= 1e-8 * (1.0 + np.abs(total))):
            break
    at_bus = source - main * total
    one, _ = _branch_current(at_bus, branch, first)
    other, _ = _branch_current(at_bus, branch, second)
    return np.asarray(one), np.asarray(other)


def total_of_halves(
    supply_of: Supply, *, first_power: FloatArray, second_power: FloatArray
) -> FloatArray:
    """Return what all motors take where each half works at a power of its own.

    n·Ib in closed form where the halves work alike, else solved together

    Parameters
    ----------
    supply_of : Supply
        The battery side [SI].
    first_power, second_power : array
        P at the terminals of one motor of each half, of one shape [W].

    Returns
    -------
    array
        Current without the accessories, of the powers' shape [A].

    Examples
    --------
    >>> feed = supply(open_voltage=12.6, source_resistance=0.019, branch_resistance=0.006,
    ...               accessory_current=8, motor_count=4, stator_limit=90, supply_limit=50)
    >>> total_of_halves(feed, first_power=np.array([200.0, 300.0]),
    ...                 second_power=np.array([200.0, 100.0])).round(2).tolist()
    [73.06, 73.27]

    Source: own derivation from Ohm's law and the lossless chopper.
    """
    alike = bus_current(
        source_voltage=supply_of.source_voltage,
        path=path_resistance(supply_of),
        motor_power=first_power,
    )
    total = np.asarray(supply_of.motor_count * alike)
    uneven = np.abs(first_power - second_power) > _ALIKE
    if uneven.any():
        some = Supply._make(
            field if field.ndim == 0 else np.broadcast_to(field, uneven.shape)[uneven]
            for field in supply_of
        )
        one, other = coupled_bus_currents(
            some, first_power=first_power[uneven], second_power=second_power[uneven]
        )
        total[uneven] = some.motor_count / 2.0 * (one + other)
    return total


def _branch_current(
    at_bus: FloatArray, branch: FloatArray, power: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return a motor's bus current at a bus voltage, and minus its slope over that voltage."""
    root = np.sqrt(np.maximum(at_bus * at_bus - 4.0 * branch * power, 1e-18))
    current = 2.0 * power / np.maximum(at_bus + root, 1e-9)
    return current, current / root


def bus_voltage(supply_of: Supply, *, total_current: ArrayLike) -> FloatArray:
    """Return the bus voltage under a total current.

    Vbus = Voc − Rb·I

    Parameters
    ----------
    supply_of : Supply
        The battery side [SI].
    total_current : float or array
        I of all motors and the accessories [A].

    Returns
    -------
    array
        Vbus [V].

    Examples
    --------
    >>> feed = supply(open_voltage=12.7, source_resistance=0.015, branch_resistance=0.0,
    ...               accessory_current=0, motor_count=4, stator_limit=90, supply_limit=50)
    >>> round(float(bus_voltage(feed, total_current=200)), 2)
    9.7

    Source: Ohm's law.
    """
    drop = supply_of.source_resistance * np.asarray(total_current, dtype=np.float64)
    return np.asarray(supply_of.open_voltage - drop)
