"""A route drawn on its field: edge, obstacles, legs, points, headings, to scale."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import atan2, ceil, cos, floor, hypot, pi, radians, sin, tan
from typing import Any

from models.study.schema import Route, Study
from models.units import UnitSystem, convert, display_unit, show, show_bare
from webapp.shared.drawings.shapes import (
    VIEW_WIDTH,
    Label,
    Point,
    Projection,
    Shape,
    circle,
    polyline,
)

LEFT, RIGHT, ABOVE, BELOW = 62.0, 44.0, 26.0, 58.0
"""Room around the field for the ruler and the words [drawing units]."""
TALLEST = 760.0
"""A field that would be drawn taller than this is drawn smaller [drawing units]."""
ROUND_IT = 0.8
"""Room around the routes where the study gives no field [m]."""
LEAST_SIDE = 2.0
"""The shortest side that is drawn [m]."""
TOGETHER = 24.0
"""Points nearer than this share one label [drawing units]."""
DOT, ARROW, HEAD = 9.0, 46.0, 12.0
LABEL_AWAY = 31.0
LETTER = 18.0
"""Width of a letter of a label on a phone, where it is widest [drawing units]."""
RULER_STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
MOST_RULER_STEPS = 9
Extent = tuple[float, float, float, float]
"""Least x and y, greatest x and y [m]."""


@dataclass(frozen=True)
class RoutePoint:
    """A point of a route that can be taken hold of."""

    place: str
    """Its name in the form, without the axis."""
    at: Point
    metres: Point
    words: str
    label: str


@dataclass(frozen=True)
class LegLine:
    """One leg as a line between two points."""

    begins: str
    ends: str
    path: str
    title: str
    css: str


@dataclass
class FieldView:
    """A route's drawing, ready to print as SVG."""

    title: str
    description: str
    note: str
    """Where the size of the field comes from."""
    width: float
    height: float
    on: Projection
    extent: Extent
    below: list[Shape] = field(default_factory=list)
    lines: list[LegLine] = field(default_factory=list)
    above: list[Shape] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    points: list[RoutePoint] = field(default_factory=list)


@dataclass(frozen=True)
class _Stop:
    """A point of a route in metres, and the legs that end there."""

    place: str
    at: Point
    numbers: tuple[int, ...]
    """Of the legs that end at it; none at the start."""
    headings: tuple[float, ...]
    passes: bool
    radius: float | None

    @property
    def is_start(self) -> bool:
        """Whether the route begins here."""
        return self.place.endswith(".start.at_m")


def extent_of(study: Study, before: Study | None = None) -> Extent:
    """Return what is drawn: the field with every point of all routes, in metres.

    Without a field it is the room that the routes take, rounded outwards to whole metres.
    With `before`, the study that was edited, its points count too: what is drawn stays put
    while a point moves.
    """
    points = [
        (float(x), float(y))
        for route in [*study.routes, *(before.routes if before else ())]
        for x, y in [route.start.at_m, *(leg.to_m for leg in route.legs if leg.to_m is not None)]
    ]
    given = study.field
    if given is not None:
        corners = [(0.0, 0.0), (float(given.length_m), float(given.width_m))]
        return _around([*points, *corners])
    low_x, low_y, high_x, high_y = _around(points or [(0.0, 0.0), (LEAST_SIDE, LEAST_SIDE)])
    return (
        float(floor(low_x - ROUND_IT)),
        float(floor(low_y - ROUND_IT)),
        float(ceil(high_x + ROUND_IT)),
        float(ceil(high_y + ROUND_IT)),
    )


def _around(points: Sequence[Point]) -> Extent:
    xs, ys = [point[0] for point in points], [point[1] for point in points]
    return min(xs), min(ys), max(*xs, min(xs) + LEAST_SIDE), max(*ys, min(ys) + LEAST_SIDE)


