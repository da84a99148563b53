"""Routes over the field: which moves a leg takes, and how long it lasts.

Contents
--------
Leg, Place: what a route is made of.
shortest_turn: the angle between two headings.
LinkedMoves, linked_moves; FreeMoves, free_moves: turns and drives of every leg of a route.
    A leg may pass its end without a stop; the legs up to the next stop are one motion.
LegTimes, linked_leg_times, free_leg_times: what every leg takes once its moves are timed.
motions: which legs belong to one motion.
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

HEADING_SLACK = float(np.radians(0.5))
"""How far a typed heading may lie off the way that linked sides have to look [rad]."""


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
    passes: bool = False
    """Whether it goes on into the next leg without a stop. It does stop where that leg does not
    go anywhere, where there is none, and where something is to be done here or on the way."""


class LinkedMoves(NamedTuple):
    """Moves of a base that turns, drives and turns; first axis: the legs."""

    distance: FloatArray
    """[m]"""
    turns: FloatArray
    """Angles, shape (legs, 2, 2, 2): the leg before driven forwards or backwards; this one
    forwards or backwards; turn before and after the drive [rad]."""
    may_reverse: BoolArray
    """Shape (legs,)."""
    follows: BoolArray
    """Whether it goes on from the leg before without a stop, shape (legs,)."""
    bend: FloatArray
    """By how much the way bends where that leg before ends, 0 after a stop [rad]."""
    holds: BoolArray
    """Whether it can look as it should where it passes, forwards and backwards, shape (legs, 2)."""


class FreeMoves(NamedTuple):
    """Moves of a base that drives in any direction and turns meanwhile; one axis: the legs."""

    distance: FloatArray
    """[m]"""
    way: FloatArray
    """Angle of the way from straight ahead, as the robot looks at its start [rad]."""
    turn: FloatArray
    """[rad]"""
    follows: BoolArray
    """Whether it goes on from the leg before without a stop."""
    bend: FloatArray
    """By how much the way bends where that leg before ends, 0 after a stop [rad]."""
    states: BoolArray
    """Whether it states its end heading, so that the turn has to be over there."""


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
    move: FloatArray
    """Driving, turning and steering, without any wait [s]."""
    wait: FloatArray
    """For the mechanisms, after the move [s]."""


def motions(follows: BoolArray) -> list[tuple[int, int]]:
    """Return which legs belong to one motion: the first and the one after the last of each.

    Parameters
    ----------
    follows : array of bool, shape (legs,)
        Whether each goes on from the leg before without a stop (truth).

    Returns
    -------
    list of tuple
        Indices; a leg between two stops is a motion by itself.

    Examples
    --------
    >>> motions(np.array([False, False, True, True, False]))
    [(0, 1), (1, 4), (4, 5)]

    Source: own definition.
    """
    begins = np.flatnonzero(~follows).tolist()
    return list(zip(begins, [*begins[1:], len(follows)], strict=True))


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


def _followers(legs: Sequence[Leg], distances: FloatArray) -> BoolArray:
    """Return which legs go on from the leg before without a stop."""
    follows = np.zeros(len(legs), dtype=bool)
    for index, leg in enumerate(legs[:-1]):
        busy = leg.prepare > 0.0 or leg.action > 0.0
        through = leg.passes and not busy
        follows[index + 1] = through and distances[index] > 0.0 and distances[index + 1] > 0.0
    return follows


def _bends(bearings: FloatArray, follows: BoolArray) -> FloatArray:
    """Return by how much the way bends at the beginning of each leg that follows another."""
    bends = np.zeros(len(bearings))
    if follows.any():
        at = np.flatnonzero(follows)
        bends[at] = shortest_turn(start=bearings[at - 1], end=bearings[at])
    return bends


def linked_moves(start: Place, legs: Sequence[Leg]) -> LinkedMoves:
    """Return the turns and drives of a base with linked sides along a route.

    Forwards: turn to the bearing, drive, turn to the end heading. Backwards: turn to the
    opposite, drive, turn to the end heading. Where the end heading is left open it stays as it
    drove. Legs that pass into one another are driven one way round, with a turn in place before
    the first and after the last; in between the robot looks the way it drives, so a heading
    stated at a passed point has to lie between the bearings of the two legs (half a degree off
    counts as typed), or opposite where it drives backwards.

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
    follows = _followers(legs, distances)
    through = [*follows[1:].tolist(), False]
    facing = [start.heading, start.heading]
    begins, ends = np.zeros((2, len(legs), 2, 2, 2))
    holds = np.ones((len(legs), 2), dtype=bool)
    for index, (leg, bearing) in enumerate(zip(legs, bearings, strict=True)):
        still = isnan(bearing)
        stated = None if through[index] else leg.heading
        after = list(facing)
        for way in (0, 1):
            driven = bearing + np.pi * way
            for before in (0, 1):
                first = facing[before] if still else driven
                end = first if stated is None else stated
                begins[index, before, way] = first if follows[index] else facing[before], first
                ends[index, before, way] = first, end
            if not still or stated is not None:
                after[way] = driven if stated is None else stated
            if through[index] and leg.heading is not None:
                onwards = bearings[index + 1] + np.pi * way
                holds[index, way] = _between(leg.heading, driven, onwards)
        facing = after
    reverse = np.array([leg.may_reverse for leg in legs], dtype=bool) & ~np.isnan(bearings)
    turns = shortest_turn(start=begins, end=ends)
    return LinkedMoves(distances, turns, reverse, follows, _bends(bearings, follows), holds)


