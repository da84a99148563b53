"""The form of the routes: what was typed as sections of the study; routes and legs that are added,
taken out or put in another order; loads as ticks."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from models.errors import Fault
from models.study.numbers import NumberRefusedError, read_estimate
from webapp.forms import Typed, path_of_place, rebuild, split_name
from webapp.shared.editing import Posted, take_out_row

SECTIONS = ("routes", "yardsticks")
LEGS = "legs"
A_STEP_M = 1.0
"""How far beyond the last point a new leg goes."""
SHOW = "show"
_MOVES = {"up": -1, "down": 1}


@dataclass(frozen=True)
class RouteForm:
    """What was typed: as the form shows it, as edits of the study, and what is shown."""

    values: dict[str, Any]
    edits: dict[str, Any]
    shown: int
    """The place of the route on the page."""
    focus: str
    """The field or button to go to next."""


def read_form(posted: Posted) -> RouteForm:
    """Return what was typed, with the row button obeyed that was pressed."""
    document = posted.base.document
    take_out_row(posted)
    focus = _reorder(posted)
    loads = load_names(document)
    present = shown_values(document)
    values: dict[str, Any] = rebuild(posted.typed, present, "", posted.system)
    values = {section: values.get(section) for section in SECTIONS}
    shown = _shown(posted)
    focus = _added(posted, values) or focus
    action, name, _ = posted.row
    routes = values["routes"] or []
    if action == "add" and name == "routes":
        shown = len(routes) - 1
    if action == "remove":
        focus = focus or f"button:add:{name.rpartition('.')[0]}"
    edits = dict(values)
    edits["routes"] = [_with_loads(route, loads) for route in routes]
    if not edits["routes"] and "routes" not in document:
        edits["routes"] = None
    return RouteForm(values, edits, max(0, min(shown, len(routes) - 1)), focus)


def shown_values(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return the sections on the page, the loads of each leg as the numbers of their ticks."""
    loads = load_names(document)
    routes = copy.deepcopy(document.get("routes") or [])
    for route in routes:
        for leg in route.get(LEGS) or []:
            if leg.get("loads"):
                leg["in_loads"] = [loads.index(name) for name in leg["loads"] if name in loads]
    return {"routes": routes, "yardsticks": document.get("yardsticks") or {}}


def load_names(document: Mapping[str, Any]) -> list[str]:
    """Return the names of the power section's loads, in its order."""
    loads = (document.get("power") or {}).get("loads") or []
    return [str(load.get("name", "")) for load in loads]


def leg_loads(document: Mapping[str, Any]) -> list[tuple[str, str]]:
    """Return number and name of the loads that a leg may name, and of those that one names."""
    loads = (document.get("power") or {}).get("loads") or []
    legs = [leg for route in document.get("routes") or [] for leg in route.get(LEGS) or []]
    named = {name for leg in legs for name in leg.get("loads") or []}
    return [
        (str(number), str(load.get("name", "")))
        for number, load in enumerate(loads)
        if load.get("during") == LEGS or load.get("name") in named
    ]


def in_form(faults: Sequence[Fault]) -> list[Fault]:
    """Return faults of the study with the places that the form has for them."""
    found = []
    for fault in faults:
        path = path_of_place(fault.place)
        inside = path[:1] == ("routes",) and "loads" in path
        place = fault.place.partition(".loads")[0] + ".in_loads" if inside else fault.place
        found.append(replace(fault, place=place))
    return found


def _with_loads(route: Any, loads: Sequence[str]) -> Any:
    kept = copy.deepcopy(route)
    legs = kept.get(LEGS) if isinstance(kept, dict) else None
    for leg in legs or []:
        if isinstance(leg, dict) and "in_loads" in leg:
            named = [loads[number] for number in leg.pop("in_loads") if number < len(loads)]
            if set(named) != set(leg.get("loads") or []):
                leg["loads"] = named
            if not leg.get("loads"):
                leg.pop("loads", None)
    return kept


def _shown(posted: Posted) -> int:
    """Return the place of the route on the page after the button was obeyed."""
    number = posted.control("shown_route")
    shown = int(number) if number.isascii() and number.isdigit() and len(number) < 4 else 0
    action, name, _ = posted.row
    path = split_name(name)[0]
    place = path[1] if len(path) == 2 and path[0] == "routes" else None
    if not isinstance(place, int):
        return shown
    if action == SHOW:
        return place
    return shown - 1 if action == "remove" and place <= shown else shown


def _reorder(posted: Posted) -> str:
    """Swap the leg whose button was pressed with its neighbour; return where to go next."""
    action, name, _ = posted.row
    step = _MOVES.get(action)
    path = split_name(name)[0]
    rows = posted.typed.at(path[:-1]) if step is not None and len(path) == 4 else None
    if rows is None or step is None or path[0] != "routes" or path[2] != LEGS:
        return ""
    order = sorted(number for number in rows.children if isinstance(number, int))
    if path[3] not in order:
        return ""
    here = order.index(int(path[3]))
    there = here + step
    if not 0 <= there < len(order):
        return f"button:{action}:{name}"
    _swap(rows, order[here], order[there])
    return f"button:{action}:routes.{path[1]}.{LEGS}.{there}"


def _swap(rows: Typed, one: int, other: int) -> None:
    rows.children[one], rows.children[other] = rows.children[other], rows.children[one]


def _added(posted: Posted, values: dict[str, Any]) -> str:
    """Add the route or the leg whose button was pressed; return the field to go to next."""
    action, name, _ = posted.row
    path = split_name(name)[0]
    if action != "add":
        return ""
    if path == ("routes",):
        routes = values["routes"] = list(values["routes"] or [])
        routes.append(_new_route(routes))
        return f"routes.{len(routes) - 1}.name"
    if len(path) != 3 or path[0] != "routes" or path[2] != LEGS or not isinstance(path[1], int):
        return ""
    routes = values["routes"] or []
    if path[1] >= len(routes) or not isinstance(routes[path[1]], dict):
        return ""
    legs = routes[path[1]].setdefault(LEGS, [])
    legs.append({"to_m": _beyond(routes[path[1]])})
    return f"routes.{path[1]}.{LEGS}.{len(legs) - 1}.to_m.0"


def _new_route(routes: Sequence[Any]) -> dict[str, Any]:
    """Return a route that holds at once, to be drawn and named: two metres straight ahead."""
    names = {route.get("name") for route in routes if isinstance(route, dict)}
    number = len(routes) + 1
    while f"route {number}" in names:
        number += 1
    start, heading = [1, 1], 0
    if routes and isinstance(routes[0], dict) and isinstance(routes[0].get("start"), dict):
        start = copy.deepcopy(routes[0]["start"].get("at_m")) or start
        heading = copy.deepcopy(routes[0]["start"].get("heading_deg")) or heading
    route: dict[str, Any] = {
        "name": f"route {number}",
        "kind": "cycle",
        "start": {"at_m": start, "heading_deg": heading},
        LEGS: [],
    }
    route[LEGS].append({"to_m": _beyond(route)})
    return route


def _beyond(route: Mapping[str, Any]) -> list[float]:
    """Return a place one step beyond the last point of a route, as far as that can be read."""
    start = route.get("start")
    places = [start.get("at_m") if isinstance(start, dict) else None]
    places += [leg.get("to_m") for leg in route.get(LEGS) or [] if isinstance(leg, dict)]
    for place in reversed(places):
        try:
            x, y = (float(read_estimate(one, "m")) for one in place or ())
        except (NumberRefusedError, TypeError, ValueError):
            continue
        return [round(x + A_STEP_M, 2), round(y, 2)]
    return [2.0, 2.0]
