"""Cuts an STL mesh into prisms by height steps; runs in the child process only.

Each step becomes the plan of all that lies between its two heights, seen from above with holes
filled, and simplified outwards: the prisms cover the mesh and never fall short of it.
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import shapely
import trimesh
from numpy.typing import NDArray

from models.drawings.limits import (
    FURTHEST,
    MESH_SHARE,
    MOST_OUTLINES,
    MOST_TRIANGLES,
    DrawingRefusedError,
)
from models.drawings.outlines import corners_of, filled_parts, outermost, outward

FloatArray = NDArray[np.float64]

UP_AXES = {"z": (0, 1, 2), "y": (2, 0, 1), "x": (1, 2, 0)}
"""Which of the file's axes are plan x, plan y and up; each keeps the mesh's handedness."""
CUT_SHARES = (0.4871, 0.00097, 0.99903)
"""Where in a step the mesh is cut: no round shares, so that a cut meets no level face."""
SAME_PLAN = 1e-3
"""Neighbouring steps whose plans differ by less of their area become one prism."""


def read_stl(path: Path, steps: int, up: str, name: str) -> dict[str, Any]:
    """Return the height steps of a mesh as layers of outlines, in the file's own unit.

    `steps`: how many equal height steps; `up`: which axis of the file points up, x, y or z;
    `name`: of the part, which its prisms carry with a number.
    Raises `DrawingRefusedError` with a sentence for what is no mesh, too large or not finite.
    """
    mesh = _mesh(path)
    triangles = mesh.triangles[:, :, UP_AXES[up]]
    low, high = triangles.min(axis=(0, 1)), triangles.max(axis=(0, 1))
    if not high[2] > low[2]:
        raise DrawingRefusedError(
            "This mesh has no height along that axis. Choose another axis as up."
        )
    size = float(max(high[0] - low[0], high[1] - low[1]))
    closed = bool(mesh.is_watertight)
    edges = np.linspace(low[2], high[2], steps + 1)
    slabs = [
        (float(bottom), float(top), plan_between(triangles, bottom, top, closed=closed, size=size))
        for bottom, top in pairwise(edges)
    ]
    kept = [slab for slab in _merged(slabs) if not slab[2].is_empty]
    layers = [
        _layer(f"{name} {number}", *slab, size * MESH_SHARE)
        for number, slab in enumerate(kept, start=1)
    ]
    if not layers:
        raise DrawingRefusedError("This mesh has no area in plan, so there is nothing to take.")
    return {"kind": "stl", "hint": None, "layers": layers, "notes": _notes(mesh, layers, closed)}


def _mesh(path: Path) -> Any:
    try:
        # Unprocessed, or triangles with a corner that is no number would vanish without a word.
        mesh = trimesh.load_mesh(path, file_type="stl", process=False)
        corners = np.asarray(mesh.triangles, dtype=np.float64)
    except (ValueError, LookupError, TypeError, AttributeError, OSError, ImportError) as error:
        # ImportError: the library asks for one more package to guess how a text is encoded.
        raise DrawingRefusedError(
            "This file cannot be read as an STL mesh; it may be cut off or of another kind. "
            "Save the part again as STL and send that."
        ) from error
    if not len(corners):
        raise DrawingRefusedError("This file holds no triangles. Save the part again as STL.")
    if len(corners) > MOST_TRIANGLES:
        raise DrawingRefusedError(
            f"This mesh has {len(corners):,} triangles; {MOST_TRIANGLES:,} at most are read. "
            "Save it with a coarser setting."
        )
    if not np.all(np.abs(corners) <= FURTHEST):
        raise DrawingRefusedError(
            "This mesh has a coordinate that is no usable number. Save the part again as STL."
        )
    mesh.merge_vertices()
    return mesh


def plan_between(
    triangles: FloatArray, bottom: float, top: float, *, closed: bool, size: float
) -> shapely.Geometry:
    """Return the plan of all that a mesh has between two heights, holes filled.

    From any point inside, straight towards a cut in the middle, one either reaches the cut or
    passes through the surface; so the plan is the cut together with the surface's plan. Two more
    cuts, near both ends, cover most of the surface, so that little of it is left to add. A mesh
    that is not closed has no inside, and the convex hull of its surface there is taken.

    `triangles`: (n, 3, 3), z up; `size`: of the whole plan, in the same unit. Own derivation.
    """
    points, rows = _points_between(triangles, bottom, top)
    if not closed:
        return shapely.convex_hull(shapely.MultiPoint(points))
    surface = _pieces(points, rows)
    heights = [bottom + share * (top - bottom) for share in CUT_SHARES]
    cut = shapely.union_all([_cut_at(triangles, height, size * 1e-7) for height in heights])
    shapely.prepare(cut)
    surface = surface[shapely.area(surface) > 0.0]
    bare = surface[~shapely.covers(cut, surface)] if len(surface) else surface
    whole = shapely.union_all([cut, *bare])
    return shapely.union_all(filled_parts(whole))


def _pieces(points: FloatArray, rows: NDArray[np.intp]) -> NDArray[Any]:
    """Return the plan of each triangle's piece: a convex polygon, or a line if it is upright."""
    if not len(points):
        return np.empty(0, dtype=object)
    names, index = np.unique(rows, return_inverse=True)
    clouds = shapely.multipoints(points, indices=index)
    return np.asarray(shapely.convex_hull(clouds[: len(names)]), dtype=object)


