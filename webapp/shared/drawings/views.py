"""The two views of a scene: which outlines are drawn, and in which order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from models.trade.scene import Scene, SceneBody, SceneGap, SceneKeepout, ScenePart, SceneWheel
from models.units import UnitSystem, show
from webapp.shared.drawings import annotations as notes
from webapp.shared.drawings.shapes import (
    VIEW_WIDTH,
    Label,
    Point,
    Projection,
    Shape,
    View,
    circle,
    drawn_inside,
    plan_place,
    polyline,
)

MARGIN = 118.0
"""Room around the drawn things for dimensions and words, in drawing units."""
RULER_ROOM = 50.0
INNER_LINE_SHARE = 0.72
"""Size of the dashed inner line of an inverted module against its outline."""
LIMIT_IN_SIGHT = 1.3
"""The height limit is drawn where it lies below this share of the robot's height."""

Rows = Sequence[tuple[int, SceneGap]]


def scale_for(scene: Scene) -> float:
    """Return drawing units a metre, so that both views fill their width or stay inside it."""
    across = scene.highest[1] - scene.lowest[1]
    along = scene.highest[0] - scene.lowest[0]
    return (VIEW_WIDTH - 2 * MARGIN) / max(across, along, 0.2)


def plan_view(
    scene: Scene, system: UnitSystem, scale: float, *, lit: SceneGap | None, rows: Rows
) -> View:
    """Return the plan, front up, with dimensions and names."""
    middle = -(scene.lowest[1] + scene.highest[1]) / 2
    on = Projection(scale, (VIEW_WIDTH / 2 - middle * scale, MARGIN + scene.highest[0] * scale))
    drawn = (scene.highest[0] - scene.lowest[0]) * scale
    view = View(
        "plan",
        f"Plan of {scene.candidate_name}, {scene.pose}, front up",
        notes.describe(scene, system),
        VIEW_WIDTH,
        round(drawn + 2 * MARGIN + RULER_ROOM, 1),
    )
    view.shapes += plan_shapes(scene, on, lit)
    notes.front_mark(view)
    notes.add_plan_dimensions(view, scene, on, system)
    notes.add_keepout_names(view, scene, on)
    notes.add_inverted_words(view, scene, on)
    notes.add_overlap_words(view, scene, on)
    notes.add_centre_of_gravity(view, on.at(*plan_place(scene.cg_m)))
    notes.add_ruler(view, on, system, (MARGIN, view.height - 34))
    for row, gap in rows:
        ends = (on.at(*plan_place(gap.from_point)), on.at(*plan_place(gap.to_point)))
        view.measures.append(notes.measure_of(row, gap, ends, system, lit=gap is lit))
    return view


def side_view(
    scene: Scene, system: UnitSystem, scale: float, *, lit: SceneGap | None, rows: Rows
) -> View:
    """Return the view from the robot's right, front to the right, with heights."""
    limit_seen = scene.height_limit_m <= scene.highest[2] * LIMIT_IN_SIGHT
    top = max(scene.highest[2], scene.height_limit_m if limit_seen else 0.0)
    middle = (scene.lowest[0] + scene.highest[0]) / 2
    on = Projection(scale, (VIEW_WIDTH / 2 - middle * scale, MARGIN / 2 + top * scale))
    drawn = (top - min(scene.lowest[2], 0.0)) * scale
    view = View(
        "side",
        f"Side view of {scene.candidate_name}, {scene.pose}, front to the right",
        notes.describe(scene, system),
        VIEW_WIDTH,
        round(drawn + MARGIN * 1.2 + RULER_ROOM, 1),
    )
    view.shapes += side_shapes(scene, on, lit)
    _add_floor_and_limit(view, scene, on, system, limit_seen=limit_seen)
    notes.add_side_dimensions(view, scene, on, system)
    notes.add_centre_of_gravity(view, on.at(scene.cg_m[0], scene.cg_m[2]))
    notes.add_ruler(view, on, system, (MARGIN, view.height - 34))
    for row, gap in rows:
        ends = (
            on.at(gap.from_point[0], gap.from_point[2]),
            on.at(gap.to_point[0], gap.to_point[2]),
        )
        view.measures.append(notes.measure_of(row, gap, ends, system, lit=gap is lit))
    return view


def _add_floor_and_limit(
    view: View, scene: Scene, on: Projection, system: UnitSystem, *, limit_seen: bool
) -> None:
    floor = on.at(0, 0)[1]
    line = polyline([(MARGIN / 2, floor), (VIEW_WIDTH - MARGIN / 2, floor)])
    view.shapes.append(Shape("drawn-floor", line, "floor"))
    view.labels.append(Label((VIEW_WIDTH * 0.62, floor + 40), "front →", "words-front", "middle"))
    if limit_seen:
        height = on.at(0, scene.height_limit_m)[1]
        line = polyline([(MARGIN / 2, height), (VIEW_WIDTH - MARGIN / 2, height)])
        view.shapes.append(Shape("drawn-limit", line, "height limit"))
        words = f"height limit {show(scene.height_limit_m, 'm', system)}"
        at = (VIEW_WIDTH - MARGIN / 2, height - 10)
        view.labels.append(Label(at, words, "words-limit", "end"))


