"""Mass, centre of gravity and yaw inertia of everything that the drive has to move.

Axes follow ISO 8855: x forward, y left, z up; the origin lies on the floor under the middle of
the frame. Every function broadcasts: a leading axis may hold poses, candidates or both.

Contents
--------
tube_mass, plate_mass: the mass of a part from its shape.
box_yaw_inertia, parallel_axis: the two terms of a part's yaw inertia.
mass_properties: what all parts add up to.
legal_mass: the mass that the event's limit counts.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]


class MassProperties(NamedTuple):
    """What a set of parts adds up to; every field has the shape of the leading axes."""

    mass: FloatArray
    """M [kg]."""
    cg_x: FloatArray
    """X, ahead of the middle of the frame [m]."""
    cg_y: FloatArray
    """Y, left of the middle line [m]."""
    cg_z: FloatArray
    """H, above the floor [m]."""
    yaw_inertia: FloatArray
    """Izz about the vertical through the centre of gravity [kg·m²]."""


def tube_mass(
    *,
    density: ArrayLike,
    width: ArrayLike,
    height: ArrayLike,
    wall: ArrayLike,
    length: ArrayLike,
) -> FloatArray:
    """Return the mass of a hollow rectangular tube with square corners.

    m = ρ·l·(w·h − (w − 2t)(h − 2t))

    Parameters
    ----------
    density : float or array
        ρ [kg/m³].
    width, height : float or array
        Outer sides w, h of the section [m].
    wall : float or array
        Thickness t [m], at most half of the smaller side (that is a solid bar).
    length : float or array
        l [m].

    Returns
    -------
    array
        Mass [kg]. Rolled tube with rounded corners is 2 to 10 % lighter than this.

    Raises
    ------
    OutOfRangeError
        Where the walls are thicker than the tube is wide.

    Examples
    --------
    >>> round(float(tube_mass(density=7850, width=0.0254, height=0.0508, wall=0.0016,
    ...                       length=0.72)), 4)
    1.3203

    Source: own derivation, the section's area; checked against a steel supplier's section table.
    """
    w, h, t = (np.asarray(value, dtype=np.float64) for value in (width, height, wall))
    smaller = np.minimum(w, h)
    if np.any(2.0 * t > smaller * (1 + 1e-12)):
        limit, given = float(np.min(smaller)) / 2, float(np.max(t))
        message = f"A wall of {given:g} m is thicker than half of the tube's side, {limit:g} m."
        raise OutOfRangeError(message)
    section = w * h - (w - 2.0 * t) * (h - 2.0 * t)
    return np.asarray(density, dtype=np.float64) * np.asarray(length, dtype=np.float64) * section


def plate_mass(
    *,
    density: ArrayLike,
    width: ArrayLike,
    length: ArrayLike,
    thickness: ArrayLike,
    solid_fraction: ArrayLike,
) -> FloatArray:
    """Return the mass of a plate of which a share is left after cutting pockets.

    m = ρ·w·l·t·φ

    Parameters
    ----------
    density : float or array
        ρ [kg/m³].
    width, length, thickness : float or array
        Sides w, l, t of the whole plate [m].
    solid_fraction : float or array
        φ, what is left of the outline's area, above 0 and at most 1 [ratio].

    Returns
    -------
    array
        Mass [kg].

    Raises
    ------
    OutOfRangeError
        Where the solid fraction lies outside 0 to 1.

    Examples
    --------
    >>> round(float(plate_mass(density=2700, width=0.5, length=0.6, thickness=0.005,
    ...                        solid_fraction=0.6)), 4)
    2.43

    Source: own derivation, volume times density.
    """
    share = np.asarray(solid_fraction, dtype=np.float64)
    if np.any((share <= 0.0) | (share > 1.0)):
        given = float(share.ravel()[np.argmax(np.abs(share.ravel() - 0.5))])
        message = f"A solid fraction lies above 0 and is at most 1; {given:g} was given."
        raise OutOfRangeError(message)
    sides = [np.asarray(value, dtype=np.float64) for value in (density, width, length, thickness)]
    return sides[0] * sides[1] * sides[2] * sides[3] * share


def box_yaw_inertia(*, mass: ArrayLike, size_x: ArrayLike, size_y: ArrayLike) -> FloatArray:
    """Return the yaw inertia of an evenly filled box about its own middle.

    I = m (sx² + sy²)/12

    Parameters
    ----------
    mass : float or array
        m [kg].
    size_x, size_y : float or array
        Sides sx (fore and aft), sy (across) of the box in plan [m].

    Returns
    -------
    array
        Yaw inertia [kg·m²].

    Examples
    --------
    >>> round(float(box_yaw_inertia(mass=50.0, size_x=0.8, size_y=0.7)), 5)
    4.70833

    Source: any mechanics text; `∫r² dm` over a rectangle.
    """
    sx, sy = np.asarray(size_x, dtype=np.float64), np.asarray(size_y, dtype=np.float64)
    return np.asarray(mass, dtype=np.float64) * (sx**2 + sy**2) / 12.0


def parallel_axis(*, inertia: ArrayLike, mass: ArrayLike, distance: ArrayLike) -> FloatArray:
    """Return the inertia about an axis at a distance from the one through the middle of mass.

    I' = I + m·d²

    Parameters
    ----------
    inertia : float or array
        I about the parallel axis through the centre of gravity [kg·m²].
    mass : float or array
        m [kg].
    distance : float or array
        d between the two axes [m].

    Returns
    -------
    array
        Inertia about the other axis [kg·m²].

    Examples
    --------
    >>> corner = float(np.hypot(0.4, 0.35))
    >>> round(float(parallel_axis(inertia=4.708333333, mass=50.0, distance=corner)), 4)
    18.8333

    Source: the parallel-axis theorem (Huygens, Steiner).
    """
    d = np.asarray(distance, dtype=np.float64)
    own, m = np.asarray(inertia, dtype=np.float64), np.asarray(mass, dtype=np.float64)
    return own + m * d**2


def mass_properties(*, masses: ArrayLike, centres: ArrayLike, sizes: ArrayLike) -> MassProperties:
    """Return mass, centre of gravity and yaw inertia of a set of parts.

    M = Σm, X = Σm·x/M (Y, H alike), Izz = Σ(m (sx² + sy²)/12 + m ((x − X)² + (y − Y)²))

    Parameters
    ----------
    masses : array, shape (…, n)
        Mass of each of n parts, its quantity multiplied in [kg].
    centres : array, shape (…, n, 3)
        Centre of each part; poses are a leading axis with the parts' offsets added [m].
    sizes : array, shape (…, n, 3)
        Box of each part, 0 where a part counts as a point [m].

    Returns
    -------
    MassProperties
        Arrays over the leading axes.

    Raises
    ------
    OutOfRangeError
        Where the parts add up to no mass.

    Examples
    --------
    >>> whole = mass_properties(masses=[2.0, 2.0], centres=[[0.1, 0, 0.2], [-0.1, 0, 0.4]],
    ...                         sizes=[[0, 0, 0], [0, 0, 0]])
    >>> float(whole.mass), round(float(whole.cg_z), 6), round(float(whole.yaw_inertia), 6)
    (4.0, 0.3, 0.04)

    Source: sums and the parallel-axis theorem; any mechanics text.
    """
    m = np.asarray(masses, dtype=np.float64)
    at, box = np.asarray(centres, dtype=np.float64), np.asarray(sizes, dtype=np.float64)
    total = np.sum(m, axis=-1)
    if np.any(total <= 0.0):
        message = f"The parts add up to {float(np.min(total)):g} kg; a mass lies above 0."
        raise OutOfRangeError(message)
    centre = np.sum(m[..., None] * at, axis=-2) / total[..., None]
    arm = at[..., :2] - centre[..., None, :2]
    own = box_yaw_inertia(mass=m, size_x=box[..., 0], size_y=box[..., 1])
    inertia = np.sum(own + m * np.sum(arm**2, axis=-1), axis=-1)
    mass = np.broadcast_to(total, inertia.shape).copy()
    return MassProperties(mass, centre[..., 0], centre[..., 1], centre[..., 2], inertia)


def legal_mass(*, masses: ArrayLike, exempt: ArrayLike) -> FloatArray:
    """Return the mass that the event's limit counts: all parts but those left out.

    Parameters
    ----------
    masses : array, shape (…, n)
        Mass of each part, its quantity multiplied in [kg].
    exempt : array of bool, shape (…, n)
        True for what the limit leaves out, such as battery and bumpers (truth).

    Returns
    -------
    array
        Legal mass over the leading axes [kg].

    Examples
    --------
    >>> float(legal_mass(masses=[40.0, 6.0, 7.0], exempt=[False, True, True]))
    40.0

    Source: the definition of the limit in the event's rules; a sum.
    """
    m = np.asarray(masses, dtype=np.float64)
    return np.asarray(np.sum(np.where(np.asarray(exempt, dtype=bool), 0.0, m), axis=-1))
