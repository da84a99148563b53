"""The routes of a study, driven by a candidate, over many draws of the uncertain inputs.

As `models.trade.route_runs` for one candidate, with an axis for the draws; both are held equal in
the tests, draw by draw. Places and headings on the field are taken as typed: what they are not
known to is the drivers' matter, not the base's.

Contents
--------
drawn_routes: the time of every route over the draws.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import side_hold
from models.engineering.passing import corner_speed, run_through
from models.engineering.routes import (
    FreeMoves,
    LinkedMoves,
    free_leg_times,
    linked_leg_times,
    motions,
)
from models.engineering.routes_tipping import TipCaps, held_to, tip_caps
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import Pieces, governing_pieces
from models.engineering.traction import Motion, braking, joined, travel_motion
from models.engineering.turning import turn_braking, turn_motion
from models.study.schema import Candidate, Study
from models.trade.drawn_base import (
    DrawnBase,
    full_motion,
    in_pose,
    side_grip_over,
    turning_over,
)
from models.trade.draws import Draws
from models.trade.route_runs import SOME_BRAKING, Plan, Rows, plan_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


class _Case(NamedTuple):
    """What every step needs."""

    study: Study
    candidate: Candidate
    draws: Draws
    base: DrawnBase


class _Ways(NamedTuple):
    """The motions that the routes need, each over the draws, one after another in one batch."""

    pieces: Pieces
    """Row r of draw d stands at r·draws + d."""
    brakes: FloatArray
    """Shape (rows·draws,) [m/s²]."""


def drawn_routes(
    study: Study, candidate: Candidate, draws: Draws, base: DrawnBase
) -> dict[str, FloatArray]:
    """Return what every route takes a candidate over the draws.

    Parameters
    ----------
    study : Study
        The study.
    candidate : Candidate
        One of its candidates.
    draws : Draws
        Of the study's uncertain inputs.
    base : DrawnBase
        The candidate over those draws.

    Returns
    -------
    dict
        By the route's name, shape (draws,) [s]; not a number where it cannot be driven.
    """
    if not study.routes:
        return {}
    case = _Case(study, candidate, draws, base)
    plans = [plan_of(study, route, base.layout) for route in study.routes]
    rows = Rows()
    which = [rows.of(plan, base.layout) for plan in plans]
    ways = _ways(case, rows)
    turns = _Turns(case, plans)
    return {
        plan.route.name: _time(case, plan, _drives(case, plan, own, ways), turns.of(plan))
        for plan, own in zip(plans, which, strict=True)
    }


def _caps(case: _Case, pose: int, way: float) -> TipCaps:
    whole = case.base.poses
    return tip_caps(
        contacts=case.base.contacts,
        cg_x=whole.cg_x[:, pose],
        cg_y=whole.cg_y[:, pose],
        cg_height=whole.cg_z[:, pose],
        way=way,
        margin=case.draws.of(case.study.yardsticks.tip_margin),
    )


def _ways(case: _Case, rows: Rows) -> _Ways:
    made = [
        _way(case, pose, way, held=held)
        for pose, way, held in zip(
            rows.poses.tolist(), rows.ways.tolist(), rows.held.tolist(), strict=True
        )
    ]
    pieces = governing_pieces(joined([motion for motion, _ in made]))
    return _Ways(pieces, np.concatenate([brakes for _, brakes in made]))


def _way(case: _Case, pose: int, way: float, *, held: bool) -> tuple[Motion, FloatArray]:
    """Return one motion over the draws and its braking; what would topple does not get going."""
    count = case.draws.count
    own = in_pose(case.candidate, case.base, pose, case.draws)
    motion = full_motion(travel_motion(own.drive, own.stance, own.layout, angle=way), count)
    brakes = np.broadcast_to(braking(own.drive, own.stance, own.layout, angle=way), (count,))
    if not held:
        return motion, brakes
    caps = _caps(case, pose, way)
    topples = (caps.drive <= 0.0) | (caps.brake <= 0.0)
    motion = held_to(motion, np.where(topples, 0.0, caps.drive))
    return motion, np.where(topples, SOME_BRAKING, np.minimum(brakes, caps.brake))


def _drives(case: _Case, plan: Plan, which: IntArray, ways: _Ways) -> FloatArray:
    """Return the time to drive each leg, forwards and backwards, shape (ways, legs, draws) [s]."""
    count = case.draws.count
    alike = np.array_equal(which[0], which[1])
    rows = (which[:1] if alike else which)[..., None] * count + np.arange(count)
    times = run_over(
        ways.pieces,
        distance=np.broadcast_to(plan.moves.distance[:, None], rows.shape),
        braking=ways.brakes[rows],
        which=rows,
    ).time
    for begin, end in motions(plan.moves.follows):
        if end - begin == 1:
            continue
        own = np.moveaxis(rows[:, begin:end], 1, 0)
        caps = np.zeros(own.shape)
        caps[:-1] = np.stack([_corner(case, plan, leg) for leg in range(begin, end - 1)])[:, None]
        passage = run_through(
            ways.pieces,
            which=own,
            distance=np.broadcast_to(plan.moves.distance[begin:end, None, None], own.shape),
            braking=ways.brakes[own],
            caps=caps,
        )
        times[:, begin:end] = np.moveaxis(passage.time, 0, 1)
    return np.broadcast_to(times, (2, *times.shape[1:]))


def _corner(case: _Case, plan: Plan, leg: int) -> FloatArray:
    """Return the greatest speed at the end of a leg that is passed, over the draws [m/s]."""
    moves = plan.moves
    follows = [*moves.follows.tolist(), False]
    before = moves.distance[leg] * (0.5 if follows[leg] else 1.0)
    after = moves.distance[leg + 1] * (0.5 if follows[leg + 2] else 1.0)
    radius = case.draws.of(plan.route.legs[leg].radius_m, missing=np.inf)
    across = np.minimum(_across(case, plan, leg), _across(case, plan, leg + 1))
    speed = corner_speed(
        radius=radius, bend=moves.bend[leg + 1], room=min(before, after), side_acceleration=across
    )
    return np.broadcast_to(speed, (case.draws.count,))


def _across(case: _Case, plan: Plan, leg: int) -> FloatArray:
    """Return what grip and tipping allow across the way of a leg [m/s²]."""
    pose = int(plan.poses[leg])
    own = in_pose(case.candidate, case.base, pose, case.draws)
    mass = own.stance.mass
    hold = side_hold(own.drive, own.layout, mass=mass, side_grip=side_grip_over(own)) / mass
    way = float(plan.moves.way[leg]) if isinstance(plan.moves, FreeMoves) else 0.0
    return np.asarray(np.minimum(hold, _caps(case, pose, way).across))


class _Turns:
    """The turns of all plans over the draws, each angle of a pose once."""

    def __init__(self, case: _Case, plans: Sequence[Plan]) -> None:
        self._count = case.draws.count
        self._times: dict[tuple[int, float], FloatArray] = {}
        wanted: dict[int, set[float]] = {}
        for plan in plans:
            for pose, angles in zip(plan.poses.tolist(), plan.turns, strict=True):
                wanted.setdefault(pose, set()).update(np.ravel(angles).tolist())
        for pose, angles in wanted.items():
            some = sorted(angle for angle in angles if angle > 0.0)
            for angle, times in zip(some, self._timed(case, pose, some), strict=True):
                self._times[pose, angle] = times

    def _timed(self, case: _Case, pose: int, angles: Sequence[float]) -> FloatArray:
        """Return the time of each of some turns, shape (angles, draws) [s]."""
        if not angles:
            return np.zeros((0, self._count))
        own = in_pose(case.candidate, case.base, pose, case.draws)
        turn = turning_over(own)
        pieces = governing_pieces(
            full_motion(turn_motion(own.drive, own.stance, turn), self._count)
        )
        which = np.broadcast_to(np.arange(self._count), (len(angles), self._count))
        distance = np.array(angles)[:, None] / turn.yaw_factor
        slowing = turn_braking(own.drive, own.stance, turn)
        return run_over(pieces, distance=distance, braking=slowing, which=which).time

    def of(self, plan: Plan) -> FloatArray:
        """Return the times of a plan's turns, with one axis more for the draws [s]."""
        still = np.zeros(self._count)
        times = [
            self._times.get((pose, angle), still)
            for pose, angles in zip(plan.poses.tolist(), plan.turns, strict=True)
            for angle in np.ravel(angles).tolist()
        ]
        shape = (*plan.turns.shape, self._count)
        return np.array(times).reshape(shape) if times else np.zeros(shape)


def _time(case: _Case, plan: Plan, drives: FloatArray, turns: FloatArray) -> FloatArray:
    """Return the time of a whole route over the draws [s]."""
    draws, count = case.draws, case.draws.count

    def of_legs(name: str) -> FloatArray:
        return np.stack(
            [np.broadcast_to(draws.of(getattr(leg, name)), (count,)) for leg in plan.route.legs]
        )

    if not plan.route.legs:
        return np.zeros(count)
    prepare, action = of_legs("prepare_s"), of_legs("action_s")
    if isinstance(plan.moves, LinkedMoves):
        times = linked_leg_times(
            plan.moves,
            drive_times=drives[0],
            reverse_times=drives[1],
            turn_times=turns,
            prepare=prepare,
            action=action,
        )
    else:
        times = free_leg_times(
            plan.moves,
            drive_times=drives[0],
            turn_times=turns,
            steer_time=case.base.drive.steer_time,
            prepare=prepare,
            action=action,
        )
    return np.asarray(np.sum(times.whole, axis=0))
