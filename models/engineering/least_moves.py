"""The least that has to give: how far, and which way, to move a prism, or how much to trim it.

A prism that is moved by t in plan meets another where t lies in their Minkowski difference, grown
by the distance that has to be kept. What is left outside of all those differences is where the
prism may go, and the point of it nearest to the origin is the least move: exact for outlines of
any shape, convex or not.

Contents
--------
required_distances: distance in plan that pairs have to keep, from clearance and heights.
forbidden_moves: which moves in plan make a prism meet what is around it.
depths: how far moves lie inside of what is forbidden.
LeastMove, least_move: the shortest move in plan that frees a prism.
LeastTrim, least_trim: the least height to be cut off a prism so that it is free.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from models.engineering.prisms import LENGTH_TOLERANCE, Prisms, clearances

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

QUARTER_SEGMENTS = 32
"""Straight pieces that stand for a quarter of a rounded corner before the move is refined."""

CRACK = 1e-9
"""Pieces of a difference are grown by this, so that no crack is left between them [m]."""

REFINEMENTS = 40
"""Halvings of the last bit of a move; 2⁻⁴⁰ of it is far below a nanometre."""

LEAST_HEIGHT = 1e-3
"""A prism that is trimmed to less than this is no longer one [m]."""


class LeastMove(NamedTuple):
    """The shortest move in plan that frees a prism."""

    by: FloatArray
    """Forward and left, shape (2,) [m]."""
    distance: float
    """Its length [m]."""


class LeastTrim(NamedTuple):
    """The least height to be cut off."""

    bottom: float
    """By how much the bottom is raised [m]."""
    top: float
    """By how much the top is lowered [m]."""


def required_distances(moving: Prisms, around: Prisms, *, asked: ArrayLike) -> FloatArray:
    """Return which distance in plan a prism has to keep from each of others.

    r = √(c² − v²) where the vertical gap v is less than the clearance c, 0 where heights overlap
    and c = 0; −1 where they may lie above each other as they like

    Parameters
    ----------
    moving : Prisms
        One prism [m].
    around : Prisms
        n prisms [m].
    asked : float or array, shape (n,)
        Clearance c to each of them; with 0 they may touch [m].

    Returns
    -------
    array, shape (n,)
        Distance [m].

    Examples
    --------
    >>> from models.engineering.prisms import prisms
    >>> square = [[0, 0], [1, 0], [1, 1], [0, 1]]
    >>> low = prisms([square], bottoms=[0.0], tops=[0.1])
    >>> high = prisms([square, square], bottoms=[0.103, 0.2], tops=[1.0, 1.0])
    >>> required_distances(low, high, asked=0.005).round(6).tolist()
    [0.004, -1.0]

    Source: own derivation, Pythagoras.
    """
    need = np.broadcast_to(np.asarray(asked, dtype=np.float64), around.bottom.shape)
    apart = np.maximum(moving.bottom[0] - around.top, around.bottom - moving.top[0])
    gap = np.maximum(apart, 0.0)
    keeps = np.where(need > 0.0, gap < need - LENGTH_TOLERANCE, apart < 0.0)
    return np.where(keeps, np.sqrt(np.maximum(need**2 - gap**2, 0.0)), -1.0)


def forbidden_moves(moving: Prisms, around: Prisms, *, asked: ArrayLike) -> shapely.Geometry:
    """Return the moves in plan with which a prism comes too near to any of others.

    ∪ᵢ (Aᵢ ⊕ −M) ⊕ disc(rᵢ): outlines Aᵢ around, M of what moves; outlines that are not convex
    are taken apart into triangles. Arcs are drawn around, so that the set is never too small.

    Parameters
    ----------
    moving : Prisms
        One prism [m].
    around : Prisms
        n prisms [m].
    asked : float or array, shape (n,)
        Clearance to each of them [m].

    Returns
    -------
    shapely geometry
        An area over forward and left; empty where no move is forbidden [m].

    Examples
    --------
    >>> from models.engineering.prisms import prisms
    >>> small = prisms([[[0, 0], [1, 0], [1, 1], [0, 1]]], bottoms=[0], tops=[1])
    >>> large = prisms([[[0, 0], [3, 0], [3, 2], [0, 2]]], bottoms=[0], tops=[1])
    >>> [round(bound, 6) for bound in forbidden_moves(small, large, asked=0.0).bounds]
    [-1.0, -1.0, 3.0, 2.0]

    Source: T. Lozano-Pérez, Spatial planning: a configuration space approach, IEEE Transactions
    on Computers C-32 (1983) 108–120.
    """
    distances = required_distances(moving, around, asked=asked)
    turned = [-corners for corners in _convex_pieces(moving.plan[0])]
    pieces = []
    for plan, distance in zip(around.plan, distances, strict=True):
        if distance < 0.0:
            continue
        sums = [
            (corners[:, None, :] + other[None, :, :]).reshape(-1, 2)
            for corners in _convex_pieces(plan)
            for other in turned
        ]
        hulls = shapely.convex_hull(
            np.array([shapely.MultiPoint(points) for points in sums], dtype=np.object_)
        )
        whole = shapely.union_all(shapely.buffer(hulls, CRACK, join_style="mitre"))
        round_out = distance / np.cos(np.pi / (4 * QUARTER_SEGMENTS))
        pieces.append(shapely.buffer(whole, round_out, quad_segs=QUARTER_SEGMENTS))
    return shapely.union_all(np.array(pieces, dtype=np.object_))


def _convex_pieces(outline: shapely.Polygon) -> list[FloatArray]:
    """Return the corners of convex pieces that make up an outline."""
    hull = outline.convex_hull
    if hull.area - outline.area <= 1e-12 * hull.area:
        return [shapely.get_coordinates(hull)[:-1]]
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(outline))
    return [shapely.get_coordinates(triangle)[:-1] for triangle in triangles]


def depths(forbidden: shapely.Geometry, moves: ArrayLike) -> FloatArray:
    """Return how far moves lie inside of what is forbidden.

    Parameters
    ----------
    forbidden : shapely geometry
        As `forbidden_moves` returns it [m].
    moves : array, shape (n, 2)
        Moves forward and left [m].

    Returns
    -------
    array, shape (n,)
        Distance to the nearest move that is allowed, 0 for those that are [m].

    Examples
    --------
    >>> depths(shapely.box(0, 0, 4, 2), [[1, 1], [3.5, 1], [9, 9]]).tolist()
    [1.0, 0.5, 0.0]

    Source: own definition.
    """
    points = shapely.points(np.asarray(moves, dtype=np.float64))
    if forbidden.is_empty:
        return np.zeros(len(points))
    inside = shapely.contains_properly(forbidden, points)
    return np.where(inside, shapely.distance(forbidden.boundary, points), 0.0)


def least_move(
    moving: Prisms,
    around: Prisms,
    *,
    asked: ArrayLike,
    within: tuple[float, float, float, float] | None = None,
) -> LeastMove | None:
    """Return the shortest move in plan that frees a prism of all that is around it.

    min |t| over the t outside of `forbidden_moves`; its length is then refined until the prism is
    free by the plain check and any shorter move along the same line is not.

    Parameters
    ----------
    moving : Prisms
        One prism [m].
    around : Prisms
        n prisms [m].
    asked : float or array, shape (n,)
        Clearance to each of them [m].
    within : tuple, optional
        Least and greatest move allowed: least forward, least left, greatest forward, greatest
        left [m].

    Returns
    -------
    LeastMove or None
        Length 0 where nothing has to move; None where no move within the bounds is enough.

    Examples
    --------
    >>> from models.engineering.prisms import prisms
    >>> small = prisms([[[0, 0], [1, 0], [1, 1], [0, 1]]], bottoms=[0], tops=[1])
    >>> large = prisms([[[0.9, -1], [3, -1], [3, 2], [0.9, 2]]], bottoms=[0], tops=[1])
    >>> move = least_move(small, large, asked=0.02)
    >>> round(move.distance, 6), move.by.round(6).tolist()
    (0.12, [-0.12, 0.0])

    Source: own derivation from the Minkowski difference; see `forbidden_moves`.
    """
    if _is_free(moving, around, asked, np.zeros(2)):
        return LeastMove(np.zeros(2), 0.0)
    forbidden = forbidden_moves(moving, around, asked=asked)
    if within is None:
        edges: shapely.Geometry = forbidden.boundary
    else:
        edges = shapely.difference(shapely.box(*within), forbidden)
    if edges.is_empty:
        return None
    line = shapely.shortest_line(shapely.Point(0.0, 0.0), edges)
    by = shapely.get_coordinates(line)[1]
    return _refined(moving, around, asked, by)


def _refined(moving: Prisms, around: Prisms, asked: ArrayLike, by: FloatArray) -> LeastMove | None:
    """Return the move along a direction at which the plain check turns, a hair on the free side."""
    for _ in range(REFINEMENTS):
        if _is_free(moving, around, asked, by):
            break
        by = by + np.sign(by) * 2e-9 + by * 1e-9  # the line ends on the very edge
    else:
        return None
    low, high = 0.98, 1.0
    for _ in range(REFINEMENTS):
        middle = (low + high) / 2.0
        if _is_free(moving, around, asked, middle * by):
            high = middle
        else:
            low = middle
    done = np.asarray(high * by + 0.0)
    return LeastMove(done, float(np.hypot(*done)))


def _is_free(moving: Prisms, around: Prisms, asked: ArrayLike, by: FloatArray) -> bool:
    moved = Prisms(
        shapely.transform(moving.plan, lambda corners: corners + by), moving.bottom, moving.top
    )
    need = np.broadcast_to(np.asarray(asked, dtype=np.float64), around.bottom.shape)
    return not bool(np.any(clearances(moved, around, asked=need).conflict))


def least_trim(moving: Prisms, around: Prisms, *, asked: ArrayLike) -> LeastTrim | None:
    """Return the least height that has to be cut off a prism, at its bottom, its top or both.

    Each prism around that is too near in plan (d < c) has to lie √(c² − d²) below the new bottom
    or above the new top; of all such bottoms and tops the pair that cuts off least.

    Parameters
    ----------
    moving : Prisms
        The prism to be trimmed [m].
    around : Prisms
        n prisms [m].
    asked : float or array, shape (n,)
        Clearance c to each of them [m].

    Returns
    -------
    LeastTrim or None
        None where nothing of it would be left.

    Examples
    --------
    >>> from models.engineering.prisms import prisms
    >>> square = [[0, 0], [1, 0], [1, 1], [0, 1]]
    >>> arm = prisms([square], bottoms=[0.1], tops=[0.5])
    >>> box = prisms([square], bottoms=[0.0], tops=[0.12])
    >>> trim = least_trim(arm, box, asked=0.01)
    >>> round(trim.bottom, 6), trim.top
    (0.03, 0.0)

    Source: own derivation, Pythagoras.
    """
    need = np.broadcast_to(np.asarray(asked, dtype=np.float64), around.bottom.shape)
    across = shapely.distance(moving.plan[0], around.plan)
    shared = shapely.area(shapely.intersection(moving.plan[0], around.plan)) > 0.0
    near = np.where(need > 0.0, across < need - LENGTH_TOLERANCE, shared)
    upright = np.sqrt(np.maximum(need**2 - across**2, 0.0))
    above = (around.top + upright)[near]
    below = (around.bottom - upright)[near]
    bottom, top = float(moving.bottom[0]), float(moving.top[0])
    best: LeastTrim | None = None
    for new_bottom in [bottom, *np.unique(above[above > bottom])]:
        left = below[above > new_bottom + LENGTH_TOLERANCE]
        new_top = min([top, *left])
        trim = LeastTrim(float(new_bottom) - bottom, top - float(new_top))
        if new_top - new_bottom < LEAST_HEIGHT:
            continue
        if best is None or sum(trim) < sum(best):
            best = trim
    return best
