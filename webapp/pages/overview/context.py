"""What the overview shows: the verdict and the candidates side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from models.services import StudyState
from models.units import UnitSystem
from webapp.shared.away.context import take_away_context
from webapp.shared.comparison.context import comparison_context
from webapp.shared.links import StudyLinks


def page_context(
    state: StudyState,
    payload: Mapping[str, Any],
    system: UnitSystem,
    *,
    show: Sequence[str] | None,
    only: bool,
    beside: str | None,
    ranges: bool,
) -> dict[str, Any]:
    """Return the context of overview.html."""
    links = StudyLinks.of_state(state)
    comparison = comparison_context(
        payload, state, links, system, show=show, only=only, beside=beside, ranges=ranges
    )
    away = take_away_context(payload, state, links, system)
    return {"state": state, "links": links, "nav": "overview", **comparison, **away}
