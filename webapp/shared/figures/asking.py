"""What an address asks for: numbers as typed, kept, with a sentence where one cannot be used."""

from __future__ import annotations

from dataclasses import dataclass

from models.errors import UnitError
from models.units import UnitSystem, convert, display_unit, parse_number, show, show_bare


@dataclass(frozen=True)
class Box:
    """One number that a page can be asked with."""

    name: str
    """In the address, and the id of its box."""
    label: str
    unit: str
    minimum: float
    maximum: float
    optional: bool = False
    hint: str = ""


@dataclass(frozen=True)
class Typed:
    """A box as it stands on the page: what was typed, its value, its fault."""

    box: Box
    text: str
    value: float | None
    fault: str
    unit: str


def read_box(box: Box, text: str | None, usual: float | None, system: UnitSystem) -> Typed:
    """Return a box as typed; the usual value where the address says nothing.

    An optional box may be left empty. A number that cannot be used keeps its text and says why;
    its value is then the usual one, so that the rest of the page still stands.
    """
    unit = display_unit(box.unit, system)
    if text is None or not text.strip():
        if text is not None and not box.optional and usual is not None:
            text = None
        shown = "" if text is not None or usual is None else _as_typed(usual, box.unit, system)
        value = usual if text is None else None
        return Typed(box, shown, value, "", unit)
    text = text[:60]
    try:
        value = parse_number(text, box.unit, default_unit_text=unit or None)
    except UnitError as error:
        return Typed(box, text, usual, f"{box.label}: {error}", unit)
    if not box.minimum <= value <= box.maximum:
        low, high = (show(limit, box.unit, system) for limit in (box.minimum, box.maximum))
        fault = f"{box.label}: type {low} to {high}; {show(value, box.unit, system)} was given."
        return Typed(box, text, usual, fault, unit)
    return Typed(box, text, value, "", unit)


def _as_typed(value: float, unit: str, system: UnitSystem) -> str:
    shown = convert(value, unit, system)
    return f"{shown:.4g}" if abs(shown) < 1e6 else show_bare(value, unit, system)
