"""The routes of a study, driven by one candidate, together with its sprints and turns.

A leg may name the pose that it is driven in: its mass and balance count, and where a pose is
named or a margin is kept, tipping caps speeding up, slowing down and cornering on its way.

Contents
--------
Plan, plan_of: a route's moves for one layout.
Posed: a candidate in one pose.
Rows: the motions that routes need, each once.
Runs: all runs of a candidate, sprints, legs and turns, solved in one batch.
RouteRun, timed: one route, driven.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import LINKED, Layout, Stance
from models.engineering.passing import corner_speed, governing_words, run_through
from models.engineering.routes import (
    FreeMoves,
    Leg,
    LegTimes,
    LinkedMoves,
    Place,
    free_leg_times,
    free_moves,
    linked_leg_times,
    linked_moves,
    motions,
)
from models.engineering.routes_tipping import TipCaps, held_to, tip_caps, unbound, unbound_braking
from models.engineering.sprint import Run, run_over
from models.engineering.sprint_pieces import Pieces, governing_pieces
from models.engineering.traction import Motion, braking, joined, travel_motion
from models.engineering.turning import Turning, turn_braking, turn_motion
from models.study.schema import Route, Study

if TYPE_CHECKING:
    from models.trade.driving import Base

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

ANY_WAY_ALIKE: tuple[Layout, ...] = ("tank", "swerve")
"""Layouts whose speed, force and grip do not depend on the way they go."""

SOME_BRAKING = 1e-3
"""What stands in for the braking of a pose that cannot stand, which does not get going [m/s²]."""


class Plan(NamedTuple):
    """A route's moves for one layout, and the poses that they are made in."""

    route: Route
    moves: LinkedMoves | FreeMoves
    turns: FloatArray
    poses: IntArray
    """Of each leg, index into the robot's poses."""
    held: BoolArray
    """Whether each leg is held to the tip limit of its pose on its way."""


class Posed(NamedTuple):
    """A candidate in one pose."""

    stance: Stance
    turn: Turning
    side_hold: float
    """Acceleration across that its grip holds [m/s²]."""


class Batch(NamedTuple):
    """The motions of all runs: ways of driving first, then the turns in place."""

    motion: Motion
    which: list[IntArray]
    """Motion of each leg of each route, forwards and backwards, shape (ways, legs)."""
    ways: FloatArray
    """Angle of each way of driving [rad]."""
    stance: Stance
    """Of each way of driving, or one for all."""
    brakes: FloatArray
    """Of each way of driving [m/s²]."""
    turning: list[int]
    """Pose of each turn in place."""
    spins: list[Posed]
    """What each turn asks for."""


@dataclass(frozen=True)
class RouteRun:
    """One route, driven by one candidate; ways are forwards and backwards."""

    route: Route
    times: LegTimes
    distances: FloatArray
    plan: Plan
    drives: FloatArray
    """To drive each leg, shape (ways, legs) [s]."""
    tops: FloatArray
    """The greatest speed on it, shape (ways, legs) [m/s]."""
    words: IntArray
    """What governs it most while it speeds up, index into GOVERNING, shape (ways, legs)."""
    turns: FloatArray
    """Of `plan.turns` [s]."""
    steer: float
    topples: BoolArray
    """Whether the leg's pose tips over without any driving."""
    corners: FloatArray
    """The greatest speed at the end of each leg, infinite where nothing limits it [m/s]."""

    def retimed(self, share: float) -> LegTimes:
        """Return the legs' times with all driving and turning taking a share of what it does."""
        return timed(
            self.plan, self.drives * share, self.turns * share, steer=self.steer
        )  # fmt: skip


def plan_of(study: Study, route: Route, layout: Layout) -> Plan:
    """Return the moves of a route, headings in radians."""
    start = Place(
        (float(route.start.at_m[0]), float(route.start.at_m[1])),
        float(np.radians(route.start.heading_deg)),
    )
    legs = [
        Leg(
            to=None if leg.to_m is None else (float(leg.to_m[0]), float(leg.to_m[1])),
            heading=None if leg.heading_deg is None else float(np.radians(leg.heading_deg)),
            prepare=float(leg.prepare_s),
            action=float(leg.action_s),
            may_reverse=leg.may_reverse,
            passes=leg.passes,
        )
        for leg in route.legs
    ]
    names = [pose.name for pose in study.robot.poses]
    poses = [0 if leg.pose is None else names.index(leg.pose) for leg in route.legs]
    margin = float(study.yardsticks.tip_margin) > 0.0
    held = [margin or leg.pose is not None for leg in route.legs]
    where = np.array(poses, dtype=np.int64), np.array(held, dtype=bool)
    if layout in LINKED:
        linked = linked_moves(start, legs)
        return Plan(route, linked, linked.turns, *where)
    free = free_moves(start, legs)
    return Plan(route, free, free.turn, *where)


