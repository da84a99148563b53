"""One drive of a route at several states of the battery: what every moment of it takes.

Which way round the legs are driven, the poses, tip limits and speeds at corners are those of the
routes page; what the battery and the loads of a leg change is how its motors speed up.

A base that turns on its way draws for the longer of the two, drive and turn, as that run goes. The
energy of the other is spread over the move as an even current, under which the longer one is
driven: both live on one battery, so that such a leg takes a little longer than on the routes page.

Contents
--------
Course, Courses, courses_of: a route's legs as rows of a candidate's motions.
States: batteries and loads that it is driven with.
Trace, trace_of: stretches of time with what motors and loads take, and where the energy goes.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import Stance
from models.engineering.match_runs import (
    NODES,
    WEIGHTS,
    Runs,
    Stretches,
    joined_runs,
    runs_of_travel,
    runs_of_turns,
    stretches_of,
    works_of,
)
from models.engineering.passing import run_through
from models.engineering.routes import FreeMoves, free_leg_times, motions
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import Pieces, governing_pieces
from models.engineering.supply import path_resistance, supply
from models.engineering.traction import Motion
from models.engineering.turning import Turning, turn_braking
from models.study.schema import Candidate, Study
from models.trade.driving import Base, runs_of
from models.trade.route_runs import Batch, Plan, RouteRun

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

STEER, MOVE, BRAKE, ON_THE_WAY, WAIT, ACT, IDLE = range(7)
PARTS = ("steering", "speeding up", "braking", "turning on", "waiting", "acting", "between runs")
"""What a stretch of time is, in words."""


class Course(NamedTuple):
    """A route's legs as rows of a candidate's motions; arrays over the legs."""

    plan: Plan
    row: IntArray
    """Motion that each leg is driven with (index)."""
    distance: FloatArray
    brake: FloatArray
    """[m/s²]"""
    corner: FloatArray
    """Greatest speed at its end where it passes [m/s]."""
    turn_leg: IntArray
    """Leg of each turn, in the order of time (index)."""
    turn_after: BoolArray
    """Whether a turn comes after the leg's drive."""
    turn_row: IntArray
    """Motion of each turn, counted from the first one (index)."""
    turn_angle: FloatArray
    """[rad]"""
    turn_leads: BoolArray
    """Whether a turn on the way takes longer than the drive beside it."""


class Courses(NamedTuple):
    """A candidate's motions, ready for any battery."""

    base: Base
    batch: Batch
    supply_limit: float
    """Of a controller, as typed, whether a battery can reach it or not [A]."""
    turn_brakes: FloatArray
    """Of each turn in place [m/s²]."""
    courses: tuple[Course | None, ...]
    """In the order of the study's routes; none where a leg cannot be done."""


class States(NamedTuple):
    """Batteries and loads that a route is driven with; arrays over the states."""

    open_voltage: FloatArray
    """[V]"""
    battery_resistance: FloatArray
    """[Ω]"""
    main_resistance: float
    """[Ω]"""
    loads: FloatArray
    """Accessories and loads of every leg, shape (legs, states) [A]."""
    beside: FloatArray
    """What a leg's shorter run, drive or turn, takes beside the longer one, alike [A]."""


class Trace(NamedTuple):
    """A route as stretches of time, of shape (stretches,) or (stretches, nodes)."""

    state: IntArray
    leg: IntArray
    part: IntArray
    """Index into `PARTS`."""
    time: FloatArray
    """Since the route's beginning [s]."""
    weight: FloatArray
    """Share of the time that a node stands for [s]."""
    first_power: FloatArray
    """At the terminals of one motor of the first half [W]."""
    second_power: FloatArray
    first_current: FloatArray
    """Winding current of a motor of the first half [A]."""
    second_current: FloatArray
    load_current: FloatArray
    """Of accessories and loads, shape (stretches,) [A]."""
    beside_current: FloatArray
    """Of the run that is spread over the move, shape (stretches,) [A]."""
    whole: FloatArray
    """Time of every leg, shape (legs, states); infinite where the battery cannot drive it [s]."""
    aside: FloatArray
    """Energy of the run that is spread over the move, shape (legs, states) [J]."""
    works: FloatArray
    """Winding, gearing, rolling, turning, kinetic; shape (5, states) [J]."""


