"""What the pages of the routes show, for editors and viewers alike."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.quantities import TIE_SHARE
from models.study.schema import Route, Study
from models.trade.comparison import compare
from models.units import UnitSystem, display_unit
from webapp.shared.candidates import marks_of
from webapp.shared.links import StudyLinks
from webapp.shared.routes.field import FieldView, extent_of, field_view
from webapp.shared.routes.leads import RouteSentence, route_leads
from webapp.shared.routes.times import (
    ACTIVITIES,
    Bars,
    Detail,
    LegTable,
    bars_of,
    details_of,
    leg_table,
    runs_of,
)

KIND_WORDS = {"autonomous": "autonomous routine", "cycle": "scoring cycle"}


@dataclass(frozen=True)
class RouteLink:
    """One route to go to."""

    name: str
    kind: str
    address: str
    shown: bool


@dataclass(frozen=True)
class RouteView:
    """One route: what is said of it, its drawing, its times."""

    index: int
    name: str
    kind: str
    leads: tuple[RouteSentence, ...]
    field: FieldView
    bars: Bars
    table: LegTable
    details: tuple[Detail, ...]


def routes_context(
    payload: Mapping[str, Any],
    study: Study,
    links: StudyLinks,
    system: UnitSystem,
    *,
    faster: Mapping[str, Mapping[str, Mapping[str, Any]]],
    before: Study | None = None,
    only: Collection[int] | None = None,
    ranges: bool = False,
) -> dict[str, Any]:
    """Return what `shared/routes/parts.html` shows.

    `faster` is what a faster drive would make of the routes, by candidate and route; `before` is
    the study as it was saved where the one on the page is edited; `only` leaves out all routes
    but some, by their place; with `ranges` times say where they lie in eight of ten draws, where
    the payload knows.
    """
    marks = marks_of(study)
    table = compare(payload)
    extent = extent_of(study, before)

    def view(index: int, route: Route) -> RouteView:
        runs = runs_of(payload, route.name)
        return RouteView(
            index=index,
            name=route.name,
            kind=KIND_WORDS[route.kind],
            leads=tuple(
                route_leads(
                    route,
                    payload,
                    table,
                    {key: found[route.name] for key, found in faster.items()},
                )
            ),
            field=field_view(
                route, index, study, legs=_any_legs(runs), extent=extent, system=system
            ),
            bars=bars_of(route, runs, marks, table, float(study.rules.autonomous_s), ranges=ranges),
            table=leg_table(route, runs, marks, table, system, ranges=ranges),
            details=tuple(details_of(route, runs, marks, system)),
        )

    return {
        "route_views": [
            view(index, route)
            for index, route in enumerate(study.routes)
            if only is None or index in only
        ],
        "route_links": [
            RouteLink(
                route.name,
                KIND_WORDS[route.kind],
                links.routes(route=route.name),
                only is not None and index in only,
            )
            for index, route in enumerate(study.routes)
        ],
        "route_ties": ""
        if before is None or "ahead" in payload
        else f"Until it is saved, differences below {TIE_SHARE:.0%} count as a tie; then the "
        "ranges of the inputs decide.",
        "route_marks": marks,
        "route_activities": ACTIVITIES,
        "route_speed_unit": display_unit("mps", system),
    }


def _any_legs(runs: Mapping[str, Mapping[str, Any]]) -> Sequence[Mapping[str, Any]]:
    legs: Sequence[Mapping[str, Any]] = next(iter(runs.values()), {}).get("legs", ())
    return legs


def picked_route(study: Study, name: str | None) -> int:
    """Return the place of the route that an address names; the first where it names none."""
    names = [route.name for route in study.routes]
    return names.index(name) if name in names else 0
