"""What was read from a drawing, checked: it travels through a form, so it is checked each time."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, ValidationError

from models.drawings.limits import (
    FURTHEST,
    LONGEST_NAME,
    MOST_LAYERS,
    MOST_OUTLINES,
    MOST_POINTS,
    MOST_POINTS_IN_ALL,
    DrawingRefusedError,
)

UNITS_M = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
"""The units that a drawing may be in, in metres (inch and foot: exact by definition)."""
UNIT_NAMES = {
    "mm": "millimetres",
    "cm": "centimetres",
    "m": "metres",
    "in": "inches",
    "ft": "feet",
}


def _printable(text: str) -> str:
    if not text.isprintable():
        raise ValueError("a name is one line of text")
    return text


Coordinate = Annotated[float, Field(ge=-FURTHEST, le=FURTHEST, allow_inf_nan=False)]
Corner = tuple[Coordinate, Coordinate]
Outline = Annotated[tuple[Corner, ...], Field(min_length=3, max_length=MOST_POINTS)]
OneLine = Annotated[str, Field(min_length=1, max_length=LONGEST_NAME), AfterValidator(_printable)]


class _Record(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Layer(_Record):
    """A layer of a drawing, or a height step of a mesh, in the drawing's own unit."""

    name: OneLine
    closed: int = Field(ge=0, le=10**9)
    """Closed loops found."""
    open: int = Field(ge=0, le=10**9)
    """Lines that close to no loop."""
    extent: tuple[Coordinate, Coordinate, Coordinate, Coordinate]
    """Least x, least y, greatest x, greatest y of the outlines as drawn."""
    sticks_out: Annotated[float, Field(ge=0.0, le=FURTHEST, allow_inf_nan=False)]
    """How far an outline may lie outside of what was drawn; it never lies inside."""
    heights: tuple[Coordinate, Coordinate] | None
    """Of a height step."""
    off: bool
    """True where the layer is switched off in the drawing."""
    outlines: tuple[Outline, ...] = Field(max_length=MOST_OUTLINES)


class Drawing(_Record):
    """A drawing as it was read."""

    kind: Annotated[str, Field(pattern="^(dxf|stl)$")]
    hint: Annotated[str, Field(pattern="^(mm|cm|m|in|ft)$")] | None
    """The unit that the file states itself."""
    layers: tuple[Layer, ...] = Field(min_length=1, max_length=MOST_LAYERS)
    notes: tuple[Annotated[str, Field(max_length=300)], ...] = Field(max_length=10)

    @property
    def drawn(self) -> tuple[Layer, ...]:
        """The layers that have outlines."""
        return tuple(layer for layer in self.layers if layer.outlines)

    @property
    def extent(self) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y of all outlines."""
        lows_x, lows_y, highs_x, highs_y = zip(*(layer.extent for layer in self.drawn), strict=True)
        return min(lows_x), min(lows_y), max(highs_x), max(highs_y)

    @property
    def points(self) -> int:
        """Corners of all outlines."""
        return sum(len(outline) for layer in self.layers for outline in layer.outlines)


def parse_drawing(text: str | bytes) -> Drawing:
    """Return a drawing from its JSON; raises `DrawingRefusedError` where it does not hold."""
    try:
        drawing = Drawing.model_validate_json(text)
        if not drawing.drawn:
            raise ValueError("nothing is drawn")
    except (ValidationError, ValueError) as error:
        raise DrawingRefusedError(
            "The outlines of this form cannot be read any more. Send the drawing again."
        ) from error
    if drawing.points > MOST_POINTS_IN_ALL:
        raise DrawingRefusedError(
            f"The outlines of this drawing have {drawing.points:,} corners together; "
            f"{MOST_POINTS_IN_ALL:,} at most are read. Save a copy with the layers you need."
        )
    return drawing
