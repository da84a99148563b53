"""A driven route as plain figures: its legs, what sets their times, and why one cannot be done.

Contents
--------
route_figures: one route of one candidate.
crossed: the obstacles that a leg's straight way runs into.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np
import shapely

from models.engineering.routes import LEG_GOVERNORS, MECHANISM, LinkedMoves, whole_cycles
from models.engineering.traction import GOVERNING
from models.study.schema import Candidate, Route, Study
from models.trade.route_runs import RouteRun

Figures = dict[str, Any]


def route_figures(study: Study, candidate: Candidate, run: RouteRun) -> Figures:
    """Return a route's time and margin, its legs and what governs them, as plain finite values.

    `wait_s` and `action_s` are what the mechanisms take beside and after the moves. `unhelped_s`
    is all the time that a slightly faster drive would not shorten: the actions, and the whole of
    each leg whose mechanisms take longer than its move; `mechanism_share` is its share of the
    route. A leg that cannot be done has a `reason` and no time.
    """
    rules, times = study.rules, run.times
    whole = _finite(np.sum(times.whole))
    autonomous = run.route.kind == "autonomous"
    cycles = None
    if whole and not autonomous:
        cycles = int(whole_cycles(match=rules.match_s, autonomous=rules.autonomous_s, cycle=whole))
    crosses = crossed(study, candidate, run.route)
    legs = [_leg(study, run, index, crosses[index]) for index in range(len(run.route.legs))]
    return {
        "kind": run.route.kind,
        "time_s": whole,
        "reason": _first_reason(legs),
        "margin_s": float(rules.autonomous_s) - whole if autonomous and whole is not None else None,
        "cycles": cycles,
        **_shares(run, whole),
        "legs": legs,
    }


def _finite(value: Any) -> float | None:
    number = float(value)
    return number if math.isfinite(number) else None


def _shares(run: RouteRun, whole: float | None) -> Figures:
    """Return how much of a route the mechanisms take."""
    if whole is None:
        return {"wait_s": None, "action_s": None, "unhelped_s": None, "mechanism_share": None}
    actions = float(sum(leg.action_s for leg in run.route.legs))
    governed = run.times.governed_by == MECHANISM
    unhelped = actions + float(np.sum(np.where(governed, run.times.move + run.times.wait, 0.0)))
    return {
        "wait_s": float(np.sum(run.times.wait)),
        "action_s": actions,
        "unhelped_s": unhelped,
        "mechanism_share": unhelped / whole if whole > 0.0 else None,
    }


def _leg(study: Study, run: RouteRun, index: int, crosses: Sequence[str]) -> Figures:
    leg, times = run.route.legs[index], run.times
    reverse = bool(times.reverse[index])
    word = int(run.words[int(reverse), index])
    follows = run.plan.moves.follows
    passes = index + 1 < len(follows) and bool(follows[index + 1])
    return {
        "index": index,
        "pose": study.robot.poses[int(run.plan.poses[index])].name,
        "pass": passes,
        "time_s": _finite(times.whole[index]),
        "move_s": _finite(times.move[index]),
        "drive_s": _finite(times.drive[index]),
        "turn_s": _finite(times.turn[index]),
        "steer_s": _finite(times.steer[index]),
        "wait_s": _finite(times.wait[index]),
        "prepare_s": float(leg.prepare_s),
        "action_s": float(leg.action_s),
        "distance_m": float(run.distances[index]),
        "top_mps": _finite(run.tops[int(reverse), index]),
        "corner_mps": _finite(run.corners[index]),
        "accel_limit": GOVERNING[word] if word >= 0 else None,
        "reverse": reverse,
        "governed_by": LEG_GOVERNORS[int(times.governed_by[index])],
        "crosses": list(crosses),
        "reason": _reason(run, index, leg.pose),
    }


def _reason(run: RouteRun, index: int, pose: str | None) -> str | None:
    """Return why a leg cannot be done, to stand after its number; None where it can be."""
    times, moves = run.times, run.plan.moves
    if np.isnan(times.drive[index]):
        if run.topples[index]:
            where = "" if pose is None else f" in the pose “{pose}”"
            return f"it would tip over{where} however gently it is driven."
        return "the drive cannot get it going."
    if not np.isnan(times.turn[index]):
        return None
    if isinstance(moves, LinkedMoves) and not moves.holds[index].any():
        return (
            "it would have to pass with another heading than it drives in, "
            "which linked sides cannot."
        )
    if isinstance(moves, LinkedMoves) and not moves.holds[index, 0]:
        return "it can pass with that heading backwards only, and this leg forwards only."
    return "the drive cannot turn it in place, which this leg needs."


def _first_reason(legs: Sequence[Mapping[str, Any]]) -> str | None:
    for leg in legs:
        if leg["reason"] is not None:
            return f"In leg {leg['index'] + 1} {leg['reason']}"
    return None


@lru_cache(maxsize=512)
def _shape(outline: tuple[tuple[float, float], ...]) -> shapely.Polygon:
    """Return an obstacle's outline; asked for with every route of every candidate."""
    return shapely.Polygon(outline)


def crossed(study: Study, candidate: Candidate, route: Route) -> list[list[str]]:
    """Return for each leg the field's obstacles that its straight way runs into, by name.

    The way is as wide as the frame; how the robot looks meanwhile is left out of account.
    """
    field = study.field
    if field is None or not field.obstacles:
        return [[] for _ in route.legs]
    half = float(candidate.frame.width_m) / 2.0
    shapes = [(obstacle.name, shapely.Polygon(obstacle.outline_m)) for obstacle in field.obstacles]
    at = tuple(map(float, route.start.at_m))
    found = []
    for leg in route.legs:
        to = at if leg.to_m is None else tuple(map(float, leg.to_m))
        way = shapely.Point(at) if to == at else shapely.LineString([at, to])
        goes = to != at
        found.append([name for name, shape in shapes if goes and shape.distance(way) < half])
        at = to
    return found
