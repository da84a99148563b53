"""What a decision says in sentences: who leads, what would change that, who is out and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.quantities import SURE_SHARE
from models.trade.choosing import flip_words, gate_words, lead_of
from models.trade.phrases import capitalised, listed
from models.units import UnitSystem
from webapp.shared.candidates import CandidateMark
from webapp.shared.choice.measures import NO_BREAK, Measure, percent

Decision = Mapping[str, Any]
SELDOM = 0.005
"""Shares below this are not worth a sentence of their own."""
OFTEN_OUT = 1.0 - SURE_SHARE


@dataclass(frozen=True)
class Remark:
    """One sentence with its weight: note, watch or bad."""

    kind: str
    text: str


def score_words(score: float | None) -> str:
    """Return a score.

    >>> score_words(0.7462), score_words(None)
    ('0.75', 'none')
    """
    return "none" if score is None else f"{score:.2f}"


def range_words(one: Mapping[str, Any]) -> str:
    """Return where a score lies in eight of ten draws, "" where it is sure.

    >>> range_words({"score_p10": 0.704, "score_p90": 0.776}).replace(NO_BREAK, " ")
    '0.70 to 0.78'
    """
    low, high = one["score_p10"], one["score_p90"]
    if low is None or low == high:
        return ""
    return f"{low:.2f}{NO_BREAK}to{NO_BREAK}{high:.2f}"


def _scored(one: Mapping[str, Any]) -> str:
    spread = range_words(one)
    return score_words(one["score"]) + (f" ({spread})" if spread else "")


def lead_words(decision: Decision, marks: Mapping[str, CandidateMark]) -> str:
    """Return who leads under the team's weights, or with whom that is a tie."""
    if not decision["criteria"]:
        return "Nothing can be weighed yet: no criteria are stated."
    lead = lead_of(decision)
    if lead is None:
        return "No candidate passes every gate with a figure for each criterion, so none leads."
    rows = {one["key"]: one for one in decision["candidates"]}
    first, letter = rows[lead.leader], marks[lead.leader].letter
    others = [key for key in decision["order"] if key != lead.leader]
    if not others:
        return (
            f"{letter} is alone in the field, with a score of {_scored(first)}; "
            "all others are out or not scored."
        )
    meaning = ", in brackets where it lies in eight draws of ten" if range_words(first) else ""
    if not lead.ties:
        second = rows[others[0]]
        sentence = (
            f"{letter} leads under your weights: it scores {_scored(first)}, "
            f"{marks[others[0]].letter} {_scored(second)}{meaning}."
        )
        if lead.shares:
            sentence += f" It comes first in {percent(lead.shares[lead.leader])} of the draws."
        return sentence
    tied = [f"{marks[key].letter} {_scored(rows[key])}" for key in lead.ties]
    sentence = (
        f"A tie under your weights: {letter} scores {_scored(first)}, {listed(tied)}{meaning}."
    )
    if not lead.shares:
        return f"{sentence} So small a difference decides nothing."
    firsts = [f"{marks[key].letter} in {percent(lead.shares[key])}" for key in lead.ties]
    return (
        f"{sentence} {letter} comes first in {percent(lead.shares[lead.leader])} of the draws, "
        f"{listed(firsts)}; a lead needs nine of ten."
    )


def weightings_words(decision: Decision, marks: Mapping[str, CandidateMark]) -> str:
    """Return how often each comes first under any weights at all, "" where nobody is ranked."""
    ranked = _ranked(decision)
    if len(ranked) < 2 or len(decision["criteria"]) < 2:
        return ""
    ranked.sort(key=lambda one: -one["rank_acceptability"][0])
    best = ranked[0]
    others = [
        f"{marks[one['key']].letter} in {percent(one['rank_acceptability'][0])}"
        for one in ranked[1:]
        if one["rank_acceptability"][0] >= SELDOM
    ]
    never = [
        marks[one["key"]].letter for one in ranked if one["rank_acceptability"][0] < SELDOM / 10.0
    ]
    sentence = (
        f"Over all weightings there are, {marks[best['key']].letter} comes first in "
        f"{percent(best['rank_acceptability'][0])}{', ' if others else ''}{listed(others)}."
    )
    if never:
        sentence += (
            f" {capitalised(listed(never))} {'is' if len(never) == 1 else 'are'} first in none."
        )
    return sentence