class Rows:
    """The motions of a batch, each once: pose, way [rad], held to the pose's tip limit or not.

    The first is the travelling pose straight ahead, not held: the sprint's.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[int, float, bool], int] = {}
        self.row(0, 0.0, held=False)

    def row(self, pose: int, way: float, *, held: bool) -> int:
        """Return the number of a motion."""
        return self._known.setdefault((pose, way, held), len(self._known))

    def of(self, plan: Plan, layout: Layout) -> IntArray:
        """Return the motions of a plan's legs, forwards and backwards; shape (ways, legs)."""
        moves = plan.moves
        free = isinstance(moves, FreeMoves)
        ways = moves.way.tolist() if isinstance(moves, FreeMoves) else [0.0] * len(plan.poses)
        both: tuple[list[int], list[int]] = ([], [])
        for pose, held, way, distance in zip(
            plan.poses.tolist(), plan.held.tolist(), ways, moves.distance.tolist(), strict=True
        ):
            turned = way if held or layout not in ANY_WAY_ALIKE else 0.0
            goes = distance > 0.0
            both[0].append(self.row(pose, turned, held=held) if goes else 0)
            astern = goes and held and not free
            both[1].append(self.row(pose, float(np.pi), held=held) if astern else both[0][-1])
        return np.array(both, dtype=np.int64)

    @property
    def poses(self) -> IntArray:
        """Pose of each."""
        return np.array([pose for pose, _, _ in self._known], dtype=np.int64)

    @property
    def ways(self) -> FloatArray:
        """Way of each [rad]."""
        return np.array([way for _, way, _ in self._known])

    @property
    def held(self) -> BoolArray:
        """Whether each is held."""
        return np.array([held for _, _, held in self._known], dtype=bool)


