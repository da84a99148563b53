"""What may be moved on the plan: keep-outs and steered modules, each with its outline and name."""

from __future__ import annotations

from models.study.schema import Candidate, Corners
from models.trade.scene import Scene
from models.units import UnitSystem, show
from webapp.shared.drawings.shapes import (
    Handle,
    Point,
    Projection,
    corner_item,
    keepout_item,
    plan_place,
)

CORNER_SIGNS = {
    "front_left": (1.0, 1.0),
    "front_right": (1.0, -1.0),
    "rear_left": (-1.0, 1.0),
    "rear_right": (-1.0, -1.0),
}
"""Which way outwards is at each corner: forward, left."""
_MIRRORED = {"left": "right", "right": "left"}


def mirrored(item: str) -> str:
    """Return the item on the other side that mirrors it, "" where there is none.

    >>> mirrored("corner.rear_left"), mirrored("keepout.3")
    ('corner.rear_right', '')
    """
    kind, _, corner = item.partition(".")
    end, _, side = corner.partition("_")
    return f"corner.{end}_{_MIRRORED[side]}" if kind == "corner" and side in _MIRRORED else ""


def length_words(length_mm: float, system: UnitSystem) -> str:
    """Return a length of the drawing in the small unit, no digit more than it has.

    >>> length_words(15.0, UnitSystem.SI), length_words(2.5, UnitSystem.SI)
    ('15 mm', '2.5 mm')
    """
    if system is UnitSystem.SI:
        return f"{length_mm:.1f}".removesuffix(".0") + " mm"
    return show(length_mm / 1000, "m", system, small=True)


def handles_of(
    scene: Scene, candidate: Candidate, on: Projection, system: UnitSystem
) -> list[Handle]:
    """Return the handles of a plan, the largest first so that none lies under a larger one."""
    sized = []
    for index, keepout in enumerate(scene.keepouts):
        name = f"Keep-out {keepout.name}"
        handle = Handle(
            item=keepout_item(index),
            path=_path(keepout.outline, on),
            label=f"{name}, {_place(keepout.outline, system)}; arrow keys move it",
            words=keepout.name,
        )
        sized.append((_area(keepout.outline), handle))
    if candidate.modules is not None:
        sized += [
            _corner_handle(corner, candidate.modules.corners, scene, on, system)
            for corner in CORNER_SIGNS
        ]
    return [handle for _, handle in sorted(sized, key=lambda one: -one[0])]


def _corner_handle(
    corner: str, corners: Corners, scene: Scene, on: Projection, system: UnitSystem
) -> tuple[float, Handle]:
    outlines = [body.outline for body in scene.bodies if body.corner == corner]
    points = [point for outline in outlines for point in outline]
    inset = getattr(corners, corner).inset_m
    along, across = (float(inset[0]) * 1000, float(inset[1]) * 1000)
    words = f"{corner.replace('_', ' ')} module"
    handle = Handle(
        item=corner_item(corner),
        path="".join(_path(outline, on) for outline in outlines),
        label=(
            f"{words.capitalize()}, {length_words(along, system)} in along and "
            f"{length_words(across, system)} in across; arrow keys move it"
        ),
        words=words,
        partner=mirrored(corner_item(corner)),
        outwards=CORNER_SIGNS[corner],
        room_mm=(round(along, 1), round(across, 1)),
    )
    return _area(points), handle


def _path(outline: tuple[Point, ...], on: Projection) -> str:
    return on.path(plan_place(point) for point in outline)


def _area(points: tuple[Point, ...] | list[Point]) -> float:
    """Return the area of the box around points."""
    low, high = _box(points)
    return (high[0] - low[0]) * (high[1] - low[1])


def _box(points: tuple[Point, ...] | list[Point]) -> tuple[Point, Point]:
    xs, ys = [point[0] for point in points], [point[1] for point in points]
    return (min(xs), min(ys)), (max(xs), max(ys))


def _place(points: tuple[Point, ...], system: UnitSystem) -> str:
    """Return where the middle of an outline lies, in words."""
    low, high = _box(points)
    forward = round((low[0] + high[0]) * 500, 1)
    left = round((low[1] + high[1]) * 500, 1)
    return (
        f"{length_words(abs(forward), system)} {'forward' if forward >= 0 else 'back'}, "
        f"{length_words(abs(left), system)} {'left' if left >= 0 else 'right'}"
    )
