"""Cables: resistance by gauge, length and temperature, what they drop, and what they stand.

Contents
--------
wire_diameter, wire_area: of a gauge.
loop_resistance: of a cable there and back.
heat_per_metre: what warms it.
FREE_AIR_AMPERES, steady_current: what it carries for ever.
time_to_temperature: how long it carries more than that.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

COPPER_20 = 1.0 / 58.0
"""Resistivity of annealed copper at 20 °C, the international standard (IEC 60028) [Ω·mm²/m]."""

COPPER_PER_KELVIN = 0.00393
"""By which it rises for each kelvin, of that at 20 °C (IEC 60028) [1/K]."""

COPPER_HEAT = 3.45
"""Heat that warms copper by a kelvin: density 8.96 g/cm³ times 0.385 J/(g·K) [J/(K·cm³)]."""

INSULATION_LIMIT = 90.0
"""Which common wire insulation stands for long (National Electrical Code, 90 °C column) [°C]."""

AIR = 30.0
"""Of the air around it in the table of currents [°C]."""

FREE_AIR_AMPERES: tuple[tuple[int, float], ...] = (
    (18, 18.0), (16, 24.0), (14, 35.0), (12, 40.0), (10, 55.0), (8, 80.0), (6, 105.0),
    (4, 140.0), (2, 190.0), (1, 220.0), (0, 260.0),
)  # fmt: skip
"""Steady current of a single copper wire in free air of 30 °C with insulation for 90 °C, by gauge:
National Electrical Code, table 310.17 (310.15(B)(17) in some years); 18 and 16 from the 90 °C
column of table 310.16. From memory [AWG, A]."""


def wire_diameter(*, gauge: ArrayLike) -> FloatArray:
    """Return the diameter of a solid wire of an American gauge.

    d = 0.127 mm · 92^((36 − n)/39)

    Parameters
    ----------
    gauge : int or array
        n; 0 is 1/0 [AWG].

    Returns
    -------
    array
        d [mm].

    Examples
    --------
    >>> round(float(wire_diameter(gauge=12)), 4)
    2.0525

    Source: ASTM B258.
    """
    return np.asarray(0.127 * 92.0 ** ((36.0 - np.asarray(gauge, dtype=np.float64)) / 39.0))


def wire_area(*, gauge: ArrayLike) -> FloatArray:
    """Return the copper area of a solid wire of an American gauge.

    π·d²/4

    Parameters
    ----------
    gauge : int or array
        n; 0 is 1/0 [AWG].

    Returns
    -------
    array
        Area [mm²].

    Examples
    --------
    >>> round(float(wire_area(gauge=12)), 4)
    3.3088

    Source: ASTM B258.
    """
    return np.asarray(np.pi / 4.0 * wire_diameter(gauge=gauge) ** 2)


def loop_resistance(*, area: ArrayLike, length: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Return the resistance of a copper cable there and back.

    R = ρ·2·length/area, ρ = (1/58)·(1 + 0.00393 (T − 20 °C)) Ω·mm²/m

    Parameters
    ----------
    area : float or array
        Of one lead's copper [mm²].
    length : float or array
        One way [m].
    temperature : float or array
        T of the copper [°C].

    Returns
    -------
    array
        R [Ω].

    Examples
    --------
    >>> drop = 40.0 * loop_resistance(area=wire_area(gauge=12), length=2.0, temperature=20.0)
    >>> round(float(drop), 4)
    0.8337

    Source: International Annealed Copper Standard, IEC 60028.
    """
    warmer = np.asarray(temperature, dtype=np.float64) - 20.0
    resistivity = COPPER_20 * (1.0 + COPPER_PER_KELVIN * warmer)
    both = 2.0 * np.asarray(length, dtype=np.float64)
    return np.asarray(resistivity * both / np.asarray(area, dtype=np.float64))


def heat_per_metre(*, current: ArrayLike, area: ArrayLike, temperature: ArrayLike) -> FloatArray:
    """Return what a current heats one lead with, for each metre of it.

    P = I²·ρ/area

    Parameters
    ----------
    current : float or array
        I; of a changing one its root mean square [A].
    area : float or array
        Of the lead's copper [mm²].
    temperature : float or array
        Of the copper [°C].

    Returns
    -------
    array
        P [W/m].

    Examples
    --------
    >>> round(float(heat_per_metre(current=40.0, area=3.3088, temperature=20.0)), 2)
    8.34

    Source: Joule's law.
    """
    one_metre = loop_resistance(area=area, length=0.5, temperature=temperature)
    return np.asarray(np.asarray(current, dtype=np.float64) ** 2 * one_metre)


def steady_current(*, area: ArrayLike) -> FloatArray:
    """Return what a single wire in free air carries for ever.

    `FREE_AIR_AMPERES` over the copper area, straight lines on log axes; beyond its ends the lines
    go on.

    Parameters
    ----------
    area : float or array
        Copper area [mm²].

    Returns
    -------
    array
        Current [A].

    Examples
    --------
    >>> round(float(steady_current(area=wire_area(gauge=12))), 1)
    40.0

    Source: the table, from memory.
    """
    gauges, amperes = (np.array(column, dtype=np.float64) for column in zip(
        *FREE_AIR_AMPERES, strict=True
    ))  # fmt: skip
    places, values = np.log(wire_area(gauge=gauges)), np.log(amperes)
    at = np.log(np.asarray(area, dtype=np.float64))
    inside = np.interp(at, places, values)
    below = (values[1] - values[0]) / (places[1] - places[0]) * np.minimum(at - places[0], 0.0)
    above = (values[-1] - values[-2]) / (places[-1] - places[-2])
    return np.asarray(np.exp(inside + below + above * np.maximum(at - places[-1], 0.0)))


def time_to_temperature(
    *, current: ArrayLike, area: ArrayLike, start: ArrayLike, limit: ArrayLike
) -> FloatArray:
    """Return how long a current takes to heat a wire that gives nothing to the air.

    t = (k·A/I)², k² = c·(T0 + 20)/ρ20 · ln((limit + T0)/(start + T0)), T0 + 20 = 1/0.00393 K.
    Real wires last longer, since they do cool; above a few times the steady current the
    difference is small.

    Parameters
    ----------
    current : float or array
        I [A].
    area : float or array
        Copper area [mm²].
    start, limit : float or array
        Temperature at the beginning and at the end [°C].

    Returns
    -------
    array
        t [s].

    Examples
    --------
    >>> round(float(time_to_temperature(current=80.0, area=3.3088, start=30.0, limit=90.0)), 1)
    17.8

    Source: adiabatic heating, the equation of IEC 60364-5-54; own constants of copper.
    """
    offset = 1.0 / COPPER_PER_KELVIN - 20.0
    warm = np.log(
        (np.asarray(limit, dtype=np.float64) + offset)
        / (np.asarray(start, dtype=np.float64) + offset)
    )
    factor = COPPER_HEAT / (COPPER_20 * COPPER_PER_KELVIN) * warm
    density = np.asarray(current, dtype=np.float64) / np.asarray(area, dtype=np.float64)
    return np.asarray(factor / np.maximum(density, 1e-9) ** 2)