class Runs:
    """All runs of a candidate, sprints, legs and turns, solved in one batch.

    The batch's motions are the ways it drives, straight ahead first, and last the turns in place,
    the travelling pose's first.
    """

    def __init__(
        self,
        study: Study,
        base: Base,
        posed: Callable[[int], Posed],
        plans: Sequence[Plan],
        *,
        eased: Collection[int] = (),
    ) -> None:
        """Solve all runs; `eased` are poses whose tip limits are left out of account."""
        self._study, self._base, self._posed, self._eased = study, base, cache(posed), eased
        self._plans = plans
        self._rows = Rows()
        self._which = [self._rows.of(plan, base.layout) for plan in plans]
        motion, self._brakes, self._topples = self._travel()
        self._turning = sorted({0, *(pose for plan in plans for pose in _turning_poses(plan))})
        spins = [self._posed(pose) for pose in self._turning]
        turns = [turn_motion(base.drive, one.stance, one.turn) for one in spins]
        self.batch = Batch(
            motion=joined([motion, *turns]),
            which=self._which,
            ways=self._rows.ways,
            stance=self._stance(self._rows.poses),
            brakes=self._brakes,
            turning=self._turning,
            spins=spins,
        )
        self._everything = governing_pieces(self.batch.motion)
        self.motion = Motion._make(field[0] for field in motion)
        self.pieces = Pieces._make(field[0] for field in self._everything)
        self.brake = float(self._brakes[0])
        self.spin_speed = float(self._everything.upper[-len(spins), -1])
        self.turn = spins[0].turn
        self._solve(spins)

    def _travel(self) -> tuple[Motion, FloatArray, BoolArray]:
        """Return the motions of all ways, their braking, and which poses cannot stand."""
        rows, base = self._rows, self._base
        poses, ways = rows.poses, rows.ways
        stance = self._stance(poses)
        motion = travel_motion(base.drive, stance, base.layout, angle=ways)
        brakes = np.broadcast_to(
            braking(base.drive, stance, base.layout, angle=ways), ways.shape
        ).copy()
        topples = np.zeros(len(ways), dtype=bool)
        if rows.held.any():
            caps = self._caps(poses, ways)
            cap = np.where(rows.held, caps.drive, np.inf)
            topples = rows.held & ((caps.drive <= 0.0) | (caps.brake <= 0.0))
            motion = held_to(motion, np.where(topples, 0.0, cap))
            brakes = np.where(rows.held, np.minimum(brakes, caps.brake), brakes)
            brakes = np.where(topples, SOME_BRAKING, brakes)
        if self._eased:
            eased = np.isin(poses, list(self._eased))
            free = unbound(base.drive, stance, base.layout, angle=ways)
            slowing = unbound_braking(base.drive, stance, base.layout, angle=ways)
            motion = motion._replace(
                bound=np.where(eased, free.bound, motion.bound),
                bound_tips=motion.bound_tips & ~eased,
            )
            brakes = np.where(eased, slowing, brakes)
            topples = topples & ~eased
        return motion, brakes, topples

    def _stance(self, poses: IntArray) -> Stance:
        """Return the stance of each pose asked for, as one where all are the travelling one."""
        base = self._base
        if not poses.any():
            return base.stance
        whole = base.poses
        return Stance(
            mass=whole.mass[poses],
            cg_x=whole.cg_x[poses],
            cg_height=whole.cg_z[poses],
            yaw_inertia=whole.yaw_inertia[poses],
            to_front=base.axles.front[poses],
            to_rear=base.axles.rear[poses],
            track=np.broadcast_to(base.stance.track, poses.shape),
        )

    def _caps(self, poses: IntArray, ways: FloatArray) -> TipCaps:
        whole = self._base.poses
        return tip_caps(
            contacts=self._base.contacts,
            cg_x=whole.cg_x[poses],
            cg_y=whole.cg_y[poses],
            cg_height=whole.cg_z[poses],
            way=ways,
            margin=float(self._study.yardsticks.tip_margin),
        )

    def _solve(self, spins: Sequence[Posed]) -> None:
        """Run sprints, legs and turns, and take them apart again."""
        plans = self._plans
        which = np.concatenate([np.zeros((2, 2), dtype=np.int64), *self._which], axis=1)
        lengths = np.concatenate([np.zeros(2), *(plan.moves.distance for plan in plans)])
        lengths[:2] = float(self._study.yardsticks.sprint_distance_m)
        stopping = self._brakes[which]
        stopping[:, 0] = np.inf
        two = bool(np.any(which[0] != which[1]))
        ways = 2 if two else 1
        turn = _Turns(plans, self._turning)
        yaws = np.array([float(one.turn.yaw_factor) for one in spins])
        slowing = np.array(
            [float(turn_braking(self._base.drive, one.stance, one.turn)) for one in spins]
        )
        runs = run_over(
            self._everything,
            distance=np.concatenate([*[lengths] * ways, turn.angles / yaws[turn.rows]]),
            braking=np.concatenate([*stopping[:ways], slowing[turn.rows]]),
            which=np.concatenate([*which[:ways], len(self._brakes) + turn.rows]),
        )
        count = ways * len(lengths)
        times, speeds = (
            np.broadcast_to(field[:count].reshape(ways, -1), (2, len(lengths)))
            for field in (runs.time, runs.speed)
        )
        self.passing = Run(times[0, 0], speeds[0, 0])
        self.stopping = Run(times[0, 1], speeds[0, 1])
        ends = np.cumsum([2, *(len(plan.poses) for plan in plans)])
        self.drives = [times[:, first:last].copy() for first, last in pairwise(ends)]
        self.tops = [speeds[:, first:last].copy() for first, last in pairwise(ends)]
        fast = times - speeds / self._brakes[which]
        self.untils = [fast[:, first:last].copy() for first, last in pairwise(ends)]
        self.begins = [np.zeros(one.shape) for one in self.tops]
        self.corners = [np.full(len(plan.poses), np.inf) for plan in plans]
        for index, plan in enumerate(plans):
            if plan.moves.follows.any():
                self._pass(index, plan)
        self.yardstick_turns, self.turns = turn.apart(runs.time[count:])

    def _pass(self, index: int, plan: Plan) -> None:
        """Put the times of legs that pass into one another in the place of stopping ones."""
        which = self._which[index]
        for begin, end in motions(plan.moves.follows):
            if end - begin == 1:
                continue
            own = which[:, begin:end].T
            caps = np.zeros((end - begin, 2))
            caps[:-1] = self._corner_speeds(plan, range(begin, end - 1))[:, None]
            passage = run_through(
                self._everything,
                which=own,
                distance=np.broadcast_to(plan.moves.distance[begin:end, None], own.shape),
                braking=self._brakes[own],
                caps=caps,
            )
            self.drives[index][:, begin:end] = passage.time.T
            self.tops[index][:, begin:end] = passage.top.T
            self.begins[index][:, begin:end] = passage.begin.T
            self.untils[index][:, begin:end] = passage.until.T
            self.corners[index][begin : end - 1] = caps[:-1, 0]

    def _corner_speeds(self, plan: Plan, legs: Sequence[int]) -> FloatArray:
        """Return the greatest speed at the end of each of some legs that are passed."""
        moves = plan.moves
        follows = [*moves.follows.tolist(), False]
        across = self._across(plan)
        speeds = []
        for leg in legs:
            before = moves.distance[leg] * (0.5 if follows[leg] else 1.0)
            after = moves.distance[leg + 1] * (0.5 if follows[leg + 2] else 1.0)
            radius = plan.route.legs[leg].radius_m
            speeds.append(
                float(
                    corner_speed(
                        radius=np.inf if radius is None else float(radius),
                        bend=moves.bend[leg + 1],
                        room=min(before, after),
                        side_acceleration=min(across[leg], across[leg + 1]),
                    )
                )
            )
        return np.array(speeds)

    def _across(self, plan: Plan) -> FloatArray:
        """Return what grip and tipping allow across the way on each leg [m/s²]."""
        hold = np.array([self._posed(pose).side_hold for pose in plan.poses.tolist()])
        ways = plan.moves.way if isinstance(plan.moves, FreeMoves) else np.zeros(len(hold))
        tips = self._caps(plan.poses, ways).across
        eased = np.isin(plan.poses, list(self._eased))
        return np.asarray(np.minimum(hold, np.where(eased, np.inf, tips)))

    def routes(self, steer: float) -> tuple[RouteRun, ...]:
        """Return all routes, driven."""
        if not self._plans:
            return ()
        which = np.concatenate(self._which, axis=1)
        ways = 1 if np.array_equal(which[0], which[1]) else 2
        words = governing_words(
            self._everything,
            which=which[:ways],
            begin=np.concatenate(self.begins, axis=1)[:ways],
            end=np.concatenate(self.untils, axis=1)[:ways],
        )
        words = np.broadcast_to(words, which.shape)
        ends = np.cumsum([0, *(len(plan.poses) for plan in self._plans)])
        return tuple(
            RouteRun(
                route=plan.route,
                times=timed(plan, self.drives[index], self.turns[index], steer=steer),
                distances=plan.moves.distance,
                plan=plan,
                drives=self.drives[index],
                tops=self.tops[index],
                words=words[:, ends[index] : ends[index + 1]],
                turns=self.turns[index],
                steer=steer,
                topples=self._topples[self._which[index][0]],
                corners=self.corners[index],
            )
            for index, plan in enumerate(self._plans)
        )


