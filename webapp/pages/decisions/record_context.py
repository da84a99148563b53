"""A record in words and tables, from what was frozen in it alone; nothing is worked out anew."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.services import DecisionInfo
from models.trade.choosing import flip_words, lead_of
from models.trade.phrases import listed
from models.units import UnitSystem
from webapp.shared.ballots.figures import Scale, frozen_marks, is_number, per_cent
from webapp.shared.ballots.said import change_words, said_in
from webapp.shared.candidates import CandidateMark
from webapp.shared.schedule.words import money_words
from webapp.templating import day, moment_with_zone

SOURCES = ("measured", "datasheet", "practice", "assumed", None)
SOURCE_WORDS = {
    "measured": "measured",
    "datasheet": "from a datasheet",
    "practice": "common practice",
    "assumed": "assumed",
    None: "of no stated source",
}


@dataclass(frozen=True)
class MatrixCell:
    """One figure, its range, and what it scores."""

    text: str
    span: str
    value: str
    fails: bool


@dataclass(frozen=True)
class MatrixRow:
    """One figure of all candidates."""

    name: str
    unit: str
    role: str
    """Why it stands here: gate, criterion, headline."""
    cells: tuple[MatrixCell, ...]


@dataclass(frozen=True)
class CriterionRow:
    """One criterion: what it spans and what it weighs."""

    name: str
    swing: str
    weight: str
    share: str
    remark: str


@dataclass(frozen=True)
class ScoreRow:
    """One candidate's result."""

    mark: CandidateMark
    score: str
    span: str
    first_team: str
    first_ballots: str
    first_any: str
    why_not: str


@dataclass(frozen=True)
class Alternative:
    """One candidate in a line: gates, chance and cost."""

    mark: CandidateMark
    gates: str
    fails: bool
    ready: str
    cost: str


def record_context(
    info: DecisionInfo | None,
    payload: Mapping[str, Any],
    system: UnitSystem,
    *,
    intact: bool,
) -> dict[str, Any]:
    """Return what the page and the file of a record show; `info` is None before it is one."""
    marks = frozen_marks(payload["candidates"])
    by_key = {mark.key: mark for mark in marks}
    decision, words = payload["decision"], payload["words"]
    ballots = payload["ballots"]
    names = {mark.key: mark.name for mark in marks}
    remarks = payload["remarks"][system.value]
    chosen = by_key[words["choice"]]
    leader = by_key.get(decision["leader"])
    return {
        "info": info,
        "study_name": payload["study"]["name"],
        "notes": payload["study"]["notes"],
        "revision": payload["study"]["revision"],
        "study_hash": payload["study"]["hash"],
        "saved": _moment(payload["study"]["saved_at"]),
        "saved_by": payload["study"]["saved_by"],
        "model_version": payload["model_version"],
        "draws": payload["draws"],
        "intact": intact,
        "words": words,
        "chosen": chosen,
        "leader": leader,
        "decided": _day(words["decided_on"]),
        "reconsider_day": _day(words["reconsider_by"]),
        "summary": _summary(payload, chosen, leader),
        "marks": marks,
        "alternatives": _alternatives(payload, marks),
        "gates": [
            (_gate_words(gate, system), "every candidate passes" if gate["idle"] else "")
            for gate in decision["gates"]
        ],
        "criteria": [_criterion(line, payload, system) for line in decision["criteria"]],
        "scores": _scores(decision, by_key),
        "has_ballots": any(one["ballot_ranks"] for one in decision["candidates"]),
        "matrix": _matrix(payload, system),
        "lead_remarks": [one["text"] for one in remarks if one["kind"] in ("lead", "good")],
        "risks": [one["text"] for one in remarks if one["kind"] in ("watch", "bad")],
        "flips": [flip_words(flip, names) for flip in decision["flips"]],
        "ballots": ballots,
        "closed": _moment(ballots["closed_at"]) if ballots and ballots["closed_at"] else "",
        "said": said_in(
            ballots["criteria"],
            ballots["voters"],
            marks,
            decision if ballots["weighed"] else None,
            system,
        )
        if ballots
        else None,
        "schedule": _schedule_words(payload, chosen),
        "sources": _sources(payload),
    }


