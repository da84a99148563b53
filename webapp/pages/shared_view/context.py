"""What a viewer sees: the same parts as the study's own pages, without anything to edit."""

from __future__ import annotations

from typing import Any

from models.services import SharedView
from models.trade.evaluation import MODEL_VERSION
from webapp.shared.links import StudyLinks


def viewer_context(shared: SharedView, token: str, nav: str) -> dict[str, Any]:
    """Return what all of a viewer's pages share."""
    return {
        "state": shared.state,
        "links": StudyLinks.for_viewer(token),
        "nav": nav,
        "shared": shared,
        "drawn_by_another_model": shared.model_version != MODEL_VERSION,
        "model_now": MODEL_VERSION,
    }
