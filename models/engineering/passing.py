"""Points passed without a stop: how fast, and how long the legs between two stops take together.

The legs are driven as straight lines from point to point, and the corner at a passed point caps
the speed there: what is left out is the way that rounding it saves, and that the cap holds for
as long as the arc. Full braking and full cornering at the same time, which one grip would have to
carry, are not held against each other either. No leg is entered faster than its motion can drive
it, since its motors would have to be dragged along.

Contents
--------
corner_speed: the greatest speed at a passed point.
Passage, run_through: the quickest drive along several legs with a cap at each joint.
governing_words: what governs the speeding up.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.sprint import State, run_over, state_at_speed
from models.engineering.sprint_pieces import Pieces, chosen
from models.engineering.traction import GOVERNING

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_NEAR = 1e-9
"""Bends [rad] below this are rounding, no turn."""

_SHORT_OF = 1e-9
"""Share by which a joint is passed below the speed that a motion only tends to."""


class Passage(NamedTuple):
    """A drive along several legs; first axis: the legs."""

    time: FloatArray
    """That each leg takes, not a number where it does not get going [s]."""
    begin: FloatArray
    """When a run from rest would have had the speed at which it begins [s]."""
    until: FloatArray
    """When, on that clock, it ends to speed up [s]."""
    start: FloatArray
    """Speed at which it begins [m/s]."""
    top: FloatArray
    """The greatest speed on it [m/s]."""
    end: FloatArray
    """Speed at which it ends [m/s]."""


def corner_speed(
    *,
    radius: ArrayLike,
    bend: ArrayLike,
    room: ArrayLike,
    side_acceleration: ArrayLike,
) -> FloatArray:
    """Return the greatest speed at which a corner can be passed on an arc.

    v = √(a·r), r the radius asked for or the greatest arc that fits, l/tan(φ/2), whichever is less

    Parameters
    ----------
    radius : float or array
        r of the arc that is asked for [m].
    bend : float or array
        φ by which the way bends, 0 to π; a way that does not bend limits nothing [rad].
    room : float or array
        l from the corner, along the shorter leg, that the arc may begin or end at [m].
    side_acceleration : float or array
        a that grip and tipping allow across the way; 0 or below lets nothing pass [m/s²].

    Returns
    -------
    array
        v, infinite where the way does not bend [m/s].

    Examples
    --------
    >>> round(float(corner_speed(radius=0.5, bend=1.0, room=2.0, side_acceleration=8.0)), 6)
    2.0

    Source: own derivation; a = v²/r, an arc that touches both legs.
    """
    angle = np.asarray(bend, dtype=np.float64)
    bends = angle > _NEAR
    half_tangent = np.tan(np.where(bends, angle, 1.0) / 2.0)
    fits = np.minimum(radius, np.asarray(room, dtype=np.float64) / np.maximum(half_tangent, 1e-12))
    held = np.maximum(np.asarray(side_acceleration, dtype=np.float64), 0.0)
    return np.asarray(np.where(bends, np.sqrt(held * fits), np.inf))


def run_through(
    pieces: Pieces,
    *,
    which: IntArray,
    distance: ArrayLike,
    braking: ArrayLike,
    caps: ArrayLike,
) -> Passage:
    """Return the quickest drive from rest along several legs with a greatest speed at each end.

    Joints: back from the end w² ≤ w'² + 2·ab·x, then forward w ≤ what the drive reaches from u.
    A leg is a part of a longer sprint-and-stop: x(p) + p²/(2·ab) = x + x(u) + w²/(2·ab), so its
    time is that run's, less t(u) and w/ab.

    Parameters
    ----------
    pieces : Pieces
        Motions, a batch of one axis [SI].
    which : array of int, shape (legs, …)
        The motion that each leg is driven with (index).
    distance : array, shape (legs, …)
        Of each leg [m].
    braking : array, shape (legs, …)
        ab on each leg, above 0 [m/s²].
    caps : array, shape (legs, …)
        Greatest speed at the end of each leg; 0 to stop there, infinite for none [m/s].

    Returns
    -------
    Passage
        Arrays of shape (legs, …).

    Examples
    --------
    >>> from models.engineering.sprint_pieces import example_motion, governing_pieces
    >>> from models.engineering.traction import joined
    >>> law = governing_pieces(joined([example_motion()]))
    >>> legs = {"which": np.zeros(2, dtype=int), "distance": [2.0, 4.0], "braking": [8.0, 8.0]}
    >>> run_through(law, caps=[np.inf, 0.0], **legs).time.sum().round(6).item()
    1.949994
    >>> bool(run_through(law, caps=[1.5, 0.0], **legs).time.sum() > 1.949994)
    True

    Source: own derivation; time-optimal along a given way is to drive and to brake as hard as
    possible in turn: Bobrow, Dubowsky and Gibson, Int. J. Robotics Research 4(3), 1985 (memory).
    """
    legs = len(which)
    length, slowing, most = (
        np.broadcast_to(np.asarray(item, dtype=np.float64), which.shape)
        for item in (distance, braking, caps)
    )
    reached = pieces.upper[which, -1] * (1.0 - _SHORT_OF)
    allowed = np.minimum(most, reached)
    allowed[:-1] = np.minimum(allowed[:-1], reached[1:])
    for leg in reversed(range(legs - 1)):
        before = np.sqrt(allowed[leg + 1] ** 2 + 2.0 * slowing[leg + 1] * length[leg + 1])
        allowed[leg] = np.minimum(allowed[leg], before)
    start, behind = np.zeros((2, *which.shape))
    ago = np.zeros(which.shape)
    for leg in range(legs):
        if leg:
            start[leg] = _joint(pieces, which[leg - 1], behind[leg - 1] + length[leg - 1])
            start[leg] = np.fmin(allowed[leg - 1], start[leg])
        state = _from_rest(pieces, which[leg], start[leg])
        ago[leg], behind[leg] = state
    end = allowed.copy()
    end[:-1] = start[1:]
    if most[-1].any():
        end[-1] = np.fmin(end[-1], _joint(pieces, which[-1], behind[-1] + length[-1]))
    run = run_over(
        pieces,
        distance=behind + length + end**2 / (2.0 * slowing),
        braking=slowing,
        which=which,
    )
    time = np.maximum(run.time - ago - end / slowing, 0.0)
    return Passage(time, ago, run.time - run.speed / slowing, start, run.speed, end)


def _joint(pieces: Pieces, which: IntArray, distance: FloatArray) -> FloatArray:
    """Return the speed that motions from rest have reached after a distance."""
    return run_over(pieces, distance=distance, braking=np.inf, which=which).speed


def _from_rest(pieces: Pieces, which: IntArray, speed: FloatArray) -> State:
    """Return when and where a run from rest would have reached a speed; nothing at rest."""
    state = state_at_speed(chosen(pieces, which), speed=speed)
    moving = speed > 0.0
    return State(np.where(moving, state.time, 0.0), np.where(moving, state.distance, 0.0))


def governing_words(
    pieces: Pieces, *, which: IntArray, begin: ArrayLike, end: ArrayLike
) -> IntArray:
    """Return what governs a motion for the longest part of the time in which it speeds up.

    Parameters
    ----------
    pieces : Pieces
        Motions, a batch of one axis [SI].
    which : array of int
        The motion of each run (index).
    begin, end : float or array
        When it begins and ends to speed up, on the clock of a run from rest [s].

    Returns
    -------
    array of int
        Index into `GOVERNING`; −1 where it does not speed up at all.

    Examples
    --------
    >>> from models.engineering.sprint_pieces import example_motion, governing_pieces
    >>> from models.engineering.traction import GOVERNING, joined
    >>> law = governing_pieces(joined([example_motion()]))
    >>> words = governing_words(law, which=np.array([0, 0]), begin=[0.0, 0.6], end=[0.3, 0.9])
    >>> [GOVERNING[word] for word in words]
    ['traction', 'voltage']

    Source: own definition.
    """
    first, last = (
        np.broadcast_to(np.asarray(item, dtype=np.float64), which.shape)[..., None]
        for item in (begin, end)
    )
    passed = np.maximum(np.minimum(np.cumsum(pieces.time, axis=-1)[which], last), first)
    spent = passed.copy()
    spent[..., 1:] -= passed[..., :-1]
    spent[..., :1] -= first
    governed = pieces.governed_by[which][..., None] == np.arange(len(GOVERNING))
    share = np.sum(np.where(governed, spent[..., None], 0.0), axis=-2)
    speeds_up = last[..., 0] > first[..., 0]
    return np.asarray(np.where(speeds_up, np.argmax(share, axis=-1), -1), dtype=np.int64)