def courses_of(study: Study, candidate: Candidate, base: Base) -> Courses:
    """Return a candidate's routes as rows of its motions, driven as on the routes page."""
    runs = runs_of(study, candidate, base)
    batch = runs.batch
    brakes = [float(turn_braking(base.drive, one.stance, one.turn)) for one in batch.spins]
    courses = []
    for index, run in enumerate(runs.routes(float(base.drive.steer_time))):
        able = bool(np.all(np.isfinite(run.times.whole)))
        courses.append(_course(run, batch, batch.which[index]) if able else None)
    typed = candidate.drive.supply_limit_a
    limit = np.inf if typed is None else float(typed)
    return Courses(base, batch, limit, np.array(brakes), tuple(courses))


def _course(run: RouteRun, batch: Batch, which: IntArray) -> Course:
    """Return a route's legs, each with the turns that go with the way it is driven."""
    plan, reverse = run.plan, np.asarray(run.times.reverse, dtype=np.int64)
    row = np.where(reverse > 0, which[1], which[0])
    turns: list[tuple[int, bool, float]] = []
    before = 0
    for leg, way in enumerate(reverse.tolist()):
        if isinstance(plan.moves, FreeMoves):
            angles = [float(plan.turns[leg])]
        else:
            angles = plan.turns[leg, before, way].tolist()
            before = way if plan.moves.distance[leg] > 0.0 else before
        turns += [(leg, bool(after), angle) for after, angle in enumerate(angles) if angle > 0.0]
    legs = np.array([leg for leg, _, _ in turns], dtype=np.int64)
    places = {pose: place for place, pose in enumerate(batch.turning)}
    return Course(
        plan=plan,
        row=row,
        distance=plan.moves.distance,
        brake=batch.brakes[row],
        corner=run.corners,
        turn_leg=legs,
        turn_after=np.array([after for _, after, _ in turns], dtype=bool),
        turn_row=np.array([places[int(plan.poses[leg])] for leg in legs], dtype=np.int64),
        turn_angle=np.array([angle for _, _, angle in turns]),
        turn_leads=_leading(run, legs),
    )


def _leading(run: RouteRun, legs: IntArray) -> BoolArray:
    """Return whether each turn takes longer than the drive that it goes on beside."""
    moves = run.plan.moves
    if not isinstance(moves, FreeMoves):
        return np.zeros(len(legs), dtype=bool)
    passes = moves.follows | np.append(moves.follows[1:], False)
    return np.asarray((run.times.turn > run.times.drive) & ~passes)[legs]


class _Driven(NamedTuple):
    """All runs of a route at all states: drives first, leg by leg, then turns; rows × states."""

    runs: Runs
    distance: FloatArray
    """While speeding up [m]."""
    pace: FloatArray
    """Time of speeding up, shape (rows, states) [s]."""
    slow: FloatArray
    """Time of braking, alike [s]."""
    able: BoolArray
    """Whether the battery of each state gets all of them going."""