def _moment(text: str) -> str:
    return moment_with_zone(dt.datetime.fromisoformat(text))


def _day(text: str) -> str:
    return day(dt.date.fromisoformat(text))


def _summary(
    payload: Mapping[str, Any], chosen: CandidateMark, leader: CandidateMark | None
) -> list[str]:
    """Return the record in a few sentences: what, by whose figures, how firm."""
    by_key = {one["key"]: one for one in payload["decision"]["candidates"]}
    own = by_key[chosen.key]
    count = len(payload["candidates"])
    said = [f"{count} candidates were compared on {len(payload['decision']['criteria'])} criteria."]
    if leader is None:
        said.append("No candidate passes all gates with a figure for every criterion.")
    elif leader == chosen:
        share = per_cent(own["team_ranks"][0]) if own["team_ranks"] else ""
        firm = f" It comes first in {share} of the draws under the team's weights." if share else ""
        said.append(f"The chosen one has the highest score.{firm}")
    elif (lead := lead_of(payload["decision"])) is not None and chosen.key in lead.ties:
        said.append(
            f"{leader.letter} {leader.name} has the highest score, a tie with the chosen one; the "
            "team's reasons settled it."
        )
    else:
        said.append(
            f"The figures put {leader.letter} {leader.name} first; the team chose otherwise, "
            "for the reasons given."
        )
    if not own["passes"]:
        failed = _gate_names(payload, own["failed_gates"])
        said.append(f"The chosen one fails a gate: {failed}.")
    return said


def _gate_names(payload: Mapping[str, Any], metrics: Sequence[str]) -> str:
    names = {gate["metric"]: gate["name"] for gate in payload["decision"]["gates"]}
    return listed([f"“{names[metric]}”" for metric in metrics])


def _alternatives(payload: Mapping[str, Any], marks: Sequence[CandidateMark]) -> list[Alternative]:
    schedule = payload["schedule"] or {"candidates": []}
    plans = {one["key"]: one for one in schedule["candidates"]}
    rows = []
    for mark, one in zip(marks, payload["decision"]["candidates"], strict=True):
        plan = plans.get(mark.key, {})
        rows.append(
            Alternative(
                mark=mark,
                gates=f"✕ fails {_gate_names(payload, one['failed_gates'])}"
                if one["failed_gates"]
                else "✓ passes all gates",
                fails=bool(one["failed_gates"]),
                ready=per_cent(plan.get("ready_probability")),
                cost=money_words(plan.get("to_buy"), payload["currency"]),
            )
        )
    return rows


def _gate_words(gate: Mapping[str, Any], system: UnitSystem) -> str:
    if gate["is"] is not None:
        said = {True: "yes", False: "no"}.get(gate["is"], gate["is"])
        return f"{gate['name']}: {said}"
    ends = (("at least", gate["at_least"]), ("at most", gate["at_most"]))
    parts = [
        f"{words} {Scale.of([value], gate['unit'], system).text(value)}"
        for words, value in ends
        if value is not None
    ]
    return f"{gate['name']} {' and '.join(parts)}"


def _currency_of(metric: str, payload: Mapping[str, Any]) -> str:
    return str(payload["currency"]) if metric == "cost" else ""


def _criterion(
    line: Mapping[str, Any], payload: Mapping[str, Any], system: UnitSystem
) -> CriterionRow:
    names = {one["metric"]: one["name"] for one in payload["decision"]["criteria"]}
    remarks = []
    if line["idle"]:
        remarks.append("tells the candidates apart by next to nothing")
    if line["twins"]:
        remarks.append(f"measures the same as {listed([names[one] for one in line['twins']])}")
    currency = _currency_of(line["metric"], payload)
    return CriterionRow(
        name=line["name"],
        swing=change_words({**line, "currency": currency}, system),
        weight=f"{line['weight']:g}",
        share=per_cent(line["share"]),
        remark="; ".join(remarks),
    )


