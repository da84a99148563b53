"""What to put in the robot's code: the acceleration limits of every pose, and what they cost."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from models.study.schema import Study
from models.trade.phrases import Names, capitalised, listed
from models.units import UnitSystem, convert, display_unit, show, show_bare
from webapp.shared.candidates import CandidateMark, marks_of

ROWS = (
    ("accel", "Driving off, at most"),
    ("brake", "Braking, at most"),
    ("side", "Sideways in a turn, at most"),
)
NOTICEABLE_S = 0.005
"""A route that lasts longer by less than this costs nothing that anybody can measure."""
Sentence = tuple[str, str]
"""Kind (lead, watch, bad) and words."""


@dataclass(frozen=True)
class LimitCell:
    """One candidate's limit in one pose, or what a route costs it."""

    text: str
    css: str
    note: str


@dataclass(frozen=True)
class LimitRow:
    """One limit of all candidates."""

    words: str
    cells: tuple[LimitCell, ...]


@dataclass(frozen=True)
class PoseRows:
    """All limits of one pose."""

    name: str
    driven: str
    """On which legs, in words."""
    rows: tuple[LimitRow, ...]


def limits_context(
    limits: Mapping[str, Sequence[Mapping[str, Any]]], study: Study, system: UnitSystem
) -> dict[str, Any]:
    """Return what the part about poses in motion shows; `limits` are those of every candidate."""
    marks = marks_of(study)
    return {
        "limit_sentences": _sentences(study, limits, marks),
        "limit_poses": [
            _pose_rows(study, index, [limits[mark.key][index] for mark in marks], system)
            for index in range(len(study.robot.poses))
        ],
        "limit_unit": display_unit("mps2", system),
        "limit_margin": f"{float(study.yardsticks.tip_margin) * 100:.0f} %",
    }


def _pose_rows(
    study: Study, index: int, figures: Sequence[Mapping[str, Any]], system: UnitSystem
) -> PoseRows:
    legs = figures[0]["legs"]
    driven = [
        f"leg{'s' if len(numbers) > 1 else ''} {listed([str(one + 1) for one in numbers])} "
        f"of “{name}”"
        for name, numbers in legs.items()
        if numbers
    ]
    rows = [
        LimitRow(words, tuple(_limit_cell(one, key, system) for one in figures))
        for key, words in ROWS
    ]
    if driven:
        cells = tuple(_cost_cell(list(one["cost_s"].values())) for one in figures)
        rows.append(LimitRow("Costs over the routes, s", cells))
    name = study.robot.poses[index].name
    return PoseRows(name, "; ".join(driven) or "no leg is driven in it", tuple(rows))


def _limit_cell(figures: Mapping[str, Any], key: str, system: UnitSystem) -> LimitCell:
    limit = figures[f"{key}_mps2"]
    if limit is None:
        return LimitCell("none", "faint", "nothing tips")
    if limit <= 0.0:
        return LimitCell("0", "bad", "✕ tips at rest")
    text = f"{math.floor(convert(limit, 'mps2', system) * 10 + 1e-6) / 10:.1f}"
    if key in figures["binds"]:
        able = show_bare(figures[f"unlimited_{key}"], "mps2", system)
        return LimitCell(text, "watch", f"! could do {able}")
    return LimitCell(text, "faint", "not reached")


def _cost_cell(costs: Sequence[float | None]) -> LimitCell:
    known = [cost for cost in costs if cost is not None]
    if len(known) < len(costs):
        return LimitCell("–", "bad", "✕ cannot be driven")
    whole = sum(known)
    if whole < NOTICEABLE_S:
        return LimitCell("0", "faint", "")
    return LimitCell(f"{whole:.2f}", "", "")


def _sentences(
    study: Study,
    limits: Mapping[str, Sequence[Mapping[str, Any]]],
    marks: Sequence[CandidateMark],
) -> list[Sentence]:
    """Return where the tip limits bind on the routes, and what that costs."""
    everyone = [{"key": one.key, "name": one.name, "letter": one.letter} for one in marks]
    names = Names(everyone, study.baseline.key)
    costs: dict[tuple[str, str], float] = {}
    stuck: dict[str, list[str]] = {}
    for mark in marks:
        for pose in limits[mark.key]:
            known = [cost for cost in pose["cost_s"].values() if cost is not None]
            if len(known) < len(pose["cost_s"]):
                stuck.setdefault(str(pose["pose"]), []).append(mark.key)
            if sum(known) >= NOTICEABLE_S:
                costs[mark.key, str(pose["pose"])] = sum(known)
    found = [
        ("bad", capitalised(f"{names.all(keys)} cannot drive its legs in “{pose}” upright."))
        for pose, keys in stuck.items()
    ]
    if costs:
        key, worst = max(costs, key=lambda one: costs[one])
        most = show(costs[key, worst], "s", UnitSystem.SI, decimals=2)
        text = "Held to these limits the routes last longer: most for "
        found.append(("lead", f"{text}{names(key)} in “{worst}”, {most} over all routes."))
    elif study.routes and not stuck:
        found.append(("lead", "On these routes no candidate reaches the tip limit of its pose."))
    return found
