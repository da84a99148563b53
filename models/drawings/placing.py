"""From outlines of a drawing to keep-outs, bodies and frames of a study."""

from __future__ import annotations

import copy
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.drawings.records import UNITS_M, Drawing, Layer
from models.errors import Fault, StudyRefusedError
from models.study.sections import candidate_section, split_sections
from models.study.shared_base import base_source

Outline = tuple[tuple[float, float], ...]

BECOMES = ("ignore", "keepout", "body", "frame")
_TO_ROBOT: dict[str, Callable[[float, float], tuple[float, float]]] = {
    "up": lambda x, y: (y, -x),
    "right": lambda x, y: (x, y),
    "down": lambda x, y: (-y, x),
    "left": lambda x, y: (-x, -y),
}
FRONTS = tuple(_TO_ROBOT)
"""Where the robot's front points in the drawing."""
MIDDLES = ("origin", "drawn", "frame")
"""What of the drawing lies in the middle of the robot's frame: its origin, the middle of all that
is drawn, or the middle of the layers that become the frame."""


@dataclass(frozen=True)
class LayerChoice:
    """What one layer becomes, with heights in metres where the drawing does not give them."""

    layer: int
    becomes: str
    candidate: str = ""
    bottom_m: float | None = None
    top_m: float | None = None
    clearance_m: float = 0.0


@dataclass(frozen=True)
class Placement:
    """How the drawing lies on the robot: unit, direction, middle, and a shift in metres."""

    unit: str
    front: str = "up"
    middle: str = "origin"
    forward_m: float = 0.0
    left_m: float = 0.0
    lift_m: float = 0.0
    """Added to the heights of a mesh."""


@dataclass(frozen=True)
class PlacedLayer:
    """A layer in robot coordinates, in metres."""

    layer: Layer
    outlines: tuple[Outline, ...]
    length_m: float
    width_m: float
    heights_m: tuple[float, float] | None
    sticks_out_m: float


@dataclass(frozen=True)
class TakenOver:
    """The edits of a study that take a drawing over, and what they are in words."""

    edits: Mapping[str, Any]
    words: tuple[str, ...]


def overall_sizes(drawing: Drawing) -> list[tuple[str, float, float]]:
    """Return for each unit how wide and how high the whole drawing would be, in metres."""
    low_x, low_y, high_x, high_y = drawing.extent
    return [
        (unit, (high_x - low_x) * metres, (high_y - low_y) * metres)
        for unit, metres in UNITS_M.items()
    ]


def placed(
    drawing: Drawing, placement: Placement, frame_layers: Collection[int] = ()
) -> list[PlacedLayer]:
    """Return every layer where it lies on the robot.

    `frame_layers`: indexes of the layers that become a frame; their middle counts where the
    placement asks for it. Raises `StudyRefusedError` where it asks and there are none.

    >>> from models.drawings.records import Layer
    >>> layer = Layer(name="A", closed=1, open=0, extent=(0, 0, 200, 100), sticks_out=0,
    ...               heights=None, off=False, outlines=[[(0, 0), (200, 0), (200, 100)]])
    >>> drawing = Drawing(kind="dxf", hint=None, layers=[layer], notes=[])
    >>> placed(drawing, Placement("mm", "up", "drawn"))[0].outlines
    (((-0.05, 0.1), (-0.05, -0.1), (0.05, -0.1)),)
    """
    metres = UNITS_M[placement.unit]
    turn = _TO_ROBOT[placement.front]
    middle_x, middle_y = _middle(drawing, placement.middle, frame_layers)

    def on_robot(x: float, y: float) -> tuple[float, float]:
        forward, left = turn((x - middle_x) * metres, (y - middle_y) * metres)
        return _fine(forward + placement.forward_m), _fine(left + placement.left_m)

    return [_placed_layer(layer, metres, turn, on_robot, placement) for layer in drawing.layers]


def _placed_layer(
    layer: Layer,
    metres: float,
    turn: Callable[[float, float], tuple[float, float]],
    on_robot: Callable[[float, float], tuple[float, float]],
    placement: Placement,
) -> PlacedLayer:
    low_x, low_y, high_x, high_y = layer.extent
    length, width = turn((high_x - low_x) * metres, (high_y - low_y) * metres)
    heights = None
    if layer.heights is not None:
        low, high = (_fine(height * metres + placement.lift_m) for height in layer.heights)
        heights = (low, high)
    return PlacedLayer(
        layer=layer,
        outlines=tuple(tuple(on_robot(x, y) for x, y in outline) for outline in layer.outlines),
        length_m=_fine(abs(length)),
        width_m=_fine(abs(width)),
        heights_m=heights,
        sticks_out_m=layer.sticks_out * metres,
    )