def trace_of(courses: Courses, course: Course, states: States) -> Trace:
    """Return one drive of a route at several states, as stretches of time."""
    driven = _driven(courses, course, states)
    legs, count = len(course.distance), len(states.open_voltage)
    parts = stretches_of(courses.base.drive, driven.runs)
    done = works_of(courses.base.drive, driven.runs, parts, distance=driven.distance)
    by_row = [field.reshape(-1, count) for field in done]
    took = driven.pace + driven.slow
    drives = took[:legs]
    turning = driven.runs.inertia.reshape(-1, count)[legs:]
    resisted = by_row[3]
    works = np.stack(
        [
            by_row[1].sum(axis=0),
            by_row[2].sum(axis=0),
            resisted[:legs].sum(axis=0),
            resisted[legs:].sum(axis=0) if len(turning) else np.zeros(count),
            by_row[4].sum(axis=0),
        ]
    )
    build = _Builder(course, states, driven, parts, by_row[0])
    moves = course.plan.moves
    if isinstance(moves, FreeMoves):
        whole = build.free(moves, float(courses.base.drive.steer_time), drives, took[legs:])
    else:
        whole = build.linked(drives, took[legs:])
    return build.trace(np.where(driven.able, whole, np.inf), works)


def _driven(courses: Courses, course: Course, states: States) -> _Driven:
    batch = courses.batch
    legs, count = len(course.row), len(states.open_voltage)
    ways = len(batch.brakes)
    row = np.concatenate([course.row, ways + course.turn_row])
    leg = np.concatenate([np.arange(legs), course.turn_leg])
    lone = np.ones(len(row), dtype=bool)
    lone[course.turn_leg[course.turn_leads]] = False
    lone[legs:] = course.turn_leads
    drawn = states.loads[leg] + np.where(lone[:, None], states.beside[leg], 0.0)
    motion = at_states(courses, row, states, drawn)
    pieces = governing_pieces(motion)
    yaw = np.array([float(one.turn.yaw_factor) for one in batch.spins])
    lengths = np.concatenate([course.distance, course.turn_angle / yaw[course.turn_row]])
    slowing = np.concatenate([course.brake, courses.turn_brakes[course.turn_row]])
    shape = (len(row), count)
    lengths, slowing = (np.broadcast_to(x[:, None], shape).copy() for x in (lengths, slowing))
    run = run_over(pieces, distance=lengths.ravel(), braking=slowing.ravel())
    able = np.all(np.isfinite(run.time.reshape(shape)), axis=0)
    goes = (lengths > 0.0) & able
    top = np.where(goes, run.speed.reshape(shape), 0.0)
    start, end = np.zeros(shape), np.zeros(shape)
    time = np.where(goes, run.time.reshape(shape), 0.0)
    for begin, stop in motions(course.plan.moves.follows):
        if stop - begin == 1:
            continue
        part = slice(begin, stop)
        caps = np.append(course.corner[begin : stop - 1], 0.0)
        passage = run_through(
            pieces,
            which=np.arange(begin * count, stop * count).reshape(-1, count),
            distance=lengths[part],
            braking=slowing[part],
            caps=np.broadcast_to(caps[:, None], (stop - begin, count)),
        )
        time[part], start[part] = (np.where(able, x, 0.0) for x in (passage.time, passage.start))
        top[part], end[part] = (np.where(able, x, 0.0) for x in (passage.top, passage.end))
    slow = (top - end) / slowing
    pace = np.maximum(time - slow, 0.0)
    distance = np.maximum(lengths - (top**2 - end**2) / (2.0 * slowing), 0.0)
    runs = _runs(courses, course, motion, pieces, start=start, end=top, time=pace)
    return _Driven(runs, np.where(able, distance, 0.0).ravel(), pace, slow, able)


def at_states(courses: Courses, row: IntArray, states: States, loads: FloatArray) -> Motion:
    """Return motions at every state of the battery, row by row and state by state."""
    shape = loads.shape
    feed = courses.base.drive.supply
    own = supply(
        open_voltage=states.open_voltage,
        source_resistance=states.battery_resistance + states.main_resistance,
        branch_resistance=feed.branch_resistance,
        accessory_current=loads,
        motor_count=feed.motor_count,
        stator_limit=feed.stator_limit,
        supply_limit=courses.supply_limit,
    )
    count = shape[1]
    motion = courses.batch.motion
    again = Motion._make(np.repeat(field[row], count, axis=0) for field in motion)

    def spread(values: FloatArray) -> FloatArray:
        return np.broadcast_to(values, shape).ravel()

    return again._replace(
        path=spread(path_resistance(own)),
        source_voltage=spread(own.source_voltage),
        supply_limit=spread(own.supply_limit),
        supply_power=spread(own.supply_power),
    )


