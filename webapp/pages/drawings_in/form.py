"""What was typed about a drawing: its unit, its place on the robot, what each layer becomes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from models.drawings.placing import BECOMES, FRONTS, MIDDLES, LayerChoice, Placement
from models.drawings.records import UNITS_M, Drawing, parse_drawing
from models.errors import Fault, UnitError
from models.units import UnitSystem, display_unit, parse_number

SHIFTS = ("forward", "left", "lift")
LONGEST_FILE_NAME = 80


@dataclass
class DrawingForm:
    """The form of one drawing as it was sent, read as far as it can be."""

    drawing: Drawing
    texts: Mapping[str, str]
    system: UnitSystem
    faults: list[Fault] = field(default_factory=list)

    def text(self, name: str) -> str:
        """Return what was typed in a field, "" where there is none."""
        return self.texts.get(name, "")

    @property
    def unit(self) -> str:
        """The unit chosen, "" before one is."""
        return self._one_of("unit", tuple(UNITS_M), "")

    @property
    def front(self) -> str:
        """Where the robot's front points in the drawing."""
        return self._one_of("front", FRONTS, "up")

    @property
    def middle(self) -> str:
        """What of the drawing lies in the middle of the frame."""
        return self._one_of("middle", MIDDLES, "origin")

    def becomes(self, layer: int) -> tuple[str, str]:
        """Return what a layer becomes, and of which candidate."""
        kind, _, candidate = self.text(f"layers.{layer}.becomes").partition(":")
        return (kind, candidate) if kind in BECOMES else ("ignore", "")

    def placement(self) -> Placement | None:
        """Return how the drawing lies on the robot; None while the unit is not known."""
        if not self.unit:
            self.faults.append(
                Fault("unit", "Say which unit the drawing is in; the sizes beside the units help.")
            )
            return None
        forward, left, lift = (self._length(name) or 0.0 for name in SHIFTS)
        return Placement(self.unit, self.front, self.middle, forward, left, lift)

    def choices(self) -> list[LayerChoice]:
        """Return what each layer becomes."""
        return [self._choice(index) for index in range(len(self.drawing.layers))]

    def _choice(self, index: int) -> LayerChoice:
        kind, candidate = self.becomes(index)
        if kind in {"ignore", "frame"}:
            return LayerChoice(index, kind, candidate)
        bottom, top, clearance = (
            self._length(f"layers.{index}.{name}") for name in ("bottom", "top", "clearance")
        )
        return LayerChoice(index, kind, candidate, bottom, top, clearance or 0.0)

    def _length(self, name: str) -> float | None:
        text = self.text(name).strip()
        if not text:
            return None
        small = display_unit("m", self.system, small=True)
        try:
            return parse_number(text, "m", default_unit_text=small)
        except UnitError as error:
            self.faults.append(Fault(name, str(error), given=text))
            return None

    def _one_of(self, name: str, allowed: tuple[str, ...], otherwise: str) -> str:
        text = self.text(name)
        return text if text in allowed else otherwise


def posted_form(texts: Mapping[str, str], system: UnitSystem) -> DrawingForm:
    """Return a form that was sent; the drawing that it carries is checked anew.

    Raises `DrawingRefusedError` where it carries none that holds.
    """
    try:
        system = UnitSystem(texts.get("form_units", ""))
    except ValueError:
        system = UnitSystem(system)
    return DrawingForm(parse_drawing(texts.get("drawing", "")), texts, system)


def shown_file_name(name: str) -> str:
    """Return the last part of a file's name on one line.

    >>> shown_file_name("C:\\\\parts\\\\base plate.dxf")
    'base plate.dxf'
    """
    last = name.replace("\\", "/").rpartition("/")[2]
    return "".join(sign if sign.isprintable() else " " for sign in last)[:LONGEST_FILE_NAME]
