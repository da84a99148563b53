"""What the list of decisions, the form for another and its review show."""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from typing import Any

from models.errors import Fault
from models.services import (
    Store,
    StudyState,
    decision_of_state,
    list_ballot_rounds,
    list_decisions,
    load_study,
)
from models.trade.choosing import lead_of
from webapp.pages.decisions.form import suggested
from webapp.shared.candidates import marks_of


def closed_rounds(store: Store, study_id: str) -> list[Any]:
    """Return the rounds of ballots that have ended, the newest first."""
    return [one for one in list_ballot_rounds(store, study_id) if one.closed_at is not None]


def decisions_context(
    store: Store,
    state: StudyState,
    author: str,
    *,
    typed: Mapping[str, str] | None = None,
    faults: Sequence[Fault] = (),
    round_id: str = "",
) -> dict[str, Any]:
    """Return the decisions so far and the form for another, filled in with a suggestion."""
    marks = marks_of(state.study)
    rounds = closed_rounds(store, state.study_id)
    known = {one.id for one in rounds}
    if typed is None:
        decision = decision_of_state(store, state)
        typed = suggested(
            state,
            decision,
            owner=author,
            round_id=round_id if round_id in known else (rounds[0].id if rounds else ""),
            once=secrets.token_urlsafe(12),
        )
        lead = lead_of(decision)
    else:
        lead = None
    by_key = {mark.key: mark for mark in marks}
    return {
        "nav": "decisions",
        "state": load_study(store, state.study_id),
        "decisions": [
            (info, by_key.get(info.choice)) for info in list_decisions(store, state.study_id)
        ],
        "marks": marks,
        "rounds": rounds,
        "typed": typed,
        "leader": None if lead is None else by_key.get(lead.leader),
        "ties": [] if lead is None else [by_key[key] for key in lead.ties],
        "faults": faults,
        "fault_of": {fault.place: fault.message for fault in faults},
    }
