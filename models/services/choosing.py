"""What a study's gates, criteria, weights and ballots say, and what moves its figures most.

Contents: `decision_of_state`, `typed_decision_of`, `matters_of_state`, `basis_of_state`,
`voters_of`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from models.services.balloting import Ballot
from models.services.evaluating import edited_study
from models.services.records import StudyState
from models.services.whole import drawn_of_state, whole_evaluation_of
from models.storage import Store
from models.trade.choosing import Basis, decision_of, matters_of, route_figures
from models.trade.deciding import VoterWeights
from models.trade.evaluation import MODEL_VERSION


def basis_of_state(store: Store, state: StudyState) -> Basis:
    """The figures of a saved state and their draws, from memory or drawn; read, never change."""
    key = (state.revision.hash, MODEL_VERSION)
    basis: Basis | None = store.bases.get(key)
    if basis is None:
        payload = whole_evaluation_of(store, state)
        figures = {
            one["key"]: {**one["metrics"], **route_figures(one)} for one in payload["candidates"]
        }
        basis = Basis(figures, *drawn_of_state(store, state))
        store.bases.put(key, basis)
    return basis


def decision_of_state(
    store: Store, state: StudyState, ballots: Sequence[Ballot] = ()
) -> dict[str, Any]:
    """What gates, criteria, weights and ballots say of a saved state.

    The dict is shared with other requests: read it, never change it. See `models.trade.deciding`.
    """
    voters = voters_of(ballots)
    said = tuple((one.name, tuple(sorted(one.weights.items())), one.preference) for one in voters)
    key = (state.revision.hash, MODEL_VERSION, "decision", said)
    found = store.results.get(key)
    if found is None:
        found = decision_of(state.study, basis_of_state(store, state), ballots=voters)
        store.results.put(key, found)
    return found


def typed_decision_of(
    store: Store, state: StudyState, decision: Mapping[str, Any] | None
) -> dict[str, Any]:
    """What other gates, criteria and weights would say of a saved state; nothing is stored.

    Raises `StudyRefusedError` where they do not hold.
    """
    study = edited_study(store, state, {"decision": decision})
    return decision_of(study, basis_of_state(store, state))


def matters_of_state(store: Store, state: StudyState, metric: str, key: str) -> dict[str, Any]:
    """Which uncertain input moves a figure of a candidate most; see `models.trade.what_matters`.

    Raises `NotFoundError` where the study has no such candidate.
    """
    state.study.candidate(key)
    asked = (state.revision.hash, MODEL_VERSION, "matters", metric, key)
    found = store.results.get(asked)
    if found is None:
        found = matters_of(state.study, basis_of_state(store, state), metric, key)
        store.results.put(asked, found)
    return found


def voters_of(ballots: Sequence[Ballot]) -> tuple[VoterWeights, ...]:
    """Ballots as far as weighing needs them."""
    return tuple(VoterWeights(one.name, one.weights, one.preference) for one in ballots)
