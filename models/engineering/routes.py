"""Routes over the field: which moves a leg takes, and how long it lasts.

Contents
--------
Leg, Place: what a route is made of.
shortest_turn: the angle between two headings.
LinkedMoves, linked_moves; FreeMoves, free_moves: turns and drives of every leg of a route.
LegTimes, linked_leg_times, free_leg_times: what every leg takes once its moves are timed.
whole_cycles: how many cycles a match leaves room for.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import atan2, hypot, isnan, nan
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

DRIVE, TURN, MECHANISM = 0, 1, 2
LEG_GOVERNORS = ("drive", "turn", "mechanism")
"""What can set the time of a leg, in the order of `LegTimes.governed_by`."""

_NEAR = 1e-9
"""Distances [m] and angles [rad] below this are rounding, no move."""


class Place(NamedTuple):
    """Where the robot stands on the field and where it looks."""

    at: tuple[float, float]
    """[m]"""
    heading: float
    """From the field's x axis, counter-clockwise [rad]."""


class Leg(NamedTuple):
    """One move of a route."""

    to: tuple[float, float] | None
    """Where it goes, none to stay [m]."""
    heading: float | None
    """Heading at its end, none where that is left open [rad]."""
    prepare: float
    """Time that the mechanisms need meanwhile [s]."""
    action: float
    """Time at rest after it [s]."""
    may_reverse: bool
    """Whether linked sides may drive it backwards."""


class LinkedMoves(NamedTuple):
    """Moves of a base that turns, drives and turns; first axis: the legs."""

    distance: FloatArray
    """[m]"""
    turns: FloatArray
    """Angles, shape (legs, 2, 2, 2): the leg before driven forwards or backwards; this one
    forwards or backwards; turn before and after the drive [rad]."""
    may_reverse: BoolArray
    """Shape (legs,)."""


class FreeMoves(NamedTuple):
    """Moves of a base that drives in any direction and turns meanwhile; one axis: the legs."""

    distance: FloatArray
    """[m]"""
    way: FloatArray
    """Angle of the way from straight ahead, as the robot looks at its start [rad]."""
    turn: FloatArray
    """[rad]"""


class LegTimes(NamedTuple):
    """Times of every leg; first axis: the legs, then the batch of designs."""

    whole: FloatArray
    """Not a number where a turn cannot be made [s]."""
    drive: FloatArray
    turn: FloatArray
    steer: FloatArray
    reverse: BoolArray
    governed_by: IntArray
    """Index into `LEG_GOVERNORS`."""


def shortest_turn(*, start: ArrayLike, end: ArrayLike) -> FloatArray:
    """Return the angle between two headings, the short way round.

    |((end − start + π) mod 2π) − π|

    Parameters
    ----------
    start, end : float or array
        Headings [rad].

    Returns
    -------
    array
        0 to π [rad].

    Examples
    --------
    >>> round(float(shortest_turn(start=3.0, end=-3.0)), 6)
    0.283185

    Source: own definition.
    """
    gap = np.asarray(end, dtype=np.float64) - np.asarray(start, dtype=np.float64)
    angle = np.abs((gap + np.pi) % (2.0 * np.pi) - np.pi)
    return np.asarray(np.where(angle < _NEAR, 0.0, angle))


def _ways(start: Place, legs: Sequence[Leg]) -> tuple[FloatArray, FloatArray]:
    """Return each leg's distance and bearing, not a number where it has no way."""
    at = start.at
    distances, bearings = [], []
    for leg in legs:
        to = at if leg.to is None else leg.to
        along, across = to[0] - at[0], to[1] - at[1]
        distance = hypot(along, across)
        moves = distance > _NEAR
        distances.append(distance if moves else 0.0)
        bearings.append(atan2(across, along) if moves else nan)
        at = to
    return np.array(distances), np.array(bearings)


