"""What the pages of what matters show: which input moves a figure most, in words and pictures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from models.errors import NotFoundError
from models.quantities import METRICS
from models.services import Store, StudyState, decision_of_state, matters_of_state
from models.services.whole import whole_evaluation_of
from models.study.schema import Study
from models.trade.choosing import route_figures
from models.trade.draws import ranged_inputs
from models.trade.phrases import listed
from models.trade.what_matters import LEAD, SCORE
from models.units import UnitSystem, convert, decimals_of, quoted
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.choice.inputs_named import (
    address_of,
    end_texts,
    input_name,
    place_of,
    source_words,
    span_words,
    whose,
)
from webapp.shared.choice.measures import (
    ChoiceGroup,
    Measure,
    measure_of,
    metric_groups,
)
from webapp.shared.choice.tornado import MOST_BARS, Swing, tornado
from webapp.shared.links import StudyLinks

USUAL = "sprint_stop_time_s"
MEASURED = "measured"
NOT_CORRELATED = "–"
MOST_NAMES = 6
"""Inputs that move little and are named all the same."""
FINEST_SWING = 4
"""Decimals of a figure whose swing is small."""


@dataclass(frozen=True)
class MatterRow:
    """One input in the table."""

    name: str
    address: str
    span: str
    source: str
    whose: str
    at_low: str
    at_high: str
    swing: str
    correlation: str


@dataclass(frozen=True)
class Asked:
    """What is asked for: a figure of a candidate."""

    mark: CandidateMark
    measure: Measure

    @property
    def called(self) -> str:
        """How sentences call it."""
        if self.measure.key == SCORE:
            return f"the score of {self.mark.letter}"
        if self.measure.key == LEAD:
            return f"the score of {self.mark.letter} less the best other's"
        name = self.measure.name
        return f"{name if '“' in name else f'“{name}”'} of {self.mark.letter}"

    @property
    def axis(self) -> str:
        """Its name on an axis."""
        name = f"{self.measure.name} of {self.mark.letter}"
        return f"{name}, {self.measure.text}" if self.measure.text else name


def matters_context(
    store: Store,
    state: StudyState,
    links: StudyLinks,
    system: UnitSystem,
    *,
    candidate: str | None = None,
    metric: str | None = None,
) -> dict[str, Any]:
    """Return what `shared/choice/matters.html` shows."""
    study = state.study
    payload = whole_evaluation_of(store, state)
    figures = {
        one["key"]: {**one["metrics"], **route_figures(one)} for one in payload["candidates"]
    }
    weighs = study.decision is not None and bool(study.decision.criteria)
    key = candidate or _usual_candidate(store, state)
    asked_metric = metric or (SCORE if weighs else USUAL)
    groups = choice_groups(study, figures, system, weighs=weighs)
    if all(asked_metric != name for group in groups for name, _ in group.choices):
        raise NotFoundError(f"There is no figure {quoted(asked_metric[:60])} to look at.")
    found = matters_of_state(store, state, asked_metric, key)
    marks = marks_of(study)
    mark = next(one for one in marks if one.key == key)
    measure = _measure(asked_metric, figures, found, system)
    asked = Asked(mark, measure)
    rows, shown = found["rows"], found["rows"][:MOST_BARS]
    swings = [_swing(row, asked, study, links, marks) for row in shown]
    picture = None
    if rows:
        picture = tornado(
            swings,
            _shown(found["value"], measure),
            caption="Each input alone from the low to the high end of its range, all others as "
            "they stand. The numbers beside a bar are the input's own ends.",
            axis=asked.axis,
            now=measure.words(found["value"]),
        )
    return {
        "matters_marks": marks,
        "matters_key": key,
        "matters_metric": asked_metric,
        "matters_groups": groups,
        "matters_called": asked.called,
        "matters_lead": lead_words(rows, asked, study, system),
        "matters_turns": turning_words(rows, found["value"], asked, study),
        "matters_none": "" if rows else none_words(state, asked, found["value"]),
        "matters_no_range": not rows and not ranged_inputs(study),
        "matters_picture": picture,
        "matters_rows": [_table_row(row, asked, study, links, marks) for row in shown],
        "matters_rest": rest_words(rows[MOST_BARS:], asked, study),
        "matters_draws": payload["draws"],
        "matters_address": links.matters(),
        "matters_caption": f"What moves {asked.called}, the greatest swing first",
        "matters_unit": measure.text,
    }


def _usual_candidate(store: Store, state: StudyState) -> str:
    """Return who is looked at where nobody is asked for: who leads, else what comes after today."""
    if state.study.decision is not None and state.study.decision.criteria:
        leader = decision_of_state(store, state)["leader"]
        if leader is not None:
            return str(leader)
    others = [one.key for one in state.study.candidates if one.key != state.study.baseline.key]
    return others[0] if others else state.study.baseline.key


def choice_groups(
    study: Study, figures: Mapping[str, Mapping[str, Any]], system: UnitSystem, *, weighs: bool
) -> list[ChoiceGroup]:
    """Return the figures that can be looked at."""
    groups = metric_groups(figures, system, ("number",))
    routes = dict.fromkeys(
        name
        for own in figures.values()
        for name in own
        if name.startswith("route_") and ":" in name
    )
    if routes:
        names = [(name, measure_of(name, (), system).label) for name in routes]
        groups.append(ChoiceGroup("Routes", tuple(names)))
    if weighs:
        decision = ((SCORE, "Score, under your weights"), (LEAD, "Score less the best other's"))
        groups.insert(0, ChoiceGroup("The decision", decision))
    return groups


def _measure(
    metric: str,
    figures: Mapping[str, Mapping[str, Any]],
    found: Mapping[str, Any],
    system: UnitSystem,
) -> Measure:
    """Return how the figure is shown, with decimals that its swings still show."""
    if metric in (SCORE, LEAD):
        name = "Score" if metric == SCORE else "Score less the best other's,"
        return Measure(metric, name, "", "", False, 3, "number", "higher", system)
    values: list[Any] = [own.get(metric) for own in figures.values()]
    measure = measure_of(metric, values, system)
    swings = [row["swing"] for row in found["rows"][:1]]
    if not swings:
        return measure
    moved = abs(_shown(swings[0], measure) - _shown(0.0, measure))
    decimals = max(measure.decimals, min(decimals_of(moved, 3), FINEST_SWING))
    return replace(measure, decimals=decimals)


def _shown(value: float, measure: Measure) -> float:
    return convert(value, measure.unit, measure.system, small=measure.small)


def _swing(
    row: Mapping[str, Any],
    asked: Asked,
    study: Study,
    links: StudyLinks,
    marks: Sequence[CandidateMark],
) -> Swing:
    measure = asked.measure
    name = input_name(row, study)
    low, high = end_texts(row, measure.system)
    about = ", ".join(part for part in (source_words(row), span_words(row, measure.system)) if part)
    at_low, at_high = measure.words(row["at_low"]), measure.words(row["at_high"])
    return Swing(
        name=name,
        about=f"{about}; {whose(row, marks)}",
        address=address_of(place_of(row, asked.mark.key, study), study, links),
        at_low=_shown(row["at_low"], measure),
        at_high=_shown(row["at_high"], measure),
        low_text=low.partition("\N{NO-BREAK SPACE}")[0],
        high_text=high.partition("\N{NO-BREAK SPACE}")[0],
        swing=measure.words(row["swing"]),
        words=f"{name}: at {low} {at_low}, at {high} {at_high}",
    )


def _table_row(
    row: Mapping[str, Any],
    asked: Asked,
    study: Study,
    links: StudyLinks,
    marks: Sequence[CandidateMark],
) -> MatterRow:
    measure = asked.measure
    correlation = row["correlation"]
    return MatterRow(
        name=input_name(row, study),
        address=address_of(place_of(row, asked.mark.key, study), study, links),
        span=span_words(row, measure.system),
        source=source_words(row) or "not stated",
        whose=whose(row, marks),
        at_low=measure.bare(row["at_low"]),
        at_high=measure.bare(row["at_high"]),
        swing=measure.bare(row["swing"]),
        correlation=NOT_CORRELATED
        if correlation is None
        else f"{correlation:+.2f}".replace("-", "\N{MINUS SIGN}"),
    )


def _ranged(row: Mapping[str, Any], study: Study, system: UnitSystem) -> str:
    """Return an input with source and range: 'grip of the carpet (assumed, 0.95 to 1.3)'."""
    about = ", ".join(part for part in (source_words(row), span_words(row, system)) if part)
    name = input_name(row, study)
    return f"{name[0].lower()}{name[1:]} ({about})"


def lead_words(
    rows: Sequence[Mapping[str, Any]], asked: Asked, study: Study, system: UnitSystem
) -> str:
    """Return what to measure first, and how far it moves the figure."""
    if not rows:
        return ""
    top = rows[0]
    by = f"by {asked.measure.words(top['swing'])}{_beside(rows)}"
    if top["source"] != MEASURED:
        return (
            f"Measure this first: {_ranged(top, study, system)}. Over its range it moves "
            f"{asked.called} {by}."
        )
    sentence = (
        f"{_capital(_ranged(top, study, system))} moves {asked.called} most, {by}; it is measured "
        "already."
    )
    guessed = next((row for row in rows if row["source"] != MEASURED), None)
    if guessed is None:
        return f"{sentence} So is all else that moves it: only tighter measurements would help."
    return (
        f"{sentence} Of what is not, measure this first: {_ranged(guessed, study, system)}, which "
        f"moves it by {asked.measure.words(guessed['swing'])}."
    )


def _capital(words: str) -> str:
    return words[0].upper() + words[1:]


def _beside(rows: Sequence[Mapping[str, Any]]) -> str:
    """Return how the greatest swing stands to the others."""
    if len(rows) < 2:
        return ""
    others = [row["swing"] for row in rows[1:]]
    if rows[0]["swing"] > sum(others):
        return ", more than all others together"
    if rows[0]["swing"] > 2.0 * others[0]:
        return ", more than twice as far as the next"
    return ""


def _told_apart(rows: Sequence[Mapping[str, Any]], study: Study) -> list[str]:
    """Return inputs' names inside a sentence; those that share one say whose they are."""
    names = [input_name(row, study) for row in rows]
    marks = marks_of(study)
    return [
        f"{name[0].lower()}{name[1:]}"
        + (f" ({whose(row, marks).removesuffix(' only')})" if names.count(name) > 1 else "")
        for name, row in zip(names, rows, strict=True)
    ]


