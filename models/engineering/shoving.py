"""A shoving match: this robot drives against another that resists with a steady force.

Both move as one body once the push overcomes what resists. The wheels' grip is the peak one and
the axles carry their standing loads; what leaning on each other does to the loads is left out, and
so is that a wheel which spins or is dragged grips less than one that rolls.

Contents
--------
shove_motion: how motor current accelerates both robots.
grip_force: the most that a robot's wheels pass to the floor.
Match, MATCH_WORDS, head_on, from_the_side: who moves whom.
winding_time: how long a winding stands a current.
"""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import (
    LINKED,
    STANDARD_GRAVITY,
    Drive,
    Layout,
    Stance,
    directions,
    force_per_ampere,
    rolling_drag,
    rotating_mass,
)
from models.engineering.traction import Motion, motion_of

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MATCH_WORDS = ("stalemate", "it moves the other", "the other moves it")
"""How a shoving match ends, in the order of `Match.outcome`."""


class Match(NamedTuple):
    """Who moves whom, and with what force to spare."""

    outcome: IntArray
    """Index into `MATCH_WORDS`."""
    spare: FloatArray
    """Force that accelerates both robots, 0 in a stalemate [N]."""


def grip_force(*, grip: ArrayLike, mass: ArrayLike) -> FloatArray:
    """Return the most that a robot's wheels pass to the floor.

    μ·M·g

    Parameters
    ----------
    grip : float or array
        μ [ratio].
    mass : float or array
        M [kg].

    Returns
    -------
    array
        Force [N].

    Examples
    --------
    >>> round(float(grip_force(grip=1.0, mass=56.0)), 2)
    549.17

    Source: Coulomb friction.
    """
    weight = np.asarray(mass, dtype=np.float64) * STANDARD_GRAVITY
    return np.asarray(np.asarray(grip, dtype=np.float64) * weight)


def shove_motion(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    other_mass: ArrayLike,
    against: ArrayLike,
    angle: ArrayLike = 0.0,
) -> Motion:
    """Return how motor current accelerates this robot and the one before it, as one body.

    (M + Mo + ι·mrot)·a = φ·F + Σ μ·N of the halves at their grip − D − R: the least over the ways
    of having front and rear half at their grip or not (φ, ι the shares of those that are not);
    linked sides have all wheels at it or none

    Parameters
    ----------
    drive_of : Drive
        The drive of this robot [SI].
    stance : Stance
        Its mass and place of the centre of gravity [SI].
    layout : Layout
        Its layout (word).
    other_mass : float or array
        Mo of the other robot; 0 for a force without a mass [kg].
    against : float or array
        R, what resists: the other's push, or its grip where it is dragged [N].
    angle : float or array
        θ of the way from straight ahead; 0 for a tank [rad].

    Returns
    -------
    Motion
        Of the chassis; it does not get going where R and drag are not overcome.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.sprint_pieces import limit_speed
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = shove_motion(example_drive(), stance, "swerve", other_mass=40.0, against=300.0)
    >>> 1.0 < float(limit_speed(motion)) < 4.0
    True

    Source: own derivation, force balance of both robots.
    """
    factors = directions(layout, angle)
    mass, grip = stance.mass, factors.grip * drive_of.grip
    both = mass + np.asarray(other_mass, dtype=np.float64)
    rotating = rotating_mass(drive_of) / factors.speed**2
    pull = factors.force * force_per_ampere(drive_of)
    idle = drive_of.motor.free_current
    resists = rolling_drag(drive_of, mass) + np.asarray(against, dtype=np.float64)
    span = stance.to_front + stance.to_rear
    loads = [
        mass * STANDARD_GRAVITY * np.maximum(reach, 0.0) / span
        for reach in (stance.to_rear, stance.to_front)
    ]
    slopes, offsets = [], []
    bound = np.asarray(0.0)
    for held in product((False, True), repeat=2):
        turned = 1.0 - sum(held) / 2.0
        inertia = both + turned * rotating
        constant = sum(grip * load for load, slips in zip(loads, held, strict=True) if slips)
        offset = (constant - resists - turned * pull * idle) / inertia
        if all(held):
            bound = np.asarray(offset)
        elif not (any(held) and layout in LINKED):
            slopes.append(turned * pull / inertia)
            offsets.append(offset)
    return motion_of(
        drive_of,
        speed_factor=factors.speed,
        slopes=np.stack(np.broadcast_arrays(*slopes), axis=-1),
        offsets=np.stack(np.broadcast_arrays(*offsets), axis=-1),
        bound=bound,
        bound_tips=False,
    )


