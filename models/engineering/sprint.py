"""Runs from rest: time over distance by quadrature over speed, split where the limit changes.

Acceleration depends on speed alone, so t = ∫dv/a and x = ∫v·dv/a, piece by piece as
`models.engineering.sprint_pieces` finds them.

Contents
--------
Run, run_over: from rest over a distance, passing its end or stopping at it.
sweep_of_runs: the same for many designs at once.
State, state_at_speed: time and distance at which a speed is reached.
time_and_distance: the same quadrature for any law of acceleration.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.sprint_pieces import (
    CONSTANT,
    SUPPLY,
    Pieces,
    chosen,
    governing_pieces,
    part_of_pieces,
    supply_remainder,
)
from models.engineering.traction import Motion

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BLOCK = 2500
"""Designs in a block: their arrays lie in the processor's cache, the calls still pay."""


class Run(NamedTuple):
    """A run from rest over a distance; not a number where the motion does not get going."""

    time: FloatArray
    """Until it passes the end, or stands still there [s]."""
    speed: FloatArray
    """The greatest: at the end, or where braking begins [m/s]."""


class State(NamedTuple):
    """When and where a speed is reached; infinite where it never is."""

    time: FloatArray
    """[s]"""
    distance: FloatArray
    """[m]"""


def run_over(
    pieces: Pieces,
    *,
    distance: ArrayLike,
    braking: ArrayLike,
    which: NDArray[np.int64] | None = None,
) -> Run:
    """Return time and greatest speed of a run from rest over a distance.

    x(v) + v²/(2·ab) = X, t = t(v) + v/ab; with an infinite ab it passes the end

    Parameters
    ----------
    pieces : Pieces
        Of the motion [SI].
    distance : float or array
        X, broadcast against the batch; 0 takes no time [m].
    braking : float or array
        ab, infinite to pass the end without braking [m/s²].
    which : array of int, optional
        Of a batch of one axis: the motion that each of the runs belongs to (index). Where it is
        left out, runs and motions broadcast.

    Returns
    -------
    Run
        Not a number where the motion does not get going and the distance is above 0.

    Examples
    --------
    >>> from models.engineering.sprint_pieces import example_motion, governing_pieces
    >>> run = run_over(governing_pieces(example_motion()), distance=6.0, braking=np.inf)
    >>> round(float(run.time), 3), round(float(run.speed), 3)
    (1.65, 4.835)

    Source: own derivation, dt = dv/a and dx = v·dv/a.
    """
    target = np.asarray(distance, dtype=np.float64)
    stop = np.where(np.isfinite(braking), 0.5 / np.asarray(braking, dtype=np.float64), 0.0)
    count, own = pieces.lower.shape[-1], pieces.lower.shape[:-1]
    whole = own if which is None else which.shape
    shape = np.broadcast_shapes(target.shape, stop.shape, whole)
    if which is None and own not in (shape, ()):
        pieces = Pieces._make(np.broadcast_to(field, (*shape, count)) for field in pieces)
    flat = Pieces._make(field.reshape(-1, count) for field in pieces)
    goal = np.broadcast_to(target, shape).reshape(-1)
    halved = np.broadcast_to(stop, shape).reshape(-1)
    if which is not None:
        rows = np.broadcast_to(which, shape).reshape(-1)
    else:
        rows = np.zeros(len(goal), dtype=np.int64) if own == () else np.arange(len(goal))
    reach = np.cumsum(flat.distance, axis=-1)
    passed = reach[rows] + halved[:, None] * flat.upper[rows] ** 2 >= goal[:, None]
    last = np.argmax(passed, axis=-1)
    piece = Pieces._make(field[rows, last] for field in flat)
    before, gone = (_before(field, rows, last) for field in (flat.distance, flat.time))
    time, speed = _end_of_run(piece, np.maximum(goal - before, 0.0), halved)
    stuck = (flat.upper[rows, -1] <= 0.0) & (goal > 0.0)
    time = np.where(stuck, np.nan, gone + time + 2.0 * halved * speed)
    return Run(time.reshape(shape), np.where(stuck, np.nan, speed).reshape(shape))


