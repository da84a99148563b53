"""Where the wheels touch the floor and where the modules stand.

A module's envelope is drawn once, for the front-left corner, about the wheel's contact point
(x forward, y left), and mirrored to the other corners. Insets move a corner's wheel and module
inwards, whichever corner it is. Corners are always in the order of `CORNERS`.

Contents
--------
CORNERS, CORNER_SIGNS: the four corners and the directions in which they lie.
corner_contacts, axle_contacts: contact points of four corners, of axles over a wheelbase.
Footprint, footprint, axle_distances: effective wheelbase, track and the axles' distances.
corner_outline: a front-left outline mirrored to a corner.
"""

from __future__ import annotations

from typing import Literal, NamedTuple, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]
Corner = Literal["front_left", "front_right", "rear_left", "rear_right"]

CORNERS: tuple[Corner, ...] = get_args(Corner)
"""The corners in the order that every array here keeps."""

CORNER_SIGNS: FloatArray = np.array([[1.0, 1.0], [1.0, -1.0], [-1.0, 1.0], [-1.0, -1.0]])
"""Direction of each corner from the middle: (forward, left)."""
CORNER_SIGNS.setflags(write=False)


class Footprint(NamedTuple):
    """The rectangle that stands for four contact points; every field is over the leading axes."""

    wheelbase: FloatArray
    """L, between the axles' mean positions [m]."""
    track: FloatArray
    """Tr, the mean of the front and rear axle's track [m]."""
    front_x: FloatArray
    """Mean position of the front axle's wheels, x [m]."""
    rear_x: FloatArray
    """Mean position of the rear axle's wheels, x [m]."""


class AxleDistances(NamedTuple):
    """How far the axles lie from the centre of gravity, along x."""

    front: FloatArray
    """xf, to the front axle [m]."""
    rear: FloatArray
    """xr, to the rear axle [m]."""


def corner_contacts(
    *, wheelbase: ArrayLike, track: ArrayLike, insets: ArrayLike | None = None
) -> FloatArray:
    """Return the contact points of the four corner wheels.

    (x, y) = (sx·(L/2 − ix), sy·(Tr/2 − iy)) with the corner's signs sx, sy

    Parameters
    ----------
    wheelbase, track : float or array, shape (…)
        Sides L, Tr of the rectangle before any inset [m].
    insets : array, shape (…, 4, 2), optional
        How far each corner is moved inwards along x and y; none where left out [m].

    Returns
    -------
    array, shape (…, 4, 2)
        Contact points in the order of `CORNERS` [m].

    Raises
    ------
    OutOfRangeError
        Where an inset moves a wheel to the middle line or past it.

    Examples
    --------
    >>> corner_contacts(wheelbase=0.6, track=0.5)[1].tolist()
    [0.3, -0.25]

    Source: own definition.
    """
    half = np.stack(
        np.broadcast_arrays(
            np.asarray(wheelbase, dtype=np.float64) / 2.0, np.asarray(track, dtype=np.float64) / 2.0
        ),
        axis=-1,
    )[..., None, :]
    inward = np.zeros((4, 2)) if insets is None else np.asarray(insets, dtype=np.float64)
    reach = half - inward
    if np.any(reach <= 0.0):
        message = (
            "An inset of a corner must stay below half of the wheelbase and half of the track; "
            f"{float(np.max(inward)):g} m moves a wheel past the middle."
        )
        raise OutOfRangeError(message)
    return np.asarray(CORNER_SIGNS * reach)