def _between(heading: float, first: float, second: float) -> bool:
    """Return whether a heading lies on the short way from one to another, or nearly."""
    parts = shortest_turn(start=[first, heading, first], end=[heading, second, second])
    return bool(parts[0] + parts[1] <= parts[2] + 2.0 * HEADING_SLACK)


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
    follows = _followers(legs, distances)
    states = np.array([leg.heading is not None for leg in legs], dtype=bool)
    return FreeMoves(distances, np.array(ways), turns, follows, _bends(bearings, follows), states)


def linked_leg_times(
    moves: LinkedMoves,
    *,
    drive_times: ArrayLike,
    turn_times: ArrayLike,
    prepare: ArrayLike,
    action: ArrayLike,
    reverse_times: ArrayLike | None = None,
) -> LegTimes:
    """Return what every leg takes a base with linked sides, forwards or backwards, the quicker.

    max(turn + drive + turn, prepare) + action

    Legs that pass into one another are one motion: one way round for all of them, and their
    mechanisms have the time since its beginning.

    Parameters
    ----------
    moves : LinkedMoves
        Of the route [SI].
    drive_times : array, shape (legs, …)
        To drive and stop, or on to the next leg where it passes [s].
    turn_times : array, shape (legs, 2, 2, 2, …)
        Of `moves.turns`; not a number where it cannot turn [s].
    prepare, action : array, shape (legs,) or (legs, …)
        What the mechanisms need meanwhile and afterwards [s].
    reverse_times : array, shape (legs, …), optional
        To drive backwards; as forwards where left out [s].

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
    ahead = np.asarray(drive_times, dtype=np.float64)
    astern = ahead if reverse_times is None else np.asarray(reverse_times, dtype=np.float64)
    both = np.sum(np.asarray(turn_times, dtype=np.float64), axis=3)
    batch = ahead.shape[1:]
    backwards = np.zeros(batch, dtype=bool)
    turned, driven, reversed_ = np.zeros((3, *ahead.shape))
    for begin, end in motions(moves.follows):
        legs = range(begin, end)
        options = [_turns_of(both[index], backwards, moves.holds[index]) for index in legs]
        forward, reverse = (
            sum(part[way] for part in options) + np.sum(drive[begin:end], axis=0)
            for way, drive in enumerate((ahead, astern))
        )
        cost = np.where(np.isnan(forward), np.inf, forward)
        other = np.where(np.isnan(reverse), np.inf, reverse)
        quicker = (other < cost - _NEAR) & bool(moves.may_reverse[begin:end].all())
        for index, part in zip(legs, options, strict=True):
            turned[index] = np.where(quicker, part[1], part[0])
            driven[index] = np.where(quicker, astern[index], ahead[index])
            reversed_[index] = quicker
        backwards = quicker if moves.distance[begin] > 0.0 else backwards
    move = driven + turned
    return _leg_times(
        LegTimes(move, driven, turned, np.zeros(move.shape), reversed_ > 0.0,
                 np.where(turned > driven, TURN, DRIVE), move, move),
        moves.follows,
        prepare=prepare,
        action=action,
    )  # fmt: skip


def _turns_of(both: FloatArray, backwards: BoolArray, holds: BoolArray) -> tuple[FloatArray, ...]:
    """Return a leg's turns forwards and backwards, not a number where it cannot look that way."""
    options = np.where(backwards, both[1], both[0])
    return tuple(options[way] if holds[way] else np.full_like(options[way], nan) for way in (0, 1))


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

    Legs that pass into one another are one motion: it steers before the first; a turn has the
    time since the last stated heading, and what it takes beyond the drive, which is then slower,
    counts in the leg that states its end; the mechanisms have the time since the beginning.

    Parameters
    ----------
    moves : FreeMoves
        Of the route [SI].
    drive_times, turn_times : array, shape (legs, …)
        To drive and stop (or on to the next leg where it passes), to turn and stop without
        steering [s].
    steer_time : float or array
        Time that modules take to steer, 0 for layouts without any [s].
    prepare, action : array, shape (legs,) or (legs, …)
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
    moving = ((moves.distance > 0.0) | (moves.turn > 0.0)) & ~moves.follows
    steer = np.where(moving.reshape(legs), np.asarray(steer_time, dtype=np.float64), 0.0)
    steer = np.broadcast_to(steer, drives.shape)
    left = turns
    if moves.follows.any():
        left = turns.copy()
        spent = np.zeros(drives.shape[1:])
        for index in range(len(drives)):
            if not moves.follows[index]:
                spent = np.zeros(drives.shape[1:])
            left[index] = turns[index] - spent
            spent = spent + np.maximum(drives[index], left[index])
            if moves.states[index]:
                spent = np.zeros(drives.shape[1:])
    move = steer + np.maximum(drives, left)
    reverse = np.zeros(drives.shape, dtype=bool)
    governed = np.where(left > drives, TURN, DRIVE)
    return _leg_times(
        LegTimes(move, drives, turns, steer, reverse, governed, move, move),
        moves.follows,
        prepare=prepare,
        action=action,
    )


def _leg_times(
    times: LegTimes, follows: BoolArray, *, prepare: ArrayLike, action: ArrayLike
) -> LegTimes:
    """Return the times of the moves with waits and actions added."""
    move = times.move
    waits, acts = (_over_legs(item, move.ndim) for item in (prepare, action))
    if follows.any():
        waits = np.broadcast_to(waits, move.shape).copy()
        for begin, end in motions(follows):
            waits[begin + 1 : end] -= np.cumsum(move[begin : end - 1], axis=0)
    return times._replace(
        whole=np.maximum(move, waits) + acts,
        governed_by=np.where(waits > move, MECHANISM, times.governed_by),
        wait=np.maximum(waits - move, 0.0),
    )


def _over_legs(item: ArrayLike, axes: int) -> FloatArray:
    """Return times of the legs with as many axes as the batch has."""
    times = np.asarray(item, dtype=np.float64)
    return times.reshape(len(times), *(1,) * (axes - 1)) if times.ndim == 1 else times


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
