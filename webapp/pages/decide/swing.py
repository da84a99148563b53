"""Weights by swing: which change from worst to best matters most, and how much each other does.

After D. von Winterfeldt and W. Edwards, Decision Analysis and Behavioral Research (1986), chapter 8
(memory): the weightiest change counts 100 points, each other is judged against it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from models.errors import Fault, UnitError
from models.services import StudyState
from models.study.planning import Criterion
from models.units import UnitSystem, parse_number
from webapp.pages.decide.form import CRITERIA, SECTION
from webapp.shared.choice.measures import Measure, figures_of, measures_of
from webapp.shared.choice.words import ends_words
from webapp.shared.editing import ConflictView, Posted, Visit, save_bar
from webapp.shared.inputs import faults_by_name
from webapp.shared.links import StudyLinks

MOST = 100.0
POINTS = "points"
"""The form's name for what it asks; `points:first` is the change the others are held against."""
_SI = UnitSystem.SI


@dataclass(frozen=True)
class SwingRow:
    """One change from worst to best."""

    metric: str
    id: str
    """Of its box."""
    name: str
    box: str
    """Name of its box."""
    words: str
    """'Sprint and stop from 2.60 s to 1.60 s'."""
    text: str
    now: str
    """The points that it has by the present weights, "" where the first has none."""
    faults: tuple[str, ...]
    first: bool


class SwingForm:
    """The points as typed."""

    def __init__(self, posted: Posted) -> None:
        study = posted.base.study
        self.criteria: tuple[Criterion, ...] = study.decision.criteria if study.decision else ()
        typed = posted.typed.at((POINTS,))
        asked = (typed.text("first") or "") if typed is not None else ""
        places = [place for place, one in enumerate(self.criteria) if one.metric == asked]
        self.first = asked if places else ""
        self.texts = {
            place: _text(posted, place)
            for place in range(len(self.criteria))
            if self.criteria[place].metric != self.first
        }
        self.faults: list[Fault] = []
        self._weights = {place: self._points(place, text) for place, text in self.texts.items()}
        self._base: dict[str, Any] = posted.base.document.get(SECTION) or {}
        self.posted = posted
        if self.first and not posted.note:
            self.posted = replace(
                posted, controls={**posted.controls, "revision_note": self.note(posted)}
            )

    def note(self, posted: Posted) -> str:
        """Return the reason for the history where none was typed."""
        return swing_note(self.first, posted.base)

    @property
    def edits(self) -> dict[str, Any]:
        """The decision with the points as weights."""
        rows = [
            {**row, "weight": self._weights.get(place, MOST)}
            for place, row in enumerate(self._base.get(CRITERIA) or [])
        ]
        return {SECTION: {**self._base, CRITERIA: rows}}

    def _points(self, place: int, text: str) -> float | int:
        where = f"{POINTS}[{place}]"
        limit = f"0 to {MOST:g}"
        if not text:
            words = f"Give this change points, {limit}; 0 if it does not matter at all."
            self.faults.append(Fault(where, words, limit=limit))
            return 0
        try:
            value = parse_number(text, "")
        except UnitError as error:
            self.faults.append(Fault(where, str(error), given=text, limit=limit))
            return 0
        if not 0.0 <= value <= MOST:
            words = (
                f"Points go from {limit}. If this change matters more than the first, go back and "
                "name it the first."
            )
            self.faults.append(Fault(where, words, given=text, limit=limit))
            return 0
        return int(value) if value.is_integer() else value


def _text(posted: Posted, place: int) -> str:
    typed = posted.typed.at((POINTS, place))
    return (typed.text() or "") if typed is not None else ""


def swing_note(first: str, state: StudyState) -> str:
    """Return what the history says of weights found by swing."""
    measure = measures_of([first], {}, _SI)[first]
    return f"Weights by swing, the weightiest: {measure.name}"


def swing_context(
    visit: Visit,
    state: StudyState,
    payload: Mapping[str, Any],
    *,
    first: str | None = None,
    form: SwingForm | None = None,
    faults: Sequence[Fault] = (),
    conflict: ConflictView | None = None,
) -> dict[str, Any]:
    """Return what the page shows: the first question, or the second once `first` is known."""
    links = StudyLinks.of_state(state)
    criteria = state.study.decision.criteria if state.study.decision else ()
    metrics = [one.metric for one in criteria]
    measures = measures_of(metrics, figures_of(payload), visit.units)
    chosen = first if first in metrics else ""
    names = [f"{POINTS}.{place}" for place in range(len(metrics))]
    by_name, summary = faults_by_name(faults, [()], names)
    greatest = next((float(one.weight) for one in criteria if one.metric == chosen), 0.0)
    rows = [
        _row(place, one, measures[one.metric], form, by_name, chosen=chosen, greatest=greatest)
        for place, one in enumerate(criteria)
    ]
    bar = save_bar(state, visit, form.posted if form else None)
    if chosen and not bar.note:
        bar = replace(bar, note=swing_note(chosen, state))
    heaviest = max(criteria, key=lambda one: float(one.weight), default=None)
    return {
        "state": state,
        "links": links,
        "nav": "decide",
        "swing_rows": rows,
        "chosen": chosen,
        "chosen_row": next((row for row in rows if row.first), None),
        "heaviest": heaviest.metric if heaviest is not None else "",
        "unanswered": first is not None and not chosen,
        "bar": bar,
        "summary": summary,
        "conflict": conflict,
        "focus": "",
        "decide_address": links.decide(),
        "form_address": f"{links.decide()}/swing",
    }


def _row(
    place: int,
    one: Criterion,
    measure: Measure,
    form: SwingForm | None,
    faults: Mapping[str, Sequence[str]],
    *,
    chosen: str,
    greatest: float,
) -> SwingRow:
    box = f"{POINTS}.{place}"
    ends = ends_words({"worst": float(one.worst), "best": float(one.best)}, measure)
    now = f"{MOST * float(one.weight) / greatest:.0f}" if greatest > 0.0 else ""
    return SwingRow(
        metric=one.metric,
        id=f"f-{POINTS}-{place}",
        name=measure.name,
        box=box,
        words=f"{measure.name} {ends}",
        text=form.texts.get(place, "") if form else "",
        now=now,
        faults=tuple(faults.get(box, ())),
        first=one.metric == chosen,
    )
