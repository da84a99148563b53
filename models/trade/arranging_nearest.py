"""Which of the arrangements that do not fit needs the least to give.

Contents
--------
nearest_arrangements: the arrangements with the shortest moves of keep-outs.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from models.engineering.arrangement_ranking import best_rows
from models.engineering.arrangements import Arrangements, CornerOptions, Pair
from models.engineering.least_moves import depths, forbidden_moves, least_move
from models.engineering.placement import CORNER_SIGNS, CORNERS
from models.engineering.prisms import Prisms
from models.study.schema import Candidate, Study
from models.trade.arranging_changes import keepout_prisms, own_prisms

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

WANTED = 3
MOST_MEASURED = 60
"""Arrangements that are measured exactly at the most."""
MOST_OF_A_KIND = 8
"""Of them, with the same orientations."""
MOST_LOOKED_AT = 5000
MOST_AXLES = 400


def nearest_arrangements(
    study: Study, candidate: Candidate, envelopes: Sequence[Prisms], placed: Arrangements
) -> list[list[int]]:
    """Return options of the corners of the arrangements with the least total move of keep-outs.

    The total is at least the sum over keep-outs of the greatest move that any one corner asks
    for. Arrangements are measured exactly in the order of that bound, until it passes what was
    found. Of arrangements with the same orientations only the nearest is given.
    """
    if placed.total == 0 or not study.robot.keepouts:
        return []
    bound = _least_totals(study, candidate, envelopes, placed).reshape(-1)
    cells = (
        np.arange(placed.total)
        if placed.apart is None
        else np.flatnonzero(placed.apart.reshape(-1))
    )
    order = best_rows([(-np.round(bound, 9)).take], cells, MOST_LOOKED_AT)
    found: dict[tuple[int, ...], tuple[float, list[int]]] = {}
    measured: Counter[tuple[int, ...]] = Counter()
    for cell in order:
        front, rear = divmod(int(cell), len(placed.rear[0]))
        choice = [
            int(placed.front[0][front]),
            int(placed.front[1][front]),
            int(placed.rear[0][rear]),
            int(placed.rear[1][rear]),
        ]
        kinds = tuple(
            int(one.orientation[index]) for one, index in zip(placed.options, choice, strict=True)
        )
        totals = sorted(total for total, _ in found.values())
        enough = len(totals) >= WANTED and bound[cell] >= totals[WANTED - 1]
        if enough or measured.total() >= MOST_MEASURED:
            break
        known = kinds in found and found[kinds][0] <= bound[cell] + 1e-9
        if known or measured[kinds] >= MOST_OF_A_KIND:
            continue
        measured[kinds] += 1
        total = _total(study, candidate, envelopes, placed.options, choice)
        if total is not None and (kinds not in found or total < found[kinds][0]):
            found[kinds] = (total, choice)
    best = sorted(found.values(), key=lambda item: item[0])[:WANTED]
    return [choice for _, choice in best]


def _least_totals(
    study: Study, candidate: Candidate, envelopes: Sequence[Prisms], placed: Arrangements
) -> FloatArray:
    """Return, fronts by rears, what the keep-outs have to move at the least, all together [m]."""
    keepouts, asked = keepout_prisms(study)
    own = own_prisms(candidate)
    total = np.zeros((len(placed.front[0]), len(placed.rear[0])))
    for index in range(len(keepouts.plan)):
        which = slice(index, index + 1)
        alone = Prisms(keepouts.plan[which], keepouts.bottom[which], keepouts.top[which])
        need = float(asked[index])
        always = float(depths(forbidden_moves(alone, own, asked=need), [[0.0, 0.0]])[0])
        sets = [_corner_sets(alone, need, envelopes, options) for options in placed.options]
        front = _axle_depths(placed.options[:2], sets[:2], placed.front)
        rear = _axle_depths(placed.options[2:], sets[2:], placed.rear)
        total += np.maximum(np.maximum(front[:, None], rear[None, :]), always)
    return total


def _corner_sets(
    alone: Prisms, asked: float, envelopes: Sequence[Prisms], options: CornerOptions
) -> list[shapely.Geometry]:
    """Return the keep-out's forbidden moves for each orientation of a module at the origin.

    A module that stands elsewhere moves the set with it, so one set does for all insets.
    """
    return [
        forbidden_moves(alone, _module_at(envelope, options, np.zeros(2)), asked=asked)
        for envelope in envelopes
    ]


def _axle_depths(
    options: Sequence[CornerOptions], sets: Sequence[list[shapely.Geometry]], pair: Pair
) -> FloatArray:
    """Return how far a keep-out has to move at the least for each option of an axle [m].

    Where there are few, a keep-out held from both sides is seen as such; else only the side that
    asks for more is.
    """
    deep = np.maximum(*(_corner_depths(*each) for each in zip(options, sets, pair, strict=True)))
    held = np.flatnonzero(deep > 0.0)
    if 0 < len(held) <= MOST_AXLES:
        both = [
            [
                shapely.transform(of_kind[one.orientation[index]], _shift(one.contact[index]))
                for index in which[held]
            ]
            for one, of_kind, which in zip(options, sets, pair, strict=True)
        ]
        joined = shapely.union(np.array(both[0]), np.array(both[1]))
        deep[held] = shapely.distance(shapely.boundary(joined), shapely.Point(0.0, 0.0))
    return np.asarray(deep)


def _shift(by: FloatArray) -> Callable[[FloatArray], FloatArray]:
    return lambda corners: corners + by


def _corner_depths(
    options: CornerOptions, sets: list[shapely.Geometry], which: IntArray
) -> FloatArray:
    """Return how far a keep-out has to move for options of one corner alone [m]."""
    deep = np.zeros(len(options.margin))
    for kind, forbidden in enumerate(sets):
        rows = options.orientation == kind
        deep[rows] = depths(forbidden, -options.contact[rows])
    return np.asarray(deep[which])


def _module_at(envelope: Prisms, options: CornerOptions, contact: FloatArray) -> Prisms:
    signs = CORNER_SIGNS[CORNERS.index(options.corner)]
    plan = shapely.transform(envelope.plan, lambda corners: signs * corners + contact)
    return Prisms(plan, envelope.bottom, envelope.top)


def _total(
    study: Study,
    candidate: Candidate,
    envelopes: Sequence[Prisms],
    options: Sequence[CornerOptions],
    choice: Sequence[int],
) -> float | None:
    """Return the sum of the keep-outs' least moves for one arrangement; None where one has none."""
    parts = [own_prisms(candidate)]
    parts += [
        _module_at(envelopes[int(one.orientation[index])], one, one.contact[index])
        for one, index in zip(options, choice, strict=True)
    ]
    bodies = Prisms(
        np.concatenate([part.plan for part in parts]),
        np.concatenate([part.bottom for part in parts]),
        np.concatenate([part.top for part in parts]),
    )
    keepouts, asked = keepout_prisms(study)
    total = 0.0
    for index in range(len(keepouts.plan)):
        which = slice(index, index + 1)
        alone = Prisms(keepouts.plan[which], keepouts.bottom[which], keepouts.top[which])
        move = least_move(alone, bodies, asked=asked[index])
        if move is None:
            return None
        total += move.distance
    return total