class _Turns:
    """The turns of all plans, each angle of a pose once; the yardstick's quarter and half first."""

    def __init__(self, plans: Sequence[Plan], poses: Sequence[int]) -> None:
        self._plans = plans
        angles = [np.array([np.pi / 2.0, np.pi]), *(plan.turns.ravel() for plan in plans)]
        everything = np.concatenate(angles)
        if len(poses) == 1:
            self.angles, self._back = np.unique(everything, return_inverse=True)
            self.rows: IntArray = np.zeros(len(self.angles), dtype=np.int64)
            return
        places = {pose: row for row, pose in enumerate(poses)}
        rows = [np.zeros(2, dtype=np.int64)]
        for plan in plans:
            own = [places.get(pose, 0) for pose in plan.poses.tolist()]
            rows.append(np.repeat(np.array(own, dtype=np.int64), plan.turns[0].size))
        pairs = np.stack([np.concatenate(rows).astype(np.float64), everything])
        distinct, self._back = np.unique(pairs, axis=1, return_inverse=True)
        self._back = self._back.reshape(-1)
        self.rows, self.angles = distinct[0].astype(np.int64), distinct[1]

    def apart(self, times: FloatArray) -> tuple[FloatArray, list[FloatArray]]:
        """Return the yardstick's turns and those of each plan from those of all angles."""
        turned = times[self._back]
        ends = np.cumsum([2, *(plan.turns.size for plan in self._plans)])
        return turned[:2], [
            turned[first:last].reshape(plan.turns.shape)
            for plan, first, last in zip(self._plans, ends[:-1], ends[1:], strict=True)
        ]


def _turning_poses(plan: Plan) -> set[int]:
    """Return the poses in which a plan turns."""
    turns = plan.turns.reshape(len(plan.poses), -1).any(axis=1)
    return set(plan.poses[turns].tolist())


def timed(plan: Plan, drives: FloatArray, turns: FloatArray, *, steer: float) -> LegTimes:
    """Return the times of a route's legs from those of its drives, both ways, and its turns."""
    prepare = [float(leg.prepare_s) for leg in plan.route.legs]
    action = [float(leg.action_s) for leg in plan.route.legs]
    if isinstance(plan.moves, LinkedMoves):
        return linked_leg_times(
            plan.moves,
            drive_times=drives[0],
            reverse_times=drives[1],
            turn_times=turns,
            prepare=prepare,
            action=action,
        )
    return free_leg_times(
        plan.moves,
        drive_times=drives[0],
        turn_times=turns,
        steer_time=steer,
        prepare=prepare,
        action=action,
    )
