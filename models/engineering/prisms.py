"""Gaps and overlaps of upright prisms: a plan outline between a bottom and a top height.

Contents
--------
Prisms, plan_outlines, prisms: a set of prisms and how to make it.
gaps, overlap_volumes: what every pair keeps between it, or shares.
Nearest, nearest_points: where a measure line of each pair begins and ends in plan.
Clearances, clearances: every body against every keep-out, with the margin and what it means.
EscapeMoves, escape_moves: how far, and where, a body has to move to be free of a keep-out.
hull_perimeter: length of the string around points in plan.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

LENGTH_TOLERANCE = 1e-9
"""A clearance missed by less than this is kept: it is rounding, not metal [m]."""

VOLUME_TOLERANCE = 1e-12
"""Shared volume below this is rounding [m³]."""


DIRECTIONS = ("forward", "left", "up", "back", "right", "down")
"""The six straight moves, in the order of the axes and then against them."""


class Prisms(NamedTuple):
    """A set of upright prisms; the three fields have one shape."""

    plan: NDArray[np.object_]
    """Outlines in plan, shapely polygons [m]."""
    bottom: FloatArray
    """Lower end [m]."""
    top: FloatArray
    """Upper end [m]."""


class Nearest(NamedTuple):
    """The two ends of the shortest line between each pair, in plan."""

    first: FloatArray
    """On the first prism, shape (…, 2) [m]."""
    second: FloatArray
    """On the second prism, shape (…, 2) [m]."""


class EscapeMoves(NamedTuple):
    """The shortest straight move that frees each body of each keep-out."""

    distance: FloatArray
    """How far [m]."""
    towards: NDArray[np.str_]
    """One of `DIRECTIONS`, '' where nothing has to move."""


class Clearances(NamedTuple):
    """Every body (first axis) against every keep-out (second axis)."""

    gap: FloatArray
    """Distance kept [m]."""
    margin: FloatArray
    """Gap less the clearance that the keep-out asks for [m]."""
    overlap: FloatArray
    """Volume shared [m³]."""
    conflict: BoolArray
    """True where the clearance is not kept or volume is shared."""


def plan_outlines(outlines: Sequence[ArrayLike]) -> NDArray[np.object_]:
    """Return polygons of plan outlines, all made in one call.

    Parameters
    ----------
    outlines : sequence of arrays, each of shape (k, 2)
        Corners of each outline in order, either way round, closed or not [m].

    Returns
    -------
    array of polygons, shape (n,)
        Not checked for crossing themselves.

    Raises
    ------
    OutOfRangeError
        Where an outline has fewer than 3 corners.

    Examples
    --------
    >>> float(shapely.area(plan_outlines([[[0, 0], [2, 0], [0, 2]]]))[0])
    2.0

    Source: own definition.
    """
    corners = [np.asarray(outline, dtype=np.float64) for outline in outlines]
    for index, points in enumerate(corners):
        if points.ndim != 2 or len(points) < 3:
            message = f"An outline has at least 3 corners; outline {index + 1} has {len(points)}."
            raise OutOfRangeError(message)
    if not corners:
        return np.empty(0, dtype=np.object_)
    owners = np.repeat(np.arange(len(corners)), [len(points) for points in corners])
    rings = shapely.linearrings(np.concatenate(corners), indices=owners)
    return np.asarray(shapely.polygons(rings), dtype=np.object_)


def prisms(outlines: Sequence[ArrayLike], *, bottoms: ArrayLike, tops: ArrayLike) -> Prisms:
    """Return a set of prisms from plan outlines and heights.

    Parameters
    ----------
    outlines : sequence of arrays, each of shape (k, 2)
        Corners of each outline in order, either way round, closed or not [m].
    bottoms, tops : array, shape (n,)
        Lower and upper end of each prism [m].

    Returns
    -------
    Prisms
        n prisms, ready for pairwise work.

    Raises
    ------
    OutOfRangeError
        Where an outline crosses itself or encloses nothing, or a top lies below its bottom.

    Examples
    --------
    >>> box = prisms([[[0, 0], [1, 0], [1, 1], [0, 1]]], bottoms=[0.0], tops=[0.5])
    >>> float(shapely.area(box.plan)[0])
    1.0

    Source: own definition.
    """
    bottom = np.asarray(bottoms, dtype=np.float64).reshape(-1)
    top = np.asarray(tops, dtype=np.float64).reshape(-1)
    plan = plan_outlines(outlines)
    valid = shapely.is_valid(plan) & (shapely.area(plan) > 0.0)
    if not np.all(valid):
        message = f"Outline {int(np.argmin(valid)) + 1} crosses itself or encloses no area."
        raise OutOfRangeError(message)
    if np.any(top < bottom):
        index = int(np.argmax(top < bottom))
        message = f"A top of {top[index]:g} m lies below its bottom of {bottom[index]:g} m."
        raise OutOfRangeError(message)
    shapely.prepare(plan)
    return Prisms(plan, bottom, top)


def gaps(first: Prisms, second: Prisms) -> FloatArray:
    """Return the distance between prisms, every one of the first set to every of the second.

    gap = √(d² + v²): d the distance in plan, v = max(0, b₂ − t₁, b₁ − t₂) the vertical one

    Parameters
    ----------
    first, second : Prisms
        Sets of n and m prisms [m].

    Returns
    -------
    array, shape (n, m)
        Distance, 0 where they touch or overlap [m].

    Examples
    --------
    >>> low = prisms([[[0, 0], [1, 0], [1, 1]]], bottoms=[0.0], tops=[0.1])
    >>> high = prisms([[[4, 0], [5, 0], [5, 1]]], bottoms=[4.1], tops=[5.0])
    >>> float(gaps(low, high)[0, 0])
    5.0

    Source: own derivation, Pythagoras over plan and height.
    """
    across = shapely.distance(first.plan[:, None], second.plan[None, :])
    apart = np.maximum(
        second.bottom[None, :] - first.top[:, None], first.bottom[:, None] - second.top[None, :]
    )
    return np.asarray(np.hypot(across, np.maximum(apart, 0.0)))


def overlap_volumes(first: Prisms, second: Prisms) -> FloatArray:
    """Return the volume that prisms share, every one of the first set with every of the second.

    V = A·max(0, min(t₁, t₂) − max(b₁, b₂)): A the area that the outlines share

    Parameters
    ----------
    first, second : Prisms
        Sets of n and m prisms [m].

    Returns
    -------
    array, shape (n, m)
        Volume [m³].

    Examples
    --------
    >>> one = prisms([[[0, 0], [1, 0], [1, 1], [0, 1]]], bottoms=[0.0], tops=[1.0])
    >>> other = prisms([[[0.5, 0], [2, 0], [2, 1], [0.5, 1]]], bottoms=[0.8], tops=[2.0])
    >>> round(float(overlap_volumes(one, other)[0, 0]), 6)
    0.1

    Source: own derivation, area times common height.
    """
    common = np.minimum(first.top[:, None], second.top[None, :]) - np.maximum(
        first.bottom[:, None], second.bottom[None, :]
    )
    meet = (common > 0.0) & shapely.intersects(first.plan[:, None], second.plan[None, :])
    volume = np.zeros(common.shape)
    rows, columns = np.nonzero(meet)
    area = shapely.area(shapely.intersection(first.plan[rows], second.plan[columns]))
    volume[rows, columns] = area * common[rows, columns]
    return volume


def nearest_points(first: Prisms, second: Prisms) -> Nearest:
    """Return where the shortest line in plan begins and ends for every pair.

    Where outlines overlap in plan both ends are one point inside the part that they share.

    Parameters
    ----------
    first, second : Prisms
        Sets of n and m prisms [m].

    Returns
    -------
    Nearest
        Points of shape (n, m, 2) [m].

    Examples
    --------
    >>> left = prisms([[[0, 0], [1, 0], [1, 1], [0, 1]]], bottoms=[0], tops=[1])
    >>> right = prisms([[[3, 1], [4, 1], [4, 2], [3, 2]]], bottoms=[0], tops=[1])
    >>> ends = nearest_points(left, right)
    >>> ends.first[0, 0].tolist(), ends.second[0, 0].tolist()
    ([1.0, 1.0], [3.0, 1.0])

    Source: own definition.
    """
    ours, theirs = np.broadcast_arrays(first.plan[:, None], second.plan[None, :])
    ends = np.empty((*ours.shape, 2, 2))
    lines = shapely.shortest_line(ours, theirs)
    ends[...] = shapely.get_coordinates(lines).reshape(ends.shape)
    crossing = shapely.intersects(ours, theirs)
    shared = shapely.intersection(ours[crossing], theirs[crossing])
    inside = shapely.get_coordinates(shapely.point_on_surface(shared))
    ends[crossing] = inside[:, None, :]
    return Nearest(ends[..., 0, :], ends[..., 1, :])


def clearances(bodies: Prisms, keepouts: Prisms, *, asked: ArrayLike) -> Clearances:
    """Return how every body stands to every keep-out, and which pairs conflict.

    margin = gap − c; a pair conflicts where the margin lies below 0 or volume is shared

    Parameters
    ----------
    bodies, keepouts : Prisms
        n bodies of the base, m volumes that the mechanisms need [m].
    asked : array, shape (m,)
        Clearance c that each keep-out asks for [m].

    Returns
    -------
    Clearances
        Arrays of shape (n, m).

    Examples
    --------
    >>> body = prisms([[[0, 0], [1, 0], [1, 1], [0, 1]]], bottoms=[0], tops=[1])
    >>> keepout = prisms([[[1.004, 0], [2, 0], [2, 1], [1.004, 1]]], bottoms=[0], tops=[1])
    >>> tight = clearances(body, keepout, asked=[0.006])
    >>> round(float(tight.margin[0, 0]), 6), bool(tight.conflict[0, 0])
    (-0.002, True)

    Source: own definition.
    """
    gap = gaps(bodies, keepouts)
    overlap = overlap_volumes(bodies, keepouts)
    margin = gap - np.asarray(asked, dtype=np.float64)[None, :]
    conflict = (margin < -LENGTH_TOLERANCE) | (overlap > VOLUME_TOLERANCE)
    return Clearances(gap, np.asarray(margin), overlap, conflict)


def escape_moves(
    bodies: Prisms, keepouts: Prisms, *, asked: ArrayLike, level: ArrayLike = False
) -> EscapeMoves:
    """Return the shortest move along an axis that gives each body the clearance asked for.

    Along each axis a move by (limit of the keep-out + c − limit of the body) sets their bounding
    boxes c apart; the least of the six that does not push the body through the floor. For boxes
    this is exact, for other outlines a move that certainly is enough.

    Parameters
    ----------
    bodies, keepouts : Prisms
        n bodies of the base, m volumes that the mechanisms need [m].
    asked : array, shape (m,)
        Clearance c that each keep-out asks for [m].
    level : bool or array of bool, shape (n,), optional
        True for bodies whose height is fixed, such as a module on its wheel (truth).

    Returns
    -------
    EscapeMoves
        Arrays of shape (n, m); distance 0 and no direction where nothing has to move.

    Examples
    --------
    >>> body = prisms([[[0, 0], [1, 0], [1, 1], [0, 1]]], bottoms=[0], tops=[1])
    >>> keepout = prisms([[[0.9, 0], [2, 0], [2, 1], [0.9, 1]]], bottoms=[0], tops=[1])
    >>> move = escape_moves(body, keepout, asked=[0.01])
    >>> round(float(move.distance[0, 0]), 6), str(move.towards[0, 0])
    (0.11, 'back')

    Source: own definition, bounding boxes.
    """
    need = np.asarray(asked, dtype=np.float64)[None, :]
    ours, theirs = _bounds(bodies)[:, None, :], _bounds(keepouts)[None, :, :]
    upwards = theirs[..., 3:] - ours[..., :3]
    downwards = ours[..., 3:] - theirs[..., :3]
    moves = np.concatenate([upwards, downwards], axis=-1) + need[..., None]
    through_floor = ours[..., 2] - moves[..., 5] < -LENGTH_TOLERANCE
    fixed = np.broadcast_to(np.asarray(level, dtype=bool), len(bodies.plan))[:, None]
    moves[..., 2] = np.where(fixed, np.inf, moves[..., 2])
    moves[..., 5] = np.where(fixed | through_floor, np.inf, moves[..., 5])
    least = np.argmin(moves, axis=-1)
    state = clearances(bodies, keepouts, asked=asked)
    distance = np.take_along_axis(moves, least[..., None], axis=-1)[..., 0]
    return EscapeMoves(
        np.where(state.conflict, np.maximum(distance, 0.0), 0.0),
        np.where(state.conflict, np.array(DIRECTIONS)[least], ""),
    )


def _bounds(some: Prisms) -> FloatArray:
    """Return least x, y, z and greatest x, y, z of each prism, shape (n, 6)."""
    plan = shapely.bounds(some.plan)
    return np.column_stack([plan[:, :2], some.bottom, plan[:, 2:], some.top])


def hull_perimeter(points: ArrayLike) -> float:
    """Return the length of a string pulled tight around points in plan.

    Parameters
    ----------
    points : array, shape (n, 2)
        Corners of everything that the string goes around [m].

    Returns
    -------
    float
        Perimeter of the convex hull [m].

    Raises
    ------
    OutOfRangeError
        With fewer than three points.

    Examples
    --------
    >>> hull_perimeter([[0, 0], [3, 0], [0, 4], [1, 1]])
    12.0

    Source: own definition, the convex hull.
    """
    corners = np.asarray(points, dtype=np.float64)
    if len(corners) < 3:
        message = f"A perimeter needs at least 3 points; {len(corners)} were given."
        raise OutOfRangeError(message)
    return float(shapely.MultiPoint(corners).convex_hull.length)