def _runs(
    courses: Courses,
    course: Course,
    motion: Motion,
    pieces: Pieces,
    *,
    start: FloatArray,
    end: FloatArray,
    time: FloatArray,
) -> Runs:
    """Return drives and turns as runs ready to be followed."""
    base, batch = courses.base, courses.batch
    legs, count = len(course.row), start.shape[1]
    cut = legs * count
    rows = np.repeat(course.row, count)
    several = [
        runs_of_travel(
            base.drive,
            _picked(batch.stance, rows),
            base.layout,
            angle=batch.ways[rows],
            motion=Motion._make(field[:cut] for field in motion),
            pieces=pieces,
            start=start[:legs].ravel(),
            end=end[:legs].ravel(),
            time=time[:legs].ravel(),
        )
    ]
    if len(course.turn_leg):
        turns = np.repeat(course.turn_row, count)
        stance = Stance(*(_rows_of(batch, name)[turns] for name in Stance._fields))
        asked = Turning(
            *(
                np.array([float(getattr(one.turn, name)) for one in batch.spins])[turns]
                for name in Turning._fields
            )
        )
        several.append(
            runs_of_turns(
                base.drive,
                stance,
                asked,
                motion=Motion._make(field[cut:] for field in motion),
                pieces=pieces,
                end=end[legs:].ravel(),
                time=time[legs:].ravel(),
            )
        )
    return joined_runs(several, pieces)


def _picked(stance: Stance, rows: IntArray) -> Stance:
    return Stance._make(field[rows] if field.ndim else field for field in stance)


def _rows_of(batch: Batch, name: str) -> FloatArray:
    return np.array([float(getattr(one.stance, name)) for one in batch.spins])