def _scores(decision: Mapping[str, Any], by_key: Mapping[str, CandidateMark]) -> list[ScoreRow]:
    order = {key: place for place, key in enumerate(decision["order"])}
    rows = sorted(decision["candidates"], key=lambda one: order.get(one["key"], len(order)))
    return [
        ScoreRow(
            mark=by_key[one["key"]],
            score=_points(one["score"]),
            span=f"{_points(one['score_p10'])} to {_points(one['score_p90'])}"
            if one["score_p10"] is not None
            else "",
            first_team=_first(one["team_ranks"]),
            first_ballots=_first(one["ballot_ranks"]),
            first_any=_first(one["rank_acceptability"]),
            why_not="fails a gate"
            if one["failed_gates"]
            else "a figure is missing"
            if one["not_scored"]
            else "",
        )
        for one in rows
    ]


def _points(score: float | None) -> str:
    return "–" if score is None else f"{100.0 * score:.0f}"


def _first(shares: Sequence[float] | None) -> str:
    return per_cent(shares[0]) if shares else "–"


def matrix_metrics(payload: Mapping[str, Any]) -> dict[str, str]:
    """Return the figures that a record shows, and why: gates, criteria, then the headlines."""
    decision = payload["decision"]
    gates = {gate["metric"] for gate in decision["gates"]}
    criteria = [line["metric"] for line in decision["criteria"]]
    headlines = [key for key, one in payload["metrics"].items() if one["headline"]]
    roles = dict.fromkeys(criteria, "criterion")
    for gate in decision["gates"]:
        metric = gate["metric"]
        roles[metric] = "gate and criterion" if metric in criteria else "gate"
    return {
        metric: roles.get(metric, "")
        for metric in dict.fromkeys([*criteria, *sorted(gates), *headlines])
    }


def _matrix(payload: Mapping[str, Any], system: UnitSystem) -> list[MatrixRow]:
    return [_matrix_row(metric, role, payload, system) for metric, role in
            matrix_metrics(payload).items()]  # fmt: skip


def _matrix_row(
    metric: str, role: str, payload: Mapping[str, Any], system: UnitSystem
) -> MatrixRow:
    known = payload["metrics"].get(metric, {"name": metric, "unit": ""})
    values = [one["metrics"].get(metric) for one in payload["candidates"]]
    scale = Scale.of(values, known["unit"], system, _currency_of(metric, payload))
    cells = []
    for one, value, judged in zip(
        payload["candidates"], values, payload["decision"]["candidates"], strict=True
    ):
        span = one["ranges"].get(metric)
        points = judged["values"].get(metric)
        varies = span is not None and is_number(value) and span[0] != span[2]
        cells.append(
            MatrixCell(
                text=scale.bare(value),
                span=f"{scale.bare(span[0])} to {scale.bare(span[2])}" if varies else "",
                value=_points(points) if points is not None else "",
                fails=metric in judged["failed_gates"],
            )
        )
    return MatrixRow(known["name"], scale.unit_words, role, tuple(cells))


def _schedule_words(payload: Mapping[str, Any], chosen: CandidateMark) -> str:
    schedule = payload["schedule"]
    plan = next(
        (one for one in (schedule or {"candidates": []})["candidates"] if one["key"] == chosen.key),
        None,
    )
    if plan is None or plan["ready_probability"] is None:
        return "No schedule says when the chosen one is ready."
    late = f"; in nine of ten runs by {_day(plan['date_p90'])}" if plan["date_p90"] else ""
    return (
        f"The chance to have it ready by {_day(schedule['ready_by'])} is "
        f"{per_cent(plan['ready_probability'])}{late}."
    )


def _sources(payload: Mapping[str, Any]) -> list[str]:
    counts = Counter(one["source"] for one in payload["inputs"])
    return [f"{counts[source]} {SOURCE_WORDS[source]}" for source in SOURCES if counts.get(source)]
