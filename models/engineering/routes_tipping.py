"""Held to the tip limit on the move: what a pose allows along a way, at an angle and across it.

Contents
--------
tip_reach: how far the support polygon reaches from the centre of gravity in a direction.
TipCaps, tip_caps: the accelerations that a pose allows on a way, less a margin.
rounded_down: a limit to put in a robot's code.
held_to, unbound, unbound_braking: a motion held to a cap, and one that no tipping holds.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import STANDARD_GRAVITY, Drive, Layout, Stance
from models.engineering.traction import Motion, braking, travel_motion

FloatArray = NDArray[np.float64]


class TipCaps(NamedTuple):
    """Accelerations at which nothing lifts, with a margin; 0 or below where it cannot stand."""

    drive: FloatArray
    """Along the way, getting faster [m/s²]."""
    brake: FloatArray
    """Along the way, getting slower [m/s²]."""
    across: FloatArray
    """Across the way to either side, in a turn [m/s²]."""


def tip_reach(
    *, contacts: ArrayLike, cg_x: ArrayLike, cg_y: ArrayLike, direction: ArrayLike
) -> FloatArray:
    """Return how far the support polygon reaches from the centre of gravity in a direction.

    The distance along a ray to the first of four edges: the front and rear one straight across at
    the axles' mean positions, the left and right one through the contact points of that side.
    Ahead and behind that is xf and xr, straight across the distance to the side edge.

    Parameters
    ----------
    contacts : array, shape (…, 4, 2)
        Contact points: front left, front right, rear left, rear right [m].
    cg_x, cg_y : float or array
        X, Y of the centre of gravity [m].
    direction : float or array
        From straight ahead, counter-clockwise [rad].

    Returns
    -------
    array
        Distance; where the centre of gravity lies outside an edge, how far outside, below 0 [m].

    Examples
    --------
    >>> box = [[0.3, 0.25], [0.3, -0.25], [-0.3, 0.25], [-0.3, -0.25]]
    >>> tip_reach(contacts=box, cg_x=0.1, cg_y=0.0, direction=[0.0, np.pi / 2, np.pi]).round(6)
    array([0.2 , 0.25, 0.4 ])

    Source: own definition; moments about the edge that the ray crosses.
    """
    at = np.asarray(contacts, dtype=np.float64)
    x, y = np.asarray(cg_x, dtype=np.float64), np.asarray(cg_y, dtype=np.float64)
    along, across = np.cos(direction), np.sin(direction)
    gaps = [
        (at[..., 0, 0] + at[..., 1, 0]) / 2.0 - x,
        x - (at[..., 2, 0] + at[..., 3, 0]) / 2.0,
    ]
    paces = [along, -along]
    for front, rear, sign in ((0, 2, 1.0), (1, 3, -1.0)):
        slope = (at[..., front, 1] - at[..., rear, 1]) / (at[..., front, 0] - at[..., rear, 0])
        edge = at[..., rear, 1] + slope * (x - at[..., rear, 0])
        gaps.append(sign * (edge - y))
        paces.append(sign * (across - slope * along))
    rays = [
        np.where(pace > 1e-12, gap / np.where(pace > 1e-12, pace, 1.0), np.inf)
        for gap, pace in zip(gaps, paces, strict=True)
    ]
    nearest = np.minimum(np.minimum(rays[0], rays[1]), np.minimum(rays[2], rays[3]))
    least = np.minimum(np.minimum(gaps[0], gaps[1]), np.minimum(gaps[2], gaps[3]))
    return np.asarray(np.where(least < 0.0, least, nearest))


def tip_caps(
    *,
    contacts: ArrayLike,
    cg_x: ArrayLike,
    cg_y: ArrayLike,
    cg_height: ArrayLike,
    way: ArrayLike,
    margin: ArrayLike,
) -> TipCaps:
    """Return the accelerations that keep all wheels down on a way, less a margin.

    (1 − m)·g·d/H, d the reach of the support polygon: behind the way for driving off (the robot
    tips backwards), ahead of it for braking, the lesser of both sides across it

    Parameters
    ----------
    contacts : array, shape (…, 4, 2)
        Contact points: front left, front right, rear left, rear right [m].
    cg_x, cg_y, cg_height : float or array
        X, Y, H of the centre of gravity [m]; at a height of 0 or below nothing tips.
    way : float or array
        θ of the way from straight ahead [rad].
    margin : float or array
        m, share of the tip limit that is not used, 0 to below 1 [ratio].

    Returns
    -------
    TipCaps
        Infinite where nothing tips.

    Examples
    --------
    >>> box = [[0.3, 0.25], [0.3, -0.25], [-0.3, 0.25], [-0.3, -0.25]]
    >>> caps = tip_caps(contacts=box, cg_x=0.1, cg_y=0.0, cg_height=0.5, way=0.0, margin=0.2)
    >>> [round(float(cap), 4) for cap in caps]
    [6.2763, 3.1381, 3.9227]

    Source: moments about the edge; static stability factor T/(2h) (NHTSA) straight across.
    """
    height = np.asarray(cg_height, dtype=np.float64)
    theta = np.asarray(way, dtype=np.float64)
    tips = height > 0.0
    steep = (1.0 - np.asarray(margin, dtype=np.float64)) * STANDARD_GRAVITY
    steep = steep / np.where(tips, height, 1.0)

    def cap(direction: FloatArray) -> FloatArray:
        reach = tip_reach(contacts=contacts, cg_x=cg_x, cg_y=cg_y, direction=direction)
        return np.asarray(np.where(tips, steep * reach, np.inf))

    sides = np.minimum(cap(theta + np.pi / 2.0), cap(theta - np.pi / 2.0))
    return TipCaps(cap(theta + np.pi), cap(theta), np.asarray(sides))


def rounded_down(limit: ArrayLike, *, step: float) -> FloatArray:
    """Return the greatest whole multiple of a step that a limit allows, as the decimal it is.

    Parameters
    ----------
    limit : float or array
        What must not be exceeded [m/s²].
    step : float
        One over a whole number, such as 0.1 [m/s²].

    Returns
    -------
    array
        Not above the limit, but for rounding of the last digits.

    Examples
    --------
    >>> rounded_down([4.39, 4.4, 0.3], step=0.1).tolist()
    [4.3, 4.4, 0.3]

    Source: own definition.
    """
    parts = round(1.0 / step)
    whole = np.floor(np.asarray(limit, dtype=np.float64) * parts + 1e-9)
    return np.asarray(whole / parts)


def held_to(motion: Motion, cap: ArrayLike) -> Motion:
    """Return a motion whose acceleration stays below a cap against tipping.

    a ≤ cap; at a cap of 0 or below it does not get going

    Parameters
    ----------
    motion : Motion
        Law of acceleration [SI].
    cap : float or array
        Of the motion's shape, infinite for none [m/s²].

    Returns
    -------
    Motion
        The same but for its bound.

    Examples
    --------
    >>> from models.engineering.sprint_pieces import example_motion
    >>> float(held_to(example_motion(), 3.0).bound)
    3.0

    Source: own definition.
    """
    most = np.asarray(cap, dtype=np.float64)
    lower = most < motion.bound
    return motion._replace(
        bound=np.where(lower, most, motion.bound), bound_tips=motion.bound_tips | lower
    )


def unbound(drive_of: Drive, stance: Stance, layout: Layout, *, angle: ArrayLike) -> Motion:
    """Return how the drive would accelerate the robot if nothing ever tipped.

    Loads still move between the axles as it speeds up; past the point where one would lift, they
    are carried on as a straight line, so that the front axle counts for less than nothing.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity [SI].
    layout : Layout
        Layout of the batch (word).
    angle : float or array
        θ of the way from straight ahead [rad].

    Returns
    -------
    Motion
        Bound by grip alone.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> tall = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.9, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = unbound(example_drive(), tall, "tank", angle=0.0)
    >>> round(float(motion.bound), 3), bool(motion.bound_tips)
    (10.591, False)

    Source: own derivation.
    """
    motion = travel_motion(drive_of, stance, layout, angle=angle)
    held = travel_motion(drive_of, _flat(stance), layout, angle=angle).bound
    return motion._replace(bound=held, bound_tips=np.zeros(held.shape, dtype=bool))


def unbound_braking(
    drive_of: Drive, stance: Stance, layout: Layout, *, angle: ArrayLike
) -> FloatArray:
    """Return how the robot would slow down if nothing ever tipped.

    min((Fb + D)/(M + mrot/κv²), κμ·μ·g)

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass [SI].
    layout : Layout
        Layout of the batch (word).
    angle : float or array
        θ of the way from straight ahead [rad].

    Returns
    -------
    array
        Deceleration [m/s²].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> tall = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.9, 2.6, 0.27, 0.28, 0.51)))
    >>> round(float(unbound_braking(example_drive(), tall, "tank", angle=0.0)), 3)
    10.787

    Source: own derivation.
    """
    return braking(drive_of, _flat(stance), layout, angle=angle)


def _flat(stance: Stance) -> Stance:
    """Return a stance of the same mass that cannot tip."""
    one = np.ones(np.shape(stance.to_front))
    return stance._replace(cg_height=np.zeros(one.shape), to_front=one, to_rear=one)
