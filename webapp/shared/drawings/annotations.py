"""What is written on a drawing: dimensions, ruler, centre of gravity, names, measure lines."""

from __future__ import annotations

from collections.abc import Sequence

from models.trade.scene import Scene, SceneGap
from models.units import INCH_M, UnitSystem, show
from webapp.shared.drawings.shapes import (
    VIEW_WIDTH,
    Label,
    Measure,
    Point,
    Projection,
    Shape,
    View,
    circle,
    dimension,
    keepout_item,
    plan_place,
    polyline,
    quarters,
)

OUTER_ROW = 74.0
"""Distance of the frame's dimension lines from the frame, in drawing units."""
INNER_ROW = 32.0
"""Distance of the wheels' dimension lines from the frame."""
CG_RADIUS = 15.0
CG_ROOM = 110.0
"""Width on both sides of the centre of gravity that its symbol and letters need."""
LEAST_MEASURE = 5.0
"""A measure line shorter than this is drawn as a ring, so that it can be seen."""

RULERS = {
    UnitSystem.SI: (0.1, 5, "0.5 m"),
    UnitSystem.INCH_POUND: (4 * INCH_M, 5, "20 in"),
}
"""One division [m], how many of them, and what the whole is called."""


def add_centre_of_gravity(view: View, at: Point, *, side: str = "left") -> None:
    """Draw the symbol of the centre of gravity with its letters."""
    view.shapes.append(Shape("drawn-cg", circle(at, CG_RADIUS), "centre of gravity"))
    view.shapes.append(Shape("drawn-cg-dark", quarters(at, CG_RADIUS)))
    away = 22.0 if side == "right" else -22.0
    anchor = "start" if side == "right" else "end"
    view.labels.append(Label((at[0] + away, at[1] + 8), "CG", "words-cg", anchor))


def add_plan_dimensions(view: View, scene: Scene, on: Projection, system: UnitSystem) -> None:
    """Draw the frame's width and length, and the wheels' track and wheelbase."""
    half_x, half_y = scene.frame_length_m / 2, scene.frame_width_m / 2
    left, right = on.at(-half_y, half_x), on.at(half_y, half_x)
    top = min(on.at(0, scene.highest[0])[1], left[1]) - INNER_ROW
    words = f"frame {show(scene.frame_width_m, 'm', system)}"
    _level(view, (left[0], top), (right[0], top), words)
    low = on.at(-half_y, -half_x)
    beside = min(on.at(-scene.highest[1], 0)[0], left[0]) - INNER_ROW
    words = f"frame {show(scene.frame_length_m, 'm', system)}"
    _upright(view, (beside, left[1]), (beside, low[1]), words)

    xs = [wheel.centre[0] for wheel in scene.wheels]
    ys = [wheel.centre[1] for wheel in scene.wheels]
    front, rear = max(xs), min(xs)
    beside = max(on.at(-scene.lowest[1], 0)[0], right[0]) + INNER_ROW
    words = f"wheelbase {show(front - rear, 'm', system)}"
    _upright(view, (beside, on.at(0, front)[1]), (beside, on.at(0, rear)[1]), words, right=True)
    below = max(on.at(0, scene.lowest[0])[1], low[1]) + INNER_ROW
    words = f"track {show(max(ys) - min(ys), 'm', system)}"
    _level(view, (on.at(-max(ys), 0)[0], below), (on.at(-min(ys), 0)[0], below), words, below=True)


def add_side_dimensions(view: View, scene: Scene, on: Projection, system: UnitSystem) -> None:
    """Draw the height of the whole and of the centre of gravity."""
    left = on.at(scene.lowest[0], 0)[0]
    floor = on.at(0, 0)[1]
    outer = left - INNER_ROW
    words = f"height {show(scene.height_m, 'm', system)}"
    _upright(view, (outer, on.at(0, scene.height_m)[1]), (outer, floor), words)
    right = on.at(scene.highest[0], 0)[0] + INNER_ROW
    words = f"CG {show(scene.cg_m[2], 'm', system)}"
    top = on.at(0, scene.cg_m[2])[1]
    _upright(view, (right, top), (right, floor), words, right=True)
    view.shapes.append(Shape("drawn-lead", polyline([on.at(scene.cg_m[0], scene.cg_m[2]),
                                                     (right, top)])))  # fmt: skip


def _level(view: View, start: Point, end: Point, words: str, *, below: bool = False) -> None:
    view.shapes.append(Shape("drawn-dimension", dimension(start, end)))
    away = 42.0 if below else -12.0
    at = ((start[0] + end[0]) / 2, start[1] + away)
    view.labels.append(Label(at, words, "words-dimension"))


def _upright(view: View, start: Point, end: Point, words: str, *, right: bool = False) -> None:
    view.shapes.append(Shape("drawn-dimension", dimension(start, end)))
    away = 42.0 if right else -12.0
    at = (start[0] + away, (start[1] + end[1]) / 2)
    view.labels.append(Label(at, words, "words-dimension", turned=True))