class _Builder:
    """Puts the stretches of a route together, leg by leg."""

    def __init__(
        self,
        course: Course,
        states: States,
        driven: _Driven,
        parts: Stretches,
        terminals: FloatArray,
    ) -> None:
        self._course, self._states, self._driven = course, states, driven
        self._parts, self._terminals = parts, terminals
        self._legs, self._count = states.loads.shape
        shape = driven.pace.shape
        self._offset = np.full(shape, np.nan)
        """When each run begins, not a number for one that is spread over another."""
        self._aside = np.zeros((self._legs, self._count))
        self._flat: list[tuple[int, FloatArray, FloatArray, FloatArray]] = []

    def linked(self, drives: FloatArray, turns: FloatArray) -> FloatArray:
        """Turn, drive, turn, one after another; returns the time of every leg."""
        course = self._course
        before, after = np.zeros(drives.shape), np.zeros(drives.shape)
        np.add.at(before, course.turn_leg[~course.turn_after], turns[~course.turn_after])
        np.add.at(after, course.turn_leg[course.turn_after], turns[course.turn_after])
        move = before + drives + after
        whole, wait = self._waits(move)
        begins = np.cumsum(whole, axis=0) - whole
        self._offset[: self._legs] = begins + before
        for index, leg in enumerate(course.turn_leg.tolist()):
            late = before[leg] + drives[leg] if course.turn_after[index] else 0.0
            self._offset[self._legs + index] = begins[leg] + late
        self._rests(begins, move, wait, whole)
        return whole

    def free(
        self, moves: FreeMoves, steer: float, drives: FloatArray, turns: FloatArray
    ) -> FloatArray:
        """Steer, then drive and turn at once; returns the time of every leg."""
        course, legs = self._course, self._legs
        turned = np.zeros(drives.shape)
        turned[course.turn_leg] = turns
        times = free_leg_times(
            moves,
            drive_times=drives,
            turn_times=turned,
            steer_time=steer,
            prepare=[float(leg.prepare_s) for leg in course.plan.route.legs],
            action=[float(leg.action_s) for leg in course.plan.route.legs],
        )
        begins = np.cumsum(times.whole, axis=0) - times.whole
        self._offset[:legs] = begins + times.steer
        lasts = drives.copy()
        for index, leg in enumerate(course.turn_leg.tolist()):
            row, leads = legs + index, bool(course.turn_leads[index])
            self._aside[leg] = self._terminals[leg if leads else row]
            if leads:
                self._offset[row], self._offset[leg] = self._offset[leg], np.nan
                lasts[leg] = turns[index]
        self._add(STEER, begins, times.steer)
        left = times.move - times.steer - lasts
        self._add(ON_THE_WAY, begins + times.steer + lasts, left, beside=True)
        self._rests(begins, times.move, times.wait, times.whole)
        return np.asarray(times.whole)

    def _waits(self, move: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the time of every leg and what of it is spent waiting for the mechanisms."""
        route = self._course.plan.route
        prepare = np.array([[float(leg.prepare_s)] for leg in route.legs])
        action = np.array([[float(leg.action_s)] for leg in route.legs])
        needs = np.broadcast_to(prepare, move.shape).copy()
        for begin, end in motions(self._course.plan.moves.follows):
            needs[begin + 1 : end] -= np.cumsum(move[begin : end - 1], axis=0)
        wait = np.maximum(needs - move, 0.0)
        return move + wait + action, wait

    def _rests(
        self, begins: FloatArray, move: FloatArray, wait: FloatArray, whole: FloatArray
    ) -> None:
        self._add(WAIT, begins + move, wait)
        self._add(ACT, begins + move + wait, whole - move - wait)

    def _add(
        self, part: int, offset: FloatArray, time: FloatArray, *, beside: bool = False
    ) -> None:
        current = self._states.beside if beside else np.zeros(time.shape)
        self._flat.append((part, offset, time, current))

    def trace(self, whole: FloatArray, works: FloatArray) -> Trace:
        """Return all stretches: where motors work, where they brake, where nothing moves."""
        course, parts, count = self._course, self._parts, self._count
        leg_of = np.concatenate([np.arange(self._legs), course.turn_leg])
        begins = self._offset.ravel()
        kept = ~np.isnan(begins[parts.row])
        row = parts.row[kept]
        leg, state = leg_of[row // count], row % count
        powered = Trace(
            state, leg, np.full(len(row), MOVE),
            parts.time[kept] + begins[row, None], parts.weight[kept],
            parts.first_power[kept], parts.second_power[kept],
            parts.first_current[kept], parts.second_current[kept],
            self._states.loads[leg, state], self._states.beside[leg, state], whole, self._aside,
            works,
        )  # fmt: skip
        slow = np.where(np.isnan(self._offset), 0.0, self._driven.slow)
        self._flat.append(
            (
                BRAKE,
                np.nan_to_num(self._offset + self._driven.pace),
                slow,
                self._states.beside[leg_of],
            )
        )
        everything = [powered, *(self._even(*one, leg_of) for one in self._flat)]
        joined = {
            name: np.concatenate([getattr(one, name) for one in everything])
            for name in Trace._fields
            if name not in ("whole", "aside", "works")
        }
        return powered._replace(**joined)

    def _even(
        self, part: int, offset: FloatArray, time: FloatArray, beside: FloatArray, leg_of: IntArray
    ) -> Trace:
        """Return stretches in which only the loads draw."""
        row, state = np.nonzero(time > 1e-12)
        leg = leg_of[row]
        length = time[row, state]
        nothing = np.zeros((len(row), len(NODES)))
        return Trace(
            state, leg, np.full(len(row), part),
            offset[row, state, None] + length[:, None] * NODES, length[:, None] * WEIGHTS,
            nothing, nothing, nothing, nothing,
            self._states.loads[leg, state], beside[row, state], nothing, nothing, nothing,
        )  # fmt: skip
