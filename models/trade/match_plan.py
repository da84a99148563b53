"""What happens in a match: which routes are driven in which period, and what else draws current.

The first autonomous route of the study is driven once, from the beginning; after the autonomous
period its cycle routes take turns, whole ones only; in what is left over the robot waits.

Contents
--------
Period, MatchPlan, match_plan: the routes of each period.
loads_on, leg_loads: the current that flows beside the drive.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.study.schema import Study

FloatArray = NDArray[np.float64]
Period = Literal["autonomous", "driver"]


class MatchPlan(NamedTuple):
    """Which routes a match is made of, as indices into the study's."""

    autonomous: int | None
    cycles: tuple[int, ...]
    autonomous_s: float
    match_s: float


def match_plan(study: Study) -> MatchPlan:
    """Return which routes a match is made of."""
    kinds = [route.kind for route in study.routes]
    first = kinds.index("autonomous") if "autonomous" in kinds else None
    cycles = tuple(index for index, kind in enumerate(kinds) if kind == "cycle")
    match = float(study.rules.match_s)
    return MatchPlan(first, cycles, min(float(study.rules.autonomous_s), match), match)


def loads_on(study: Study, period: Period, named: tuple[str, ...] = ()) -> float:
    """Return the mean current of accessories and of all loads that run, each counted once [A].

    A load runs always, in its period, or where a leg names it; its current counts times its duty.
    """
    total = float(study.power.accessory_current_a)
    for load in study.power.loads:
        if load.during in ("always", period) or load.name in named:
            total += float(load.current_a) * float(load.duty)
    return total


def leg_loads(study: Study, route: int, period: Period) -> FloatArray:
    """Return that current for every leg of a route [A]."""
    return np.array([loads_on(study, period, leg.loads) for leg in study.routes[route].legs])
