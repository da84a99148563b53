"""Plan outlines of drawings: made valid, and simplified outwards so that they never shrink."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from models.drawings.limits import MOST_OUTLINES, MOST_POINTS

FloatArray = NDArray[np.float64]


def polygons_of(points: FloatArray) -> list[Polygon]:
    """Return the areas that a closed line encloses; several where it crosses itself.

    >>> [part.area for part in polygons_of(np.array([[0, 0], [2, 0], [2, 1], [0, 1]]))]
    [2.0]
    """
    if len(points) < 3:
        return []
    polygon = Polygon(points)
    if not polygon.is_valid:
        polygon = shapely.make_valid(polygon)
    return filled_parts(polygon)


def filled_parts(shape: shapely.Geometry) -> list[Polygon]:
    """Return the polygons of a shape with their holes filled, those without area left out."""
    parts = shapely.get_parts(shapely.get_parts(shape))
    polygons = [Polygon(part.exterior) for part in parts if part.geom_type == "Polygon"]
    return [part for part in polygons if part.area > 0.0]


def outermost(polygons: Sequence[tuple[Polygon, bool]]) -> list[tuple[Polygon, bool]]:
    """Return the polygons that lie in no other one, the largest first.

    A prism has no holes, so what lies inside adds nothing to it. The flag of each polygon (whether
    it has curves) stays with it. At most `MOST_OUTLINES` are kept.
    """
    kept: list[tuple[Polygon, bool]] = []
    for polygon, curved in sorted(polygons, key=lambda pair: -pair[0].area):
        if len(kept) == MOST_OUTLINES:
            break
        if not any(shapely.covers(other, polygon) for other, _ in kept):
            kept.append((polygon, curved))
    return kept


def outward(
    polygon: Polygon, within: float, most_points: int = MOST_POINTS
) -> tuple[Polygon, float]:
    """Return an outline with few corners that covers the polygon, and how far it may stick out.

    The polygon is moved out by twice `within` and simplified by `within`, so that it covers
    everything up to `within` outside of the polygon too; where too many corners stay, again with
    twice as much. What no such step brings down ends as the convex hull.

    `polygon`: valid, without holes. `within`: first step, in the polygon's unit. `most_points`:
    corners, 8 or more. Own derivation: simplifying moves no point of the line by more than its
    tolerance, and a mitre reaches at most twice as far as its sides.

    >>> disc = Polygon([(np.cos(a), np.sin(a)) for a in np.linspace(0, 6.28, 500)])
    >>> outline, out = outward(disc, 0.001)
    >>> bool(outline.covers(disc)), len(outline.exterior.coords) <= 101, out < 0.01
    (True, True, True)
    """
    size = max(polygon.bounds[2] - polygon.bounds[0], polygon.bounds[3] - polygon.bounds[1])
    step = within
    while step < size / 8.0:
        grown = polygon.buffer(2.0 * step, join_style="mitre", mitre_limit=2.0)
        simple = _filled(_filled(grown).simplify(step))
        if len(simple.exterior.coords) - 1 <= most_points and simple.covers(polygon):
            return simple, _sticks_out(polygon, simple, 5.0 * step + _deepest_hole(grown))
        step *= 2.0
    return _box_around(polygon, most_points)


def _sticks_out(polygon: Polygon, outline: Polygon, at_most: float) -> float:
    """Return how far an outline lies outside of a polygon at most.

    From a convex polygon the distance along a straight side is greatest at one of its ends, so the
    corners tell it exactly; for others the bound of the construction is taken.
    """
    if polygon.convex_hull.area > polygon.area * (1.0 + 1e-9):
        return at_most
    corners = shapely.points(shapely.get_coordinates(outline.exterior))
    return min(at_most, float(shapely.distance(polygon, corners).max()))


def _deepest_hole(grown: Polygon) -> float:
    """Return no less than how far a point of a hole that is filled lies from what is round it."""
    holes = np.array([Polygon(ring).bounds for ring in grown.interiors]).reshape(-1, 4)
    sides = holes[:, 2:] - holes[:, :2]
    return float(sides.min(axis=1).max() / 2.0) if len(holes) else 0.0


def _filled(shape: shapely.Geometry) -> Polygon:
    return max(filled_parts(shape), key=lambda part: float(part.area))


def _box_around(polygon: Polygon, most_points: int) -> tuple[Polygon, float]:
    """Return the convex hull, or the smallest turned rectangle where the hull has many corners."""
    hull = polygon.convex_hull
    if len(hull.exterior.coords) - 1 > most_points:
        hull = polygon.minimum_rotated_rectangle
    far = shapely.hausdorff_distance(hull.boundary, polygon.boundary, densify=0.02)
    return hull, float(far)


def corners_of(polygon: Polygon) -> list[list[float]]:
    """Return the corners of an outline, the first not repeated, each a list of two numbers."""
    coordinates = shapely.get_coordinates(polygon.exterior)[:-1]
    return [[float(f"{x:.9g}"), float(f"{y:.9g}")] for x, y in coordinates]
