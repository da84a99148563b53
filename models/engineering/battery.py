"""A lead-acid battery: resting voltage, resistance and what it can give, by tables.

Each table carries its source. Between its points a table is a straight line; beyond its ends the
nearest value holds, unless a function says otherwise.

Contents
--------
RESTING_VOLTAGE, RESISTANCE_BY_CHARGE, RESISTANCE_BY_TEMPERATURE, CAPACITY_BY_TEMPERATURE,
HIGH_RATE: the tables.
resting_share, resistance_share, capacity_share: what charge and temperature do.
charge_at_rest: the charge that a resting voltage tells.
discharge_time, usable_capacity: how long a current lasts, one function for all currents.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


class Table(NamedTuple):
    """Points of a curve in the order of what they hang on, with their source."""

    at: tuple[float, ...]
    value: tuple[float, ...]
    source: str


RESTING_VOLTAGE = Table(
    (0.0, 0.25, 0.5, 0.75, 1.0),
    (11.89, 12.06, 12.24, 12.45, 12.65),
    "published table of a 12 V lead-acid battery at rest",
)
"""Resting voltage [V] against charge [ratio] of six cells."""

RESISTANCE_BY_CHARGE = Table(
    (0.0, 1.0),
    (1.4, 1.0),
    "published rule for lead-acid: about 40 % more when empty, rising almost in a straight line",
)
"""Resistance against that of the full battery [ratio] over charge [ratio]."""

RESISTANCE_BY_TEMPERATURE = Table(
    (-18.0, 30.0),
    (1.5, 1.0),
    "published rule for lead-acid: about 50 % more at -18 °C than at 30 °C; straight in between",
)
"""Resistance against that at 30 °C [ratio] over temperature [°C]."""

CAPACITY_BY_TEMPERATURE = Table(
    (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0),
    (0.80, 0.85, 0.88, 0.92, 0.97, 1.00, 1.05, 1.08, 1.10),
    "a battery maker's published table for discharges of less than half an hour",
)
"""Capacity against that at 25 °C [ratio] over temperature [°C]."""

HIGH_RATE = Table(
    (31.0 / 18.0, 60.0 / 18.0),
    (15.0 / 60.0, 5.0 / 60.0),
    "18 Ah absorbent-glass-mat battery to 10.5 V: 31 A 15 min, 60 A 5 min; from memory, ±10 %",
)
"""Hours that a current lasts over the current as a multiple of the capacity in an hour [1/h]."""

REFERENCE_TEMPERATURE = 25.0
"""Of figures that state none [°C]."""

VOLTAGE_PER_KELVIN = 0.0012 / 12.65
"""Share by which the resting voltage rises: about 0.2 mV a cell and kelvin, from memory [1/K]."""

PEUKERT_EXPONENT = 1.2
"""Common practice for absorbent-glass-mat batteries; no source [ratio]."""

RATED_HOURS = 20.0
"""Over which a lead-acid battery's capacity is usually rated [h]."""


def _read(table: Table, at: ArrayLike) -> FloatArray:
    return np.asarray(np.interp(np.asarray(at, dtype=np.float64), table.at, table.value))