def axle_contacts(*, axle_count: int, wheelbase: ArrayLike, track: ArrayLike) -> FloatArray:
    """Return the contact points of wheels on evenly spaced axles, two wheels each.

    x_i = L/2 − i·L/(k − 1) for i = 0 … k − 1 from the front; y = ±Tr/2, left first

    Parameters
    ----------
    axle_count : int
        k, at least 2 [axles].
    wheelbase : float or array, shape (…)
        L, from the first to the last axle [m].
    track : float or array, shape (…)
        Tr [m].

    Returns
    -------
    array, shape (…, 2k, 2)
        Contact points: front axle left, front axle right, next axle left … [m].

    Raises
    ------
    OutOfRangeError
        With fewer than two axles.

    Examples
    --------
    >>> axle_contacts(axle_count=3, wheelbase=0.6, track=0.5)[2].tolist()
    [0.0, 0.25]

    Source: own definition.
    """
    if axle_count < 2:
        message = f"A robot stands on at least 2 axles; {axle_count} was given."
        raise OutOfRangeError(message)
    along = np.repeat(np.linspace(0.5, -0.5, axle_count), 2)
    across = np.tile([0.5, -0.5], axle_count)
    length = np.asarray(wheelbase, dtype=np.float64)[..., None]
    width = np.asarray(track, dtype=np.float64)[..., None]
    return np.stack(np.broadcast_arrays(along * length, across * width), axis=-1)


def footprint(contacts: ArrayLike) -> Footprint:
    """Return the effective wheelbase and track of four contact points.

    L = x̄f − x̄r with the axles' mean positions; Tr = ((yfl − yfr) + (yrl − yrr))/2

    Parameters
    ----------
    contacts : array, shape (…, 4, 2)
        Contact points in the order of `CORNERS` [m].

    Returns
    -------
    Footprint
        Arrays over the leading axes.

    Examples
    --------
    >>> print_of = footprint([[0.3, 0.2], [0.26, -0.25], [-0.3, 0.25], [-0.3, -0.25]])
    >>> round(float(print_of.wheelbase), 6), round(float(print_of.track), 6)
    (0.58, 0.475)

    Source: own definition, the mean of each axle.
    """
    at = np.asarray(contacts, dtype=np.float64)
    front = (at[..., 0, 0] + at[..., 1, 0]) / 2.0
    rear = (at[..., 2, 0] + at[..., 3, 0]) / 2.0
    tracks = (at[..., 0, 1] - at[..., 1, 1]) + (at[..., 2, 1] - at[..., 3, 1])
    return Footprint(np.asarray(front - rear), np.asarray(tracks / 2.0), front, rear)


def axle_distances(*, front_x: ArrayLike, rear_x: ArrayLike, cg_x: ArrayLike) -> AxleDistances:
    """Return how far the front and rear axle lie from the centre of gravity.

    xf = x̄f − X, xr = X − x̄r; below zero where the centre of gravity lies outside the axles

    Parameters
    ----------
    front_x, rear_x : float or array
        Mean positions x̄f, x̄r of the axles [m].
    cg_x : float or array
        X of the centre of gravity; poses may be an axis of it [m].

    Returns
    -------
    AxleDistances
        xf and xr [m].

    Examples
    --------
    >>> [round(float(d), 6) for d in axle_distances(front_x=0.3, rear_x=-0.3, cg_x=0.02)]
    [0.28, 0.32]

    Source: own definition.
    """
    x = np.asarray(cg_x, dtype=np.float64)
    return AxleDistances(
        np.asarray(np.asarray(front_x, dtype=np.float64) - x),
        np.asarray(x - np.asarray(rear_x, dtype=np.float64)),
    )


def corner_outline(*, outline: ArrayLike, corner: Corner, contact: ArrayLike) -> FloatArray:
    """Return a front-left module outline mirrored to a corner and set at its contact point.

    (x, y) → contact + (sx·x, sy·y) with the corner's signs sx, sy

    Parameters
    ----------
    outline : array, shape (…, k, 2)
        Plan outline about the wheel's contact point, drawn for the front-left corner [m].
    corner : str
        One of `CORNERS` (word).
    contact : array, shape (…, 2)
        That corner's contact point [m].

    Returns
    -------
    array, shape (…, k, 2)
        Outline in robot coordinates [m].

    Examples
    --------
    >>> corner_outline(outline=[[-0.1, 0.05]], corner="rear_left",
    ...                contact=[-0.25, 0.25]).round(6).tolist()
    [[-0.15, 0.3]]

    Source: own definition, a mirror image.
    """
    signs = CORNER_SIGNS[CORNERS.index(corner)]
    at = np.asarray(contact, dtype=np.float64)[..., None, :]
    return np.asarray(at + signs * np.asarray(outline, dtype=np.float64))
