"""What the page shows: each test with what was typed, what it means, where it can go."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

import numpy as np

from models.engineering.characterised import SPEED_UNITS
from models.engineering.simple_tests import Reading
from models.errors import OutOfRangeError
from models.study.schema import Candidate, Study
from models.trade.characterised import (
    UNITS,
    Judged,
    Unit,
    Written,
    judge_candidate,
    rolling_range,
    unit_of_key,
)
from models.trade.characterised_words import SPEED_WORDS, mentor_words, unit_words
from models.trade.driving import base_of
from models.trade.measuring import Place
from models.trade.phrases import listed
from models.units import UnitSystem, show
from webapp.pages.measure.asked import UNITS_NAME, Answers, read_answers
from webapp.pages.measure.fields import TESTS, Test
from webapp.pages.measure.results import Outcome, Row, Said, outcome_of, places_of, ranged
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.links import StudyLinks

HELD_AGAINST = ("constants", "scales", "runs", "spin")
"""Tests whose candidate is asked for; the tilt test's is the baseline."""
SEVERAL = ("tilt",)
"""Tests whose result may go to several places at once."""
CONTROLS = frozenset(
    {
        "csrf_token",
        "base_revision",
        "once",
        "revision_note",
        "your_name",
        "settle",
        "form_units",
        "test",
        "saved",
        "merged",
    }
)
"""Names in an address or a form that are no reading."""


class Asked:
    """What an address or a form says, names with their texts."""

    def __init__(self, pairs: Iterable[tuple[str, Any]]) -> None:
        self.pairs = tuple(
            (name, text) for name, text in pairs if isinstance(text, str) and name not in CONTROLS
        )
        self.query: Mapping[str, str] = dict(self.pairs)

    def into(self, test: str) -> list[str]:
        """Return the keys of the places that were chosen for a result."""
        return [text for name, text in self.pairs if name == f"{test}_into"]

    @property
    def address_end(self) -> str:
        """The same as the end of an address, "" where nothing was said."""
        return f"?{urlencode(self.pairs)}" if self.pairs else ""


@dataclass(frozen=True)
class Choice:
    """One place that a result can go to."""

    key: str
    words: str
    chosen: bool


@dataclass(frozen=True)
class GuessRow:
    """12/kV in one unit of speed, written in volts and as a share of 12 V."""

    words: str
    cells: tuple[tuple[str, bool, bool], ...]
    """Speed, whether it is plausible, whether it is the one taken."""


@dataclass(frozen=True)
class TestView:
    """One test on the page."""

    test: Test
    answers: Answers
    candidate: Candidate
    outcome: Outcome | None
    """None until everything needed is typed."""
    still: str
    """What is still to be typed, "" where nothing is, or nothing was begun."""
    choices: tuple[Choice, ...]
    several: bool
    guesses: tuple[GuessRow, ...] = ()

    @property
    def asks_candidate(self) -> bool:
        """Whether it is asked against which candidate it is held."""
        return self.test.key in HELD_AGAINST

    @property
    def faulty(self) -> bool:
        """Whether something typed cannot be used."""
        return bool(self.answers.faults or (self.outcome is not None and self.outcome.fault))

    @property
    def can_be_taken(self) -> bool:
        """Whether there is a result and a place for it."""
        found = self.outcome
        if found is None or found.reading is None or found.fault or found.not_taken:
            return False
        return bool(self.choices)


def candidate_for(study: Study, asked: Asked, test: str) -> Candidate:
    """Return the candidate that a test is held against: the one asked for, else the baseline."""
    wanted = asked.query.get(f"{test}_on")
    return next((one for one in study.candidates if one.key == wanted), study.baseline)


def measure_context(
    study: Study,
    asked: Asked,
    links: StudyLinks,
    system: UnitSystem,
    metrics: Mapping[str, Mapping[str, Any]],
) -> dict[str, Any]:
    """Return what `pages/measure/measure.html` shows.

    Parameters
    ----------
    study : Study
        The study.
    asked : Asked
        What the address says.
    links : StudyLinks
        An editor's.
    system : UnitSystem
        Units in which figures are shown and bare numbers typed.
    metrics : mapping
        Figures by the model, by candidate.
    """
    views = [test_view(study, asked, key, system, metrics) for key in TESTS]
    return {
        "views": views,
        "marks": marks_of(study),
        "faults": [
            *((one.field.name, one.fault) for view in views for one in view.answers.faults),
            *(
                (view.test.key, f"{view.test.title}: {view.outcome.fault}")
                for view in views
                if view.outcome is not None and view.outcome.fault
            ),
        ],
        "faulty": any(view.faulty for view in views),
        "unit_options": _unit_options(asked),
        "units_name": UNITS_NAME,
        "typed_in": system.value,
        "address": links.measure(),
        "take_address": links.page("measure", "take"),
    }


def test_view(
    study: Study,
    asked: Asked,
    key: str,
    system: UnitSystem,
    metrics: Mapping[str, Mapping[str, Any]],
) -> TestView:
    """Return one test with what was typed and what it means."""
    test = TESTS[key]
    answers = read_answers(test.fields, asked.query, system)
    candidate = candidate_for(study, asked, key)
    outcome: Outcome | None = None
    rows: tuple[GuessRow, ...] = ()
    still = ""
    if answers.begun and answers.missing and not answers.faults:
        names = [f"“{label}”" for label in answers.missing]
        still = f"Still to be typed: {listed(names)}."
    elif key == "spin" and answers.complete and answers.begun and not _spin_told(answers):
        still = "Still to be typed: the turns of a wheel, or time and wheel speed."
    if answers.complete and answers.begun and not still:
        if key == "constants":
            outcome, rows = _constants(study, candidate, answers, asked, system)
        else:
            own = metrics.get(candidate.key, {})
            outcome = outcome_of(key, answers, study, candidate, system=system, metrics=own)
    return TestView(
        test=test,
        answers=answers,
        candidate=candidate,
        outcome=outcome,
        still=still,
        choices=_choices(study, asked, key, candidate),
        several=key in SEVERAL,
        guesses=rows,
    )


