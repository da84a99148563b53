"""What the page is asked with: readings as typed, kept, with a sentence where one cannot be used.

The address says in which units bare numbers were typed, so that switching the units converts what
was typed and never reads it anew.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from models.errors import UnitError
from models.units import UnitSystem, convert, display_unit, parse_number
from webapp.shared.formunits import is_bare

LONGEST = 60
UNITS_NAME = "typed_in"


@dataclass(frozen=True)
class Field:
    """One number that a test asks for."""

    name: str
    """In the address, and the id of its box."""
    label: str
    unit: str
    minimum: float
    maximum: float
    optional: bool = False
    usual: float | None = None
    """What stands in the box before anything is typed."""
    hint: str = ""
    small: bool = False
    """Whether a length is typed in mm or inches."""


@dataclass(frozen=True)
class Answer:
    """A field as it stands on the page: what was typed, its value, its fault."""

    field: Field
    text: str
    value: float | None
    fault: str
    unit: str


class Answers:
    """The readings of one test."""

    def __init__(self, answers: Sequence[Answer]) -> None:
        self.all = tuple(answers)
        self._by_name = {one.field.name: one for one in answers}

    def __getitem__(self, name: str) -> float:
        """Return a reading that is there."""
        value = self._by_name[name].value
        if value is None:
            raise KeyError(name)
        return value

    def get(self, name: str) -> float | None:
        """Return a reading, none where nothing was typed."""
        return self._by_name[name].value

    def has(self, *names: str) -> bool:
        """Return whether all of these readings are there."""
        return all(self._by_name[name].value is not None for name in names)

    def text(self, name: str, system: UnitSystem) -> str:
        """Return a reading with its unit."""
        return plainly(self[name], self._by_name[name].field, system)

    @property
    def faults(self) -> list[Answer]:
        """Those that cannot be used."""
        return [one for one in self.all if one.fault]

    @property
    def begun(self) -> bool:
        """Whether anything was typed that does not stand there by itself."""
        return any(one.text and one.field.usual is None for one in self.all)

    @property
    def missing(self) -> list[str]:
        """Labels of what is still to be typed."""
        return [
            one.field.label
            for one in self.all
            if one.value is None and not one.field.optional and not one.fault
        ]

    @property
    def complete(self) -> bool:
        """Whether the test can be worked out."""
        return not self.faults and not self.missing


def units_typed(query: Mapping[str, str], system: UnitSystem) -> UnitSystem:
    """Return the units in which bare numbers of an address were typed."""
    try:
        return UnitSystem(query.get(UNITS_NAME, system))
    except ValueError:
        return system


def read_answers(fields: Sequence[Field], query: Mapping[str, str], system: UnitSystem) -> Answers:
    """Return the readings of a test as an address has them."""
    typed_in = units_typed(query, system)
    return Answers([_read(field, query.get(field.name), system, typed_in) for field in fields])


def _read(field: Field, text: str | None, system: UnitSystem, typed_in: UnitSystem) -> Answer:
    unit = display_unit(field.unit, system, small=field.small)
    if text is None or not text.strip():
        if field.usual is None:
            return Answer(field, "", None, "", unit)
        return Answer(field, _as_typed(field.usual, field, system), field.usual, "", unit)
    text = text.strip()[:LONGEST]
    own = display_unit(field.unit, typed_in, small=field.small)
    try:
        value = parse_number(text, field.unit, default_unit_text=own or None)
    except UnitError as error:
        return Answer(field, text, None, f"{field.label}: {error}", unit)
    if typed_in is not system and is_bare(text):
        text = _as_typed(value, field, system)
    if not field.minimum <= value <= field.maximum:
        low, high, given = (
            plainly(one, field, system) for one in (field.minimum, field.maximum, value)
        )
        fault = f"{field.label}: type {low} to {high}; {given} was given."
        return Answer(field, text, None, fault, unit)
    return Answer(field, text, value, "", unit)


def plainly(value: float, field: Field, system: UnitSystem) -> str:
    """Return a reading in its unit, without decimals that nobody typed.

    >>> plainly(49.0, Field("angle", "Angle", "deg", 1.0, 70.0), UnitSystem.SI)
    '49°'
    """
    unit = display_unit(field.unit, system, small=field.small)
    return f"{_as_typed(value, field, system)}{'' if unit in ('', '°') else ' '}{unit}"


def _as_typed(value: float, field: Field, system: UnitSystem) -> str:
    return f"{convert(value, field.unit, system, small=field.small):.4g}"