def _points_between(
    triangles: FloatArray, bottom: float, top: float
) -> tuple[FloatArray, NDArray[np.intp]]:
    """Return in plan the corners of what triangles have between two heights, and whose they are."""
    heights = triangles[:, :, 2]
    touches = (heights.max(axis=1) > bottom) & (heights.min(axis=1) < top)
    chosen = triangles[touches]
    inside = (chosen[:, :, 2] >= bottom) & (chosen[:, :, 2] <= top)
    points, valid = [chosen[:, :, :2]], [inside]
    following = np.roll(chosen, -1, axis=1)
    rise = following[:, :, 2] - chosen[:, :, 2]
    for level in (bottom, top):
        share = np.divide(
            level - chosen[:, :, 2], rise, out=np.full(rise.shape, -1.0), where=rise != 0.0
        )
        crossing = chosen + share[:, :, None] * (following - chosen)
        points.append(crossing[:, :, :2])
        valid.append((share >= 0.0) & (share <= 1.0))
    all_points, all_valid = np.concatenate(points, axis=1), np.concatenate(valid, axis=1)
    return all_points[all_valid], np.nonzero(all_valid)[0]


def _cut_at(triangles: FloatArray, height: float, grid: float) -> shapely.Geometry:
    """Return what a level cut through a closed mesh encloses, holes filled."""
    near = np.abs(triangles[:, :, 2] - height) < grid
    if np.any(near):
        height += 3.0 * grid
    above = triangles[:, :, 2] > height
    crossed = triangles[above.any(axis=1) & ~above.all(axis=1)]
    if not len(crossed):
        return shapely.Polygon()
    following = np.roll(crossed, -1, axis=1)
    changes = (crossed[:, :, 2] > height) != (following[:, :, 2] > height)
    starts, ends = crossed[changes], following[changes]
    share = (height - starts[:, 2]) / (ends[:, 2] - starts[:, 2])
    points = (starts + share[:, None] * (ends - starts))[:, :2].reshape(-1, 2, 2)
    lines = shapely.union_all(shapely.linestrings(points), grid_size=grid)
    faces = shapely.polygonize(shapely.get_parts(lines))
    return shapely.union_all(filled_parts(shapely.union_all(shapely.get_parts(faces))))


Slab = tuple[float, float, Any]


def _merged(slabs: list[Slab]) -> list[Slab]:
    """Return the steps with neighbours of the same plan joined."""
    joined = [slabs[0]]
    for bottom, top, plan in slabs[1:]:
        low, _, below = joined[-1]
        different = shapely.symmetric_difference(below, plan).area
        if different <= SAME_PLAN * max(plan.area, below.area):
            joined[-1] = (low, top, shapely.union(below, plan))
        else:
            joined.append((bottom, top, plan))
    return joined


def _layer(
    name: str, bottom: float, top: float, plan: shapely.Geometry, within: float
) -> dict[str, Any]:
    parts = outermost([(part, False) for part in filled_parts(plan)])
    if len(parts) == MOST_OUTLINES:  # more than are kept: nothing may be lost, so all in one
        parts = [(shapely.convex_hull(plan), False)]
    shapes = [outward(part, within) for part, _ in parts]
    extent = shapely.union_all([part for part, _ in parts]).bounds
    return {
        "name": name,
        "closed": len(parts),
        "open": 0,
        "extent": list(extent),
        "sticks_out": max(out for _, out in shapes),
        "heights": [bottom, top],
        "off": False,
        "outlines": [corners_of(shape) for shape, _ in shapes],
    }


def _notes(mesh: Any, layers: list[dict[str, Any]], closed: bool) -> list[str]:
    if not closed:
        return [
            "The mesh is not closed, so it has no inside: each height step became the convex "
            "hull of what lies in it."
        ]
    prisms = sum(
        shapely.Polygon(outline).area * (layer["heights"][1] - layer["heights"][0])
        for layer in layers
        for outline in layer["outlines"]
    )
    volume = abs(float(mesh.volume))
    if not 0.0 < volume <= prisms:  # bodies that reach into each other count twice in the mesh
        return []
    return [f"The prisms hold {prisms / volume:.2f} times the mesh's volume."]
