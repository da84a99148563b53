"""Electric motors from four datasheet figures: constants, currents, power.

Contents
--------
MotorConstants, motor_constants: what the datasheet implies.
constants_ratio: whether the datasheet agrees with itself.
motor_torque, motor_voltage: the two equations of the motor.
peak_power, best_efficiency: two figures that datasheets print, for comparison.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]

RPM_IN_RADPS = 2.0 * np.pi / 60.0
"""One turn a minute in radians a second."""


class MotorConstants(NamedTuple):
    """A motor as the equations want it; every field broadcasts."""

    resistance: FloatArray
    """R of the winding [Ω]."""
    torque_constant: FloatArray
    """kT [N·m/A]."""
    emf_constant: FloatArray
    """kE [V·s/rad]."""
    free_current: FloatArray
    """If [A]."""
    stall_current: FloatArray
    """Is at the nominal voltage [A]."""
    free_speed: FloatArray
    """ωf at the nominal voltage [rad/s]."""
    rotor_inertia: FloatArray
    """J [kg·m²]."""


def motor_constants(
    *,
    nominal_voltage: ArrayLike,
    free_speed_rpm: ArrayLike,
    free_current: ArrayLike,
    stall_torque: ArrayLike,
    stall_current: ArrayLike,
    rotor_inertia: ArrayLike,
) -> MotorConstants:
    """Return the constants that reproduce all four datasheet figures exactly.

    R = Vn/Is, kT = Ts/(Is − If), kE = (Vn − If·R)/ωf; T = kT (I − If), V = kE·ω + R·I

    Parameters
    ----------
    nominal_voltage : float or array
        Vn at which the other figures hold [V].
    free_speed_rpm : float or array
        ωf, turning nothing [rpm].
    free_current : float or array
        If at free speed, below Is [A].
    stall_torque, stall_current : float or array
        Ts [N·m] and Is [A] at standstill.
    rotor_inertia : float or array
        J [kg·m²].

    Returns
    -------
    MotorConstants
        Arrays of the common shape.

    Raises
    ------
    OutOfRangeError
        Where the free current is not below the stall current.

    Examples
    --------
    >>> motor = motor_constants(nominal_voltage=12, free_speed_rpm=5900, free_current=2,
    ...                         stall_torque=4.2, stall_current=230, rotor_inertia=6e-5)
    >>> round(float(motor.resistance), 5), round(float(motor.torque_constant), 5)
    (0.05217, 0.01842)

    Source: the linear motor model of any text on DC machines; own arrangement.
    """
    nominal, turns, idle, torque, stall, inertia = (
        np.asarray(value, dtype=np.float64)
        for value in (
            nominal_voltage, free_speed_rpm, free_current, stall_torque, stall_current,
            rotor_inertia,
        )
    )  # fmt: skip
    if np.any(idle >= stall):
        message = (
            f"The free current lies below the stall current; {float(np.max(idle)):g} A was given "
            f"against {float(np.min(stall)):g} A."
        )
        raise OutOfRangeError(message)
    resistance = nominal / stall
    speed = turns * RPM_IN_RADPS
    return MotorConstants(
        resistance=resistance,
        torque_constant=torque / (stall - idle),
        emf_constant=(nominal - idle * resistance) / speed,
        free_current=idle,
        stall_current=stall,
        free_speed=speed,
        rotor_inertia=inertia,
    )


def constants_ratio(motor: MotorConstants) -> FloatArray:
    """Return kT/kE, near 1 where the datasheet agrees with itself.

    A lossless conversion has kT = kE; free speed with losses leaves practice at 0.9 to 1.1.

    Parameters
    ----------
    motor : MotorConstants
        Constants kT [N·m/A] and kE [V·s/rad].

    Returns
    -------
    array
        kT/kE [ratio].

    Examples
    --------
    >>> motor = motor_constants(nominal_voltage=12, free_speed_rpm=5900, free_current=2,
    ...                         stall_torque=4.2, stall_current=230, rotor_inertia=6e-5)
    >>> round(float(constants_ratio(motor)), 3)
    0.957

    Source: energy balance of the ideal machine, kE·ω·I = T·ω.
    """
    return np.asarray(motor.torque_constant / motor.emf_constant)


def motor_torque(motor: MotorConstants, current: ArrayLike) -> FloatArray:
    """Return the torque at the shaft.

    T = kT (I − If)

    Parameters
    ----------
    motor : MotorConstants
        Constants of the motor [SI].
    current : float or array
        Winding current I [A].

    Returns
    -------
    array
        T, below zero where the current does not even turn the rotor [N·m].

    Examples
    --------
    >>> motor = motor_constants(nominal_voltage=12, free_speed_rpm=5900, free_current=2,
    ...                         stall_torque=4.2, stall_current=230, rotor_inertia=6e-5)
    >>> round(float(motor_torque(motor, 230)), 6)
    4.2

    Source: the linear motor model.
    """
    return np.asarray(
        motor.torque_constant * (np.asarray(current, dtype=np.float64) - motor.free_current)
    )


def motor_voltage(motor: MotorConstants, *, speed: ArrayLike, current: ArrayLike) -> FloatArray:
    """Return the voltage across the winding.

    V = kE·ω + R·I

    Parameters
    ----------
    motor : MotorConstants
        Constants of the motor [SI].
    speed : float or array
        ω of the shaft [rad/s].
    current : float or array
        Winding current I [A].

    Returns
    -------
    array
        V [V].

    Examples
    --------
    >>> motor = motor_constants(nominal_voltage=12, free_speed_rpm=5900, free_current=2,
    ...                         stall_torque=4.2, stall_current=230, rotor_inertia=6e-5)
    >>> round(float(motor_voltage(motor, speed=motor.free_speed, current=2)), 6)
    12.0

    Source: the linear motor model.
    """
    emf = motor.emf_constant * np.asarray(speed, dtype=np.float64)
    return np.asarray(emf + motor.resistance * np.asarray(current, dtype=np.float64))


def peak_power(*, free_speed_rpm: ArrayLike, stall_torque: ArrayLike) -> FloatArray:
    """Return the greatest shaft power, at half the free speed and half the stall torque.

    P = ωf·Ts/4

    Parameters
    ----------
    free_speed_rpm : float or array
        ωf [rpm].
    stall_torque : float or array
        Ts [N·m].

    Returns
    -------
    array
        P [W].

    Examples
    --------
    >>> round(float(peak_power(free_speed_rpm=600, stall_torque=0.325)), 3)
    5.105

    Source: MIT course 2.007, "Designing with DC motors"; watts own.
    """
    speed = np.asarray(free_speed_rpm, dtype=np.float64) * RPM_IN_RADPS
    return np.asarray(speed * np.asarray(stall_torque, dtype=np.float64) / 4.0)


def best_efficiency(*, free_current: ArrayLike, stall_current: ArrayLike) -> FloatArray:
    """Return the greatest efficiency of a motor whose datasheet agrees with itself.

    η = (1 − √(If/Is))² at I = √(If·Is)

    Parameters
    ----------
    free_current, stall_current : float or array
        If and Is [A].

    Returns
    -------
    array
        η [ratio].

    Examples
    --------
    >>> round(float(best_efficiency(free_current=1, stall_current=100)), 2)
    0.81

    Source: standard motor-handbook formula, from memory; rederived.
    """
    share = np.asarray(free_current, dtype=np.float64) / np.asarray(stall_current, dtype=np.float64)
    return np.asarray((1.0 - np.sqrt(share)) ** 2)
