"""The whole evaluation of a saved study: computed once for a document and a version, then kept."""

from __future__ import annotations

import json
from typing import Any

from models.services.evaluating import evaluation_of, keep_result, kept_result
from models.services.planning import plan_figures_of
from models.services.records import StudyState
from models.storage import Store
from models.study.canonical import canonical_text
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
                    state.study,
                    evaluation_of(store, state),
                    power=power_figures(state.study),
                    plan=plan_figures_of(store, state),
                )
            )
            keep_result(store, *key, text)
        payload = json.loads(text)
        store.results.put(key, payload)
    return payload
