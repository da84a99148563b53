"""Reads a DXF file into layers of closed outlines; runs in the child process only.

What counts: lines, arcs, circles, ellipses, splines and polylines with their bulges, also inside
blocks. They are seen from above; texts, dimensions and hatches are counted and left out.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from ezdxf.filemanagement import readfile
from ezdxf.lldxf.const import DXFError
from ezdxf.math import Matrix44, Vec3
from ezdxf.path import from_vertices, make_path
from numpy.typing import NDArray

from models.drawings.blocks import BlockCount, copies
from models.drawings.chaining import closed_loops
from models.drawings.limits import (
    FLATTENING_SHARE,
    FURTHEST,
    LONGEST_NAME,
    MOST_LAYERS,
    MOST_POINTS,
    DrawingRefusedError,
)
from models.drawings.outlines import corners_of, outermost, outward, polygons_of

FloatArray = NDArray[np.float64]

DRAWN = frozenset({"LINE", "ARC", "CIRCLE", "ELLIPSE", "SPLINE", "HELIX", "LWPOLYLINE", "POLYLINE"})
ROUND = frozenset({"ARC", "CIRCLE", "ELLIPSE", "SPLINE", "HELIX"})
ARC_SEGMENTS = 8
"""Bézier curves a full circle is made of; they leave it by 4e-6 of its radius."""
MOST_SPLINE_STEPS = 4000
UNIT_CODES = {1: "in", 2: "ft", 4: "mm", 5: "cm", 6: "m"}


@dataclass
class _Line:
    """One piece of a layer, as a path that is not flattened yet."""

    path: Any
    curved: bool


@dataclass
class _LayerPieces:
    lines: list[_Line] = field(default_factory=list)
    low: list[float] = field(default_factory=lambda: [math.inf, math.inf])
    high: list[float] = field(default_factory=lambda: [-math.inf, -math.inf])

    def add(self, line: _Line) -> None:
        for point in line.path.control_vertices():
            for axis in (0, 1):
                self.low[axis] = min(self.low[axis], point[axis])
                self.high[axis] = max(self.high[axis], point[axis])
        self.lines.append(line)


def read_dxf(path: Path) -> dict[str, Any]:
    """Return the layers of a DXF file with their outlines, in the file's own unit.

    Raises `DrawingRefusedError` with a sentence for what is no DXF, refers to itself, holds too
    much, or has coordinates that are no numbers.
    """
    try:
        document = readfile(path)
    except (OSError, DXFError, UnicodeError, ValueError, LookupError, TypeError) as error:
        raise DrawingRefusedError(
            "This file cannot be read as DXF; it may be cut off or of another kind. Save the "
            "drawing again as DXF and send that."
        ) from error
    space = document.modelspace()
    BlockCount(document).check(space)
    layers: defaultdict[str, _LayerPieces] = defaultdict(_LayerPieces)
    others = 0
    for name, entity, matrix in _resolved(document, space, Matrix44(), None):
        if entity.dxftype() not in DRAWN or _is_mesh(entity):
            others += 1
            continue
        _check_finite(entity, name)
        line = _line_of(entity, matrix, name)
        if line is not None:
            layers[name].add(line)
    return _drawing(document, path, layers, others)


def _drawing(
    document: Any, path: Path, layers: dict[str, _LayerPieces], others: int
) -> dict[str, Any]:
    notes: list[str] = []
    if others:
        notes.append(f"Left out: {others} texts, dimensions, hatches or the like.")
    read = [_layer(document, name, pieces) for name, pieces in sorted(layers.items())]
    read.sort(key=lambda layer: not layer["outlines"])
    if len(read) > MOST_LAYERS:
        notes.append(f"Of {len(read)} layers the first {MOST_LAYERS} with outlines are shown.")
    if not any(layer["outlines"] for layer in read):
        raise DrawingRefusedError(
            "No closed outline was found in this drawing. Lines have to meet at their ends, and "
            "three must not meet in one point; texts and hatches are not read."
        )
    return {
        "kind": "dxf",
        "hint": _unit_hint(document, path),
        "layers": read[:MOST_LAYERS],
        "notes": notes,
    }


def _unit_hint(document: Any, path: Path) -> str | None:
    """Return the unit that the file states itself; a file that states none is read as metres."""
    with path.open("rb") as file:
        stated = b"$INSUNITS" in file.read()
    return UNIT_CODES.get(int(document.header.get("$INSUNITS", 0))) if stated else None


def _resolved(
    document: Any, entities: Iterable[Any], matrix: Matrix44, inherited: str | None
) -> Iterator[tuple[str, Any, Matrix44]]:
    """Yield what is drawn, blocks resolved, with its layer and where it is placed."""
    for entity in entities:
        layer = str(entity.dxf.get("layer", "0"))
        if inherited is not None and layer == "0":
            layer = inherited
        if entity.dxftype() != "INSERT":
            yield layer, entity, matrix
            continue
        block = document.blocks.get(str(entity.dxf.get("name", "")))
        if block is not None:
            _check_finite(entity, layer)
            for place in _places(entity):
                yield from _resolved(document, block, place @ matrix, layer)


def _places(insert: Any) -> Iterator[Matrix44]:
    """Yield where each copy of a block lies."""
    base = insert.matrix44()
    if copies(insert) == 1:
        yield base
        return
    ocs = insert.ocs()
    turn = insert.dxf.get("rotation", 0.0)
    for row in range(max(1, insert.dxf.get("row_count", 1))):
        for column in range(max(1, insert.dxf.get("column_count", 1))):
            across = column * insert.dxf.get("column_spacing", 0.0)
            along = row * insert.dxf.get("row_spacing", 0.0)
            offset = ocs.to_wcs(Vec3(across, along).rotate_deg(turn))
            yield base @ Matrix44.translate(*offset.xyz)


def _is_mesh(entity: Any) -> bool:
    if entity.dxftype() != "POLYLINE":
        return False
    return bool(entity.is_polygon_mesh or entity.is_poly_face_mesh)


def _check_finite(entity: Any, layer: str) -> None:
    numbers: list[Any] = list(entity.dxfattribs().values())
    kind = entity.dxftype()
    if kind == "LWPOLYLINE":
        numbers += entity.get_points("xyb")
    elif kind == "POLYLINE":
        numbers += [vertex.dxf.location for vertex in entity.vertices]
        numbers += [vertex.dxf.get("bulge", 0.0) for vertex in entity.vertices]
    elif kind in {"SPLINE", "HELIX"}:
        numbers += [*entity.control_points, *entity.fit_points, entity.knots, entity.weights]
    if not all(_sound(number) for number in numbers):
        raise DrawingRefusedError(
            f"On the layer “{_shown(layer)}” stands a coordinate that is no usable number. "
            "Mend it where it was drawn, or leave that layer out."
        )


def _sound(value: Any) -> bool:
    if isinstance(value, Vec3):
        return all(_sound(number) for number in value.xyz)
    if isinstance(value, float):
        return abs(value) <= FURTHEST
    if isinstance(value, str | bytes | bytearray | int) or value is None:
        return True
    return all(_sound(float(number)) for number in np.asarray(value, dtype=float).flat)


def _line_of(entity: Any, matrix: Matrix44, layer: str) -> _Line | None:
    if entity.dxftype() in {"SPLINE", "HELIX"}:
        path = from_vertices(_spline_points(entity.construction_tool())).transform(matrix)
    else:
        path = make_path(entity, segments=ARC_SEGMENTS).transform(matrix)
    vertices = path.control_vertices()
    if len(vertices) < 2:
        return None
    if not all(abs(number) <= FURTHEST for point in vertices for number in point.xyz):
        raise DrawingRefusedError(
            f"The layer “{_shown(layer)}” reaches further than can be told apart. Mend it where "
            "it was drawn, or leave that layer out."
        )
    return _Line(path, entity.dxftype() in ROUND or path.has_curves)


def _spline_points(curve: Any) -> list[Vec3]:
    """Return points on a spline, as many as keep chords within the tolerance of its own size.

    By steps of its parameter, since the library's own flattening and its Bézier form leave a
    spline that is not clamped at its ends.
    """
    corners = np.array([point.xyz for point in curve.control_points])
    within = float(np.ptp(corners, axis=0).max()) * FLATTENING_SHARE
    steps = min(max(16 * len(corners), 64), MOST_SPLINE_STEPS)
    while True:
        points: list[Vec3] = list(curve.approximate(steps))
        flat = np.array([point.xyz for point in points])
        missed = np.linalg.norm(flat[1:-1] - (flat[:-2] + flat[2:]) / 2.0, axis=1).max()
        # Leaving out every other point misses the curve about four times as far as all do.
        if missed / 4.0 <= within or steps >= MOST_SPLINE_STEPS:
            return points
        steps *= 2


def _layer(document: Any, name: str, pieces: _LayerPieces) -> dict[str, Any]:
    """Return one layer: curves flattened, ends chained, outlines simplified outwards."""
    size = max(pieces.high[0] - pieces.low[0], pieces.high[1] - pieces.low[1])
    furthest = max(map(abs, (*pieces.low, *pieces.high)))
    tolerance = max(size * FLATTENING_SHARE, furthest * 1e-9, 1e-9)
    closed: list[tuple[FloatArray, bool]] = []
    opened: list[tuple[FloatArray, bool]] = []
    for line in pieces.lines:
        flat = [(point.x, point.y) for point in line.path.flattening(tolerance, segments=2)]
        points = np.array(flat, dtype=np.float64)
        if line.path.is_closed or np.hypot(*(points[0] - points[-1])) <= tolerance:
            closed.append((points, line.curved))
        else:
            opened.append((points, line.curved))
    loops, left = closed_loops([points for points, _ in opened], tolerance)
    closed += [(points, any(opened[index][1] for index in which)) for points, which in loops]
    polygons = [(part, curved) for points, curved in closed for part in polygons_of(points)]
    kept = outermost([(part, c) for part, c in polygons if part.area > tolerance * tolerance])
    out = 0.0
    outlines = []
    for polygon, curved in kept:
        shape, sticks_out = polygon, 0.0
        if curved or len(polygon.exterior.coords) - 1 > MOST_POINTS:
            shape, sticks_out = outward(polygon, tolerance)
        out = max(out, sticks_out)
        outlines.append(corners_of(shape))
    return {
        "name": _shown(name),
        "closed": len(polygons),
        "open": left,
        "extent": [*pieces.low, *pieces.high] if not kept else _extent(kept),
        "sticks_out": out,
        "heights": None,
        "off": _is_off(document, name),
        "outlines": outlines,
    }


def _extent(kept: list[tuple[Any, bool]]) -> list[float]:
    bounds = np.array([polygon.bounds for polygon, _ in kept])
    return [float(n) for n in (*bounds[:, :2].min(axis=0), *bounds[:, 2:].max(axis=0))]


def _is_off(document: Any, name: str) -> bool:
    if name not in document.layers:
        return False
    layer = document.layers.get(name)
    return bool(layer.is_off() or layer.is_frozen())


def _shown(name: str) -> str:
    printable = "".join(sign if sign.isprintable() else " " for sign in name)
    return " ".join(printable.split())[:LONGEST_NAME] or "unnamed"
