"""The curves of a candidate in the units of a page, computed once for each study."""

from __future__ import annotations

import weakref
from collections.abc import Iterable
from typing import Any

from models.study.schema import Study
from models.trade.curves import sprint_and_force
from models.units import UnitSystem, convert
from webapp.shared.charts.specs import LIMIT_SHAPES

Curves = dict[str, Any]

_kept: dict[int, dict[tuple[str, UnitSystem], Curves]] = {}
"""Curves by the identity of their study; a study that nobody holds any more takes them along."""


def curves_of(study: Study, key: str, system: UnitSystem) -> Curves:
    """Return the curves of one candidate; nobody may change what this returns.

    `sprint` has time, speed, distance, voltage and current; `force` has speed, force and the
    limit that governs at each point; `changes` are the points where another limit takes over.
    """
    place = id(study)
    if place not in _kept:
        _kept[place] = {}
        weakref.finalize(study, _kept.pop, place, None)
    of_study = _kept[place]
    if (key, system) not in of_study:
        of_study[key, system] = _curves(study, key, system)
    return of_study[key, system]


def _curves(study: Study, key: str, system: UnitSystem) -> Curves:
    sprint, force = sprint_and_force(study, key)
    force_columns = {
        "speed": _column(force["speed_mps"], "mps", system),
        "force": _column(force["force_n"], "n", system),
        "limit": list(force["limit"]),
    }
    return {
        "sprint": {
            "time": _column(sprint["time_s"], "s", system),
            "speed": _column(sprint["speed_mps"], "mps", system),
            "distance": _column(sprint["distance_m"], "m", system),
            "voltage": _column(sprint["bus_voltage_v"], "v", system),
            "current": _column(sprint["bus_current_a"], "a", system),
        },
        "force": force_columns,
        "changes": _changes(force_columns),
    }


def _column(values: Iterable[float], unit: str, system: UnitSystem) -> list[float]:
    return [float(f"{convert(value, unit, system):.4g}") for value in values]


def _changes(force: dict[str, list[Any]]) -> list[dict[str, Any]]:
    """Return where each governing limit begins along a force curve."""
    changes = []
    previous = None
    for speed, value, limit in zip(force["speed"], force["force"], force["limit"], strict=True):
        if limit != previous and limit in LIMIT_SHAPES:
            changes.append({"speed": speed, "force": value, "limit": limit})
        previous = limit
    return changes
