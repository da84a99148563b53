"""Which ramp the underside of a robot clears: approach, departure and break-over angle.

A ramp is a straight slope with a sharp foot and a sharp crest. Wheels are circles that touch it.

Contents
--------
clear_angle: the steepest slope that a wheel can meet before a point ahead of it touches.
breakover_angle: the sharpest crest that passes between two wheels.
Breakover, axle_breakover: the least over neighbouring axles, with dropped wheels.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


class Breakover(NamedTuple):
    """The sharpest crest that passes under the robot."""

    angle: FloatArray
    """Change of slope at the crest [rad]."""
    without_centre: FloatArray
    """The same with the first and last axle alone [rad]."""


def clear_angle(*, overhang: ArrayLike, height: ArrayLike, wheel_radius: ArrayLike) -> FloatArray:
    """Return the steepest slope that a wheel can touch before a point ahead of it does.

    The slope is the tangent from the point to the underside of the wheel's circle: with
    b = r − z, R = √(a² + b²): φ = asin(r/R) − atan2(b, a); π/2 where the point lies inside the
    wheel or the tangent is steeper.

    Parameters
    ----------
    overhang : float or array
        a, how far the point lies ahead of the wheel's axle [m].
    height : float or array
        z of the point above the floor on which the wheel stands [m].
    wheel_radius : float or array
        r [m].

    Returns
    -------
    array
        φ, at most π/2 [rad].

    Examples
    --------
    >>> round(float(np.degrees(clear_angle(overhang=0.1, height=0.05, wheel_radius=0.05))), 4)
    30.0

    Source: own derivation, tangent from a point to a circle.
    """
    ahead, z, r = (np.asarray(item, dtype=np.float64) for item in (overhang, height, wheel_radius))
    below = r - z
    away = np.hypot(ahead, below)
    outside = away > r
    share = np.where(outside, r / np.where(outside, away, 1.0), 1.0)
    angle = np.arcsin(share) - np.arctan2(below, ahead)
    return np.asarray(np.where(outside, np.minimum(angle, np.pi / 2.0), np.pi / 2.0))


def breakover_angle(*, gap: ArrayLike, belly: ArrayLike, wheel_radius: ArrayLike) -> FloatArray:
    """Return the sharpest crest between two wheels that does not touch a flat belly.

    A crest rises highest midway between the wheels. There each wheel's slope is the tangent from
    the middle of the belly to its circle: φ = 2·ψ, ψ the clear angle of a point at z = h that
    lies a = l/2 from the axle. That is l/2·tan ψ − r (1/cos ψ − 1) = h.

    Parameters
    ----------
    gap : float or array
        l between the two axles [m].
    belly : float or array
        h above the floor [m].
    wheel_radius : float or array
        r [m].

    Returns
    -------
    array
        φ, the change of slope at the crest, at most π/2 [rad].

    Examples
    --------
    >>> crest = breakover_angle(gap=0.56, belly=0.04, wheel_radius=0.05)
    >>> round(float(np.degrees(crest)), 3)
    16.469

    Source: own derivation; for r = 0 it is 2·atan(2h/l), the usual ramp break-over angle.
    """
    half = np.asarray(gap, dtype=np.float64) / 2.0
    one = clear_angle(overhang=half, height=belly, wheel_radius=wheel_radius)
    return np.asarray(np.minimum(2.0 * one, np.pi / 2.0))


def axle_breakover(
    *, positions: ArrayLike, drops: ArrayLike, belly: ArrayLike, wheel_radius: ArrayLike
) -> Breakover:
    """Return the sharpest crest that passes under a robot on several axles.

    The least of `breakover_angle` over neighbouring axles i, j, each with the belly's height
    over the line on which those two stand: h − (zi + zj)/2, zi how high a wheel hangs over the
    floor while the robot rests on its dropped wheels. The drop also tilts that line by a fraction
    of a degree, which is left out.

    Parameters
    ----------
    positions : array, shape (…, k)
        Axles from the front backwards [m].
    drops : array, shape (…, k)
        zi of each axle's wheels, 0 where they touch the floor [m].
    belly : float or array, shape (…)
        h above the floor [m].
    wheel_radius : float or array, shape (…)
        r [m].

    Returns
    -------
    Breakover
        With all axles, and with the first and last alone.

    Examples
    --------
    >>> crest = axle_breakover(positions=[0.28, 0, -0.28], drops=[0, 0, 0], belly=0.04,
    ...                        wheel_radius=0.05)
    >>> [round(float(np.degrees(one)), 2) for one in crest]
    [33.57, 16.47]

    Source: own derivation.
    """
    at, hang = (np.asarray(item, dtype=np.float64) for item in (positions, drops))
    h, r = (np.asarray(item, dtype=np.float64)[..., None] for item in (belly, wheel_radius))
    each = breakover_angle(
        gap=at[..., :-1] - at[..., 1:],
        belly=np.maximum(h - (hang[..., :-1] + hang[..., 1:]) / 2.0, 0.0),
        wheel_radius=r,
    )
    ends = breakover_angle(
        gap=(at[..., :1] - at[..., -1:]),
        belly=np.maximum(h - (hang[..., :1] + hang[..., -1:]) / 2.0, 0.0),
        wheel_radius=r,
    )
    return Breakover(np.asarray(np.min(each, axis=-1)), np.asarray(ends[..., 0]))