def sweep_of_runs(motion: Motion, *, distance: ArrayLike, braking: ArrayLike) -> Run:
    """Return the runs of many designs, worked out in blocks that the processor keeps at hand.

    The same as `run_over(governing_pieces(motion), …)`, a fifth quicker for ten thousand designs.

    Parameters
    ----------
    motion : Motion
        Law of acceleration of each design, a batch of one axis [SI].
    distance : float or array
        X [m].
    braking : float or array
        ab, infinite to pass the end without braking [m/s²].

    Returns
    -------
    Run
        Of the designs' shape; not a number where one does not get going.

    Examples
    --------
    >>> from models.engineering.sprint_pieces import example_motion
    >>> from models.engineering.traction import joined
    >>> runs = sweep_of_runs(joined([example_motion()] * 3), distance=6.0, braking=np.inf)
    >>> runs.time.round(3).tolist()
    [1.65, 1.65, 1.65]

    Source: own derivation.
    """
    count = len(motion.emf)
    goals = np.broadcast_to(np.asarray(distance, dtype=np.float64), (count,))
    brakes = np.broadcast_to(np.asarray(braking, dtype=np.float64), (count,))
    runs = []
    for first in range(0, max(count, 1), BLOCK):
        block = slice(first, first + BLOCK)
        pieces = governing_pieces(Motion._make(field[block] for field in motion))
        runs.append(run_over(pieces, distance=goals[block], braking=brakes[block]))
    return Run(
        np.concatenate([run.time for run in runs]), np.concatenate([run.speed for run in runs])
    )


