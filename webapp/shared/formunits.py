"""In which unit each box of a form is typed, and how stored values and typed text meet there."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any, Literal

from models.study.fields import FieldSpec, find_field
from models.units import UnitSystem, convert, display_unit

LeafKind = Literal["number", "text", "notes", "truth", "choice", "indexes", "date", "time"]
"""How a place is typed; `indexes` are ticks, one for each axle, pose or row of another table."""

FIELD_LENGTHS = frozenset({"sprint_distance_m", "at_m", "to_m", "radius_m"})
"""Lengths on the field, typed in metres or feet; all others are typed in mm or inches."""

FIELD_PLACES = frozenset(
    {
        "field.length_m",
        "field.width_m",
        "field.obstacles[].outline_m",
        "power.cables[].length_m",
    }
)
"""Places typed in metres or feet too, whose names mean small lengths elsewhere."""

SMALL_UNITS = frozenset({"m", "ohm", "kgm2"})
"""Quantities that a form asks for in the small unit (mm, mΩ, kg·cm²)."""

LONGEST_NUMBER = 40
LONGEST_LINE = 500
"""Texts that may be longer are typed in a box of several lines."""

PLACES_KEPT = 2048
"""How many places are remembered; a study has a few hundred, a form may name any number."""

_BARE = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,2})?")


STANDS_FOR = {
    "robot.poses[].moves[].by": "robot.poses[].offsets.*",
    "robot.poses[].moves[].by[]": "robot.poses[].offsets.*[]",
    "robot.keepouts[].in_poses": "robot.keepouts[].poses",
    "routes[].legs[].in_loads": "routes[].legs[].loads",
    "candidates[].tasks[].after_rows": "candidates[].tasks[].after",
    "candidates[].tasks[].needs_rows": "candidates[].tasks[].needs",
    "schedule.crew_rows[].name": "candidates[].tasks[].crew",
    "schedule.crew_rows[].hands": "schedule.crews.*",
}
"""Places that only a form has, with the place in the study that they stand for."""

Shape = Literal["list", "object", "leaf", "unknown"]
FORM_SHAPES: dict[str, Shape] = {
    "": "object",
    "robot.poses[].moves": "list",
    "robot.poses[].moves[]": "object",
    "robot.poses[].moves[].part": "leaf",
    "robot.poses[].moves[].by": "list",
    "robot.keepouts[].in_poses": "leaf",
    "routes[].legs[].in_loads": "leaf",
    "candidates[].tasks[].after_rows": "leaf",
    "candidates[].tasks[].needs_rows": "leaf",
    "schedule.crew_rows": "list",
    "schedule.crew_rows[]": "object",
}


@dataclass(frozen=True)
class FormUnit:
    """The unit of one box: its key, its text, and whether a bare number is stored as it stands."""

    key: str
    text: str
    small: bool
    system: UnitSystem
    stored: bool


@lru_cache(PLACES_KEPT)
def form_unit(place: str, system: UnitSystem) -> FormUnit:
    """Return the unit in which the box of a schema place is typed.

    >>> form_unit("candidates[].wheels.diameter_m", UnitSystem.SI).text
    'mm'
    """
    key = unit_of(place)
    leaf = place.replace("[]", "").rpartition(".")[2]
    small = key in SMALL_UNITS and leaf not in FIELD_LENGTHS and place not in FIELD_PLACES
    text = display_unit(key, system, small=small)
    stored = key == "" or convert(1.0, key, system, small=small) == 1.0
    return FormUnit(key, text, small, system, stored)


def _spec_of(place: str) -> FieldSpec | None:
    return find_field(STANDS_FOR.get(place, place))


@lru_cache(PLACES_KEPT)
def shape_of(place: str) -> Shape:
    """Return whether a place holds a list, an object or one value.

    >>> shape_of("candidates[].parts"), shape_of("candidates[].drive"), shape_of("motors.a.name")
    ('list', 'object', 'leaf')
    """
    if place in FORM_SHAPES:
        return FORM_SHAPES[place]
    spec = _spec_of(place)
    if spec is None:
        return "unknown"
    if spec.kind in ("list", "point"):
        inner = find_field(f"{spec.path}[]")
        return "leaf" if inner is not None and inner.kind == "whole" else "list"
    return "object" if spec.kind in ("group", "map") else "leaf"


def unit_of(place: str) -> str:
    """Return the unit key of a schema place, "" where it has none or is unknown.

    >>> unit_of("candidates[].bodies[].outline_m"), unit_of("candidates[].name")
    ('m', '')
    """
    spec = _spec_of(place)
    if spec is None:
        return ""
    return "m" if spec.kind == "outline" else spec.unit


@lru_cache(PLACES_KEPT)
def leaf_kind(place: str) -> LeafKind:
    """Return how a schema place is typed; what the study does not know is typed as text.

    >>> leaf_kind("candidates[].drive.ratio"), leaf_kind("candidates[].parts[].exempt")
    ('number', 'truth')
    """
    spec = _spec_of(place)
    if spec is None:
        return "text"
    if spec.kind in ("number", "whole"):
        return "number"
    if spec.kind == "text":
        return "notes" if (spec.longest or 0) > LONGEST_LINE else "text"
    if spec.kind == "list":
        return "indexes"
    kept = {"truth": "truth", "choice": "choice", "date": "date", "time": "time"}
    return kept.get(spec.kind, "text")  # type: ignore[return-value]


@lru_cache(PLACES_KEPT)
def field_words(place: str) -> FieldSpec:
    """Return what the study says about a place; a bare entry where it knows no such place."""
    spec = _spec_of(place)
    name = place.rpartition(".")[2]
    return spec or FieldSpec(place, name, name, "text", required=False)


def shown_text(value: Any, unit: FormUnit) -> str:
    """Return a stored value as the box shows it: as typed, or converted to the box's unit.

    >>> unit = form_unit("candidates[].wheels.diameter_m", UnitSystem.SI)
    >>> shown_text(0.1016, unit), shown_text("4 in", unit), shown_text("101.6 mm", unit)
    ('101.6', '4 in', '101.6')
    """
    if isinstance(value, dict):
        return shown_text(value.get("value"), unit)
    if isinstance(value, str):
        bare, gap, word = value.rpartition(" ")
        own = gap and word == unit.text and _BARE.fullmatch(bare) is not None
        return bare if own else value
    if value is None or isinstance(value, bool) or not isinstance(value, int | float):
        return "" if value is None else str(value)
    if unit.stored:
        return plain(value)
    return plain(float(f"{convert(value, unit.key, unit.system, small=unit.small):.5g}"))


def plain(value: float) -> str:
    """Return a number in plain digits, without an exponent where it can be read so.

    >>> plain(6e-05), plain(4.0), plain(101.6)
    ('0.00006', '4', '101.6')
    """
    if isinstance(value, int):
        return str(value)
    if value != 0 and not 1e-9 <= abs(value) < 1e15:
        return repr(value)
    text = f"{Decimal(repr(value)):f}"
    return (text.rstrip("0").rstrip(".") or "0") if "." in text else text


def is_bare(text: str) -> bool:
    """Return whether a text is a number without a unit.

    >>> is_bare("101.6"), is_bare("4 in")
    (True, False)
    """
    return _BARE.fullmatch(text) is not None


def stored_number(text: str, before: Any, unit: FormUnit) -> Any:
    """Return what is stored for a number as typed.

    A box left as it was shown keeps the stored value; a bare number becomes a number where the
    box's unit is the stored one, else text with the unit; all else is kept as it was typed.

    >>> unit = form_unit("candidates[].wheels.diameter_m", UnitSystem.SI)
    >>> stored_number("101.6", 0.1016, unit), stored_number("100", 0.1016, unit)
    (0.1016, '100 mm')
    """
    if before is not None and text == shown_text(before, unit):
        return before
    text = text.replace("\N{MINUS SIGN}", "-")
    if len(text) > LONGEST_NUMBER or not is_bare(text):
        return text
    if not unit.stored:
        return f"{text} {unit.text}"
    return int(text) if re.fullmatch(r"[+-]?\d{1,15}", text) else float(text)
