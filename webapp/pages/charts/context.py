"""What the charts page shows: all candidates overlaid, the one in hand drawn strong."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from models.services import StudyState
from models.units import UnitSystem
from webapp.shared.charts.context import charts_context
from webapp.shared.links import StudyLinks


def page_context(
    state: StudyState, system: UnitSystem, *, strong: str | None, shown: Sequence[str] | None
) -> dict[str, Any]:
    """Return the context of charts.html."""
    links = StudyLinks.of_state(state)
    charts = charts_context(state.study, links, system, strong=strong, shown=shown, choose=True)
    return {"state": state, "links": links, "nav": "charts", **charts}
