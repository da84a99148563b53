"""The whole evaluation of a saved study: computed once for a document and a version, then kept."""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from models.services.evaluating import evaluation_of, keep_result, kept_result
from models.services.planning import plan_figures_of
from models.services.records import StudyState
from models.storage import Store
from models.study.canonical import canonical_text
from models.trade.drawn_figures import Drawn, drawn_figures
from models.trade.draws import Draws, draw_inputs
from models.trade.evaluation import MODEL_VERSION
from models.trade.power_figures import power_figures
from models.trade.whole import joined_evaluation

WHOLE = f"{MODEL_VERSION} whole"
"""What a whole evaluation is kept under, beside that of driving alone."""


def whole_evaluation_of(store: Store, state: StudyState) -> dict[str, Any]:
    """All figures of a saved state with power, plan and ranges; see `models.trade.whole`.

    The dict is shared with other requests: read it, never change it.
    """
    key = (state.revision.hash, WHOLE)
    payload = store.results.get(key)
    if payload is None:
        text = kept_result(store, *key)
        if text is None:
            text = canonical_text(
                joined_evaluation(
                    evaluation_of(store, state),
                    power=power_figures(state.study),
                    plan=plan_figures_of(store, state),
                    **drawn_of_state(store, state)._asdict(),
                )
            )
            keep_result(store, *key, text)
        payload = json.loads(text)
        store.results.put(key, payload)
    return payload


class DrawnState(NamedTuple):
    """The uncertain inputs of a saved state over many draws, and the figures that follow."""

    draws: Draws
    drawn: Drawn


def drawn_of_state(store: Store, state: StudyState) -> DrawnState:
    """The draws of a saved state and the figures over them, from memory or drawn; only to read."""
    key = (state.revision.hash, MODEL_VERSION, "drawn")
    found: DrawnState | None = store.bases.get(key)
    if found is None:
        draws = draw_inputs(state.study)
        found = DrawnState(draws, drawn_figures(state.study, draws))
        store.bases.put(key, found)
    return found
