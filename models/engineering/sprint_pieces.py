"""Where which limit governs a motion: stretches of speed under one law each.

The speeds at which another limit takes over follow from the motion in closed form. Between two of
them the acceleration is constant (grip, tipping, stator limit), a straight line in speed (full
duty) or, at the supply limit, smooth. The steady speed of the law in force, at which its
acceleration would vanish, is taken out of t = ∫dv/a and x = ∫v·dv/a as a logarithm, so that what
remains is smooth even for a run that nearly reaches it; the remainder is exactly 0 at full duty
and done by Gauss-Legendre nodes at the supply limit.

Contents
--------
Pieces, governing_pieces: where which limit governs, with time and distance of every piece.
limit_speed: the speed that a motion tends to.
chosen, part_of_pieces: time and distance inside a piece.
SupplyPart, supply_remainder, supply_acceleration: the same at the supply limit.
acceleration_at: the acceleration at a speed.
example_motion: an invented robot's, for examples.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import Stance, example_drive
from models.engineering.supply import full_duty_current, supply_limited_current
from models.engineering.traction import TIP, TRACTION, Motion, speed_at_current, travel_motion

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

FULL_DUTY, CONSTANT, SUPPLY = 0, 1, 2
"""Laws of a piece: straight line in speed, constant, supply-limited."""

_BOUNDED = 9
"""Marks what grip or tipping bounds among the motor limits."""

NODES, WEIGHTS = np.polynomial.legendre.leggauss(6)
NODES, WEIGHTS = (NODES + 1.0) / 2.0, WEIGHTS / 2.0
"""Gauss-Legendre nodes and weights on 0 to 1: on invented sprints within 2e-9 of forty nodes."""

_NODES_AND_END = np.append(NODES, 1.0)

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
    >>> round(float(limit_speed(example_motion())), 4)
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
    >>> pieces = governing_pieces(example_motion())
    >>> [GOVERNING[word] for word in pieces.governed_by]
    ['traction', 'traction', 'traction', 'voltage']

    Source: own derivation; equal laws are solved for the speed at which they meet.
    """
    wide = _with_axis(motion)
    points = _breaks(motion)
    middle = (points[..., :-1] + points[..., 1:]) / 2.0
    current, motor_law = _current_and_law(wide, middle)
    line, value = _least_line(motion, current)
    bounded = wide.bound <= value
    # Full duty below and above the battery's greatest power: one law, but the bus turns round
    beyond_peak = 2.0 * wide.path * current > wide.source_voltage
    kind = np.where(bounded, -1, 8 * line + 2 * motor_law + beyond_peak)
    governor = np.where(bounded, _BOUNDED, motor_law)
    lower, upper, mark = _merged(points, kind, 16 * line + governor)
    return _filled(motion, wide, lower, upper, line=mark // 16, governor=mark % 16)


def _least_line(motion: Motion, current: FloatArray) -> tuple[IntArray, FloatArray]:
    """Return which line of a motion gives the least acceleration at each current, and that."""
    value = motion.slopes[..., :1] * current + motion.offsets[..., :1]
    line = np.zeros(value.shape, dtype=np.int64)
    for index in range(1, motion.slopes.shape[-1]):
        other = motion.slopes[..., index, None] * current + motion.offsets[..., index, None]
        lower = other < value
        line[lower] = index
        value = np.where(lower, other, value)
    return line, value


def _merged(
    points: FloatArray, kind: IntArray, mark: IntArray
) -> tuple[FloatArray, FloatArray, IntArray]:
    """Return the stretches between points with neighbours of one kind joined, and their marks."""
    count = kind.shape[-1]
    shape = kind.shape[:-1]
    flat, kinds = points.reshape(-1, count + 1), kind.reshape(-1, count)
    wide = flat[:, 1:] - flat[:, :-1] > 1e-12 * flat[:, -1:]
    # Where two laws take over at once, what lies between them has no width and no say
    last = np.maximum.accumulate(np.where(wide, np.arange(count), -1), axis=-1)
    kinds = np.take_along_axis(kinds, np.maximum(last, 0), axis=-1)
    begins = wide.copy()
    begins[:, 1:] &= (kinds[:, 1:] != kinds[:, :-1]) | (last[:, :-1] < 0)
    rows, columns = np.nonzero(begins)
    place = np.cumsum(begins, axis=-1)[rows, columns] - 1
    most = int(place.max()) + 1 if len(place) else 1
    top = flat[:, -1:]
    edges = np.repeat(top, most + 1, axis=-1)
    edges[rows, place] = flat[rows, columns]
    edges[:, 0] = np.minimum(edges[:, 0], 0.0)
    kept = np.zeros((len(flat), most), dtype=np.int64)
    kept[rows, place] = mark.reshape(-1, count)[rows, columns]
    edges = edges.reshape(*shape, most + 1)
    return edges[..., :-1], edges[..., 1:], kept.reshape(*shape, most)


def _filled(
    motion: Motion,
    wide: Motion,
    lower: FloatArray,
    upper: FloatArray,
    *,
    line: IntArray,
    governor: IntArray,
) -> Pieces:
    """Return pieces with their laws, times and distances from what governs each."""
    bounded = governor == _BOUNDED
    held = np.where(wide.bound_tips, TIP, TRACTION)
    word = np.where(bounded, held, np.where(line > 0, TRACTION, governor))
    law = np.where(bounded, CONSTANT, governor)
    slope = np.take_along_axis(motion.slopes, line, axis=-1)
    offset = np.take_along_axis(motion.offsets, line, axis=-1)
    at_stator = slope * np.minimum(wide.stator_limit, 1e9) + offset
    constant = np.where(bounded, wide.bound, at_stator)
    moving = law != CONSTANT
    slope, offset = np.where(moving, slope, 0.0), np.where(moving, offset, constant)
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
    time, distance = part_of_pieces(pieces, upper)
    return pieces._replace(time=time, distance=distance)


def _with_axis(motion: Motion) -> Motion:
    """Return the motion with a last axis of one, to go along pieces or nodes; lines unchanged."""
    fields = {
        name: getattr(motion, name)[..., None]
        for name in Motion._fields
        if name not in ("slopes", "offsets")
    }
    return motion._replace(**fields)


def _current_and_law(wide: Motion, speed: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the greatest current of the motors at a speed, and which limit it is.

    The limits are those of `LIMIT_WORDS`; the first of equals counts.
    """
    emf = wide.emf * speed
    full = full_duty_current(
        source_voltage=wide.source_voltage, emf=emf, resistance=wide.resistance, path=wide.path
    )
    limited = supply_limited_current(emf=emf, resistance=wide.resistance, power=wide.supply_power)
    direct = np.minimum(full, wide.stator_limit)
    law = np.where(
        limited < direct, SUPPLY, np.where(wide.stator_limit < full, CONSTANT, FULL_DUTY)
    )
    return np.minimum(direct, limited), law


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
    governs = (inner > 0.0) & (inner < top)
    inner = np.sort(np.where(governs, inner, top), axis=-1)
    used = int(np.max(np.count_nonzero(governs, axis=-1)))
    points = np.concatenate([np.zeros(top.shape), inner[..., :used], top], axis=-1)
    return np.asarray(points)


def _steady(
    wide: Motion, law: IntArray, slope: FloatArray, offset: FloatArray, upper: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return where each law's acceleration would vanish, and the time constant there."""
    moving = law != CONSTANT
    divisor = np.where(moving, slope, 1.0)
    need = -offset / divisor
    whole = wide.resistance + wide.path
    reach = wide.emf * divisor
    beyond = 2.0 * upper + 1.0
    pole, settling = (wide.source_voltage - whole * need) / wide.emf, whole / reach
    at_supply = law == SUPPLY
    if at_supply.any():
        some = np.where(need > _NO_POLE, need, 1.0)
        limited = (wide.supply_power / some - wide.resistance * some) / wide.emf
        has_pole = at_supply & (need > _NO_POLE) & (limited < 1e3 * upper)
        pole = np.where(has_pole, limited, np.where(at_supply, beyond, pole))
        pace = (wide.supply_power / some**2 + wide.resistance) / reach
        settling = np.where(has_pole, pace, np.where(at_supply, 0.0, settling))
    # Rounding must not put the pole of the last piece below its end
    return np.where(moving, np.maximum(pole, upper), beyond), np.where(moving, settling, 0.0)


def part_of_pieces(pieces: Pieces, upper: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return time and distance from the beginning of each piece to a speed inside it.

    Constant: t = Δv/a, x = Δ(v²)/(2a). Else t = τ·ln((vs − v0)/(vs − v)) + ∫(1/a − τ/(vs − v)) dv
    and x = vs·t_log − τ·Δv + ∫v (1/a − τ/(vs − v)) dv, vs the steady speed, τ the time constant

    Parameters
    ----------
    pieces : Pieces
        Pieces [SI].
    upper : array
        Speed in each, from its lower to its upper end, of the pieces' shape [m/s].

    Returns
    -------
    tuple of two arrays
        Time [s] and distance [m], infinite at a speed that is only tended to.

    Examples
    --------
    >>> pieces = governing_pieces(example_motion())
    >>> time, distance = part_of_pieces(pieces, pieces.lower)
    >>> float(time.max()), float(distance.max())
    (0.0, 0.0)

    Source: own derivation.
    """
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
        more = supply_remainder(chosen(pieces, curved), upper[curved])
        time[curved] += more.time
        distance[curved] += more.distance
    never = ~ends & ~constant & (width > 0.0) & (pieces.settling > 0.0)
    time[never] = np.inf
    distance[never] = np.inf
    return time, distance


def chosen(pieces: Pieces, which: NDArray[np.bool_] | IntArray) -> Pieces:
    """Return some of the pieces.

    Parameters
    ----------
    pieces : Pieces
        Pieces [SI].
    which : array of bool or int
        Which of them (index or truth).

    Returns
    -------
    Pieces
        Fields picked alike.

    Examples
    --------
    >>> chosen(governing_pieces(example_motion()), np.array([0])).lower.tolist()
    [0.0]

    Source: own definition.
    """
    return Pieces._make(field[which] for field in pieces)


NEAR_STEADY = 1e-9
"""Share of the steady speed below which a gap to it holds no digits that could be divided by."""


class SupplyPart(NamedTuple):
    """What a stretch at the supply limit adds to the logarithm of its steady speed."""

    time: FloatArray
    """[s]"""
    distance: FloatArray
    """[m]"""
    pace: FloatArray
    """(vs − v)/a(v) at its end, the time constant there [s]."""


def supply_remainder(pieces: Pieces, upper: FloatArray) -> SupplyPart:
    """Return what the logarithm leaves of time and distance in pieces at the supply limit.

    ∫(1/a − τ/(vs − v)) dv and ∫v (1/a − τ/(vs − v)) dv by Gauss-Legendre nodes

    Parameters
    ----------
    pieces : Pieces
        Pieces at the supply limit [SI].
    upper : array
        Speed in each [m/s].

    Returns
    -------
    SupplyPart
        Of the pieces' shape.

    Examples
    --------
    >>> pieces = governing_pieces(example_motion())
    >>> bool(np.all(supply_remainder(pieces, pieces.lower).time == 0.0))
    True

    Source: own derivation; Gauss-Legendre quadrature.
    """
    width = upper - pieces.lower
    speed = pieces.lower[..., None] + width[..., None] * _NODES_AND_END
    steady, settling = pieces.steady[..., None], pieces.settling[..., None]
    gap = steady - speed
    # So near the steady speed both terms are rounding, and their difference tends to nothing
    near = gap <= NEAR_STEADY * steady
    acceleration = np.where(near, 1.0, supply_acceleration(pieces, speed))
    pace = np.where(near, settling, gap / acceleration)
    rest = ((pace - settling) / np.where(near, 1.0, gap))[..., :-1]
    return SupplyPart(
        width * (rest @ WEIGHTS), width * ((rest * speed[..., :-1]) @ WEIGHTS), pace[..., -1]
    )


def supply_acceleration(pieces: Pieces, speed: FloatArray) -> FloatArray:
    """Return the acceleration of pieces at the supply limit, whatever governs outside them.

    Parameters
    ----------
    pieces : Pieces
        Pieces at the supply limit [SI].
    speed : array
        v, of the pieces' shape and one axis more [m/s].

    Returns
    -------
    array
        Acceleration of the speed's shape [m/s²].

    Examples
    --------
    >>> pieces = governing_pieces(example_motion())
    >>> supply_acceleration(pieces, pieces.upper[:, None]).shape == (*pieces.upper.shape, 1)
    True

    Source: own derivation.
    """
    own = pieces.emf[..., None] * speed
    current = supply_limited_current(
        emf=own, resistance=pieces.resistance[..., None], power=pieces.power[..., None]
    )
    return np.asarray(pieces.slope[..., None] * current + pieces.offset[..., None])


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
    >>> acceleration, current = acceleration_at(example_motion(), 4.0)
    >>> round(float(acceleration), 3), round(float(current), 2)
    (2.658, 19.33)

    Source: own derivation.
    """
    at = np.asarray(speed, dtype=np.float64)
    wide = _with_axis(motion) if at.ndim > motion.emf.ndim else motion
    current, _ = _current_and_law(wide, at)
    if at.ndim > motion.emf.ndim:
        values = motion.slopes[..., None, :] * current[..., None] + motion.offsets[..., None, :]
    else:
        values = motion.slopes * current[..., None] + motion.offsets
    return np.minimum(np.min(values, axis=-1), wide.bound), np.asarray(current)


def example_motion() -> Motion:
    """Return the motion of an invented robot straight ahead, for examples and first trials.

    Returns
    -------
    Motion
        Of shape () [SI].

    Examples
    --------
    >>> round(float(example_motion().bound), 3)
    10.591

    Source: invented figures.
    """
    stance = Stance._make(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51))
    return travel_motion(example_drive(), stance, "swerve", angle=0.0)