def flips(decision: Decision, marks: Mapping[str, CandidateMark]) -> list[str]:
    """Return what would change the leader, in words."""
    names = {key: mark.letter for key, mark in marks.items()}
    words = [flip_words(flip, names) for flip in decision["flips"]]
    return [line.replace("(now ", f"(now{NO_BREAK}") for line in words]


def no_flip_words(decision: Decision, marks: Mapping[str, CandidateMark]) -> str:
    """Return what is to say where no weight changes the leader."""
    if len(_ranked(decision)) < 2:
        return ""
    letter = marks[decision["leader"]].letter
    return f"No change of a single weight takes the lead from {letter}."


def remarks(
    decision: Decision,
    marks: Mapping[str, CandidateMark],
    measures: Mapping[str, Measure],
    system: UnitSystem,
) -> list[Remark]:
    """Return who is out and by how much, who is not scored, and which criteria tell little."""
    found: list[Remark] = []
    for one in decision["candidates"]:
        letter = marks[one["key"]].letter
        if one["failed_gates"]:
            reasons = [
                shortfall_words(gate, result["value"], measures[gate["metric"]])
                for gate, result in zip(decision["gates"], one["gates"], strict=True)
                if result["passes"] is not True
            ]
            words = f"{letter} is out: {listed(reasons)}."
            found.append(Remark("bad", words + _chance_to_pass(one)))
        elif one["gate_chance"] is not None and one["gate_chance"] < SURE_SHARE:
            chance = percent(one["gate_chance"])
            words = f"{letter} passes the gates as typed, but in {chance} of the draws only."
            found.append(Remark("watch", words))
        if one["not_scored"]:
            names = [f"“{measures[metric].name}”" for metric in one["not_scored"]]
            words = f"{letter} is not scored: it has no {listed(names)}. A blank is never 0."
            found.append(Remark("watch", words))
    return [*found, *_twins(decision, measures), *_idle(decision, measures, system)]


def _chance_to_pass(one: Mapping[str, Any]) -> str:
    chance = one["gate_chance"]
    if chance is None or chance <= OFTEN_OUT:
        return ""
    return f" It would pass in {percent(chance)} of the draws."


def shortfall_words(gate: Mapping[str, Any], value: Any, measure: Measure) -> str:
    """Return by how much a figure misses a gate."""
    name = f"“{measure.name}”"
    if value is None:
        return f"{name} is not known"
    if gate["is"] is not None:
        wanted = {True: "yes", False: "no"}.get(gate["is"], gate["is"])
        return f"{name} has to be {wanted} and is {measure.words(value)}"
    low, high = gate["at_least"], gate["at_most"]
    if low is not None and float(value) < low:
        return (
            f"{name} is {measure.words(value)}, {measure.words(low - float(value))} short of "
            f"{measure.end(low)}"
        )
    over = 0.0 if high is None else float(value) - high
    return f"{name} is {measure.words(value)}, {measure.words(over)} over {measure.end(high)}"


def _twins(decision: Decision, measures: Mapping[str, Measure]) -> list[Remark]:
    pairs = {
        tuple(sorted((line["metric"], other)))
        for line in decision["criteria"]
        for other in line["twins"]
    }
    return [
        Remark(
            "watch",
            f"“{measures[one].name}” and “{measures[other].name}” put the candidates in nearly the "
            "same order: perhaps the same worry, counted twice.",
        )
        for one, other in sorted(pairs)
    ]


def _idle(decision: Decision, measures: Mapping[str, Measure], system: UnitSystem) -> list[Remark]:
    found = [
        Remark(
            "watch",
            f"“{measures[line['metric']].name}” tells nobody apart here: its weight of "
            f"{percent(line['share'])} changes nothing between the candidates.",
        )
        for line in decision["criteria"]
        if line["idle"]
    ]
    idle = [gate_words(gate, system) for gate in decision["gates"] if gate["idle"]]
    if idle:
        found.append(Remark("note", f"Every candidate passes: {'; '.join(idle)}."))
    return found


def _ranked(decision: Decision) -> list[Mapping[str, Any]]:
    return [one for one in decision["candidates"] if one["rank_acceptability"]]


def ends_words(line: Mapping[str, Any], measure: Measure) -> str:
    """Return from what to what a criterion runs: 'from 3 s to 2 s'."""
    return f"from {measure.end(line['worst'])} to {measure.end(line['best'])}"


def marks_by_key(marks: Sequence[CandidateMark]) -> dict[str, CandidateMark]:
    """Return marks by the candidate's key."""
    return {mark.key: mark for mark in marks}