def field_view(
    route: Route,
    index: int,
    study: Study,
    *,
    legs: Sequence[Mapping[str, Any]],
    extent: Extent,
    system: UnitSystem,
) -> FieldView:
    """Return a route on its field; `legs` are any candidate's figures, for what they cross."""
    low_x, low_y, high_x, high_y = extent
    scale = min(
        (VIEW_WIDTH - LEFT - RIGHT) / (high_x - low_x), (TALLEST - ABOVE - BELOW) / (high_y - low_y)
    )
    height = ABOVE + BELOW + (high_y - low_y) * scale
    on = Projection(scale, (LEFT - low_x * scale, ABOVE + high_y * scale))
    stops, ends = _stops(route, index)
    view = FieldView(
        title=f"Route “{route.name}” on the field, from above",
        description=_description(route, study, system),
        note=_note(study),
        width=round(LEFT + RIGHT + (high_x - low_x) * scale, 1),
        height=round(height, 1),
        on=on,
        extent=extent,
    )
    _draw_field(view, study, system)
    _draw_legs(view, ends, legs)
    for stop in stops:
        _draw_stop(view, stop, system)
    _draw_turns(view, ends)
    _label_stops(view, stops, system)
    return view


def _note(study: Study) -> str:
    if study.field is None:
        return "The study gives no field size: drawn is the room that the routes take."
    return ""


def _description(route: Route, study: Study, system: UnitSystem) -> str:
    unit = display_unit("m", system)
    stays = sum(leg.to_m is None for leg in route.legs)
    words = [f"{len(route.legs)} legs from {_place(route.start.at_m, system)} {unit}"]
    words += [
        f"{number}: {_place(leg.to_m, system)}"
        for number, leg in enumerate(route.legs, start=1)
        if leg.to_m is not None
    ]
    if stays:
        words.append(f"{stays} without a move")
    if study.field is not None and study.field.obstacles:
        words.append(f"obstacles: {', '.join(one.name for one in study.field.obstacles)}")
    return "; ".join(words)


def _place(at: Sequence[float], system: UnitSystem) -> str:
    x, y = (show_bare(float(one), "m", system, small=False, decimals=2) for one in at)
    return f"x {x}, y {y}"


def _stops(route: Route, index: int) -> tuple[list[_Stop], list[_Stop]]:
    """Return the route's points, the start first; and where each leg ends, the start before."""
    name = f"routes.{index}"
    numbers: dict[str, list[int]] = {f"{name}.start.at_m": []}
    headings = {f"{name}.start.at_m": [float(route.start.heading_deg)]}
    at = {f"{name}.start.at_m": _metres(route.start.at_m)}
    through: dict[str, float | None] = {}
    last = f"{name}.start.at_m"
    order = [last]
    for number, leg in enumerate(route.legs, start=1):
        if leg.to_m is not None:
            last = f"{name}.legs.{number - 1}.to_m"
            at[last], numbers[last], headings[last] = _metres(leg.to_m), [], []
        numbers[last].append(number)
        if leg.heading_deg is not None:
            headings[last].append(float(leg.heading_deg))
        if leg.passes and leg.to_m is not None:
            through[last] = None if leg.radius_m is None else float(leg.radius_m)
        order.append(last)
    stops = {
        place: _Stop(
            place,
            at[place],
            tuple(numbers[place]),
            tuple(headings[place]),
            place in through,
            through.get(place),
        )
        for place in at
    }
    return list(stops.values()), [stops[place] for place in order]


def _metres(place: Sequence[float]) -> Point:
    return float(place[0]), float(place[1])


def _draw_field(view: FieldView, study: Study, system: UnitSystem) -> None:
    low_x, low_y, high_x, high_y = view.extent
    given = study.field
    if given is not None:
        edge = view.on.box((0.0, 0.0), (float(given.length_m), float(given.width_m)))
        view.below.append(Shape("field-edge", edge))
        for one in given.obstacles:
            outline = [_metres(corner) for corner in one.outline_m]
            path = view.on.path(outline)
            view.below.append(Shape("field-obstacle", path, title=one.name, hatched=True))
            middle = view.on.at(
                sum(x for x, _ in outline) / len(outline), sum(y for _, y in outline) / len(outline)
            )
            view.labels.append(Label((middle[0], middle[1] + 8.0), one.name, "words-obstacle"))
    else:
        view.below.append(
            Shape("field-edge field-open", view.on.box((low_x, low_y), (high_x, high_y)))
        )
    _draw_ruler(view, system)