def _spin_told(answers: Answers) -> bool:
    return answers.has("wheel") or answers.has("spin_time", "surface")


def chosen_places(study: Study, view: TestView) -> list[Place]:
    """Return the places that were chosen for a test's result."""
    keys = {choice.key for choice in view.choices if choice.chosen}
    return [place for place in places_of(study, view.test.key) if place.key in keys]


def _choices(study: Study, asked: Asked, key: str, candidate: Candidate) -> tuple[Choice, ...]:
    places = places_of(study, key)
    wanted = asked.into(key)
    known = [place.key for place in places if place.key in wanted]
    if not known and places and key in ("tilt", "constants", "spin"):
        followed = candidate.same_base_as or candidate.key
        known = [place.key for place in places if place.key == followed]
    if key not in SEVERAL:
        known = known[:1]
    marks = {mark.key: mark for mark in marks_of(study)}
    return tuple(
        Choice(place.key, _choice_words(place, marks), place.key in known) for place in places
    )


def _choice_words(place: Place, marks: Mapping[str, CandidateMark]) -> str:
    mark = marks.get(place.key) if place.section.startswith("candidates/") else None
    return place.words if mark is None else f"{mark.letter} {place.words}"


def _unit_options(asked: Asked) -> list[tuple[str, str, bool]]:
    wanted = asked.query.get("unit", "")
    return [
        ("", "to be worked out", unit_of_key(wanted) is None),
        *((unit.key, unit_words(unit), unit.key == wanted) for unit in UNITS),
    ]


def _constants(
    study: Study, candidate: Candidate, answers: Answers, asked: Asked, system: UnitSystem
) -> tuple[Outcome, tuple[GuessRow, ...]]:
    written = Written(answers["kv"], answers.get("ks"), answers.get("ka"))
    unit = unit_of_key(asked.query.get("unit", ""))
    try:
        judged = judge_candidate(study, candidate, written, unit)
    except OutOfRangeError as error:
        return Outcome(fault=str(error)), ()
    said: list[Said] = [(one.kind, one.text) for one in mentor_words(judged, system)]
    rolling = _rolling(study, candidate, judged)
    return (
        Outcome(
            said=said,
            rows=_implied(judged, candidate, rolling, system),
            reading=rolling,
            how=_constants_how(written, judged),
            not_taken=_not_taken(judged),
        ),
        _guess_rows(judged, system),
    )


def _constants_how(written: Written, judged: Judged) -> str:
    unit = "" if judged.chosen is None else f" ({unit_words(judged.chosen.unit)})"
    return (
        f"From kS = {written.static:g} of a characterised drive{unit}; runs of one robot differ "
        "by up to 12 %."
        if written.static is not None
        else ""
    )


def _not_taken(judged: Judged) -> str:
    if judged.template:
        return "Template values are not taken over."
    if judged.wrong:
        return "While something about them is wrong, nothing is taken over."
    if judged.rolling is None:
        return "Type a kS from which a drag can be read to take over the rolling resistance."
    return ""


def _rolling(study: Study, candidate: Candidate, judged: Judged) -> Reading | None:
    base = base_of(study, candidate)
    found = rolling_range(judged, base.drive, base.layout)
    return Reading(*(np.asarray(one) for one in found)) if found else None


def _implied(
    judged: Judged, candidate: Candidate, rolling: Reading | None, system: UnitSystem
) -> list[Row]:
    if judged.chosen is None:
        return []
    rows = [
        Row("12/kV against geared free speed", show(judged.chosen.speed, "mps", system),
            show(judged.geared, "mps", system)),
        Row("Ratio, if wheel and motor are right", f"{judged.ratio:.2f}:1",
            f"{float(candidate.drive.ratio):.2f}:1"),
        Row("Wheel, if ratio and motor are right", show(judged.diameter, "m", system, small=True),
            show(float(candidate.wheels.diameter_m), "m", system, small=True)),
    ]  # fmt: skip
    if judged.implied_mass is not None:
        moved = judged.implied_mass
        text = show(moved, "kg", system, digits=2) if moved > 0.0 else "none"
        rows.append(Row("Moving mass, from kA", text, show(judged.mass, "kg", system)))
    if rolling is not None:
        own = show(float(candidate.wheels.rolling_coefficient), "share", system)
        rows.append(Row("Rolling resistance, from kS", ranged(rolling, "share", system), own))
    return rows


def _guess_rows(judged: Judged, system: UnitSystem) -> tuple[GuessRow, ...]:
    by_unit = {one.unit: one for one in judged.guesses}
    taken = None if judged.chosen is None else judged.chosen.unit
    rows = []
    for speed in SPEED_UNITS:
        units: Sequence[Unit] = (Unit(speed, False), Unit(speed, True))
        cells = tuple(
            (show(by_unit[unit].speed, "mps", system), by_unit[unit].plausible, unit == taken)
            for unit in units
        )
        rows.append(GuessRow(SPEED_WORDS[speed], cells))
    return tuple(rows)
