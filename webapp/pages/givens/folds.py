"""The parts of the givens that are folded away, each with a line that says what is in it."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from models.study.fields import fields_under
from webapp.shared.folds import Fold, shown_number, stated_in_words
from webapp.shared.formunits import shape_of
from webapp.shared.inputs import Sheet
from webapp.shared.remarks import RemarkView

OPPONENT = tuple(spec.path for spec in fields_under("yardsticks.opponent"))
DAY = tuple(spec.path for spec in fields_under("power.day"))
SLOTS = ("power.channels", "power.controllers", "power.encoders", "power.bus_nodes")
FOLDED_LEAVES = ("power.main_breaker_a", "power.branch_breaker_a", *SLOTS)
"""Inputs of the power section that stand in a fold instead of the open list."""
LISTS = (
    "power.batteries",
    "power.loads",
    "power.main_breaker_curve",
    "power.branch_breaker_curve",
    "power.cables",
    "field.obstacles",
)
MOST_NAMED = 4


@dataclass(frozen=True)
class _Plan:
    key: str
    words: str
    places: tuple[str, ...]
    leaves: tuple[str, ...] = ()


PLANS = (
    _Plan("batteries", "Batteries", ("power.batteries",)),
    _Plan("loads", "Loads beside the drive", ("power.loads",)),
    _Plan(
        "breakers",
        "Breakers",
        ("power.main_breaker", "power.branch_breaker"),
        ("power.main_breaker_a", "power.branch_breaker_a"),
    ),
    _Plan("cables", "Cables", ("power.cables",)),
    _Plan("slots", "Connections that there are", SLOTS, SLOTS),
    _Plan("day", "A day of matches", ("power.day",), DAY),
    _Plan("opponent", "An opponent to push against", ("yardsticks.opponent",), OPPONENT),
    _Plan("obstacles", "Obstacles", ("field.obstacles",)),
)


def folds_of(
    sheet: Sheet, remarks: dict[str, list[RemarkView]], names: Collection[str], focus: str
) -> dict[str, Fold]:
    """Return the folds by their key; one that holds a fault, a remark or the focus is open.

    `names` are the boxes at fault. What is asked for by the address opens by itself.
    """
    folds = {}
    for plan in PLANS:
        said = (name for name, views in remarks.items() if views)
        calls = [*names, *said, focus.rpartition(":")[2]]
        folds[plan.key] = Fold(
            plan.key,
            plan.words,
            _inside(sheet, plan.key),
            any(call.startswith(plan.places) for call in calls),
            [(sheet.box(name), remarks.get(name, [])) for name in plan.leaves],
        )
    return folds


def _inside(sheet: Sheet, key: str) -> str:
    """Return what is in a fold, in one line."""
    return {
        "batteries": lambda: _listed(sheet, "power.batteries", "internal_resistance_ohm"),
        "loads": lambda: _listed(sheet, "power.loads", "current_a"),
        "breakers": lambda: _breakers(sheet),
        "cables": lambda: _listed(sheet, "power.cables", ""),
        "slots": lambda: stated_in_words(sheet, SLOTS),
        "day": lambda: stated_in_words(sheet, DAY[:2]),
        "opponent": lambda: stated_in_words(sheet, OPPONENT[:2]),
        "obstacles": lambda: _listed(sheet, "field.obstacles", ""),
    }[key]() or "none"


def _listed(sheet: Sheet, name: str, figure: str) -> str:
    """Return the names of a list's rows, each with one of its figures."""
    entries = []
    for row in sheet.rows(name):
        words = str(sheet.value(f"{name}.{row}.name") or "unnamed")
        value = shown_number(sheet, f"{name}.{row}.{figure}") if figure else ""
        entries.append(f"{words} {value}".strip())
    more = len(entries) - MOST_NAMED
    between = "; " if any(", " in entry for entry in entries) else ", "
    return between.join(entries[:MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _breakers(sheet: Sheet) -> str:
    said = []
    for which in ("main", "branch"):
        rating = shown_number(sheet, f"power.{which}_breaker_a")
        points = len(sheet.rows(f"power.{which}_breaker_curve"))
        if rating or points:
            curve = f"curve of {points} points" if points else "no curve"
            said.append(f"{which} {rating or 'not rated'}, {curve}")
    return "; ".join(said)


def leaves_of(key: str) -> list[str]:
    """Return the single inputs of a section that stand open on the page."""
    return [
        spec.path
        for spec in fields_under(key)
        if shape_of(spec.path) == "leaf" and spec.path not in FOLDED_LEAVES
    ]


def without_empty_groups(values: dict[str, Any]) -> dict[str, Any]:
    """Return typed sections without the groups in which nothing is typed.

    >>> without_empty_groups({"power": {"day": {}, "channels": 8}, "field": {"obstacles": []}})
    {'power': {'channels': 8}}
    """
    kept = dict(values)
    for section, group in (("power", "day"), ("yardsticks", "opponent")):
        inner = kept.get(section)
        if isinstance(inner, dict) and not any((inner.get(group) or {}).values()):
            kept[section] = {name: value for name, value in inner.items() if name != group}
    for section in ("platform", "field"):
        if not any((kept.get(section) or {}).values()):
            kept.pop(section, None)
    return kept


def with_renamed(
    values: dict[str, Any], before: Mapping[str, Any], origins: Mapping[str, str]
) -> dict[str, Any]:
    """Return typed sections in which what names a battery or load follows its new name.

    Parameters
    ----------
    values : the sections as typed
    before : the sections that the form began from
    origins : number of the stored row that each typed row began as, by the row's name
    """
    batteries = _new_names(values, before, "batteries", origins)
    loads = _new_names(values, before, "loads", origins)
    power = values.get("power")
    if isinstance(power, dict) and power.get("battery") in batteries:
        values = {**values, "power": {**power, "battery": batteries[power["battery"]]}}
    if loads and isinstance(values.get("routes"), list):
        values = {**values, "routes": [_renamed_route(one, loads) for one in values["routes"]]}
    return values


def _new_names(
    values: dict[str, Any], before: Mapping[str, Any], group: str, origins: Mapping[str, str]
) -> dict[str, str]:
    new = (values.get("power") or {}).get(group)
    old = (before.get("power") or {}).get(group)
    if not isinstance(new, list) or not isinstance(old, list):
        return {}
    renamed = {}
    for number, row in enumerate(new):
        was = origins.get(f"power.{group}.{number}", "")
        if was.isdecimal() and int(was) < len(old) and isinstance(row, dict):
            first, last = old[int(was)].get("name"), row.get("name")
            if first and last and first != last:
                renamed[str(first)] = str(last)
    return renamed


def _renamed_route(route: Any, names: dict[str, str]) -> Any:
    if not isinstance(route, dict) or not isinstance(route.get("legs"), list):
        return route
    legs = [
        {**leg, "loads": [names.get(one, one) for one in leg["loads"]]}
        if isinstance(leg, dict) and isinstance(leg.get("loads"), list)
        else leg
        for leg in route["legs"]
    ]
    return {**route, "legs": legs}
