"""The two views of a scene: which outlines are drawn, and in which order."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from models.engineering.placement import CORNERS
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
    corner_item,
    drawn_inside,
    keepout_item,
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
    view.on = on
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
    view.on = on
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
    for index, keepout in enumerate(scene.keepouts):
        shapes.append(_keepout_shape(index, keepout, path(keepout.outline), lit))
        grown = path(keepout.clearance_outline)
        css = _keepout_css("drawn-clearance", keepout)
        shapes.append(Shape(css, grown, item=keepout_item(index)))
    shapes += [
        Shape("drawn-wheel", path(wheel.outline), "wheel", item=item)
        for wheel, item in zip(scene.wheels, _wheel_items(scene), strict=True)
    ]
    if scene.layout == "mecanum":
        shapes += [Shape("drawn-roller", _rollers(wheel, on)) for wheel in scene.wheels]
    for body in scene.bodies:
        corners = [plan_place(point) for point in body.outline]
        shapes += _body_shapes(body, corners, on, lit)
    shapes.append(Shape("drawn-support", path(scene.support), "support polygon"))
    for gap in scene.gaps:
        for outline in gap.overlap_outlines:
            title = f"{gap.body} overlaps {gap.keepout}"
            css = "drawn-overlap" if gap.applies else "drawn-overlap drawn-elsewhere"
            shapes.append(Shape(css, path(outline), title))
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
    for index, keepout in enumerate(scene.keepouts):
        path = on.path(corners(keepout.outline, keepout.bottom_m, keepout.top_m))
        shapes.append(_keepout_shape(index, keepout, path, lit))
    for wheel, item in zip(scene.wheels, _wheel_items(scene), strict=True):
        centre = on.at(wheel.centre[0], (wheel.bottom_m + wheel.top_m) / 2)
        radius = wheel.diameter_m / 2 * on.scale
        shapes.append(Shape("drawn-wheel", circle(centre, radius), "wheel", item=item))
    for body in scene.bodies:
        box = corners(body.outline, body.bottom_m, body.top_m)
        shapes += _body_shapes(body, box, on, lit)
    return shapes


def _part_shape(part: ScenePart, path: str) -> Shape:
    return Shape("drawn-part drawn-moved" if part.moved else "drawn-part", path, part.name)


def _wheel_items(scene: Scene) -> list[str]:
    """Return what each wheel moves with: its module, where it is steered."""
    steered = {body.corner for body in scene.bodies if body.corner}
    if not steered or len(scene.wheels) != len(CORNERS):
        return [""] * len(scene.wheels)
    return [corner_item(corner) for corner in CORNERS]


def _keepout_shape(index: int, keepout: SceneKeepout, path: str, lit: SceneGap | None) -> Shape:
    return Shape(
        _keepout_css("drawn-keepout", keepout),
        path,
        f"keep-out: {keepout.name}{_keepout_words(keepout)}",
        keepout=keepout.name,
        hatched=keepout.applies and not keepout.swept,
        lit=lit is not None and lit.keepout == keepout.name,
        item=keepout_item(index),
    )


def _keepout_css(css: str, keepout: SceneKeepout) -> str:
    """Return the style of a keep-out: lighter where it is swept or counts in other poses only."""
    flags = {
        "drawn-conflict": keepout.conflict and css == "drawn-keepout",
        "drawn-swept": keepout.swept,
        "drawn-elsewhere": not keepout.applies,
    }
    return " ".join([css, *(name for name, on in flags.items() if on)])


def _keepout_words(keepout: SceneKeepout) -> str:
    swept = ", swept" if keepout.swept else ""
    return swept if keepout.applies else f"{swept}, not in this pose"


def _body_shapes(
    body: SceneBody, corners: list[Point], on: Projection, lit: SceneGap | None
) -> list[Shape]:
    css = "drawn-module" if body.corner else "drawn-body"
    words = f"{body.name}, {body.orientation}" if body.orientation else body.name
    chosen = lit is not None and lit.body == body.name
    item = corner_item(body.corner) if body.corner else ""
    outer = Shape(
        f"{css} drawn-conflict" if body.conflict else css,
        on.path(corners),
        words,
        body=body.name,
        lit=chosen,
        item=item,
    )
    if body.orientation != "inverted":
        return [outer]
    inner = on.path(drawn_inside(corners, INNER_LINE_SHARE))
    return [outer, Shape("drawn-inverted", inner, body=body.name, lit=chosen, item=item)]


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
