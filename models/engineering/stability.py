"""When the robot tips over: driving off, braking and sideways, over all poses.

Contents
--------
side_reach: distance from the centre of gravity to the nearer side edge.
TipLimits, tip_limits: the three tip-over accelerations.
Worst, worst_pose: the least over the poses and where it stands.
support_polygon: the outline of the contact points.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STANDARD_GRAVITY = 9.80665
"""g [m/s²], exact by definition (CGPM 1901)."""


class TipLimits(NamedTuple):
    """Accelerations at which one side lifts; below zero it topples where it stands."""

    forward: FloatArray
    """Driving off: the front lifts [m/s²]."""
    brake: FloatArray
    """Braking: the rear lifts [m/s²]."""
    side: FloatArray
    """Sideways: the left or right wheels lift [m/s²]."""


class Worst(NamedTuple):
    """The least value over the poses and the index of the pose it belongs to."""

    value: FloatArray
    pose: IntArray


def side_reach(*, contacts: ArrayLike, cg_x: ArrayLike, cg_y: ArrayLike) -> FloatArray:
    """Return how far, across, the centre of gravity lies from the nearer side edge.

    The side edges join front left to rear left and front right to rear right; at X the left one
    lies at yl(X), the right one at yr(X): d = min(yl(X) − Y, Y − yr(X)). An acceleration straight
    sideways tips about a slanting edge when g·d_perp = a·cos(slant)·H; since d_perp =
    d·cos(slant), the distance across is what counts, whatever the slant. For a rectangle
    d = Tr/2 − |Y|.

    Parameters
    ----------
    contacts : array, shape (…, 4, 2)
        Contact points: front left, front right, rear left, rear right [m].
    cg_x, cg_y : float or array, shape (…)
        X, Y of the centre of gravity [m].

    Returns
    -------
    array
        d, below zero where the centre of gravity lies outside the wheels [m].

    Examples
    --------
    >>> box = [[0.3, 0.25], [0.3, -0.25], [-0.3, 0.25], [-0.3, -0.25]]
    >>> round(float(side_reach(contacts=box, cg_x=0.1, cg_y=-0.02)), 6)
    0.23

    Source: own derivation, moments about the edge.
    """
    at = np.asarray(contacts, dtype=np.float64)
    x, y = np.asarray(cg_x, dtype=np.float64), np.asarray(cg_y, dtype=np.float64)
    edges = []
    for front, rear in ((0, 2), (1, 3)):
        run = at[..., front, 0] - at[..., rear, 0]
        slope = (at[..., front, 1] - at[..., rear, 1]) / run
        edges.append(at[..., rear, 1] + slope * (x - at[..., rear, 0]))
    return np.asarray(np.minimum(edges[0] - y, y - edges[1]))


def tip_limits(
    *, to_front: ArrayLike, to_rear: ArrayLike, to_side: ArrayLike, height: ArrayLike
) -> TipLimits:
    """Return the accelerations at which the robot starts to tip over.

    a = g·xr/H driving off, g·xf/H braking, g·d/H sideways

    Parameters
    ----------
    to_front, to_rear : float or array
        xf, xr from the centre of gravity to the front and rear axle [m].
    to_side : float or array
        d from the centre of gravity to the nearer side edge [m].
    height : float or array
        H of the centre of gravity [m]; at 0 or below nothing tips and the limit is infinite.

    Returns
    -------
    TipLimits
        Three accelerations [m/s²].

    Examples
    --------
    >>> limits = tip_limits(to_front=0.3, to_rear=0.25, to_side=0.264, height=0.3)
    >>> [round(float(value), 3) for value in limits]
    [8.172, 9.807, 8.63]

    Source: static stability factor T/(2h) (NHTSA), here per side; moments about the edge.
    """
    h = np.asarray(height, dtype=np.float64)
    tips = h > 0.0
    steep = STANDARD_GRAVITY / np.where(tips, h, 1.0)
    limits = (
        np.where(tips, steep * np.asarray(arm, dtype=np.float64), np.inf)
        for arm in (to_rear, to_front, to_side)
    )
    return TipLimits(*(np.asarray(limit) for limit in limits))


def worst_pose(values: ArrayLike) -> Worst:
    """Return the least value over the poses and which pose it is.

    Parameters
    ----------
    values : array, shape (…, poses)
        One tip-over acceleration for each pose [m/s²].

    Returns
    -------
    Worst
        The least value [m/s²] and its pose's index; the first of equals.

    Examples
    --------
    >>> worst = worst_pose([8.1, 4.7, 6.0])
    >>> float(worst.value), int(worst.pose)
    (4.7, 1)

    Source: own definition.
    """
    of_pose = np.asarray(values, dtype=np.float64)
    index = np.argmin(of_pose, axis=-1)
    least = np.take_along_axis(of_pose, index[..., None], axis=-1)[..., 0]
    return Worst(np.asarray(least), np.asarray(index, dtype=np.int64))


def support_polygon(contacts: ArrayLike) -> FloatArray:
    """Return the outline inside which the centre of gravity must stay, for a drawing.

    Parameters
    ----------
    contacts : array, shape (n, 2)
        Contact points of one robot, in any order [m].

    Returns
    -------
    array, shape (k, 2)
        Corners of the convex hull, counter-clockwise, not closed [m].

    Examples
    --------
    >>> len(support_polygon([[0.3, 0.2], [0, 0.2], [-0.3, 0.2], [-0.3, -0.2], [0.3, -0.2]]))
    4

    Source: own definition, the convex hull of the contact points.
    """
    hull = shapely.MultiPoint(np.asarray(contacts, dtype=np.float64)).convex_hull
    ring = shapely.get_coordinates(shapely.simplify(shapely.normalize(hull), 0.0))[:-1]
    x, y = ring[:, 0], ring[:, 1]
    clockwise = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) < 0.0
    return np.asarray(ring[::-1] if clockwise else ring)