def _end_of_run(
    piece: Pieces, remaining: FloatArray, stop: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the time in a piece until distance and stopping distance make up a remainder.

    And the speed that is reached then.
    """
    constant = piece.law == CONSTANT
    steady = np.where(constant & (piece.offset > 0.0), piece.offset, 1.0)
    half = 0.5 / steady
    speed = np.sqrt((remaining + piece.lower**2 * half) / (half + stop))
    speed = np.where(constant, np.clip(speed, piece.lower, piece.upper), piece.lower)
    time = (speed - piece.lower) / steady
    moving = ~constant & (piece.upper > piece.lower)
    if moving.any():
        time[moving], speed[moving] = _end_while_moving(
            chosen(piece, moving), remaining[moving], stop[moving]
        )
    return time, speed


def _end_while_moving(
    piece: Pieces, remaining: FloatArray, stop: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return time and speed where the law moves with speed, by Halley's rule inside a bracket.

    The unknown is s with v = vs − (vs − v0)·e^(−s), vs the steady speed, so that runs that come
    within rounding of it are as well conditioned as any other.
    """
    curved = np.flatnonzero(piece.law == SUPPLY)
    some = chosen(piece, curved)
    span = piece.steady - piece.lower
    settling = piece.settling.copy()
    if len(curved):
        settling[curved] = supply_remainder(some, some.lower).pace
    low, high = np.zeros(len(span)), _most(piece, span, settling, remaining)
    s = np.minimum(_first_guess(piece, span, settling, remaining, stop), high)
    for _ in range(60):
        left, width = span * np.exp(-s), span * -np.expm1(-s)
        speed = piece.lower + width
        distance, pace = piece.settling * (piece.steady * s - width), settling
        if len(curved):
            pace = settling.copy()
            part = supply_remainder(some, speed[curved])
            distance[curved] += part.distance
            pace[curved] = part.pace
        excess = distance + stop * speed**2 - remaining
        slope = speed * (pace + 2.0 * stop * left)
        short = excess < 0.0
        low, high = np.where(short, s, low), np.where(short, high, s)
        rising = np.where(slope > 0.0, slope, 1.0)
        step = excess / rising
        # At the supply limit the bend is taken for that of full duty, which is near enough
        bend = left * (settling + 2.0 * stop * (left - speed))
        proposal = s - step / np.maximum(1.0 - 0.5 * step * bend / rising, 0.5)
        inside = (proposal >= low) & (proposal <= high) & (slope > 0.0)
        following = np.where(inside, proposal, (low + high) / 2.0)
        # The error after a step of Newton's rule is of the order of its square
        done = np.abs(following - s) <= np.where(inside, 1e-8, 1e-14) * (1.0 + s)
        s = following
        if done.all():
            break
    width = span * -np.expm1(-s)
    time = piece.settling * s
    if len(curved):
        time[curved] += supply_remainder(some, some.lower + width[curved]).time
    return time, piece.lower + width


def _most(
    piece: Pieces, span: FloatArray, settling: FloatArray, remaining: FloatArray
) -> FloatArray:
    """Return an upper bound of s: the piece's end, or where the distance is covered for sure."""
    gap = piece.steady - piece.upper
    ends = gap > 0.0
    return np.where(
        ends,
        np.log(span / np.where(ends, gap, 1.0)),
        (remaining / settling + span) / piece.steady,
    )


def _first_guess(
    piece: Pieces,
    span: FloatArray,
    settling: FloatArray,
    remaining: FloatArray,
    stop: FloatArray,
) -> FloatArray:
    """Return s as if the acceleration at the piece's beginning lasted."""
    square = span * (0.5 * settling + stop * span)
    linear = piece.lower * (settling + 2.0 * stop * span)
    constant = np.maximum(remaining - stop * piece.lower**2, 0.0)
    return 2.0 * constant / (linear + np.sqrt(linear**2 + 4.0 * square * constant) + 1e-300)


def state_at_speed(pieces: Pieces, *, speed: ArrayLike) -> State:
    """Return when and where a run from rest reaches a speed.

    t = ∫dv/a, x = ∫v·dv/a from 0 to v

    Parameters
    ----------
    pieces : Pieces
        Of the motion [SI].
    speed : float or array
        v, broadcast against the batch [m/s].

    Returns
    -------
    State
        Infinite at and above the speed that the motion tends to.

    Examples
    --------
    >>> from models.engineering.sprint_pieces import example_motion, governing_pieces
    >>> state = state_at_speed(governing_pieces(example_motion()), speed=3.0)
    >>> round(float(state.time), 3), round(float(state.distance), 3)
    (0.441, 0.706)

    Source: own derivation.
    """
    wanted = np.asarray(speed, dtype=np.float64)
    shape = np.broadcast_shapes(wanted.shape, pieces.lower.shape[:-1])
    count = pieces.lower.shape[-1]
    if pieces.lower.shape[:-1] not in (shape, ()):
        pieces = Pieces._make(np.broadcast_to(field, (*shape, count)) for field in pieces)
    flat = Pieces._make(field.reshape(-1, count) for field in pieces)
    goal = np.broadcast_to(wanted, shape).reshape(-1)
    rows = np.zeros(len(goal), dtype=np.int64) if len(flat.lower) == 1 else np.arange(len(goal))
    top = flat.upper[rows, -1]
    beyond = goal >= top
    inside = np.where(beyond, 0.0, goal)
    last = np.argmax(flat.upper[rows] > inside[:, None], axis=-1)
    piece = Pieces._make(field[rows, last] for field in flat)
    parts = part_of_pieces(piece, inside)
    whole = (flat.time, flat.distance)
    state = [
        np.where(beyond, np.inf, part + _before(field, rows, last)).reshape(shape)
        for part, field in zip(parts, whole, strict=True)
    ]
    return State(state[0], state[1])


def _before(field: FloatArray, rows: IntArray, last: IntArray) -> FloatArray:
    """Return the sum over the pieces before one, for each run."""
    sums = np.cumsum(field[:, :-1], axis=-1)
    if sums.shape[-1] == 0:
        return np.zeros(len(last))
    return np.where(last > 0, sums[rows, last - 1], 0.0)


def time_and_distance(
    acceleration: Callable[[FloatArray], FloatArray], *, speeds: ArrayLike, nodes: int
) -> State:
    """Return time and distance at each of several speeds under any law of acceleration.

    t = ∫dv/a(v), x = ∫v·dv/a(v), by Gauss-Legendre nodes between each speed and the next

    Parameters
    ----------
    acceleration : function
        Takes an array of speeds, returns accelerations above 0 [m/s²].
    speeds : array, shape (k,)
        Rising speeds; put one wherever the law has a kink [m/s].
    nodes : int
        Nodes between each speed and the next [count].

    Returns
    -------
    State
        Of shape (k,), counted from the first speed.

    Examples
    --------
    >>> state = time_and_distance(lambda v: 4.0 - v, speeds=[0.0, 2.0], nodes=16)
    >>> round(float(state.time[-1]), 6)
    0.693147

    Source: own derivation; Gauss-Legendre quadrature.
    """
    points = np.asarray(speeds, dtype=np.float64)
    at, weight = np.polynomial.legendre.leggauss(nodes)
    width = np.diff(points)[:, None]
    speed = points[:-1, None] + width * (at + 1.0) / 2.0
    share = weight / 2.0 * width / acceleration(speed)
    steps = np.stack([np.sum(share, axis=-1), np.sum(share * speed, axis=-1)])
    whole = np.concatenate([np.zeros((2, 1)), np.cumsum(steps, axis=-1)], axis=-1)
    return State(whole[0], whole[1])
