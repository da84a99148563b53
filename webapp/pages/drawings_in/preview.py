"""The drawing before it is taken over: as it came, and to scale on the robot."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from models.drawings.placing import LayerChoice, PlacedLayer
from models.drawings.records import Drawing
from models.trade.scene import Scene
from models.units import UnitSystem
from webapp.shared.drawings.annotations import add_ruler, front_mark
from webapp.shared.drawings.shapes import VIEW_WIDTH, Label, Point, Projection, Shape, View
from webapp.shared.drawings.shapes import plan_place as on_plan
from webapp.shared.drawings.views import plan_shapes

MARGIN = 60.0
RULER_ROOM = 60.0
NAME_HEIGHT = 30.0
NARROWEST = 0.4
"""A drawing is shown at least this high against its width."""


def preview_as_sent(drawing: Drawing) -> View:
    """Return the drawing as it came, its unit not known yet, so without a ruler."""
    outlines = [outline for layer in drawing.drawn for outline in layer.outlines]
    view, on = _view(outlines, "The drawing as it was sent", MARGIN)
    for layer in drawing.drawn:
        view.shapes += [
            Shape("drawn-offered", on.path(outline), layer.name) for outline in layer.outlines
        ]
        _write_name(view, _name(layer.name, layer.outlines[0], on))
    return view


def preview_on_robot(
    scene: Scene,
    layers: Sequence[PlacedLayer],
    choices: Sequence[LayerChoice],
    system: UnitSystem,
) -> View:
    """Return the plan of a candidate with every layer of the drawing over it, front up."""
    placed = [[_up(outline) for outline in layer.outlines] for layer in layers]
    reach = [outline for outlines in placed for outline in outlines]
    reach += [_up(scene.frame), *(_up(keepout.outline) for keepout in scene.keepouts)]
    title = f"The drawing on {scene.candidate_name}, plan, front up"
    view, on = _view(reach, title, MARGIN + RULER_ROOM)
    view.shapes += [
        Shape(f"{shape.css} drawn-beneath", shape.path, shape.title)
        for shape in plan_shapes(scene, on, parts=False)
    ]
    for layer, outlines, choice in zip(layers, placed, choices, strict=True):
        taken = choice.becomes != "ignore"
        css = "drawn-taken" if taken else "drawn-offered"
        view.shapes += [Shape(css, on.path(outline), layer.layer.name) for outline in outlines]
        if outlines:
            _write_name(view, _name(layer.layer.name, outlines[0], on, taken=taken))
    front_mark(view)
    if view.height < VIEW_WIDTH * 4:
        add_ruler(view, on, system, (MARGIN, view.height - 34))
    return view


def _up(outline: Iterable[Point]) -> list[Point]:
    return [on_plan(point) for point in outline]


def _view(outlines: Sequence[Sequence[Point]], title: str, below: float) -> tuple[View, Projection]:
    points = [point for outline in outlines for point in outline]
    low_u, high_u = min(u for u, _ in points), max(u for u, _ in points)
    low_w, high_w = min(w for _, w in points), max(w for _, w in points)
    across, along = high_u - low_u, high_w - low_w
    size = max(across, along, 1e-9)
    scale = (VIEW_WIDTH - 2 * MARGIN) / size
    middle_u, middle_w = (low_u + high_u) / 2, (low_w + high_w) / 2
    room = max(along, NARROWEST * size) * scale
    origin = (VIEW_WIDTH / 2 - middle_u * scale, MARGIN + room / 2 + middle_w * scale)
    view = View("plan", title, title, VIEW_WIDTH, round(room + MARGIN + below, 1))
    return view, Projection(scale, origin)


def _write_name(view: View, label: Label) -> None:
    """Write a name unless another stands there; a name of what is taken over goes first."""
    near = [
        other
        for other in view.labels
        if abs(other.at[1] - label.at[1]) < NAME_HEIGHT
        and abs(other.at[0] - label.at[0]) < NAME_HEIGHT * len(label.text) / 2
    ]
    if near and label.css == "words-offered":
        return
    for other in near:
        view.labels.remove(other)
    view.labels.append(label)


def _name(text: str, outline: Sequence[Point], on: Projection, *, taken: bool = False) -> Label:
    middle_u = (min(u for u, _ in outline) + max(u for u, _ in outline)) / 2
    middle_w = (min(w for _, w in outline) + max(w for _, w in outline)) / 2
    return Label(on.at(middle_u, middle_w), text, "words-taken" if taken else "words-offered")
