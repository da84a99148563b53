"""Plan views of a candidate in a pose as DXF and as SVG, in millimetres, one layer a subject.

The robot's front points up: right in the drawing is the robot's right, and the origin is the
middle of the frame, as on the page.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from models.trade.scene import Scene

MM = 1000.0
Point = tuple[float, float]

LAYERS = {
    "FRAME": 7,
    "WHEELS": 8,
    "MODULES": 5,
    "MODULES_INVERTED": 6,
    "BODIES": 4,
    "KEEPOUTS": 1,
    "KEEPOUTS_SWEPT": 30,
    "KEEPOUTS_OTHER_POSES": 9,
    "CLEARANCES": 11,
    "SUPPORT": 3,
    "PARTS": 9,
    "CENTRE_OF_GRAVITY": 2,
    "FRONT": 7,
    "NAMES": 8,
}
"""Layers of both files, with the colour number that a DXF gives them."""
_INK = {
    7: "#000000", 8: "#808080", 5: "#0000ff", 6: "#c000c0", 4: "#008080", 1: "#d00000",
    30: "#d06000", 11: "#e08080", 3: "#008000", 9: "#b0b0b0", 2: "#b08000",
}  # fmt: skip
HAIRLINE_MM = 0.1
TEXT_MM = 10.0
MARGIN_MM = 20.0
CG_RADIUS_MM = 10.0
ARROW_MM = 40.0


@dataclass(frozen=True)
class PlanLine:
    """A line of the plan, in millimetres, front up."""

    layer: str
    points: tuple[Point, ...]
    closed: bool = True
    name: str = ""


def plan_lines(scene: Scene) -> list[PlanLine]:
    """Return all lines of a plan, each on its layer, in millimetres with the front up."""
    lines = [PlanLine("FRAME", _up(scene.frame), name="frame")]
    lines += [PlanLine("WHEELS", _up(wheel.outline)) for wheel in scene.wheels]
    for body in scene.bodies:
        layer = "BODIES"
        if body.corner is not None:
            layer = "MODULES_INVERTED" if body.orientation == "inverted" else "MODULES"
        lines.append(PlanLine(layer, _up(body.outline), name=body.name))
    for keepout in scene.keepouts:
        layer = "KEEPOUTS_SWEPT" if keepout.swept else "KEEPOUTS"
        if not keepout.applies:
            layer = "KEEPOUTS_OTHER_POSES"
        lines.append(PlanLine(layer, _up(keepout.outline), name=keepout.name))
        if keepout.clearance_m > 0.0 and keepout.applies:
            lines.append(PlanLine("CLEARANCES", _up(keepout.clearance_outline)))
    lines.append(PlanLine("SUPPORT", _up(scene.support)))
    lines += [
        PlanLine("PARTS", _up(part.outline), name=part.name)
        for part in scene.parts
        if part.size[0] > 0.0 and part.size[1] > 0.0
    ]
    return [*lines, *_centre_mark(scene), *_arrow(scene)]


def _up(outline: Iterable[Point]) -> tuple[Point, ...]:
    """Return robot points (forward, left) in metres as drawing points with the front up.

    >>> _up([(0.3, 0.2)])
    ((-200.0, 300.0),)
    """
    return tuple(
        (round(-left * MM, 4) + 0.0, round(forward * MM, 4) + 0.0) for forward, left in outline
    )


def _centre_mark(scene: Scene) -> list[PlanLine]:
    ((x, y),) = _up([(scene.cg_m[0], scene.cg_m[1])])
    across = ((x - CG_RADIUS_MM, y), (x + CG_RADIUS_MM, y))
    along = ((x, y - CG_RADIUS_MM), (x, y + CG_RADIUS_MM))
    return [PlanLine("CENTRE_OF_GRAVITY", line, closed=False) for line in (across, along)]


def _arrow(scene: Scene) -> list[PlanLine]:
    tip = scene.frame_length_m * MM / 2.0 + 1.5 * ARROW_MM
    foot, wing = tip - ARROW_MM, ARROW_MM / 4.0
    return [
        PlanLine("FRONT", ((0.0, foot), (0.0, tip)), closed=False),
        PlanLine("FRONT", ((-wing, tip - wing), (0.0, tip), (wing, tip - wing)), closed=False),
    ]


def plan_dxf(scene: Scene) -> str:
    """Return the plan as the text of a DXF file: layers of `LAYERS`, millimetres stated.

    Outlines are closed polylines at height 0; names are texts on the layer NAMES alone, so that
    a machine that cuts can leave them off.
    """
    from ezdxf import units  # noqa: PLC0415  (heavy, and few ask for it)
    from ezdxf.enums import TextEntityAlignment  # noqa: PLC0415
    from ezdxf.filemanagement import new  # noqa: PLC0415

    document = new("R2000", units=units.MM)
    for layer, colour in LAYERS.items():
        document.layers.add(layer, color=colour)
    space = document.modelspace()
    for line in plan_lines(scene):
        attributes = {"layer": line.layer}
        space.add_lwpolyline(line.points, close=line.closed, dxfattribs=attributes)
        if line.name:
            text = space.add_text(_plain(line.name), height=TEXT_MM, dxfattribs={"layer": "NAMES"})
            text.set_placement(_middle(line.points), align=TextEntityAlignment.MIDDLE_CENTER)
    file = io.StringIO()
    document.write(file)
    return file.getvalue()


def plan_svg(scene: Scene) -> str:
    """Return the plan as an SVG whose width and height are millimetres, a group for each layer.

    Strokes are hairlines without fill, as laser cutters ask; names are titles of their outlines.
    """
    lines = plan_lines(scene)
    points = [point for line in lines for point in line.points]
    low_x, high_x = min(x for x, _ in points), max(x for x, _ in points)
    low_y, high_y = min(y for _, y in points), max(y for _, y in points)
    left, top = low_x - MARGIN_MM, -high_y - MARGIN_MM
    width, height = high_x - low_x + 2 * MARGIN_MM, high_y - low_y + 2 * MARGIN_MM
    title = escape(_plain(f"Plan of {scene.candidate_name}, {scene.pose}, front up"))
    groups = "".join(_group(layer, lines) for layer in LAYERS)
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.4f}mm" height="{height:.4f}mm" '
        f'viewBox="{left:.4f} {top:.4f} {width:.4f} {height:.4f}">\n'
        f"<title>{title}</title>\n{groups}</svg>\n"
    )


def _group(layer: str, lines: Sequence[PlanLine]) -> str:
    own = [line for line in lines if line.layer == layer]
    if not own:
        return ""
    paths = "".join(_path(line) for line in own)
    return (
        f'<g id={quoteattr(layer)} fill="none" stroke="{_INK[LAYERS[layer]]}" '
        f'stroke-width="{HAIRLINE_MM}">\n{paths}</g>\n'
    )


def _path(line: PlanLine) -> str:
    steps = "L".join(f"{x:.4f} {-y + 0.0:.4f}" for x, y in line.points)
    title = f"<title>{escape(_plain(line.name))}</title>" if line.name else ""
    return f'<path d="M{steps}{"Z" if line.closed else ""}">{title}</path>\n'


def _middle(points: Sequence[Point]) -> Point:
    across, along = [x for x, _ in points], [y for _, y in points]
    return (min(across) + max(across)) / 2.0, (min(along) + max(along)) / 2.0


def _plain(text: str) -> str:
    """Return text on one line without control characters: a DXF is told apart by its lines.

    >>> _plain("lift\\n0\\nLINE")
    'lift 0 LINE'
    """
    printable = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(printable.split())
