"""Taking a result over: the number as it will stand in the study, and what it moves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.engineering.simple_tests import Reading
from models.errors import OutOfRangeError
from models.quantities import Metric, headline_metrics
from models.services.records import StudyState
from models.study.numbers import Estimate
from models.study.schema import Study
from models.trade.measuring import (
    Place,
    edits_for,
    measured_estimate,
    note_of,
    present_at,
)
from models.units import NOT_GIVEN, UnitSystem, common_decimals, display_unit, show_bare, small_for
from webapp.pages.measure.context import TestView, chosen_places
from webapp.pages.measure.results import ranged
from webapp.shared.candidates import CandidateMark
from webapp.shared.figures.table import FigureCell, FigureRow

_SMALL = frozenset({"m", "ohm"})
"""Units of the places a result can go to that are shown in mm, inches, mΩ."""


@dataclass(frozen=True)
class Change:
    """One number of the study before and after."""

    words: str
    before: str
    after: str


@dataclass(frozen=True)
class Taking:
    """What is written where."""

    changes: tuple[Change, ...]
    edits: Mapping[str, Any]
    note: str
    """Of the numbers that are written."""


def taking_of(
    state: StudyState, view: TestView, system: UnitSystem, *, day: dt.date, author: str
) -> Taking:
    """Return the edits that take a test's result over into the places chosen for it.

    Raises `OutOfRangeError` with a sentence where there is no result or no place.
    """
    found = view.outcome
    if found is None or found.reading is None or found.fault or found.not_taken:
        why = "" if found is None else found.fault or found.not_taken
        raise OutOfRangeError(
            f"{view.test.title}: there is nothing to take over. {why or view.still}".strip()
        )
    places = chosen_places(state.study, view)
    if not places:
        raise OutOfRangeError(f"{view.test.title}: choose where the result is to go.")
    note = note_of(day, author, found.how)
    results, changes = [], []
    for place in places:
        present = present_at(state.document, place)
        reading = found.reading
        if view.test.key == "scales":
            reading = _on_top(present, found.reading, place)
        estimate = measured_estimate(reading, note)
        results.append((place, estimate))
        small = place.unit in _SMALL
        unit = "share" if "rolling_coefficient" in place.path else place.unit
        before = NOT_GIVEN
        if present is not None:
            before = ranged((present, present.low, present.high), unit, system, small=small)
        after = (estimate["value"], estimate["low"], estimate["high"])
        changes.append(Change(place.words, before, ranged(after, unit, system, small=small)))
    return Taking(tuple(changes), edits_for(state.document, results), note)


def _on_top(present: Estimate | None, apart: Reading, place: Place) -> Reading:
    """Return a part's mass with what the scales found beyond the model's."""
    standing = 0.0 if present is None else float(present)
    mass = Reading(*(one + standing for one in apart))
    if float(mass.low) <= 0.0:
        raise OutOfRangeError(
            f"{place.words} would weigh nothing or less: the robot is lighter than its parts by "
            "more than this one weighs. Choose another part, or weigh the parts one by one."
        )
    return mass


def figure_rows(
    before: Mapping[str, Any],
    after: Mapping[str, Any],
    marks: Sequence[CandidateMark],
    system: UnitSystem,
) -> list[FigureRow]:
    """Return every headline figure of the candidates after, with what it was before under it."""
    old, new = ({one["key"]: one["metrics"] for one in found["candidates"]}
                for found in (before, after))  # fmt: skip
    return [
        _figure_row(metric, [(old[mark.key], new[mark.key]) for mark in marks], system)
        for metric in headline_metrics()
    ]


def _figure_row(
    metric: Metric,
    pairs: Sequence[tuple[Mapping[str, Any], Mapping[str, Any]]],
    system: UnitSystem,
) -> FigureRow:
    values = [(old.get(metric.key), new.get(metric.key)) for old, new in pairs]
    numbers = [
        float(one)
        for pair in values
        for one in pair
        if isinstance(one, int | float) and not isinstance(one, bool)
    ]
    small = bool(numbers) and small_for(numbers, metric.unit)
    decimals = min(common_decimals(numbers, metric.unit, system, small=small), 3) if numbers else 0

    def words(value: Any) -> str:
        if value is None:
            return "none"
        if isinstance(value, bool):
            return "yes" if value else "no"
        return show_bare(float(value), metric.unit, system, small=small, decimals=decimals)

    cells = []
    for old, new in values:
        was, now = words(old), words(new)
        moved = was != now
        cells.append(
            FigureCell(now, f"was {was}" if moved else "as before", "watch" if moved else "faint")
        )
    return FigureRow(metric.name, display_unit(metric.unit, system, small=small), tuple(cells))


def moved_words(rows: Sequence[FigureRow], study: Study) -> str:
    """Return in a sentence how many of the figures move."""
    moved = [row.name for row in rows if any(cell.css == "watch" for cell in row.cells)]
    if not moved:
        return (
            f"None of the {len(rows)} headline figures moves by as much as is shown, in any "
            f"candidate of {study.name}."
        )
    return f"{len(moved)} of the {len(rows)} headline figures move."