def linked_moves(start: Place, legs: Sequence[Leg]) -> LinkedMoves:
    """Return the turns and drives of a base with linked sides along a route.

    Forwards: turn to the bearing, drive, turn to the end heading. Backwards: turn to the
    opposite, drive, turn to the end heading. Where the end heading is left open it stays as it
    drove.

    Parameters
    ----------
    start : Place
        Where the route begins [m, rad].
    legs : sequence of Leg
        The legs [SI].

    Returns
    -------
    LinkedMoves
        Arrays over the legs.

    Examples
    --------
    >>> moves = linked_moves(Place((0, 0), 0.0), [Leg((2.0, 0.0), None, 0.0, 0.0, True)])
    >>> moves.turns[0, 0].round(4).tolist()
    [[0.0, 0.0], [3.1416, 0.0]]

    Source: own definition.
    """
    distances, bearings = _ways(start, legs)
    facing = [start.heading, start.heading]
    begins, ends = np.zeros((2, len(legs), 2, 2, 2))
    for index, (leg, bearing) in enumerate(zip(legs, bearings, strict=True)):
        still = isnan(bearing)
        after = list(facing)
        for way in (0, 1):
            driven = bearing + np.pi * way
            for before in (0, 1):
                first = facing[before] if still else driven
                end = first if leg.heading is None else leg.heading
                begins[index, before, way] = facing[before], first
                ends[index, before, way] = first, end
            if not still or leg.heading is not None:
                after[way] = driven if leg.heading is None else leg.heading
        facing = after
    reverse = np.array([leg.may_reverse for leg in legs], dtype=bool) & ~np.isnan(bearings)
    return LinkedMoves(distances, shortest_turn(start=begins, end=ends), reverse)


def free_moves(start: Place, legs: Sequence[Leg]) -> FreeMoves:
    """Return the drives and turns of a base that moves in any direction along a route.

    The heading stays where a leg gives none.

    Parameters
    ----------
    start : Place
        Where the route begins [m, rad].
    legs : sequence of Leg
        The legs [SI].

    Returns
    -------
    FreeMoves
        Arrays over the legs.

    Examples
    --------
    >>> moves = free_moves(Place((0, 0), 0.0), [Leg((0.0, 2.0), 3.0, 0.0, 0.0, True)])
    >>> float(moves.way[0].round(4)), float(moves.turn[0])
    (1.5708, 3.0)

    Source: own definition.
    """
    distances, bearings = _ways(start, legs)
    heading, ways, headings = start.heading, [], [start.heading]
    for leg, bearing in zip(legs, bearings, strict=True):
        ways.append(0.0 if isnan(bearing) else bearing - heading)
        heading = heading if leg.heading is None else leg.heading
        headings.append(heading)
    turns = shortest_turn(start=headings[:-1], end=headings[1:])
    return FreeMoves(distances, np.array(ways), turns)


def linked_leg_times(
    moves: LinkedMoves,
    *,
    drive_times: ArrayLike,
    turn_times: ArrayLike,
    prepare: ArrayLike,
    action: ArrayLike,
) -> LegTimes:
    """Return what every leg takes a base with linked sides, forwards or backwards, the quicker.

    max(turn + drive + turn, prepare) + action

    Parameters
    ----------
    moves : LinkedMoves
        Of the route [SI].
    drive_times : array, shape (legs, …)
        To drive and stop [s].
    turn_times : array, shape (legs, 2, 2, 2, …)
        Of `moves.turns`; not a number where it cannot turn [s].
    prepare, action : array, shape (legs,)
        What the mechanisms need meanwhile and afterwards [s].

    Returns
    -------
    LegTimes
        Arrays of shape (legs, …).

    Examples
    --------
    >>> moves = linked_moves(Place((0, 0), 0.0), [Leg((-2.0, 0.0), 0.0, 0.0, 0.5, True)])
    >>> times = linked_leg_times(moves, drive_times=[1.0], turn_times=moves.turns / 3.0,
    ...                          prepare=[0.0], action=[0.5])
    >>> times.whole.tolist(), times.reverse.tolist()
    ([1.5], [True])

    Source: own definition.
    """
    drives = np.asarray(drive_times, dtype=np.float64)
    both = np.sum(np.asarray(turn_times, dtype=np.float64), axis=3)
    batch = drives.shape[1:]
    backwards = np.zeros(batch, dtype=bool)
    turned, reversed_ = [], []
    for index in range(len(drives)):
        options = np.where(backwards, both[index, 1], both[index, 0])
        forward, reverse = options[0], options[1]
        cost = np.where(np.isnan(forward), np.inf, forward)
        other = np.where(np.isnan(reverse), np.inf, reverse)
        quicker = (other < cost - _NEAR) & moves.may_reverse[index]
        turned.append(np.where(quicker, reverse, forward))
        reversed_.append(quicker)
        backwards = quicker if moves.distance[index] > 0.0 else backwards
    turn = np.array(turned).reshape(drives.shape)
    steer = np.zeros(drives.shape)
    return _leg_times(
        drives,
        turn,
        steer,
        drives + turn,
        reverse=np.array(reversed_).reshape(drives.shape),
        prepare=prepare,
        action=action,
    )