def _draw_ruler(view: FieldView, system: UnitSystem) -> None:
    """Draw ticks along the lower and the left edge, with figures in the unit of the page."""
    low_x, low_y, high_x, high_y = view.extent
    a_metre = convert(1.0, "m", system, small=False)
    unit = display_unit("m", system)
    longest = max(high_x - low_x, high_y - low_y) * a_metre
    step = next((one for one in RULER_STEPS if longest / one <= MOST_RULER_STEPS), RULER_STEPS[-1])
    lines = []
    for axis, low, high in ((0, low_x, high_x), (1, low_y, high_y)):
        first, last = ceil(low * a_metre / step - 1e-9), floor(high * a_metre / step + 1e-9)
        for count in range(first, last + 1):
            metres = count * step / a_metre
            x, y = view.on.at(metres, low_y) if axis == 0 else view.on.at(low_x, metres)
            end = (x, y + 12.0) if axis == 0 else (x - 12.0, y)
            lines.append(polyline([(x, y), end]))
            words = f"{count * step:g}" + (f" {unit}" if axis == 0 and count == last else "")
            at = (x, y + 38.0) if axis == 0 else (x - 18.0, y + 8.0)
            view.labels.append(Label(at, words, "words-ruler", "middle" if axis == 0 else "end"))
    view.below.append(Shape("field-ruler", "".join(lines)))


def _draw_legs(view: FieldView, ends: Sequence[_Stop], legs: Sequence[Mapping[str, Any]]) -> None:
    for number, (begin, end) in enumerate(pairwise(ends), start=1):
        if begin.place == end.place:
            continue
        figures = legs[number - 1] if number <= len(legs) else {}
        crosses = figures.get("crosses") or ()
        start, goal = view.on.at(*begin.at), view.on.at(*end.at)
        title = f"Leg {number}" + (f", crosses {', '.join(crosses)}" if crosses else "")
        css = "field-leg field-crossing" if crosses else "field-leg"
        path = polyline([start, goal])
        view.lines.append(LegLine(begin.place, end.place, path, title, css))
        chevron = _chevron(start, goal)
        if chevron:
            view.above.append(Shape("field-way", chevron))


def _chevron(start: Point, goal: Point) -> str:
    """Return an open arrow head in the middle of a leg, "" where the leg is too short."""
    length = hypot(goal[0] - start[0], goal[1] - start[1])
    if length < 4.0 * HEAD:
        return ""
    way = atan2(goal[1] - start[1], goal[0] - start[0])
    tip = ((start[0] + goal[0]) / 2 + 5.0 * cos(way), (start[1] + goal[1]) / 2 + 5.0 * sin(way))
    return polyline([_off(tip, way + pi * 0.84, HEAD), tip, _off(tip, way - pi * 0.84, HEAD)])


def _off(at: Point, way: float, length: float) -> Point:
    return at[0] + length * cos(way), at[1] + length * sin(way)


def _draw_stop(view: FieldView, stop: _Stop, system: UnitSystem) -> None:
    at = view.on.at(*stop.at)
    for heading in dict.fromkeys(stop.headings):
        way = -radians(heading)
        tip = _off(at, way, ARROW)
        head = polyline([_off(tip, way + pi * 0.85, HEAD), tip, _off(tip, way - pi * 0.85, HEAD)])
        shaft = polyline([_off(at, way, DOT), tip])
        view.above.append(Shape("field-heading", shaft + head, item=stop.place))
    if stop.is_start:
        x, y = at
        square = polyline(
            [(x - 12, y - 12), (x + 12, y - 12), (x + 12, y + 12), (x - 12, y + 12)], closed=True
        )
        view.above.append(Shape("field-start", square, item=stop.place))
    css = "field-through" if stop.passes else "field-point"
    view.above.append(Shape(css, circle(at, DOT - 2.0 if stop.passes else DOT), item=stop.place))
    words = _words(stop)
    unit = display_unit("m", system)
    label = f"{words[:1].upper()}{words[1:]}, {_place(stop.at, system)} {unit}; arrow keys move it"
    view.points.append(RoutePoint(stop.place, at, stop.at, words, label))


def _words(stop: _Stop) -> str:
    if stop.is_start:
        return "start"
    through = ", driven through" if stop.passes else ""
    return f"end of leg {stop.numbers[0]}{through}"


def _draw_turns(view: FieldView, ends: Sequence[_Stop]) -> None:
    """Draw the arc on which a point is passed, as far as both legs leave room for it."""
    for before, at, after in zip(ends, ends[1:], ends[2:], strict=False):
        if not at.passes or at.radius is None:
            continue
        arc = _arc(before.at, at.at, after.at, at.radius)
        if arc:
            view.above.append(Shape("field-arc", view.on.path(arc, closed=False)))