def _middle(drawing: Drawing, middle: str, frame_layers: Collection[int]) -> tuple[float, float]:
    if middle == "origin":
        return 0.0, 0.0
    extents = [drawing.extent]
    if middle == "frame":
        extents = [drawing.layers[index].extent for index in frame_layers]
        if not extents:
            raise StudyRefusedError(
                [Fault("middle", "Say which layer is the frame, or choose another middle.")]
            )
    low_x, low_y = min(one[0] for one in extents), min(one[1] for one in extents)
    high_x, high_y = max(one[2] for one in extents), max(one[3] for one in extents)
    return (low_x + high_x) / 2.0, (low_y + high_y) / 2.0


def take_over(
    document: Mapping[str, Any],
    drawing: Drawing,
    placement: Placement,
    choices: Sequence[LayerChoice],
) -> TakenOver:
    """Return the edits that add what was chosen of a drawing to a study.

    Keep-outs and bodies are added to those there; a frame replaces the length and width of its
    candidate's. Raises `StudyRefusedError`, its places naming the layers of the form
    (`layers.2.top`), where heights are missing or upside down, or nothing was chosen.
    """
    chosen = [choice for choice in choices if choice.becomes != "ignore"]
    frames = [choice.layer for choice in chosen if choice.becomes == "frame"]
    layers = placed(drawing, placement, frames)
    faults = [fault for choice in chosen for fault in _faults(choice, layers[choice.layer])]
    if not chosen:
        faults = [Fault("layers", "Nothing is taken over yet: say what a layer becomes.")]
    if faults:
        raise StudyRefusedError(faults)
    taking = _Taking(document)
    for choice in chosen:
        taking.add(choice, layers[choice.layer])
    return TakenOver(taking.edits, tuple(taking.words))


def _faults(choice: LayerChoice, layer: PlacedLayer) -> list[Fault]:
    place = f"layers.{choice.layer}"
    name = layer.layer.name
    if choice.becomes == "frame":
        if choice.candidate:
            return []
        return [Fault(f"{place}.candidate", f"Say which candidate has “{name}” as its frame.")]
    faults = []
    if choice.becomes == "body" and not choice.candidate:
        faults.append(Fault(f"{place}.candidate", f"Say which candidate “{name}” is a body of."))
    bottom, top = _heights(choice, layer)
    for word, height in (("bottom", bottom), ("top", top)):
        if height is None:
            message = f"A drawing has no heights: type the {word} of “{name}”."
            faults.append(Fault(f"{place}.{word}", message))
    if bottom is not None and top is not None and top <= bottom:
        faults.append(Fault(f"{place}.top", f"The top of “{name}” has to lie above its bottom."))
    return faults


def _heights(choice: LayerChoice, layer: PlacedLayer) -> tuple[float | None, float | None]:
    return layer.heights_m or (choice.bottom_m, choice.top_m)


class _Taking:
    """Collects edits; sections are copied once and then added to."""

    def __init__(self, document: Mapping[str, Any]) -> None:
        self.sections = split_sections(document)
        self.edits: dict[str, Any] = {}
        self.words: list[str] = []

    def add(self, choice: LayerChoice, layer: PlacedLayer) -> None:
        name, number = layer.layer.name, len(layer.outlines)
        if choice.becomes == "keepout":
            keepouts = self._section("robot.keepouts", [])
            for prism in _prisms(choice, layer, keepouts):
                keepouts.append({**prism, "clearance_m": choice.clearance_m})
            self.words.append(f"{_counted(number, 'keep-out')} from “{name}”")
            return
        own = self.sections.get(candidate_section(choice.candidate))
        candidate = self._section(candidate_section(base_source(own) or choice.candidate), None)
        if choice.becomes == "frame":
            frame = {"length_m": layer.length_m, "width_m": layer.width_m}
            candidate["frame"] = {**(candidate.get("frame") or {}), **frame}
            self.words.append(f"frame of {candidate.get('name', choice.candidate)} from “{name}”")
            return
        bodies = candidate.setdefault("bodies", [])
        bodies.extend(_prisms(choice, layer, bodies))
        words = _counted(number, "body", "bodies")
        self.words.append(f"{words} of {candidate.get('name', choice.candidate)} from “{name}”")

    def _section(self, section: str, otherwise: Any) -> Any:
        if section not in self.edits:
            present = self.sections.get(section, otherwise)
            if present is None:
                raise StudyRefusedError([Fault("", "This study has no such candidate any more.")])
            self.edits[section] = copy.deepcopy(present)
        return self.edits[section]


def _prisms(
    choice: LayerChoice, layer: PlacedLayer, beside: Sequence[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    taken = {str(other.get("name")) for other in beside}
    bottom, top = _heights(choice, layer)
    prisms = []
    for outline in layer.outlines:
        name = _free_name(layer.layer.name, taken)
        taken.add(name)
        corners = [list(corner) for corner in outline]
        prisms.append({"name": name, "outline_m": corners, "bottom_m": bottom, "top_m": top})
    return prisms


def _free_name(stem: str, taken: Collection[str]) -> str:
    number, name = 1, stem
    while name in taken:
        number += 1
        name = f"{stem} {number}"
    return name


def _counted(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _fine(metres: float) -> float:
    """Return a length to the micrometre, without a negative zero."""
    return round(metres, 6) + 0.0
