"""What came of a decision: typed with its unit, and set beside what had been predicted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from models.errors import Fault, UnitError
from models.services import Outcome
from models.services.recording import LONGEST_WORDS
from models.units import UnitSystem, parse_number
from webapp.pages.decisions.record_context import matrix_metrics
from webapp.shared.ballots.figures import Scale, frozen_marks, is_number
from webapp.shared.candidates import CandidateMark
from webapp.templating import moment

NAMES = ("metric", "candidate", "measured", "words", "once", "form_units")


@dataclass(frozen=True)
class OutcomeRow:
    """One outcome in words."""

    when: str
    author: str
    name: str
    mark: CandidateMark | None
    predicted: str
    measured: str
    difference: str
    outside: bool
    words: str


@dataclass(frozen=True)
class Measured:
    """What a form says was found out."""

    metric: str = ""
    candidate: str = ""
    value: float | None = None
    words: str = ""
    faults: Sequence[Fault] = field(default=())


def measurable(payload: Mapping[str, Any], system: UnitSystem) -> list[tuple[str, str]]:
    """Return the figures that can be measured: key, and name with the unit a bare number has."""
    first = [metric for metric in matrix_metrics(payload) if metric in payload["metrics"]]
    found = []
    for metric in dict.fromkeys([*first, *payload["metrics"]]):
        scale = scale_of(metric, payload, system)
        if scale is not None:
            unit = scale.unit_words
            name = payload["metrics"][metric]["name"]
            found.append((metric, f"{name}, {unit}" if unit else name))
    return found


def scale_of(metric: str, payload: Mapping[str, Any], system: UnitSystem) -> Scale | None:
    """Return how a figure reads; None where it is no number or nothing to be measured."""
    known = payload["metrics"].get(metric)
    values = [one["metrics"].get(metric) for one in payload["candidates"]]
    if known is None or known["unit"] == "share" or not any(map(is_number, values)):
        return None
    currency = payload["currency"] if metric == "cost" else ""
    return Scale.of(values, known["unit"], system, currency)


def read_outcome(
    typed: Mapping[str, str], payload: Mapping[str, Any], system: UnitSystem
) -> Measured:
    """Return what a form says, in SI units; a bare number is in the unit that its figure showed."""
    words, text = " ".join(typed["words"].split()), typed["measured"].strip()
    if len(words) > LONGEST_WORDS:
        given = len(words)
        fault = Fault(
            "words", f"A remark has at most {LONGEST_WORDS} characters; this has {given}."
        )
        return Measured(faults=(fault,))
    if not text:
        if words:
            return Measured(words=words)
        return Measured(faults=(Fault("measured", "Type what was measured, or a remark."),))
    faults = []
    scale = scale_of(typed["metric"], payload, system)
    if scale is None:
        faults.append(Fault("metric", "Choose the figure that was measured."))
    if typed["candidate"] not in {one["key"] for one in payload["candidates"]}:
        faults.append(Fault("candidate", "Choose the candidate that was measured."))
    value = None
    if scale is not None:
        try:
            bare = text.removesuffix(scale.currency).strip() if scale.currency else text
            unit = scale.unit_words if scale.unit else None
            value = parse_number(bare, scale.unit, default_unit_text=unit)
        except UnitError as error:
            faults.append(Fault("measured", str(error)))
    if faults:
        return Measured(faults=faults)
    return Measured(typed["metric"], typed["candidate"], value, words)


def outcome_rows(
    outcomes: Sequence[Outcome], payload: Mapping[str, Any], system: UnitSystem
) -> list[OutcomeRow]:
    """Return the outcomes so far, each beside its prediction."""
    marks = {mark.key: mark for mark in frozen_marks(payload["candidates"])}
    return [_row(one, payload, marks, system) for one in outcomes]


def _row(
    one: Outcome,
    payload: Mapping[str, Any],
    marks: Mapping[str, CandidateMark],
    system: UnitSystem,
) -> OutcomeRow:
    name = payload["metrics"].get(one.metric, {"name": "Remark"})["name"]
    predicted, difference, outside = "", "", False
    measured = ""
    if one.measured is not None:
        frozen = next(each for each in payload["candidates"] if each["key"] == one.candidate)
        value = frozen["metrics"].get(one.metric)
        span = frozen["ranges"].get(one.metric)
        unit = payload["metrics"][one.metric]["unit"]
        currency = payload["currency"] if one.metric == "cost" else ""
        scale = Scale.of([value, one.measured], unit, system, currency)
        measured = scale.text(one.measured)
        predicted = scale.text(value)
        if span is not None and span[0] != span[2]:
            predicted += f" ({scale.bare(span[0])} to {scale.bare(span[2])})"
            outside = not span[0] <= one.measured <= span[2]
        difference = _difference(one.measured, value, scale)
        if span is not None and span[0] != span[2]:
            difference += ", outside its range" if outside else ", inside its range"
    return OutcomeRow(
        when=moment(one.added_at),
        author=one.author,
        name=name if one.metric else "Remark",
        mark=marks.get(one.candidate),
        predicted=predicted,
        measured=measured,
        difference=difference,
        outside=outside,
        words=one.words,
    )


def _difference(measured: float, predicted: Any, scale: Scale) -> str:
    if not is_number(predicted):
        return "nothing was predicted"
    apart = measured - float(predicted)
    if float(scale.bare(abs(apart))) == 0.0:
        return "as predicted"
    share = f" ({abs(apart / predicted):.0%})" if predicted else ""
    return f"{scale.text(abs(apart))}{share} {'more' if apart > 0 else 'less'}"