def resting_share(*, charge: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Return the resting voltage against that of the full battery at 25 °C.

    table(charge)/table(1) · (1 + 0.000095 (T − 25 °C))

    Parameters
    ----------
    charge : float or array
        Charge, 0 empty to 1 full [ratio].
    temperature : float or array
        Temperature of the battery [°C].

    Returns
    -------
    array
        Share, 1 for a full battery at 25 °C [ratio].

    Examples
    --------
    >>> round(float(12.65 * resting_share(charge=0.5, temperature=25.0)), 2)
    12.24

    Source: `RESTING_VOLTAGE`; temperature from memory.
    """
    by_charge = _read(RESTING_VOLTAGE, charge) / RESTING_VOLTAGE.value[-1]
    warmer = np.asarray(temperature, dtype=np.float64) - REFERENCE_TEMPERATURE
    return np.asarray(by_charge * (1.0 + VOLTAGE_PER_KELVIN * warmer))


def charge_at_rest(*, voltage: ArrayLike, full_voltage: ArrayLike) -> FloatArray:
    """Return the charge that a battery's resting voltage tells, at 25 °C.

    The table of the resting voltage read backwards

    Parameters
    ----------
    voltage : float or array
        Measured after an hour or more of rest [V].
    full_voltage : float or array
        Of the same battery when full [V].

    Returns
    -------
    array
        Charge, 0 to 1 [ratio].

    Examples
    --------
    >>> round(float(charge_at_rest(voltage=12.24, full_voltage=12.65)), 3)
    0.5

    Source: `RESTING_VOLTAGE`.
    """
    share = np.asarray(voltage, dtype=np.float64) / np.asarray(full_voltage, dtype=np.float64)
    return np.asarray(
        np.interp(share * RESTING_VOLTAGE.value[-1], RESTING_VOLTAGE.value, RESTING_VOLTAGE.at)
    )


def resistance_share(*, charge: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Return the internal resistance against that of the full battery at 25 °C.

    table(charge) · table(T)/table(25 °C)

    Parameters
    ----------
    charge : float or array
        Charge, 0 empty to 1 full [ratio].
    temperature : float or array
        Temperature of the battery [°C].

    Returns
    -------
    array
        Share, 1 for a full battery at 25 °C [ratio].

    Examples
    --------
    >>> round(float(resistance_share(charge=0.5, temperature=25.0)), 3)
    1.2
    >>> round(float(resistance_share(charge=1.0, temperature=0.0)), 3)
    1.248

    Source: `RESISTANCE_BY_CHARGE`, `RESISTANCE_BY_TEMPERATURE`.
    """
    usual = float(_read(RESISTANCE_BY_TEMPERATURE, REFERENCE_TEMPERATURE))
    return _read(RESISTANCE_BY_CHARGE, charge) * (
        _read(RESISTANCE_BY_TEMPERATURE, temperature) / usual
    )


def capacity_share(*, temperature: ArrayLike) -> FloatArray:
    """Return the capacity against that at 25 °C.

    Parameters
    ----------
    temperature : float or array
        Temperature of the battery [°C].

    Returns
    -------
    array
        Share [ratio].

    Examples
    --------
    >>> float(capacity_share(temperature=10.0))
    0.88

    Source: `CAPACITY_BY_TEMPERATURE`.
    """
    return _read(CAPACITY_BY_TEMPERATURE, temperature)


def discharge_time(
    *,
    current: ArrayLike,
    capacity: ArrayLike,
    rated_hours: float = RATED_HOURS,
    exponent: float = PEUKERT_EXPONENT,
) -> FloatArray:
    """Return how long a steady current lasts.

    Up to 1 C Peukert's law in its rated form, t = H (C/(I·H))^k. Above it `HIGH_RATE`, begun at
    the law's own value at 1 C and interpolated on log axes: one exponent does not fit both.
    Beyond the table's last point the line to it goes on.

    Parameters
    ----------
    current : float or array
        I, 0 lasts for ever [A].
    capacity : float or array
        C over the rated hours [Ah].
    rated_hours : float
        H over which the capacity is rated [h].
    exponent : float
        k [ratio].

    Returns
    -------
    array
        t [h].

    Examples
    --------
    >>> round(float(discharge_time(current=10.0, capacity=100.0, exponent=1.2)), 2)
    8.71
    >>> round(60 * float(discharge_time(current=60.0, capacity=18.0)), 1)
    5.0

    Source: Peukert's law in the rated form, from memory; above 1 C the table `HIGH_RATE`.
    """
    rate = np.asarray(current, dtype=np.float64) / np.asarray(capacity, dtype=np.float64)
    some = np.maximum(rate, 1e-12)
    by_law = rated_hours * (1.0 / (some * rated_hours)) ** exponent
    at_one = rated_hours ** (1.0 - exponent)
    rates, hours = (np.log(x) for x in ((1.0, *HIGH_RATE.at), (at_one, *HIGH_RATE.value)))
    place = np.log(some)
    steepness = (hours[-1] - hours[-2]) / (rates[-1] - rates[-2])
    beyond = np.maximum(place - rates[-1], 0.0)
    by_table = np.exp(np.interp(place, rates, hours) + steepness * beyond)
    return np.asarray(np.where(rate <= 0.0, np.inf, np.where(rate <= 1.0, by_law, by_table)))


def usable_capacity(
    *,
    current: ArrayLike,
    capacity: ArrayLike,
    rated_hours: float = RATED_HOURS,
    exponent: float = PEUKERT_EXPONENT,
) -> FloatArray:
    """Return the charge that a full battery gives at a steady current.

    I·t, never more than what it is rated for

    Parameters
    ----------
    current : float or array
        I [A].
    capacity : float or array
        C over the rated hours [Ah].
    rated_hours : float
        H [h].
    exponent : float
        k [ratio].

    Returns
    -------
    array
        Charge [Ah].

    Examples
    --------
    >>> round(float(usable_capacity(current=60.0, capacity=18.0)), 2)
    5.0

    Source: `discharge_time`.
    """
    drawn = np.asarray(current, dtype=np.float64)
    lasts = discharge_time(
        current=drawn, capacity=capacity, rated_hours=rated_hours, exponent=exponent
    )
    rated = np.asarray(capacity, dtype=np.float64)
    given = np.where(drawn > 0.0, drawn * np.where(drawn > 0.0, lasts, 0.0), rated)
    return np.asarray(np.minimum(given, rated))