def head_on(
    *, push_force: ArrayLike, drag: ArrayLike, other_push: ArrayLike, other_hold: ArrayLike
) -> Match:
    """Return how a match ends in which both drive straight against each other.

    It moves the other where F > max(Fo, holds) + D; the other moves it where Fo > F + D; between
    the two nothing moves. `holds` is what the other still resists with when it is moved.

    Parameters
    ----------
    push_force : float or array
        F of this robot at rest [N].
    drag : float or array
        D, its rolling drag, which resists whichever way it moves [N].
    other_push : float or array
        Fo of the other [N].
    other_hold : float or array
        What the other resists with as it is moved backwards; its push where it goes on driving [N].

    Returns
    -------
    Match
        Arrays of the batch's shape.

    Examples
    --------
    >>> match = head_on(push_force=600.0, drag=10.0, other_push=500.0, other_hold=500.0)
    >>> MATCH_WORDS[int(match.outcome)], float(match.spare)
    ('it moves the other', 90.0)

    Source: own derivation, force balance.
    """
    force, rolls, given, holds = (
        np.asarray(item, dtype=np.float64) for item in (push_force, drag, other_push, other_hold)
    )
    ours = force - np.maximum(given, holds) - rolls
    theirs = given - force - rolls
    outcome = np.where(ours > 0.0, 1, np.where(theirs > 0.0, 2, 0))
    return Match(
        np.asarray(outcome, dtype=np.int64),
        np.asarray(np.maximum(np.maximum(ours, theirs), 0.0)),
    )


def from_the_side(*, hold: ArrayLike, other_push: ArrayLike) -> Match:
    """Return how a shove from the side ends against a robot that only stands.

    The other moves it where Fo > the side hold; else nothing moves

    Parameters
    ----------
    hold : float or array
        What this robot resists sideways before it slides, and as it slides [N].
    other_push : float or array
        Fo of the other [N].

    Returns
    -------
    Match
        Arrays of the batch's shape.

    Examples
    --------
    >>> match = from_the_side(hold=400.0, other_push=550.0)
    >>> MATCH_WORDS[int(match.outcome)], float(match.spare)
    ('the other moves it', 150.0)

    Source: own derivation, Coulomb friction.
    """
    spare = np.asarray(other_push, dtype=np.float64) - np.asarray(hold, dtype=np.float64)
    return Match(
        np.asarray(np.where(spare > 0.0, 2, 0), dtype=np.int64),
        np.asarray(np.maximum(spare, 0.0)),
    )


def winding_time(
    *,
    current: ArrayLike,
    resistance: ArrayLike,
    heat_capacity: ArrayLike,
    limit: ArrayLike,
    ambient: ArrayLike,
) -> FloatArray:
    """Return how long a cold winding stands a steady current until it reaches its limit.

    t = C (Tlimit − Tambient)/(R·I²): all heat stays in the winding, R as the datasheet implies it

    Parameters
    ----------
    current : float or array
        I [A].
    resistance : float or array
        R of the winding [Ω].
    heat_capacity : float or array
        C [J/K].
    limit, ambient : float or array
        Tlimit and Tambient [°C].

    Returns
    -------
    array
        t, infinite without a current, 0 where it begins above its limit [s].

    Examples
    --------
    >>> round(float(winding_time(current=100.0, resistance=0.05, heat_capacity=40.0, limit=155.0,
    ...                          ambient=25.0)), 2)
    10.4

    Source: own derivation, the heat I²·R of a winding that gives none away.
    """
    power = np.asarray(resistance, dtype=np.float64) * np.asarray(current, dtype=np.float64) ** 2
    rise = np.asarray(limit, dtype=np.float64) - np.asarray(ambient, dtype=np.float64)
    room = np.asarray(heat_capacity, dtype=np.float64) * np.maximum(rise, 0.0)
    heats = power > 0.0
    return np.asarray(np.where(heats, room / np.where(heats, power, 1.0), np.inf))
