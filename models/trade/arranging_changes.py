"""The least changes that free a candidate: keep-outs to move or trim, bodies to shift.

Contents
--------
Changes, freeing_changes: what to move, which way and how far.
keepout_prisms, own_prisms, body_prisms: what stands where, as prisms.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from models.engineering.least_moves import LeastMove, least_move, least_trim
from models.engineering.prisms import (
    LENGTH_TOLERANCE,
    VOLUME_TOLERANCE,
    Prisms,
    clearances,
    overlap_volumes,
    prisms,
)
from models.study.schema import Candidate, Study
from models.trade.assembly import Body, bodies_of, frame_outline

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class Changes:
    """What would free a candidate, as plain figures."""

    of_keepouts: list[dict[str, Any]]
    """One for each keep-out in conflict: `keepout`, `index`, `bodies`, `move`, `trim`. Moving, or
    trimming, every one of them frees the candidate."""
    of_bodies: list[dict[str, Any]]
    """One for each body of its own in conflict: `body`, `index`, `keepouts`, `move`."""


def freeing_changes(study: Study, candidate: Candidate, *, modules: bool = True) -> Changes:
    """Return the least changes that free a candidate of its conflicts with keep-outs.

    A keep-out's move clears all bodies at once. A body's move clears all keep-outs, overlaps no
    other body and stays inside the frame where it stands inside now. `modules` False leaves the
    modules out of account.
    """
    bodies = bodies_of(study, candidate)
    if not modules:
        bodies = bodies[: len(candidate.bodies)]
    keepouts, asked = keepout_prisms(study)
    if not bodies or len(keepouts.plan) == 0:
        return Changes([], [])
    drawn = body_prisms(bodies)
    conflict = clearances(drawn, keepouts, asked=asked).conflict
    return Changes(
        of_keepouts=[
            _keepout_change(study, bodies, drawn, int(column), conflict[:, column])
            for column in np.flatnonzero(conflict.any(axis=0))
        ],
        of_bodies=[
            _body_change(study, candidate, drawn, int(row), conflict[row])
            for row in np.flatnonzero(conflict.any(axis=1))
            if row < len(candidate.bodies)
        ],
    )


def keepout_prisms(study: Study) -> tuple[Prisms, FloatArray]:
    """Return the robot's keep-outs as prisms, and the clearance that each asks for [m]."""
    keepouts = study.robot.keepouts
    drawn = prisms(
        [keepout.outline_m for keepout in keepouts],
        bottoms=[keepout.bottom_m for keepout in keepouts],
        tops=[keepout.top_m for keepout in keepouts],
    )
    return drawn, np.array([keepout.clearance_m for keepout in keepouts], dtype=np.float64)


def own_prisms(candidate: Candidate) -> Prisms:
    """Return a candidate's bodies as prisms, its modules left out."""
    return prisms(
        [body.outline_m for body in candidate.bodies],
        bottoms=[body.bottom_m for body in candidate.bodies],
        tops=[body.top_m for body in candidate.bodies],
    )


def body_prisms(bodies: tuple[Body, ...]) -> Prisms:
    """Return bodies as prisms."""
    return prisms(
        [body.outline for body in bodies],
        bottoms=[body.bottom_m for body in bodies],
        tops=[body.top_m for body in bodies],
    )


def _one(some: Prisms, index: int) -> Prisms:
    which = slice(index, index + 1)
    return Prisms(some.plan[which], some.bottom[which], some.top[which])


def _keepout_change(
    study: Study,
    bodies: tuple[Body, ...],
    drawn: Prisms,
    index: int,
    conflict: NDArray[np.bool_],
) -> dict[str, Any]:
    keepout = study.robot.keepouts[index]
    keepouts, asked = keepout_prisms(study)
    alone = _one(keepouts, index)
    move = least_move(alone, drawn, asked=asked[index])
    trim = least_trim(alone, drawn, asked=asked[index])
    return {
        "keepout": keepout.name,
        "index": index,
        "bodies": [body.name for body, bad in zip(bodies, conflict, strict=True) if bad],
        "move": _move(move),
        "trim": None if trim is None else {"bottom_m": trim.bottom, "top_m": trim.top},
    }


def _move(move: LeastMove | None) -> dict[str, Any] | None:
    if move is None:
        return None
    return {"by_m": [float(move.by[0]), float(move.by[1])], "distance_m": move.distance}


def _body_change(
    study: Study,
    candidate: Candidate,
    drawn: Prisms,
    row: int,
    conflict: NDArray[np.bool_],
) -> dict[str, Any]:
    keepouts, asked = keepout_prisms(study)
    alone = _one(drawn, row)
    # Bodies that overlap as drawn, such as a shaft through a rail, may go on doing so.
    apart = overlap_volumes(alone, drawn)[0] <= VOLUME_TOLERANCE
    apart[row] = False
    around = Prisms(
        np.concatenate([keepouts.plan, drawn.plan[apart]]),
        np.concatenate([keepouts.bottom, drawn.bottom[apart]]),
        np.concatenate([keepouts.top, drawn.top[apart]]),
    )
    need = np.concatenate([asked, np.zeros(int(apart.sum()))])
    within = _room_in_frame(candidate, alone)
    names = [keepout.name for keepout in study.robot.keepouts]
    return {
        "body": candidate.bodies[row].name,
        "index": row,
        "keepouts": [name for name, bad in zip(names, conflict, strict=True) if bad],
        "move": _move(least_move(alone, around, asked=need, within=within)),
    }


def _room_in_frame(candidate: Candidate, alone: Prisms) -> tuple[float, float, float, float] | None:
    """Return how far a body may go each way inside the frame; None where it sticks out already."""
    half = frame_outline(candidate)[0]
    low_x, low_y, high_x, high_y = shapely.bounds(alone.plan[0])
    room = (-half[0] - low_x, -half[1] - low_y, half[0] - high_x, half[1] - high_y)
    if max(room[:2]) > LENGTH_TOLERANCE or min(room[2:]) < -LENGTH_TOLERANCE:
        return None
    return float(room[0]), float(room[1]), float(room[2]), float(room[3])
