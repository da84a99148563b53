"""Which of the arrangements that do not fit needs the least to give.

Contents
--------
nearest_arrangements: the arrangements with the shortest moves of keep-outs.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from models.engineering.arrangement_ranking import best_rows
from models.engineering.arrangements import Arrangements, CornerOptions
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
MOST_LOOKED_AT = 5000


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
    measured = 0
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
        if enough or measured >= MOST_MEASURED:
            break
        if kinds in found and found[kinds][0] <= bound[cell] + 1e-9:
            continue
        measured += 1
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
        of = [_corner_depths(alone, need, envelopes, options) for options in placed.options]
        front = np.maximum(of[0][placed.front[0]], of[1][placed.front[1]])
        rear = np.maximum(of[2][placed.rear[0]], of[3][placed.rear[1]])
        total += np.maximum(np.maximum(front[:, None], rear[None, :]), always)
    return total


def _corner_depths(
    alone: Prisms, asked: float, envelopes: Sequence[Prisms], options: CornerOptions
) -> FloatArray:
    """Return how far a keep-out has to move for each option of one corner alone [m].

    A module that stands elsewhere moves the set of forbidden moves with it, so one set for each
    orientation does for all insets.
    """
    deep = np.zeros(len(options.margin))
    for kind, envelope in enumerate(envelopes):
        if len(envelope.plan) == 0:
            continue
        turned = _module_at(envelope, options, np.zeros(2))
        forbidden = forbidden_moves(alone, turned, asked=asked)
        which = options.orientation == kind
        deep[which] = depths(forbidden, -options.contact[which])
    return deep


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