def free_leg_times(
    moves: FreeMoves,
    *,
    drive_times: ArrayLike,
    turn_times: ArrayLike,
    steer_time: ArrayLike,
    prepare: ArrayLike,
    action: ArrayLike,
) -> LegTimes:
    """Return what every leg takes a base that drives in any direction and turns meanwhile.

    max(steer + max(drive, turn), prepare) + action; it steers once where it moves at all

    Parameters
    ----------
    moves : FreeMoves
        Of the route [SI].
    drive_times, turn_times : array, shape (legs, …)
        To drive and stop, to turn and stop without steering [s].
    steer_time : float or array
        Time that modules take to steer, 0 for layouts without any [s].
    prepare, action : array, shape (legs,)
        What the mechanisms need meanwhile and afterwards [s].

    Returns
    -------
    LegTimes
        Arrays of shape (legs, …).

    Examples
    --------
    >>> moves = free_moves(Place((0, 0), 0.0), [Leg((0.0, 2.0), 3.0, 2.0, 0.5, True)])
    >>> times = free_leg_times(moves, drive_times=[1.0], turn_times=[1.2], steer_time=0.15,
    ...                        prepare=[2.0], action=[0.5])
    >>> times.whole.tolist(), LEG_GOVERNORS[int(times.governed_by[0])]
    ([2.5], 'mechanism')

    Source: own definition.
    """
    drives, turns = (np.asarray(item, dtype=np.float64) for item in (drive_times, turn_times))
    legs = (len(drives), *(1,) * (drives.ndim - 1))
    moving = ((moves.distance > 0.0) | (moves.turn > 0.0)).reshape(legs)
    steer = np.where(moving, np.asarray(steer_time, dtype=np.float64), 0.0)
    steer = np.broadcast_to(steer, drives.shape)
    reverse = np.zeros(drives.shape, dtype=bool)
    return _leg_times(
        drives,
        turns,
        steer,
        steer + np.maximum(drives, turns),
        reverse=reverse,
        prepare=prepare,
        action=action,
    )


def _leg_times(
    drive: FloatArray,
    turn: FloatArray,
    steer: FloatArray,
    move: FloatArray,
    *,
    reverse: BoolArray,
    prepare: ArrayLike,
    action: ArrayLike,
) -> LegTimes:
    legs = (len(drive), *(1,) * (drive.ndim - 1))
    waits, acts = (np.asarray(item, dtype=np.float64).reshape(legs) for item in (prepare, action))
    whole = np.maximum(move, waits) + acts
    longer = np.where(turn > drive, TURN, DRIVE)
    governed = np.where(waits > move, MECHANISM, longer)
    return LegTimes(whole, drive, turn, steer, reverse, governed)


def whole_cycles(*, match: ArrayLike, autonomous: ArrayLike, cycle: ArrayLike) -> IntArray:
    """Return how many whole cycles what is left of a match after the autonomous period holds.

    floor((match − autonomous)/cycle)

    Parameters
    ----------
    match, autonomous : float or array
        The whole match and its autonomous period [s].
    cycle : float or array
        One cycle, above 0 [s].

    Returns
    -------
    array of int
        Cycles.

    Examples
    --------
    >>> int(whole_cycles(match=150.0, autonomous=15.0, cycle=9.0))
    15

    Source: own definition.
    """
    left = np.asarray(match, dtype=np.float64) - np.asarray(autonomous, dtype=np.float64)
    cycles = np.floor(left / np.asarray(cycle, dtype=np.float64) + _NEAR)
    return np.asarray(np.maximum(cycles, 0.0), dtype=np.int64)
