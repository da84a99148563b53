"""Tests that a team makes with a plank, scales, a tape and a meter, and what they tell.

Contents
--------
Reading: a value between the least and the greatest that the readings allow.
tilt_grip: from the angle at which a braked robot slides.
WheelLoads, balance_on_scales: mass and centre of gravity in plan from the loads under the wheels.
height_from_tilt: its height, from the loads with the front raised.
speed_from_tape, braking_from_tape: from a length and a time, or a length to stop.
battery_from_loads: open-circuit voltage and resistance from two loads.
track_from_turns, track_from_time: effective track from a spin on the spot.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import STANDARD_GRAVITY
from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]


class Reading(NamedTuple):
    """A figure and between what it lies when every reading errs by what it may."""

    value: FloatArray
    low: FloatArray
    high: FloatArray


class WheelLoads(NamedTuple):
    """What scales under the wheels tell."""

    mass: Reading
    """M [kg]."""
    forward: Reading
    """X of the centre of gravity, ahead of the middle of the wheels [m]."""
    left: Reading
    """Y of it [m]."""


def _array(value: ArrayLike) -> FloatArray:
    return np.asarray(value, dtype=np.float64)


def tilt_grip(*, angle: ArrayLike, error: ArrayLike = 0.0) -> Reading:
    """Return the grip of a robot with braked wheels from the slope at which it begins to slide.

    μ = tan θ, whatever the mass and wherever it lies

    Parameters
    ----------
    angle : float or array
        θ of the slope [rad].
    error : float or array
        By how much the angle may be wrong either way [rad].

    Returns
    -------
    Reading
        μ at the edge of sliding [ratio].

    Examples
    --------
    >>> round(float(tilt_grip(angle=0.7853981633974483).value), 6)
    1.0

    Source: Coulomb's law on an incline, in any text on mechanics.
    """
    slope, wrong = _array(angle), _array(error)
    least = np.maximum(slope - wrong, 0.0)
    most = np.minimum(slope + wrong, 1.55)
    return Reading(np.tan(slope), np.tan(least), np.tan(most))


def balance_on_scales(
    *, loads: ArrayLike, forward: ArrayLike, left: ArrayLike, error: ArrayLike = 0.0
) -> WheelLoads:
    """Return mass and centre of gravity in plan from the loads under four or six wheels.

    M = Σ m, X = Σ m·x/M, Y = Σ m·y/M

    Every scale may err by the same amount, each for itself: errors add as squares. By the rule of
    propagation X is off by e·√(Σ (x − X)²)/M.

    Parameters
    ----------
    loads : array
        Reading of each scale, wheels along the last axis [kg].
    forward, left : array
        Where each wheel touches, from the middle of the wheels [m].
    error : float or array
        By how much one scale may be wrong either way [kg].

    Returns
    -------
    WheelLoads
        Mass, X and Y with their ranges [kg, m].

    Raises
    ------
    OutOfRangeError
        Where the scales carry nothing.

    Examples
    --------
    >>> found = balance_on_scales(loads=[15, 15, 10, 10], forward=[0.3, 0.3, -0.3, -0.3],
    ...                           left=[0.25, -0.25, 0.25, -0.25])
    >>> float(found.mass.value), round(float(found.forward.value), 6)
    (50.0, 0.06)

    Source: balance of moments; error propagation by the Guide to the Expression of Uncertainty
    in Measurement (JCGM 100:2008), 5.1.2.
    """
    carried, ahead, aside = _array(loads), _array(forward), _array(left)
    whole = np.sum(carried, axis=-1)
    if np.any(whole <= 0.0):
        raise OutOfRangeError("The scales carry nothing; type what each of them reads.")
    wrong = _array(error)
    count = carried.shape[-1]
    mass_error = wrong * np.sqrt(count)

    def centre(places: FloatArray) -> Reading:
        middle = np.sum(carried * places, axis=-1) / whole
        off = wrong * np.sqrt(np.sum((places - middle[..., None]) ** 2, axis=-1)) / whole
        return Reading(middle, middle - off, middle + off)

    return WheelLoads(
        Reading(whole, whole - mass_error, whole + mass_error), centre(ahead), centre(aside)
    )


def height_from_tilt(
    *,
    mass: ArrayLike,
    front_level: ArrayLike,
    front_raised: ArrayLike,
    wheelbase: ArrayLike,
    rise: ArrayLike,
    wheel_radius: ArrayLike,
    error: ArrayLike = 0.0,
) -> Reading:
    """Return the height of the centre of gravity from the front's load, level and raised.

    sin α = rise/L, H = r + L·(mf − mf')/(M·tan α)

    Parameters
    ----------
    mass : float or array
        M, all wheels together, level [kg].
    front_level, front_raised : float or array
        mf and mf' under the front axle; raised stands on blocks, the rear on scales' height [kg].
    wheelbase : float or array
        L from the front to the rear axle [m].
    rise : float or array
        How much higher the front wheels stand [m].
    wheel_radius : float or array
        r of round wheels that roll freely [m].
    error : float or array
        By how much each axle's reading may be wrong either way [kg].

    Returns
    -------
    Reading
        H over the floor [m].

    Raises
    ------
    OutOfRangeError
        Where the blocks are higher than the wheelbase is long, or there are none.

    Examples
    --------
    >>> found = height_from_tilt(mass=50, front_level=25, front_raised=22, wheelbase=0.6,
    ...                          rise=0.15, wheel_radius=0.05)
    >>> round(float(found.value), 4)
    0.1894

    Source: balance of moments about the rear contact; the method of any text on statics, such as
    R. C. Hibbeler, Engineering Mechanics: Statics, chapter on the centre of gravity.
    """
    base, high = _array(wheelbase), _array(rise)
    if np.any((high <= 0.0) | (high >= base)):
        raise OutOfRangeError("The blocks are higher than 0 and lower than the wheelbase is long.")
    slope = np.tan(np.arcsin(high / base))
    lever = base / (_array(mass) * slope)
    shifted = _array(front_level) - _array(front_raised)
    off = np.sqrt(2.0) * _array(error) * lever
    height = _array(wheel_radius) + lever * shifted
    return Reading(height, height - off, height + off)


def speed_from_tape(*, length: ArrayLike, time: ArrayLike, time_error: ArrayLike = 0.0) -> Reading:
    """Return the mean speed over a taped length.

    v = s/t

    Parameters
    ----------
    length : float or array
        s between the marks [m].
    time : float or array
        t from mark to mark [s].
    time_error : float or array
        By how much the time may be wrong either way [s].

    Returns
    -------
    Reading
        v; its top is infinite where the error is as long as the time [m/s].

    Examples
    --------
    >>> found = speed_from_tape(length=4.0, time=1.0, time_error=0.2)
    >>> round(float(found.low), 3), float(found.value), float(found.high)
    (3.333, 4.0, 5.0)

    Source: the definition of a mean speed.
    """
    way, taken, wrong = _array(length), _array(time), _array(time_error)
    least = taken - wrong
    most = np.where(least > 0.0, way / np.where(least > 0.0, least, 1.0), np.inf)
    return Reading(way / taken, way / (taken + wrong), most)


def braking_from_tape(
    *, speed: Reading, length: ArrayLike, length_error: ArrayLike = 0.0
) -> Reading:
    """Return the mean braking from a speed and the length to standstill.

    a = v²/(2·s)

    Parameters
    ----------
    speed : Reading
        v at the line where braking begins [m/s].
    length : float or array
        s from that line to standstill [m].
    length_error : float or array
        By how much it may be wrong either way [m].

    Returns
    -------
    Reading
        a [m/s²].

    Examples
    --------
    >>> four = speed_from_tape(length=4.0, time=1.0)
    >>> float(braking_from_tape(speed=four, length=1.0).value)
    8.0

    Source: uniform deceleration, in any text on mechanics.
    """
    way, wrong = _array(length), _array(length_error)
    least = way - wrong
    most = np.where(least > 0.0, speed.high**2 / (2.0 * np.where(least > 0.0, least, 1.0)), np.inf)
    return Reading(speed.value**2 / (2.0 * way), speed.low**2 / (2.0 * (way + wrong)), most)


def battery_from_loads(
    *,
    first_voltage: ArrayLike,
    first_current: ArrayLike,
    second_voltage: ArrayLike,
    second_current: ArrayLike,
    voltage_error: ArrayLike = 0.0,
    current_share: ArrayLike = 0.0,
) -> tuple[Reading, Reading]:
    """Return a battery's resistance and open-circuit voltage from a light and a heavy load.

    R = (V1 − V2)/(I2 − I1), V0 = V1 + R·I1

    Parameters
    ----------
    first_voltage, second_voltage : float or array
        V1 under the light load, V2 under the heavy one, at the battery's posts [V].
    first_current, second_current : float or array
        I1 and I2, the second one greater [A].
    voltage_error : float or array
        By how much each voltage may be wrong either way [V].
    current_share : float or array
        By which share the difference of the currents may be wrong either way [ratio].

    Returns
    -------
    (Reading, Reading)
        R [Ω] and V0 [V].

    Raises
    ------
    OutOfRangeError
        Where the second current is not the greater one.

    Examples
    --------
    >>> ohms, volts = battery_from_loads(first_voltage=12.6, first_current=5.0,
    ...                                  second_voltage=12.0, second_current=45.0)
    >>> round(float(ohms.value), 6), round(float(volts.value), 6)
    (0.015, 12.675)

    Source: own derivation from V = V0 − R·I.
    """
    light, heavy = _array(first_current), _array(second_current)
    if np.any(heavy <= light):
        raise OutOfRangeError("The second current is greater than the first one.")
    drop = _array(first_voltage) - _array(second_voltage)
    wrong, share = 2.0 * _array(voltage_error), _array(current_share)
    more = heavy - light
    ohms = Reading(
        drop / more,
        np.maximum(drop - wrong, 0.0) / (more * (1.0 + share)),
        (drop + wrong) / (more * (1.0 - share)),
    )
    start = _array(first_voltage)
    volts = Reading(
        start + ohms.value * light,
        start - wrong / 2.0 + ohms.low * light,
        start + wrong / 2.0 + ohms.high * light,
    )
    return ohms, volts


def track_from_turns(
    *, wheel_turns: ArrayLike, wheel_diameter: ArrayLike, turns: ArrayLike,
    turn_error: ArrayLike = 0.0, wheel_error: ArrayLike = 0.0,
) -> Reading:  # fmt: skip
    """Return the effective track from how often a wheel turns while the robot turns on the spot.

    Each side rolls π·d·w on a circle of half the track: Te = d·w/N

    Parameters
    ----------
    wheel_turns : float or array
        w of one wheel, mean of both sides [turns].
    wheel_diameter : float or array
        d [m].
    turns : float or array
        N of the robot [turns].
    turn_error, wheel_error : float or array
        By how much N and w may be wrong either way [turns].

    Returns
    -------
    Reading
        Te [m].

    Examples
    --------
    >>> float(track_from_turns(wheel_turns=80.0, wheel_diameter=0.1, turns=10.0).value)
    0.8

    Source: own derivation from rolling; 2/γ of the skid turn.
    """
    rolled, count = _array(wheel_turns), _array(turns)
    off, wrong = _array(wheel_error), _array(turn_error)
    across = _array(wheel_diameter)
    least = count - wrong
    most = np.where(
        least > 0.0, across * (rolled + off) / np.where(least > 0.0, least, 1.0), np.inf
    )
    low = across * np.maximum(rolled - off, 0.0) / (count + wrong)
    return Reading(across * rolled / count, low, most)


def track_from_time(
    *, surface_speed: ArrayLike, time: ArrayLike, turns: ArrayLike,
    time_error: ArrayLike = 0.0, speed_share: ArrayLike = 0.0,
) -> Reading:  # fmt: skip
    """Return the effective track from the time of a steady spin at a known wheel speed.

    Te = 2·u/ω = u·t/(π·N)

    Parameters
    ----------
    surface_speed : float or array
        u at which the wheels of both sides run, one forward, one back [m/s].
    time : float or array
        t for the turns, counted once the spin is steady [s].
    turns : float or array
        N [turns].
    time_error : float or array
        By how much the time may be wrong either way [s].
    speed_share : float or array
        By which share the wheel speed may be wrong either way [ratio].

    Returns
    -------
    Reading
        Te [m].

    Examples
    --------
    >>> round(float(track_from_time(surface_speed=2.0, time=10.0, turns=8.0).value), 4)
    0.7958

    Source: own derivation from rolling; 2/γ of the skid turn.
    """
    speed, taken, count = _array(surface_speed), _array(time), np.pi * _array(turns)
    wrong, share = _array(time_error), _array(speed_share)
    return Reading(
        speed * taken / count,
        speed * (1.0 - share) * np.maximum(taken - wrong, 0.0) / count,
        speed * (1.0 + share) * (taken + wrong) / count,
    )


def grip_at_least(braking: ArrayLike) -> FloatArray:
    """Return the grip that a measured braking needs at least.

    μ ≥ a/g

    Parameters
    ----------
    braking : float or array
        a [m/s²].

    Returns
    -------
    array
        Least μ [ratio].

    Examples
    --------
    >>> float(grip_at_least(9.80665))
    1.0

    Source: Coulomb's law, all wheels braking.
    """
    return np.asarray(_array(braking) / STANDARD_GRAVITY)
