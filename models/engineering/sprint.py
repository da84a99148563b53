"""Runs from rest: time over distance by quadrature over speed, split where the limit changes.

Acceleration depends on speed alone, so t = ∫dv/a and x = ∫v·dv/a. The speeds at which another
limit takes over follow from the motion in closed form. Between two of them the acceleration is
constant (grip, tipping, stator limit), a straight line in speed (full duty) or, at the supply
limit, smooth. The steady speed of the law in force, at which its acceleration would vanish, is
taken out as a logarithm, so that what remains is smooth even for a run that nearly reaches it;
the remainder is exactly 0 at full duty and done by Gauss-Legendre nodes at the supply limit.

Contents
--------
Pieces, governing_pieces: where which limit governs, with time and distance of every piece.
limit_speed: the speed that a motion tends to.
Run, run_over: from rest over a distance, passing its end or stopping at it.
State, state_at_speed: time and distance at which a speed is reached.
acceleration_at: the acceleration at a speed.
time_and_distance: the same quadrature for any law of acceleration.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.supply import full_duty_current, supply_limited_current
from models.engineering.traction import TIP, TRACTION, Motion, speed_at_current

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FULL_DUTY, CONSTANT, SUPPLY = 0, 1, 2
"""Laws of a piece: straight line in speed, constant, supply-limited."""

NODES, WEIGHTS = np.polynomial.legendre.leggauss(12)
NODES, WEIGHTS = (NODES + 1.0) / 2.0, WEIGHTS / 2.0
"""Gauss-Legendre nodes and weights on 0 to 1: relative error below 1e-9 at the supply limit."""

_NO_POLE = 1e-6
"""A law whose zero lies below this current has no steady speed worth taking out [A]."""


class Pieces(NamedTuple):
    """Stretches of speed, each under one law; fields have the batch's shape and one axis more.

    Rows with fewer pieces than others end in pieces of no width.
    """

    lower: FloatArray
    """Speed at which it begins [m/s]."""
    upper: FloatArray
    """Speed at which it ends; the last ends at the speed that the motion tends to [m/s]."""
    governed_by: IntArray
    """Index into `GOVERNING` of `models.engineering.traction`."""
    law: IntArray
    """FULL_DUTY, CONSTANT or SUPPLY."""
    slope: FloatArray
    """Acceleration for each ampere, 0 where constant [m/s² A]."""
    offset: FloatArray
    """Acceleration at no current [m/s²]."""
    steady: FloatArray
    """Speed at which the law's acceleration would vanish [m/s]."""
    settling: FloatArray
    """Time constant with which that speed would be approached [s]."""
    emf: FloatArray
    """[V·s/m]"""
    resistance: FloatArray
    """[Ω]"""
    power: FloatArray
    """At the supply limit [W]."""
    time: FloatArray
    """That it takes, infinite for the last [s]."""
    distance: FloatArray
    """That it takes, infinite for the last [m]."""


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


def limit_speed(motion: Motion) -> FloatArray:
    """Return the speed that a motion tends to: the least at which one of its lines vanishes.

    Parameters
    ----------
    motion : Motion
        Law of acceleration [SI].

    Returns
    -------
    array
        Speed, 0 where the motion does not get going [m/s].

    Examples
    --------
    >>> round(float(limit_speed(_example())), 4)
    4.8844

    Source: own derivation.
    """
    need = -motion.offsets / motion.slopes
    speeds = speed_at_current(_with_axis(motion), need)
    least = np.where(motion.bound > 0.0, np.min(speeds, axis=-1), 0.0)
    return np.asarray(np.maximum(least, 0.0))