def _arc(before: Point, at: Point, after: Point, radius: float) -> list[Point]:
    """Return points of the arc that touches both legs of a corner, none where it cannot be drawn.

    >>> [(round(x, 2), round(y, 2)) for x, y in _arc((0, 0), (2, 0), (2, 2), 1.0)[::6]]
    [(1.0, 0.0), (1.71, 0.29), (2.0, 1.0)]
    """
    coming, going = (
        atan2(before[1] - at[1], before[0] - at[0]),
        atan2(after[1] - at[1], after[0] - at[0]),
    )
    between = abs((going - coming + pi) % (2 * pi) - pi)
    if between < 0.02 or pi - between < 0.02:
        return []
    away = radius / tan(between / 2)
    room = min(
        hypot(before[0] - at[0], before[1] - at[1]), hypot(after[0] - at[0], after[1] - at[1])
    )
    if away > room:
        return []
    middle_way = coming + ((going - coming + pi) % (2 * pi) - pi) / 2
    centre = _off(at, middle_way, radius / sin(between / 2))
    first, last = _off(at, coming, away), _off(at, going, away)
    begin = atan2(first[1] - centre[1], first[0] - centre[0])
    sweep = (atan2(last[1] - centre[1], last[0] - centre[0]) - begin + pi) % (2 * pi) - pi
    return [_off(centre, begin + sweep * step / 12, radius) for step in range(13)]


def _label_stops(view: FieldView, stops: Sequence[_Stop], system: UnitSystem) -> None:
    """Number the points; those that lie together share one label, put where no leg runs."""
    groups: list[tuple[Point, list[_Stop]]] = []
    for stop in stops:
        at = view.on.at(*stop.at)
        for where, group in groups:
            if hypot(where[0] - at[0], where[1] - at[1]) < TOGETHER:
                group.append(stop)
                break
        else:
            groups.append((at, [stop]))
    spots = [where for where, _ in groups]
    for where, group in groups:
        names = ["start"] if any(one.is_start for one in group) else []
        numbers = "·".join(str(number) for one in group for number in one.numbers)
        radii = {one.radius for one in group if one.passes and one.radius is not None}
        turns = [show(radius, "m", system, small=False, digits=2) for radius in sorted(radii)]
        text = ", ".join([*names, *([numbers] if numbers else [])]) + (
            f" (r {', '.join(turns)})" if turns else ""
        )
        others = [spot for spot in spots if spot != where]
        at, anchor = _free_spot(where, text, _taken_ways(group, where, view), others, view)
        place = group[0].place if len(group) == 1 else ""
        view.labels.append(Label(at, text, "words-point", anchor, item=place))


def _taken_ways(group: Sequence[_Stop], where: Point, view: FieldView) -> list[float]:
    """Return the directions in which arrows and legs leave a group of points."""
    places = {one.place for one in group}
    drawn = {point.place: point.at for point in view.points}
    taken = [-radians(heading) for one in group for heading in one.headings]
    for line in view.lines:
        if (line.begins in places) != (line.ends in places):
            at = drawn[line.ends if line.begins in places else line.begins]
            taken.append(atan2(at[1] - where[1], at[0] - where[0]))
    return taken


def _free_spot(
    where: Point, text: str, taken: Sequence[float], others: Sequence[Point], view: FieldView
) -> tuple[Point, str]:
    """Return where beside a point there is the most room for its label, and its anchor."""
    best: tuple[tuple[float, ...], Point, str] | None = None
    for eighth in (6, 2, 5, 7, 1, 3, 0, 4):
        way = eighth * pi / 4
        x, y = _off(where, way, LABEL_AWAY)
        anchor = "middle" if eighth in (2, 6) else "start" if eighth in (7, 0, 1) else "end"
        width = LETTER * len(text)
        left = x - {"start": 0.0, "middle": width / 2, "end": width}[anchor]
        inside = left > LEFT and left + width < view.width - RIGHT
        inside = inside and y - 12.0 > ABOVE and y + 12.0 < view.height - BELOW
        covered = sum(
            left - DOT < at[0] < left + width + DOT and abs(at[1] - y) < 24.0 for at in others
        )
        room = min((abs((way - one + pi) % (2 * pi) - pi) for one in taken), default=pi)
        score = (float(inside), -float(covered), min(round(room, 2), 1.2))
        if best is None or score > best[0]:
            best = (score, (round(x, 1), round(y + 9.0, 1)), anchor)
    return (best[1], best[2]) if best else (where, "middle")
