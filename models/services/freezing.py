"""What ballots and decisions keep of a study, taken at one revision and never worked out again.

Contents: `call_for_ballots`, `decision_payload`, `can_weigh`.

The payload of a record: everything in SI units, what does not exist is None.

    {"format", "version", "study": {"name", "notes", "revision", "hash", "saved_at", "saved_by"},
     "model_version", "draws", "currency",
     "words": {"choice", "keeps_baseline", "reasons", "weights_why", "dissent", "reconsider",
               "reconsider_by", "owner", "decided_on"},
     "metrics": {key: {"name", "unit", "better", "sentence", "headline"}},
     "candidates": [{"key", "name", "letter", "layout", "baseline", "metrics", "ranges"}…],
     "decision": what `models.trade.deciding` returned, with the ballots weighed in,
     "ballots": None or {"round", "title", "revision", "opened_at", "opened_by", "closed_at",
                "closed_by", "weighed": whether they are on the same criteria, "criteria",
                "voters": [{"name", "weights", "preference", "reason", "cast_at"}…]},
     "schedule": None or {"start", "ready_by", "wanted_chance", "candidates": [{"key",
                "ready_probability", "date_p10", "date_p50", "date_p90", "to_buy", "all"}…]},
     "remarks": {"si": [{"kind", "text"}…], "inch-pound": […]},
     "inputs": [{"label", "candidate", "unit", "value", "low", "high", "source"}…]}
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from models.quantities import METRICS
from models.services.balloting import (
    BallotRound,
    ballot_round,
    ballots_of,
    open_ballots,
)
from models.services.choosing import decision_of_state
from models.services.planning import plan_of_state
from models.services.records import StudyState
from models.services.revisions import load_study
from models.services.whole import whole_evaluation_of
from models.storage import Store
from models.trade.draws import ranged_inputs
from models.trade.verdict import verdict
from models.units import UnitSystem

FORMAT = "switchover-decision"
VERSION = 1


def can_weigh(state: StudyState) -> bool:
    """Return whether a study has criteria, without which there is nothing to vote on."""
    return state.study.decision is not None and bool(state.study.decision.criteria)


def call_for_ballots(
    store: Store, study_id: str, *, revision: int | None = None, title: str, author: str
) -> tuple[BallotRound, str]:
    """Call for ballots on a revision with its criteria and its candidates' figures as they are.

    Raises `StudyRefusedError` where the study names no criteria.
    """
    state = load_study(store, study_id, revision)
    decision = decision_of_state(store, state)
    whole = {one["key"]: one for one in whole_evaluation_of(store, state)["candidates"]}
    currency = _currency(state)
    criteria = [
        {
            **{name: line[name] for name in ("metric", "name", "unit", "worst", "best")},
            "currency": currency if line["metric"] == "cost" else "",
        }
        for line in decision["criteria"]
    ]
    gates = {gate["metric"]: gate["name"] for gate in decision["gates"]}
    candidates = [
        {
            "key": one["key"],
            "name": one["name"],
            "letter": one["letter"],
            "baseline": bool(whole[one["key"]]["baseline"]),
            "fails": [gates[metric] for metric in one["failed_gates"]],
            "values": {
                line["metric"]: whole[one["key"]]["metrics"].get(line["metric"])
                for line in criteria
            },
        }
        for one in decision["candidates"]
    ]
    return open_ballots(
        store,
        study_id,
        revision=state.revision.number,
        title=title,
        author=author,
        criteria=criteria,
        candidates=candidates,
    )


def decision_payload(
    store: Store, state: StudyState, words: Mapping[str, Any], round_id: str | None = None
) -> dict[str, Any]:
    """Return everything that the record of a decision on this state shows; see above.

    Raises `NotFoundError` where the study has no such ballots.
    """
    whole = whole_evaluation_of(store, state)
    ballots = _ballots(store, state, round_id) if round_id else None
    weighed = ballots is not None and bool(ballots["weighed"])
    cast = ballots_of(store, round_id) if weighed and round_id else []
    return {
        "format": FORMAT,
        "version": VERSION,
        "study": {
            "name": state.study.name,
            "notes": state.study.notes,
            "revision": state.revision.number,
            "hash": state.revision.hash,
            "saved_at": state.revision.saved_at.isoformat(),
            "saved_by": state.revision.author,
        },
        "model_version": whole["model_version"],
        "draws": whole["draws"],
        "currency": _currency(state),
        "words": dict(words),
        "metrics": {
            key: {
                "name": metric.name,
                "unit": metric.unit,
                "better": metric.better,
                "sentence": metric.sentence,
                "headline": metric.headline,
            }
            for key, metric in METRICS.items()
        },
        "candidates": [
            {
                name: one[name]
                for name in ("key", "name", "letter", "layout", "baseline", "metrics", "ranges")
            }
            for one in whole["candidates"]
        ],
        "decision": decision_of_state(store, state, cast),
        "ballots": ballots,
        "schedule": _schedule(store, state),
        "remarks": {system.value: _remarks(whole, state, system) for system in UnitSystem},
        "inputs": [
            {
                "label": one.label,
                "candidate": one.candidate,
                "unit": one.unit,
                "value": float(one.estimate),
                "low": one.estimate.low,
                "high": one.estimate.high,
                "source": one.estimate.source,
            }
            for one in ranged_inputs(state.study)
        ],
    }


def _currency(state: StudyState) -> str:
    return state.study.schedule.currency if state.study.schedule is not None else ""


def _ballots(store: Store, state: StudyState, round_id: str) -> dict[str, Any]:
    found = ballot_round(store, state.study_id, round_id)
    own = state.study.decision.criteria if state.study.decision is not None else ()
    return {
        "round": found.id,
        "title": found.title,
        "revision": found.revision,
        "opened_at": found.opened_at.isoformat(),
        "opened_by": found.author,
        "closed_at": found.closed_at.isoformat() if found.closed_at else None,
        "closed_by": found.closed_by,
        "weighed": {item["metric"] for item in found.criteria} == {one.metric for one in own},
        "criteria": [dict(item) for item in found.criteria],
        "voters": [
            {
                "name": one.name,
                "weights": dict(one.weights),
                "preference": one.preference,
                "reason": one.reason,
                "cast_at": one.cast_at.isoformat(),
            }
            for one in ballots_of(store, round_id)
        ],
    }


def _schedule(store: Store, state: StudyState) -> dict[str, Any] | None:
    schedule = state.study.schedule
    if schedule is None:
        return None
    names = ("key", "ready_probability", "date_p10", "date_p50", "date_p90")
    return {
        "start": schedule.start.isoformat(),
        "ready_by": schedule.ready_by.isoformat(),
        "wanted_chance": float(schedule.wanted_chance),
        "candidates": [
            {
                **{name: one.get(name) for name in names},
                "to_buy": (one.get("costs") or {}).get("to_buy"),
                "all": (one.get("costs") or {}).get("all"),
            }
            for one in plan_of_state(store, state)["candidates"]
        ],
    }


def _remarks(
    whole: Mapping[str, Any], state: StudyState, system: UnitSystem
) -> list[dict[str, str]]:
    return [{"kind": one.kind, "text": one.text} for one in verdict(whole, state.study, system)]
