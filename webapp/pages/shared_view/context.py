"""What a viewer sees: the same parts as the study's own pages, without anything to edit."""

from __future__ import annotations

from typing import Any

from models.services import SharedView
from models.trade.evaluation import MODEL_VERSION
from webapp.shared.away.context import chat_card
from webapp.shared.links import StudyLinks


def viewer_context(shared: SharedView, token: str, nav: str) -> dict[str, Any]:
    """Return what all of a viewer's pages share."""
    links = StudyLinks.for_viewer(token)
    return {
        "state": shared.state,
        "links": links,
        "card": chat_card(shared.payload, shared.state, links),
        "nav": nav,
        "shared": shared,
        "drawn_by_another_model": shared.model_version != MODEL_VERSION,
        "model_now": MODEL_VERSION,
    }
