"""What the pages of a study's ballots show."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from models.errors import Fault
from models.services import (
    BallotRound,
    Store,
    ballot_round,
    ballots_of,
    can_weigh,
    decision_of_state,
    list_ballot_rounds,
    load_study,
)
from models.units import UnitSystem
from webapp.shared.ballots.figures import frozen_marks
from webapp.shared.ballots.said import said_in


def ballots_context(
    store: Store,
    study_id: str,
    *,
    faults: Sequence[Fault] = (),
    title: str | None = None,
    new_address: str = "",
    new_round: BallotRound | None = None,
) -> dict[str, Any]:
    """Return the rounds of a study, newest first, and the form for another."""
    state = load_study(store, study_id)
    hosts = ("http://localhost", "http://127.0.0.1", "http://[::1]")
    rounds = list_ballot_rounds(store, study_id)
    criteria = state.study.decision.criteria if state.study.decision is not None else ()
    return {
        "nav": "ballots",
        "state": state,
        "rounds": [(one, len(ballots_of(store, one.id))) for one in rounds],
        "can_open": can_weigh(state),
        "criteria_count": len(criteria),
        "faults": faults,
        "title": f"Revision {state.latest_number}" if title is None else title,
        "once": secrets.token_urlsafe(12),
        "new_address": new_address,
        "new_round": new_round,
        "local_only": new_address.startswith(hosts),
    }


def round_context(
    store: Store, study_id: str, round_id: str, units: UnitSystem, *, closing: bool
) -> dict[str, Any]:
    """Return what was said in one round; `closing` asks whether to close it."""
    found = ballot_round(store, study_id, round_id)
    cast = ballots_of(store, found.id)
    decision = (
        decision_of_state(store, load_study(store, study_id, found.revision), cast)
        if cast
        else None
    )
    said = said_in(
        found.criteria,
        [asdict(one) for one in cast],
        frozen_marks(found.candidates),
        decision,
        units,
    )
    return {
        "nav": "ballots",
        "state": load_study(store, study_id),
        "round": found,
        "said": said,
        "closing": closing and found.closed_at is None,
    }