def turning_words(
    rows: Sequence[Mapping[str, Any]], value: float | None, asked: Asked, study: Study
) -> str:
    """Return which inputs alone would turn the lead around, within their own ranges."""
    if asked.measure.key != LEAD or value is None or not rows:
        return ""
    enough = [row for row in rows if min(row["at_low"] * value, row["at_high"] * value) < 0.0]
    turning = _told_apart(enough, study)
    letter = asked.mark.letter
    if not turning:
        does = f"takes the lead from {letter}" if value > 0.0 else f"brings {letter} to the front"
        return f"No single input {does} within its range."
    names = listed(turning)
    verb = "is" if len(turning) == 1 else "are, each alone,"
    does = f"to take the lead from {letter}" if value > 0.0 else f"to bring {letter} to the front"
    return f"Within the stated range {names} {verb} enough {does}."


def none_words(state: StudyState, asked: Asked, value: float | None) -> str:
    """Return why nothing moves the figure."""
    found = METRICS.get(asked.measure.key)
    called = _capital(asked.called)
    if value is None:
        return f"{called} does not exist as the study stands, so nothing can move it."
    if found is not None and found.made_by == "power":
        return (
            f"{called} is worked out for the match with every input as typed; the ranges of inputs "
            "are not carried through the match."
        )
    if found is not None and found.made_by == "plan":
        return f"{called} follows from the tasks and their own ranges; the schedule shows them."
    if not ranged_inputs(state.study):
        return "No input of this study has a range yet, so nothing can be said about what matters."
    return f"No input with a range moves {asked.called}."


def rest_words(rows: Sequence[Mapping[str, Any]], asked: Asked, study: Study) -> str:
    """Return what moves the figure little, in one sentence."""
    if not rows:
        return ""
    names = _told_apart(rows, study)
    if len(names) > MOST_NAMES + 1:
        names = [*names[:MOST_NAMES], f"{len(names) - MOST_NAMES} others"]
    count = f"{len(rows)} more input{'' if len(rows) == 1 else 's'}"
    finest = 10.0**-asked.measure.decimals
    moved = abs(_shown(rows[0]["swing"], asked.measure) - _shown(0.0, asked.measure))
    unit = f" {asked.measure.text}" if asked.measure.text else ""
    most = (
        f"{asked.measure.words(rows[0]['swing'])} or less"
        if moved >= finest
        else f"less than {finest:g}{unit}"
    )
    verb = "moves" if len(rows) == 1 else "move"
    return f"{count} {verb} it by {most}{'' if len(rows) == 1 else ' each'}: {listed(names)}."