def plan_shapes(
    scene: Scene, on: Projection, lit: SceneGap | None = None, *, parts: bool = True
) -> list[Shape]:
    """Return the outlines of a plan, what lies underneath first."""

    def path(outline: Iterable[Point]) -> str:
        return on.path(plan_place(point) for point in outline)

    boxes = [part for part in scene.parts if any(part.size)] if parts else []
    shapes = [_part_shape(part, path(part.outline)) for part in boxes]
    shapes.append(Shape("drawn-frame", path(scene.frame), "frame"))
    for keepout in scene.keepouts:
        shapes.append(_keepout_shape(keepout, path(keepout.outline), lit))
        shapes.append(Shape("drawn-clearance", path(keepout.clearance_outline)))
    shapes += [Shape("drawn-wheel", path(wheel.outline), "wheel") for wheel in scene.wheels]
    if scene.layout == "mecanum":
        shapes += [Shape("drawn-roller", _rollers(wheel, on)) for wheel in scene.wheels]
    for body in scene.bodies:
        corners = [plan_place(point) for point in body.outline]
        shapes += _body_shapes(body, corners, on, lit)
    shapes.append(Shape("drawn-support", path(scene.support), "support polygon"))
    for gap in scene.gaps:
        for outline in gap.overlap_outlines:
            title = f"{gap.body} overlaps {gap.keepout}"
            shapes.append(Shape("drawn-overlap", path(outline), title))
    return shapes


def side_shapes(scene: Scene, on: Projection, lit: SceneGap | None = None) -> list[Shape]:
    """Return the outlines of a side view, what lies underneath first."""

    def corners(outline: Iterable[Point], bottom: float, top: float) -> list[Point]:
        xs = [point[0] for point in outline]
        return [(min(xs), bottom), (max(xs), bottom), (max(xs), top), (min(xs), top)]

    shapes = [
        _part_shape(part, on.path(corners(part.outline, part.bottom_m, part.top_m)))
        for part in scene.parts
        if any(part.size)
    ]
    for keepout in scene.keepouts:
        path = on.path(corners(keepout.outline, keepout.bottom_m, keepout.top_m))
        shapes.append(_keepout_shape(keepout, path, lit))
    for wheel in scene.wheels:
        centre = on.at(wheel.centre[0], (wheel.bottom_m + wheel.top_m) / 2)
        radius = wheel.diameter_m / 2 * on.scale
        shapes.append(Shape("drawn-wheel", circle(centre, radius), "wheel"))
    for body in scene.bodies:
        box = corners(body.outline, body.bottom_m, body.top_m)
        shapes += _body_shapes(body, box, on, lit)
    return shapes


def _part_shape(part: ScenePart, path: str) -> Shape:
    return Shape("drawn-part drawn-moved" if part.moved else "drawn-part", path, part.name)


def _keepout_shape(keepout: SceneKeepout, path: str, lit: SceneGap | None) -> Shape:
    return Shape(
        "drawn-keepout drawn-conflict" if keepout.conflict else "drawn-keepout",
        path,
        f"keep-out: {keepout.name}",
        keepout=keepout.name,
        hatched=True,
        lit=lit is not None and lit.keepout == keepout.name,
    )


def _body_shapes(
    body: SceneBody, corners: list[Point], on: Projection, lit: SceneGap | None
) -> list[Shape]:
    css = "drawn-module" if body.corner else "drawn-body"
    words = f"{body.name}, {body.orientation}" if body.orientation else body.name
    chosen = lit is not None and lit.body == body.name
    outer = Shape(
        f"{css} drawn-conflict" if body.conflict else css,
        on.path(corners),
        words,
        body=body.name,
        lit=chosen,
    )
    if body.orientation != "inverted":
        return [outer]
    inner = on.path(drawn_inside(corners, INNER_LINE_SHARE))
    return [outer, Shape("drawn-inverted", inner, body=body.name, lit=chosen)]


def _rollers(wheel: SceneWheel, on: Projection) -> str:
    """Return slanted lines across a mecanum wheel, as its rollers lie seen from above."""
    x, y = wheel.centre
    slant = 1.0 if x * y > 0 else -1.0
    half = wheel.width_m / 2
    lines = []
    for step in (-0.3, 0.0, 0.3):
        middle = x + step * wheel.diameter_m
        ends = [(middle + slant * half * side, y + half * side) for side in (-1.0, 1.0)]
        lines.append(on.path([plan_place(end) for end in ends], closed=False))
    return "".join(lines)
