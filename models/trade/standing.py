"""Whether a candidate passes what it must: fit, the event's limits, standing upright.

Contents
--------
Failure: one thing that it does not pass, in words.
Standing, standings: what is known of each candidate.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from models.engineering.prisms import LENGTH_TOLERANCE, escape_moves
from models.study.schema import Candidate, Study
from models.trade.assembly import FitTable, fit_table
from models.trade.phrases import listed
from models.units import UnitSystem, show


@dataclass(frozen=True)
class Failure:
    """One must that a candidate misses."""

    words: Callable[[UnitSystem], str]
    """What it does wrong and by how much, to stand after its name; ends with a full stop."""
    question: str
    is_room: bool = False
    """True where it lacks room around a mechanism."""


@dataclass(frozen=True)
class Standing:
    """What is known of one candidate."""

    key: str
    metrics: Mapping[str, Any]
    failures: tuple[Failure, ...]
    fit_unknown: bool
    miss_m: float | None
    """The longest of the shortest moves that would free it; None where it lacks no room."""
    worst_pose: Mapping[str, str]
    limits: Mapping[str, Any]
    """Value, limit and margin of what the rules limit."""

    @property
    def passes(self) -> bool:
        """Whether it misses no must; a fit that is not known counts as none missed."""
        return not self.failures

    def can_do(self, tip_metric: str) -> float | None:
        """Return the acceleration that the base can reach against a tipping limit [m/s²].

        Braking is the figure itself. Driving off is bounded by the push over the mass, cornering
        by what holds against a sideways shove over the mass.
        """
        if tip_metric == "tip_brake_mps2":
            brake = self.metrics.get("brake_mps2")
            return None if brake is None else float(brake)
        side = tip_metric == "tip_side_mps2"
        force = self.metrics.get("side_hold_force_n" if side else "push_force_n")
        mass = self.metrics.get("mass_kg")
        return None if force is None or not mass else float(force) / float(mass)


def standings(payload: Mapping[str, Any], study: Study) -> dict[str, Standing]:
    """Return the standing of every candidate of an evaluation, in its order."""
    return {
        str(one["key"]): _standing(one, study, study.candidate(str(one["key"])))
        for one in payload["candidates"]
    }


def _standing(one: Mapping[str, Any], study: Study, candidate: Candidate) -> Standing:
    room, miss = _room_failure(one, study, candidate)
    return Standing(
        key=candidate.key,
        metrics=one["metrics"],
        failures=(*room, *_limit_failures(one), *_topples(one)),
        fit_unknown=one["metrics"].get("fits") is None,
        miss_m=miss,
        worst_pose=one.get("worst_pose", {}),
        limits=one["limits"],
    )


@dataclass(frozen=True)
class _Tightest:
    """The pair of body and keep-out that needs the longest move."""

    table: FitTable
    row: int
    column: int
    move_m: float
    towards: str

    def words(self, system: UnitSystem) -> str:
        """Return which bodies come too near to which keep-out, and by how much."""
        table, column = self.table, self.column
        conflict = table.clearances.conflict
        keepout = table.keepout_names[column]
        bodies = [
            body.name for body, bad in zip(table.bodies, conflict[:, column], strict=True) if bad
        ]
        others = int(conflict.sum()) - len(bodies)
        more = f" ({others} more on the fit page)" if others else ""
        move = f"{show(self.move_m, 'm', system, digits=2)} {self.towards}"
        if float(table.clearances.overlap[self.row, column]) > 0.0:
            what = f"with its {listed(bodies)} in “{keepout}”"
            return f"does not fit, {what}; the shortest way out is {move}{more}."
        gap = show(float(table.clearances.gap[self.row, column]), "m", system, digits=2)
        asked = show(float(table.asked[column]), "m", system, digits=2)
        what = f"its {table.bodies[self.row].name} keeps {gap} from “{keepout}”, which asks for"
        return f"does not fit: {what} {asked}; moving it {move} would do{more}."


def _room_failure(
    one: Mapping[str, Any], study: Study, candidate: Candidate
) -> tuple[tuple[Failure, ...], float | None]:
    table = fit_table(study, candidate) if one["metrics"].get("fits") is False else None
    if table is None:
        return (), None
    moves = escape_moves(
        table.body_prisms,
        table.keepout_prisms,
        asked=table.asked,
        level=[body.corner is not None for body in table.bodies],
    )
    row, column = np.unravel_index(int(np.argmax(moves.distance)), moves.distance.shape)
    tightest = _Tightest(
        table=table,
        row=int(row),
        column=int(column),
        move_m=float(moves.distance[row, column]),
        towards=str(moves.towards[row, column]),
    )
    return (Failure(tightest.words, "fit", is_room=True),), tightest.move_m


_LIMITS = (
    ("legal_mass", "kg", "is {} over the mass limit of {}.", "fit"),
    ("perimeter", "m", "has a frame {} longer round than the limit of {}.", "fit"),
    ("height", "m", "stands {} taller than the limit of {}.", "fit"),
)


def _limit_failures(one: Mapping[str, Any]) -> list[Failure]:
    found = []
    for name, unit, sentence, question in _LIMITS:
        entry = one["limits"].get(name) or {}
        margin, limit = entry.get("margin"), entry.get("limit")
        if margin is None or limit is None or margin >= -LENGTH_TOLERANCE:
            continue
        found.append(Failure(_over(sentence, -float(margin), float(limit), unit), question))
    return found


def _over(sentence: str, over: float, limit: float, unit: str) -> Callable[[UnitSystem], str]:
    def words(system: UnitSystem) -> str:
        return sentence.format(
            show(over, unit, system, digits=2), show(limit, unit, system, digits=3)
        )

    return words


_TOPPLES = (
    ("tip_forward_mps2", "backwards"),
    ("tip_brake_mps2", "forwards"),
    ("tip_side_mps2", "sideways"),
)


def _topples(one: Mapping[str, Any]) -> list[Failure]:
    """Return a failure for each way in which it falls over without being driven at all."""
    found = []
    for metric, way in _TOPPLES:
        limit = one["metrics"].get(metric)
        if limit is None or limit >= 0.0:
            continue
        pose = one.get("worst_pose", {}).get(metric, "")
        text = f"falls over {way} where it stands in the pose “{pose}”."
        found.append(Failure(lambda _system, text=text: text, "upright"))  # type: ignore[misc]
    return found
