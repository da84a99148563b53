"""What was measured on the robot, and the places of a study into which it can be written.

Contents
--------
Place: a number of the study that a result can take the place of.
wheel_places, battery_places, part_places: those that suit a result.
measured_estimate, note_of: a result as the study file writes it.
present_at, edits_for: what stands there, and the sections with the results in them.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from models.engineering.simple_tests import Reading
from models.errors import OutOfRangeError
from models.study.numbers import LONGEST_NOTE, Estimate, NumberRefusedError, read_estimate
from models.study.schema import Study
from models.study.sections import candidate_section, split_sections

Step = str | int


class Place(NamedTuple):
    """A number of the study that a result can take the place of."""

    key: str
    """For forms and addresses."""
    section: str
    path: tuple[Step, ...]
    unit: str
    words: str
    """What the number is of: a candidate, a battery, a part."""


def wheel_places(study: Study, field: str, unit: str, layouts: Sequence[str] = ()) -> list[Place]:
    """Return the candidates with wheels of their own whose field a result can be written into.

    A candidate that keeps another's base follows that one and is left out.

    Parameters
    ----------
    study : Study
        The study.
    field : str
        Of the wheels, such as "grip".
    unit : str
        Unit key of the field.
    layouts : sequence of str
        Only these; none for all.
    """
    return [
        Place(one.key, candidate_section(one.key), ("wheels", field), unit, one.name)
        for one in study.candidates
        if one.same_base_as is None and (not layouts or one.layout in layouts)
    ]


def battery_places(study: Study) -> list[Place]:
    """Return the power section's own battery and every named one, by their resistance."""
    field = "internal_resistance_ohm"
    own = Place("own", "power", (field,), "ohm", "the power section's own figures")
    return [
        own,
        *(
            Place(f"battery-{index}", "power", ("batteries", index, field), "ohm", one.name)
            for index, one in enumerate(study.power.batteries)
        ),
    ]


def part_places(study: Study) -> list[Place]:
    """Return the robot's parts whose mass is typed and that there is one of."""
    return [
        Place(f"part-{index}", "robot.parts", (index, "mass_kg"), "kg", one.name)
        for index, one in enumerate(study.robot.parts)
        if one.mass_kg is not None and one.quantity == 1
    ]


def measured_estimate(reading: Reading, note: str) -> dict[str, Any]:
    """Return a result as a study file writes a measured number, to four figures.

    Raises `OutOfRangeError` where it is no finite number.

    >>> from models.engineering.simple_tests import tilt_grip
    >>> measured_estimate(tilt_grip(angle=0.8, error=0.02), "2031-02-03: on the plank.")["low"]
    0.9893
    """
    value, low, high = (float(one) for one in reading)
    if not all(map(math.isfinite, (value, low, high))):
        raise OutOfRangeError("The readings leave the result open; measure longer or finer.")
    value, low, high = (float(f"{one:.4g}") for one in (value, low, high))
    return {"value": value, "low": low, "high": high, "source": "measured",
            "note": note[:LONGEST_NOTE]}  # fmt: skip


def note_of(day: dt.date, author: str, how: str) -> str:
    """Return when, by whom and how a number was measured, as its note.

    >>> note_of(dt.date(2031, 2, 3), "Ines", "Tilt test, slid at 48°.")
    '2031-02-03, Ines: Tilt test, slid at 48°.'
    """
    who = f", {author}" if author else ""
    return f"{day.isoformat()}{who}: {how}"


def present_at(document: Mapping[str, Any], place: Place) -> Estimate | None:
    """Return the number that stands at a place of the document; none where nothing does."""
    item: Any = split_sections(document).get(place.section)
    for step in place.path:
        try:
            item = item[step]
        except (KeyError, IndexError, TypeError):
            return None
    if item is None:
        return None
    try:
        return read_estimate(item, place.unit)
    except NumberRefusedError:
        return None


def edits_for(
    document: Mapping[str, Any], results: Sequence[tuple[Place, Mapping[str, Any]]]
) -> dict[str, Any]:
    """Return the sections of a document with results put into their places.

    Raises `OutOfRangeError` where the document has no such place.
    """
    sections = split_sections(document)
    edits: dict[str, Any] = {}
    for place, estimate in results:
        section = edits.get(place.section, sections.get(place.section))
        edits[place.section] = _with(section, place.path, dict(estimate), place)
    return edits


def _with(item: Any, path: tuple[Step, ...], value: Any, place: Place) -> Any:
    """Return a copy of an item with a value put at a path; all else is the item's own."""
    if not path:
        return value
    step = path[0]
    if isinstance(item, dict) and isinstance(step, str):
        return {**item, step: _with(item.get(step), path[1:], value, place)}
    if isinstance(item, list) and isinstance(step, int) and step < len(item):
        return [
            _with(one, path[1:], value, place) if index == step else one
            for index, one in enumerate(item)
        ]
    raise OutOfRangeError(f"The study has no place any more for {place.words}; open it anew.")