def governing_pieces(motion: Motion) -> Pieces:
    """Return where which limit governs, and the time and distance that each piece takes.

    Parameters
    ----------
    motion : Motion
        Law of acceleration [SI].

    Returns
    -------
    Pieces
        In the order of speed.

    Examples
    --------
    >>> from models.engineering.traction import GOVERNING
    >>> pieces = governing_pieces(_example())
    >>> [GOVERNING[word] for word in pieces.governed_by]
    ['traction', 'traction', 'traction', 'traction', 'traction', 'voltage', 'voltage']

    Source: own derivation; equal laws are solved for the speed at which they meet.
    """
    points = _breaks(motion)
    lower, upper = points[..., :-1], points[..., 1:]
    wide = _with_axis(motion)
    middle = (lower + upper) / 2.0
    currents = _three_currents(wide, middle)
    motor_law = np.argmin(currents, axis=0)
    current = np.min(currents, axis=0)
    values = motion.slopes[..., None, :] * current[..., None] + motion.offsets[..., None, :]
    line = np.argmin(values, axis=-1)
    value = np.min(values, axis=-1)
    bounded = wide.bound <= value
    held = np.where(wide.bound_tips, TIP, TRACTION)
    word = np.where(bounded, held, np.where(line > 0, TRACTION, motor_law))
    law = np.where(bounded, CONSTANT, motor_law)
    moving = law != CONSTANT
    slope = np.where(moving, np.take_along_axis(motion.slopes, line, axis=-1), 0.0)
    constant = np.where(bounded, wide.bound, value)
    offset = np.where(moving, np.take_along_axis(motion.offsets, line, axis=-1), constant)
    steady, settling = _steady(wide, law, slope, offset, upper)
    nothing = np.zeros(lower.shape)
    pieces = Pieces(
        lower=lower,
        upper=upper,
        governed_by=word,
        law=law,
        slope=slope,
        offset=offset,
        steady=steady,
        settling=settling,
        emf=wide.emf + nothing,
        resistance=wide.resistance + nothing,
        power=wide.supply_power + nothing,
        time=nothing,
        distance=nothing,
    )
    time, distance = _partial(pieces, upper)
    return pieces._replace(time=time, distance=distance)


def _with_axis(motion: Motion) -> Motion:
    """Return the motion with a last axis of one, to go along pieces or nodes; lines unchanged."""
    fields = {
        name: getattr(motion, name)[..., None]
        for name in Motion._fields
        if name not in ("slopes", "offsets")
    }
    return motion._replace(**fields)


def _three_currents(wide: Motion, speed: FloatArray) -> FloatArray:
    """Return the currents of the three motor limits at a speed, in the order of `LIMIT_WORDS`."""
    emf = wide.emf * speed
    full = full_duty_current(
        source_voltage=wide.source_voltage, emf=emf, resistance=wide.resistance, path=wide.path
    )
    limited = supply_limited_current(emf=emf, resistance=wide.resistance, power=wide.supply_power)
    return np.stack(np.broadcast_arrays(full, wide.stator_limit, limited))


def _breaks(motion: Motion) -> FloatArray:
    """Return 0, the speeds at which another law takes over, and the speed tended to, in order.

    Speeds at which laws meet that do not govern there split a piece in two, which does no harm.
    """
    lines = motion.slopes.shape[-1]
    currents = [(motion.bound[..., None] - motion.offsets) / motion.slopes]
    for first in range(lines):
        for second in range(first + 1, lines):
            rise = motion.slopes[..., first] - motion.slopes[..., second]
            gap = motion.offsets[..., second] - motion.offsets[..., first]
            meet = np.where(rise == 0.0, np.inf, gap / np.where(rise == 0.0, 1.0, rise))
            currents.append(meet[..., None])
    wide = _with_axis(motion)
    path = np.maximum(wide.path, 1e-12)
    most = wide.source_voltage / (2.0 * path)
    # Full duty meets the stator limit, the supply limit (twice), and the battery's greatest power
    at_duty = [wide.stator_limit, wide.supply_limit, 2.0 * most - wide.supply_limit, most]
    duty = np.concatenate(at_duty, axis=-1)
    full = (wide.source_voltage - (wide.resistance + wide.path) * duty) / wide.emf
    stator = np.minimum(wide.stator_limit, 1e9)
    limited = (wide.supply_power / stator - wide.resistance * stator) / wide.emf
    lines_meet = speed_at_current(wide, np.concatenate(currents, axis=-1))
    top = limit_speed(motion)[..., None]
    inner = np.concatenate([lines_meet, full, limited], axis=-1)
    inner = np.where((inner > 0.0) & (inner < top), inner, top)
    points = np.concatenate([np.zeros(top.shape), np.sort(inner, axis=-1), top], axis=-1)
    used = np.any(np.diff(points, axis=-1) > 0.0, axis=tuple(range(points.ndim - 1)))
    count = max(1, int(np.max(np.nonzero(used)[0], initial=0)) + 1)
    return np.asarray(points[..., : count + 1])