def add_ruler(view: View, on: Projection, system: UnitSystem, at: Point) -> None:
    """Draw a ruler, black and white divisions with the length of the whole."""
    division, count, words = RULERS[system]
    step = division * on.scale
    x, y = at
    for index in range(count):
        left = x + index * step
        path = polyline([(left, y), (left + step, y), (left + step, y + 10), (left, y + 10)],
                        closed=True)  # fmt: skip
        css = "drawn-ruler drawn-ruler-dark" if index % 2 == 0 else "drawn-ruler"
        view.shapes.append(Shape(css, path))
    end = (x + count * step + 12, y + 14)
    view.labels.append(Label(end, words, "words-dimension", "start"))


def add_keepout_names(view: View, scene: Scene, on: Projection) -> None:
    """Write the name of each keep-out on it, in plan, clear of the centre of gravity."""
    cg_x, cg_y = on.at(*plan_place(scene.cg_m))
    for index, keepout in enumerate(scene.keepouts):
        xs = [point[0] for point in keepout.outline]
        ys = [point[1] for point in keepout.outline]
        centre = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
        x, y = on.at(*plan_place(centre))
        if abs(x - cg_x) < CG_ROOM and abs(y - cg_y) < CG_RADIUS + 14:
            y = cg_y + CG_RADIUS + 20
        item = keepout_item(index)
        view.labels.append(Label((x, y + 8), keepout.name, "words-keepout", item=item))


def add_inverted_words(view: View, scene: Scene, on: Projection) -> None:
    """Write "inverted" at each corner whose module hangs upside down, in plan."""
    for corner in ("front_left", "front_right", "rear_left", "rear_right"):
        drawn = [
            point
            for body in scene.bodies
            if body.corner == corner and body.orientation == "inverted"
            for point in body.outline
        ]
        if not drawn:
            continue
        xs, ys = [point[0] for point in drawn], [point[1] for point in drawn]
        x, _ = on.at(*plan_place((0.0, (min(ys) + max(ys)) / 2)))
        y = on.at(0, max(xs))[1] - 8 if "rear" in corner else on.at(0, min(xs))[1] + 26
        view.labels.append(Label((x, y), "inverted", "words-inverted"))


def add_overlap_words(view: View, scene: Scene, on: Projection) -> None:
    """Write "overlap" once beside each keep-out that something runs into, in plan."""
    told = set()
    for gap in scene.gaps:
        if not gap.overlap_outlines or gap.keepout in told:
            continue
        told.add(gap.keepout)
        xs = [point[0] for outline in gap.overlap_outlines for point in outline]
        ys = [point[1] for outline in gap.overlap_outlines for point in outline]
        x, y = on.at(*plan_place((max(xs), (min(ys) + max(ys)) / 2)))
        view.labels.append(Label((x, y - 10), "✕ overlap", "words-overlap"))


def measure_of(
    row: int, gap: SceneGap, ends: tuple[Point, Point], system: UnitSystem, *, lit: bool
) -> Measure:
    """Return the measure line of one gap with its distance; an overlap is named already."""
    (x1, y1), (x2, y2) = ends
    words = "" if gap.overlap_m3 > 0 else _gap_words(gap, system)
    if abs(x1 - x2) + abs(y1 - y2) < LEAST_MEASURE:
        path = circle(((x1 + x2) / 2, (y1 + y2) / 2), 12.0)
    else:
        path = polyline(ends) + circle(ends[0], 4.0) + circle(ends[1], 4.0)
    middle = ((x1 + x2) / 2, min(y1, y2) - 18)
    return Measure(row, path, Label(middle, words, "words-measure"), lit)


def _gap_words(gap: SceneGap, system: UnitSystem) -> str:
    return show(gap.gap_m, "m", system, digits=2 if gap.gap_m < 0.01 else 3, small=True)


def describe(scene: Scene, system: UnitSystem) -> str:
    """Return what a drawing shows, for somebody who cannot see it."""
    size = (
        f"Frame {show(scene.frame_length_m, 'm', system)} long and "
        f"{show(scene.frame_width_m, 'm', system)} wide on {len(scene.wheels)} wheels; "
        f"{show(scene.height_m, 'm', system)} high in this pose."
    )
    x, y, z = scene.cg_m
    balance = (
        f"Centre of gravity {_off(x, 'ahead of', 'behind', system)} the middle, "
        f"{_off(y, 'left of', 'right of', system)} the middle line, "
        f"{show(z, 'm', system)} high, {'inside' if scene.stands else 'outside'} the wheels."
    )
    return f"{size} {balance} {_fit_words(scene.gaps, scene.fit_known)}"


def _off(value: float, more: str, less: str, system: UnitSystem) -> str:
    return f"{show(abs(value), 'm', system)} {more if value >= 0 else less}"


def _fit_words(gaps: Sequence[SceneGap], known: bool) -> str:
    if not known:
        return "No bodies or no keep-outs are given, so the fit is not known."
    bad = [gap for gap in gaps if gap.conflict]
    if not bad:
        return "Every keep-out keeps its clearance."
    words = "; ".join(f"{gap.body} and {gap.keepout}" for gap in bad[:5])
    more = f" and {len(bad) - 5} more" if len(bad) > 5 else ""
    return f"Conflicts: {words}{more}."


def front_mark(view: View) -> None:
    """Mark the front of a plan: an arrow and the word at the top."""
    x = VIEW_WIDTH / 2
    view.shapes.append(Shape("drawn-front", f"M{x:.0f} 8L{x + 13:.0f} 30H{x - 13:.0f}Z", "front"))
    view.labels.append(Label((x + 24, 30), "front", "words-front", "start"))
