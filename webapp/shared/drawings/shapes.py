"""Shapes of a drawing: robot coordinates in metres turned into SVG path data.

One scale serves plan and side view. The plan has the front up (x up, y to the left); the side
view is from the robot's right (x to the right, z up).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

Point = tuple[float, float]

VIEW_WIDTH = 1000.0
"""Width of a view in drawing units; the style sheet makes it as wide as its column."""


@dataclass(frozen=True)
class Shape:
    """One drawn outline or line."""

    css: str
    path: str
    title: str = ""
    body: str = ""
    """Name of the base's body it belongs to, so that a row of the list can light it."""
    keepout: str = ""
    hatched: bool = False
    lit: bool = False
    item: str = ""
    """What it moves with when the drawing is edited."""


@dataclass(frozen=True)
class Label:
    """One piece of text."""

    at: Point
    text: str
    css: str = ""
    anchor: str = "middle"
    turned: bool = False
    """Written upwards, along a vertical dimension line."""
    item: str = ""
    """What it moves with when the drawing is edited."""


@dataclass(frozen=True)
class Handle:
    """What can be taken hold of in a plan, to move what it outlines."""

    item: str
    path: str
    label: str
    """Its name for somebody who does not see it, with where it lies."""
    words: str
    partner: str = ""
    """The item that mirrors its moves."""
    outwards: Point = (0.0, 0.0)
    """Signs of forward and left that lead outwards, 0 where nothing limits it."""
    room_mm: Point = (0.0, 0.0)
    """How far outwards it can still go."""


@dataclass(frozen=True)
class Measure:
    """The measure line of one row of the list of gaps."""

    row: int
    path: str
    label: Label
    lit: bool = False


@dataclass
class View:
    """One view, ready to print as SVG."""

    key: str
    title: str
    description: str
    width: float
    height: float
    shapes: list[Shape] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    measures: list[Measure] = field(default_factory=list)
    handles: list[Handle] = field(default_factory=list)
    """What can be moved; empty in a drawing that is only looked at."""
    on: Projection | None = None


@dataclass(frozen=True)
class Projection:
    """From robot coordinates to drawing units: u to the right, w upwards, both in metres."""

    scale: float
    """Drawing units a metre."""
    origin: Point
    """Where u = 0, w = 0 lies in the drawing."""

    def at(self, u: float, w: float) -> Point:
        """Return the drawing point of a place."""
        return (
            round(self.origin[0] + u * self.scale, 1),
            round(self.origin[1] - w * self.scale, 1),
        )

    def path(self, points: Iterable[Point], *, closed: bool = True) -> str:
        """Return path data through places.

        >>> Projection(100.0, (0.0, 0.0)).path([(0, 0), (1, 0), (1, 0.5)])
        'M0.0 0.0L100.0 0.0L100.0 -50.0Z'
        """
        drawn = (self.at(u, w) for u, w in points)
        return polyline(drawn, closed=closed)

    def box(self, low: Point, high: Point) -> str:
        """Return path data of an upright rectangle between two corners."""
        return self.path([low, (high[0], low[1]), high, (low[0], high[1])])


def corner_item(corner: str) -> str:
    """Return the item of a corner's module.

    >>> corner_item("rear_left")
    'corner.rear_left'
    """
    return f"corner.{corner}"


def keepout_item(index: int) -> str:
    """Return the item of a keep-out by its place in the study.

    >>> keepout_item(3)
    'keepout.3'
    """
    return f"keepout.{index}"


def polyline(points: Iterable[Point], *, closed: bool = False) -> str:
    """Return path data through drawing points."""
    steps = "L".join(f"{x:.1f} {y:.1f}" for x, y in points)
    return f"M{steps}Z" if closed else f"M{steps}"


def circle(centre: Point, radius: float) -> str:
    """Return path data of a circle in drawing units."""
    x, y = centre
    arc = f"A{radius:.1f} {radius:.1f} 0 1 1"
    return f"M{x - radius:.1f} {y:.1f}{arc} {x + radius:.1f} {y:.1f}{arc} {x - radius:.1f} {y:.1f}Z"


def quarters(centre: Point, radius: float) -> str:
    """Return path data of the two filled quarters of a centre-of-gravity symbol."""
    x, y, r = centre[0], centre[1], radius
    arc = f"A{r:.1f} {r:.1f} 0 0 1"
    return (
        f"M{x:.1f} {y:.1f}L{x:.1f} {y - r:.1f}{arc} {x + r:.1f} {y:.1f}Z"
        f"M{x:.1f} {y:.1f}L{x:.1f} {y + r:.1f}{arc} {x - r:.1f} {y:.1f}Z"
    )


def plan_place(point: Sequence[float]) -> Point:
    """Return where a robot point (x forward, y left) lies in the plan, front up.

    >>> plan_place((0.3, 0.2))
    (-0.2, 0.3)
    """
    return (-float(point[1]), float(point[0]))


def drawn_inside(outline: Sequence[Point], share: float) -> list[Point]:
    """Return an outline shrunk towards its middle, for the inner line of an inverted module.

    >>> drawn_inside([(0, 0), (2, 0), (2, 2), (0, 2)], 0.5)
    [(0.5, 0.5), (1.5, 0.5), (1.5, 1.5), (0.5, 1.5)]
    """
    middle_u = (min(p[0] for p in outline) + max(p[0] for p in outline)) / 2
    middle_w = (min(p[1] for p in outline) + max(p[1] for p in outline)) / 2
    return [
        (middle_u + (u - middle_u) * share, middle_w + (w - middle_w) * share) for u, w in outline
    ]


def dimension(start: Point, end: Point, *, tick: float = 9.0) -> str:
    """Return path data of a dimension line with a tick at both ends, upright or level."""
    (x1, y1), (x2, y2) = start, end
    if abs(x1 - x2) < abs(y1 - y2):
        ticks = [((x1 - tick, y1), (x1 + tick, y1)), ((x2 - tick, y2), (x2 + tick, y2))]
    else:
        ticks = [((x1, y1 - tick), (x1, y1 + tick)), ((x2, y2 - tick), (x2, y2 + tick))]
    return "".join(polyline(line) for line in [(start, end), *ticks])