def _steady(
    wide: Motion, law: IntArray, slope: FloatArray, offset: FloatArray, upper: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return where each law's acceleration would vanish, and the time constant there."""
    moving = law != CONSTANT
    need = np.where(moving, -offset / np.where(moving, slope, 1.0), 0.0)
    whole = wide.resistance + wide.path
    full = (wide.source_voltage - whole * need) / wide.emf
    full_settling = whole / (wide.emf * np.where(moving, slope, 1.0))
    some = np.where(need > _NO_POLE, need, 1.0)
    limited = (wide.supply_power / some - wide.resistance * some) / wide.emf
    has_pole = (need > _NO_POLE) & (limited < 1e3 * upper)
    limited_settling = (wide.supply_power / some**2 + wide.resistance) / (
        wide.emf * np.where(moving, slope, 1.0)
    )
    beyond = 2.0 * upper + 1.0
    at_supply = law == SUPPLY
    pole = np.where(at_supply, np.where(has_pole, limited, beyond), full)
    settling = np.where(at_supply, np.where(has_pole, limited_settling, 0.0), full_settling)
    # Rounding must not put the pole of the last piece below its end
    return np.where(moving, np.maximum(pole, upper), beyond), np.where(moving, settling, 0.0)


def _partial(pieces: Pieces, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return time and distance from the beginning of each piece to a speed inside it."""
    width = upper - pieces.lower
    constant = pieces.law == CONSTANT
    steady = np.where(constant & (pieces.offset > 0.0), pieces.offset, 1.0)
    gap = pieces.steady - upper
    ends = gap > 0.0
    ratio = np.where(
        ends & ~constant, (pieces.steady - pieces.lower) / np.where(ends, gap, 1.0), 1.0
    )
    time = np.where(constant, width / steady, pieces.settling * np.log(ratio))
    distance = np.where(
        constant,
        width * (upper + pieces.lower) / (2.0 * steady),
        pieces.steady * time - pieces.settling * width,
    )
    curved = (pieces.law == SUPPLY) & (width > 0.0)
    if curved.any():
        more_time, more_distance = _remainder(_chosen(pieces, curved), upper[curved])
        time[curved] += more_time
        distance[curved] += more_distance
    never = ~ends & ~constant & (width > 0.0) & (pieces.settling > 0.0)
    time[never] = np.inf
    distance[never] = np.inf
    return time, distance


def _chosen(pieces: Pieces, which: NDArray[np.bool_] | IntArray) -> Pieces:
    return Pieces._make(field[which] for field in pieces)


def _remainder(pieces: Pieces, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the integrals of 1/a less its pole, and of v times that, at the supply limit."""
    width = upper - pieces.lower
    speed = pieces.lower[..., None] + width[..., None] * NODES
    acceleration = _law(pieces, speed)
    pole = pieces.settling[..., None] / (pieces.steady[..., None] - speed)
    rest = (1.0 / acceleration - pole) * WEIGHTS
    return width * np.sum(rest, axis=-1), width * np.sum(rest * speed, axis=-1)


def _law(pieces: Pieces, speed: FloatArray) -> FloatArray:
    """Return the supply-limited acceleration at speeds along one more axis."""
    own = pieces.emf[..., None] * speed
    current = supply_limited_current(
        emf=own, resistance=pieces.resistance[..., None], power=pieces.power[..., None]
    )
    return np.asarray(pieces.slope[..., None] * current + pieces.offset[..., None])


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
    >>> run = run_over(governing_pieces(_example()), distance=6.0, braking=np.inf)
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
    before = np.where(last > 0, reach[rows, last - 1], 0.0)
    gone = np.where(last > 0, np.cumsum(flat.time, axis=-1)[rows, last - 1], 0.0)
    time, speed = _end_of_run(piece, np.maximum(goal - before, 0.0), halved)
    stuck = (flat.upper[rows, -1] <= 0.0) & (goal > 0.0)
    time = np.where(stuck, np.nan, gone + time + 2.0 * halved * speed)
    return Run(time.reshape(shape), np.where(stuck, np.nan, speed).reshape(shape))


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
            _chosen(piece, moving), remaining[moving], stop[moving]
        )
    return time, speed


def _end_while_moving(
    piece: Pieces, remaining: FloatArray, stop: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return time and speed where the law moves with speed, by Newton's rule inside a bracket.

    The unknown is s with v = vs − (vs − v0)·e^(−s), vs the steady speed, so that runs that come
    within rounding of it are as well conditioned as any other.
    """
    span = piece.steady - piece.lower
    curved = piece.law == SUPPLY
    settling = piece.settling.copy()
    if curved.any():
        some = _chosen(piece, curved)
        settling[curved] = span[curved] / _law(some, some.lower[:, None])[:, 0]
    gap = piece.steady - piece.upper
    most = np.where(
        gap > 0.0,
        np.log(span / np.where(gap > 0.0, gap, 1.0)),
        (remaining / settling + span) / piece.steady,
    )
    square = span * (0.5 * settling + stop * span)
    linear = piece.lower * (settling + 2.0 * stop * span)
    constant = np.maximum(remaining - stop * piece.lower**2, 0.0)
    s = 2.0 * constant / (linear + np.sqrt(linear**2 + 4.0 * square * constant) + 1e-300)
    s = np.minimum(np.maximum(s, 0.0), most)
    low, high = np.zeros(s.shape), most
    for _ in range(60):
        decay = np.exp(-s)
        speed = piece.steady - span * decay
        excess, slope = _excess(piece, speed, s, decay, stop)
        excess = excess - remaining
        low, high = np.where(excess < 0.0, s, low), np.where(excess < 0.0, high, s)
        proposal = s - excess / np.where(slope > 0.0, slope, 1.0)
        inside = (proposal >= low) & (proposal <= high) & (slope > 0.0)
        following = np.where(inside, proposal, (low + high) / 2.0)
        # The error after a step of Newton's rule is of the order of its square
        done = np.abs(following - s) <= np.where(inside, 1e-8, 1e-14) * (1.0 + s)
        s = following
        if done.all():
            break
    width = span * -np.expm1(-s)
    time = piece.settling * s
    if curved.any():
        some = _chosen(piece, curved)
        time[curved] += _remainder(some, some.lower + width[curved])[0]
    return time, piece.lower + width


def _excess(
    piece: Pieces, speed: FloatArray, s: FloatArray, decay: FloatArray, stop: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return distance plus stopping distance inside a piece, and its slope over s."""
    span = piece.steady - piece.lower
    width = span * -np.expm1(-s)
    distance = piece.settling * (piece.steady * s - width)
    pace = piece.settling.copy()
    curved = piece.law == SUPPLY
    if curved.any():
        some = _chosen(piece, curved)
        at = some.lower + width[curved]
        distance[curved] += _remainder(some, at)[1]
        pace[curved] = span[curved] * decay[curved] / _law(some, at[:, None])[:, 0]
    return distance + stop * speed**2, speed * (pace + 2.0 * stop * span * decay)


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
    >>> state = state_at_speed(governing_pieces(_example()), speed=3.0)
    >>> round(float(state.time), 3), round(float(state.distance), 3)
    (0.441, 0.706)

    Source: own derivation.
    """
    wanted = np.asarray(speed, dtype=np.float64)
    shape = np.broadcast_shapes(wanted.shape, pieces.lower.shape[:-1])
    count = pieces.lower.shape[-1]
    wide = Pieces._make(np.broadcast_to(field, (*shape, count)) for field in pieces)
    upper = np.clip(np.broadcast_to(wanted, shape)[..., None], wide.lower, wide.upper)
    time, distance = _partial(wide, upper)
    beyond = np.broadcast_to(wanted, shape) >= wide.upper[..., -1]
    return State(
        np.where(beyond, np.inf, np.sum(time, axis=-1)),
        np.where(beyond, np.inf, np.sum(distance, axis=-1)),
    )


def acceleration_at(motion: Motion, speed: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Return the acceleration at a speed, and the greatest current the motors could carry there.

    Parameters
    ----------
    motion : Motion
        Law of acceleration [SI].
    speed : float or array
        v; it has the motion's shape and may have one more axis [m/s].

    Returns
    -------
    tuple of two arrays
        Acceleration [m/s²] and current [A].

    Examples
    --------
    >>> acceleration, current = acceleration_at(_example(), 4.0)
    >>> round(float(acceleration), 3), round(float(current), 2)
    (2.658, 19.33)

    Source: own derivation.
    """
    at = np.asarray(speed, dtype=np.float64)
    wide = _with_axis(motion) if at.ndim > motion.emf.ndim else motion
    current = np.min(_three_currents(wide, at), axis=0)
    if at.ndim > motion.emf.ndim:
        values = motion.slopes[..., None, :] * current[..., None] + motion.offsets[..., None, :]
    else:
        values = motion.slopes * current[..., None] + motion.offsets
    return np.minimum(np.min(values, axis=-1), wide.bound), np.asarray(current)


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


def _example() -> Motion:
    """Return the motion of an invented robot, for the examples above."""
    from models.engineering.drive import Stance, example_drive  # noqa: PLC0415
    from models.engineering.traction import travel_motion  # noqa: PLC0415

    stance = Stance._make(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51))
    return travel_motion(example_drive(), stance, "swerve", angle=0.0)
