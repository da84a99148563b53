"""Turning in place: how far the wheels drive for a turn, what resists it, and how long it takes.

Contents
--------
SkidTurn, skid_turn: the least-dissipation turn of a base with linked sides.
measured_skid_turn: the same where the track that it turns about was measured.
axle_positions, axle_loads: where its axles stand and what rests on each.
mean_side_grip: what a tank holds sideways, its axles weighted with their loads.
Turning, turning: yaw rate for each wheel speed and resistance, of any layout.
turn_motion, turn_braking: the turn as a motion of the wheel surface.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import (
    LINKED,
    STANDARD_GRAVITY,
    Drive,
    Layout,
    Stance,
    force_per_ampere,
    rolling_drag,
    rotating_mass,
)
from models.engineering.traction import Motion, motion_of, motor_brake_force
from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]

_ROOT2 = float(np.sqrt(2.0))
_STEPS = 60


class SkidTurn(NamedTuple):
    """The steady turn of a base whose wheels must skid."""

    yaw_factor: FloatArray
    """γ: yaw rate for each wheel-surface speed [rad/m]."""
    centre: FloatArray
    """x0, where along the frame it turns about [m]."""
    resistance: FloatArray
    """P/u, what skidding costs at the wheel surface [N]."""


class Turning(NamedTuple):
    """What a turn in place asks of the wheels."""

    yaw_factor: FloatArray
    """γ [rad/m]."""
    resistance: FloatArray
    """At the wheel surface, rolling drag included [N]."""
    cap: FloatArray
    """The greatest force that grip passes [N]."""


def axle_positions(*, axle_count: int, wheelbase: ArrayLike) -> FloatArray:
    """Return where evenly spaced axles stand, from the front.

    x_i = L/2 − i·L/(k − 1)

    Parameters
    ----------
    axle_count : int
        k, at least 2 [axles].
    wheelbase : float or array
        L from the first to the last [m].

    Returns
    -------
    array, shape (…, k)
        Positions ahead of the middle [m].

    Raises
    ------
    OutOfRangeError
        With fewer than two axles.

    Examples
    --------
    >>> axle_positions(axle_count=3, wheelbase=0.6).tolist()
    [0.3, 0.0, -0.3]

    Source: own definition.
    """
    if axle_count < 2:
        message = f"A robot stands on at least 2 axles; {axle_count} was given."
        raise OutOfRangeError(message)
    return np.asarray(
        np.asarray(wheelbase, dtype=np.float64)[..., None] * np.linspace(0.5, -0.5, axle_count)
    )


def axle_loads(
    *, mass: ArrayLike, cg_x: ArrayLike, positions: ArrayLike, dropped: ArrayLike
) -> FloatArray:
    """Return what rests on each axle.

    Ni = M·g (1/k + (X − x̄)(xi − x̄)/Σ(xj − x̄)²) over the k axles that touch the floor

    With a dropped centre axle (odd number of axles) those are the centre one and the ones on the
    side of the centre of gravity, the rear where it lies in the middle. An axle whose share would
    fall below 0 lifts off, and the others carry the whole weight.

    Parameters
    ----------
    mass : float or array
        M [kg].
    cg_x : float or array
        X of the centre of gravity [m].
    positions : array, shape (…, axles)
        xi from the front [m].
    dropped : bool or array
        True where the centre axle is dropped; of no effect with an even number (truth).

    Returns
    -------
    array, shape (…, axles)
        Loads [N].

    Examples
    --------
    >>> axle_loads(mass=50.0, cg_x=0.0, positions=[0.3, 0.0, -0.3], dropped=False).round(2).tolist()
    [163.44, 163.44, 163.44]

    Source: own derivation, a stiff frame on equal springs.
    """
    at = np.asarray(positions, dtype=np.float64)
    lead = np.asarray(cg_x, dtype=np.float64)[..., None]
    weight = np.asarray(mass, dtype=np.float64)[..., None] * STANDARD_GRAVITY
    count = at.shape[-1]
    rank = np.arange(count)
    centre = count // 2
    forward = lead > at[..., centre : centre + 1]
    kept = np.where(forward, rank <= centre, rank >= centre)
    lifted = np.asarray(dropped, dtype=bool)[..., None] & (count % 2 == 1) & ~kept
    at, lead, weight, lifted = np.broadcast_arrays(at, lead, weight, lifted)
    touching = ~lifted
    loads = np.zeros(at.shape)
    for _ in range(count):
        number = np.sum(touching, axis=-1, keepdims=True)
        middle = np.sum(np.where(touching, at, 0.0), axis=-1, keepdims=True) / number
        arm = np.where(touching, at - middle, 0.0)
        spread = np.sum(arm**2, axis=-1, keepdims=True)
        tilt = (lead - middle) * arm / np.where(spread > 0.0, spread, 1.0)
        loads = np.where(touching, weight * (1.0 / number + tilt), 0.0)
        light = loads < 0.0
        if not light.any():
            break
        touching = touching & ~light
    return np.asarray(loads)


def mean_side_grip(*, loads: ArrayLike, side_grips: ArrayLike) -> FloatArray:
    """Return the side grip of a base as the mean over its axles, weighted with their loads.

    μs = Σ Ni·μsi/Σ Ni

    Parameters
    ----------
    loads : array, shape (…, axles)
        Ni [N].
    side_grips : array, shape (…, axles)
        μsi of each axle's wheels [ratio].

    Returns
    -------
    array
        μs [ratio].

    Examples
    --------
    >>> round(float(mean_side_grip(loads=[100.0, 300.0], side_grips=[0.1, 0.9])), 6)
    0.7

    Source: own derivation; every axle slides at its own μ·N.
    """
    weight = np.asarray(loads, dtype=np.float64)
    grips = np.asarray(side_grips, dtype=np.float64)
    return np.asarray(np.sum(weight * grips, axis=-1) / np.sum(weight, axis=-1))


def skid_turn(
    *,
    loads: ArrayLike,
    positions: ArrayLike,
    grip: ArrayLike,
    side_grips: ArrayLike,
    track: ArrayLike,
) -> SkidTurn:
    """Return the turn of linked sides, one against the other, that dissipates least.

    min over γ, x0 of P/u = Σ Ni √((μ(1 − γ·Tr/2))² + (μs_i·γ·(xi − x0))²)

    In a = 1 − γ·Tr/2 and y = γ·x0 every term is the length of a vector linear in both: convex,
    and smooth but for a = 0 (no slip along). There the least over y is a weighted median, and
    whether it is the least of all follows from the slope into a > 0; otherwise Newton's rule
    finds the smooth least.

    Parameters
    ----------
    loads : array, shape (…, axles)
        Ni [N].
    positions : array, shape (…, axles)
        xi ahead of the middle [m].
    grip : float or array
        μ along the rolling direction [ratio].
    side_grips : array, shape (…, axles)
        μs_i across it, of each axle's wheels [ratio].
    track : float or array
        Tr [m].

    Returns
    -------
    SkidTurn
        Arrays of the batch's shape.

    Examples
    --------
    >>> turn = skid_turn(loads=[245.17, 245.17], positions=[0.25, -0.25], grip=1.0,
    ...                  side_grips=[1.0, 1.0], track=0.6)
    >>> round(float(turn.yaw_factor), 4), round(float(turn.resistance), 2)
    (1.9672, 313.91)

    Source: minimum power principle: Peshkin and Sanderson, IEEE J. Robotics and Automation
    5(1), 1989; own solution.
    """
    batch = _batch(loads, positions, grip, side_grips, track)
    shape = batch.along.shape
    flat = _Skid(*(item.reshape(-1, *item.shape[len(shape) :]) for item in batch))
    median = _weighted_median(flat.at, flat.load * flat.across)
    rolling = _rolls_freely(flat, median)
    slip, offset = np.zeros(len(median)), median * flat.whole
    skids = ~rolling
    if skids.any():
        some = _Skid(*(item[skids] for item in flat))
        slip[skids], offset[skids] = _least_dissipation(some, start=median[skids])
    yaw = flat.whole * (1.0 - slip)
    power = _value(flat, slip, offset)
    return SkidTurn(
        yaw.reshape(shape),
        (offset / np.maximum(yaw, 1e-12)).reshape(shape),
        power.reshape(shape),
    )


def measured_skid_turn(
    *,
    loads: ArrayLike,
    positions: ArrayLike,
    grip: ArrayLike,
    side_grips: ArrayLike,
    track: ArrayLike,
    effective_track: ArrayLike,
) -> SkidTurn:
    """Return the turn of linked sides whose effective track was measured.

    γ = 2/measured; P/u = min over x0 of Σ Ni √((μ(1 − γ·Tr/2))² + (μs_i·γ·(xi − x0))²)

    How far the wheels drive for a turn is known then, so that only the place about which the base
    turns is left to the least dissipation. The forces stay those of the typed grips: no other γ
    costs less than that of `skid_turn`, so a measured track never makes turning easier.

    Parameters
    ----------
    loads : array, shape (…, axles)
        Ni [N].
    positions : array, shape (…, axles)
        xi ahead of the middle [m].
    grip : float or array
        μ along the rolling direction [ratio].
    side_grips : array, shape (…, axles)
        μs_i across it, of each axle's wheels [ratio].
    track : float or array
        Tr, middle of left to right wheels [m].
    effective_track : float or array
        2/γ as measured: wheel travel of both sides together for each radian turned [m].

    Returns
    -------
    SkidTurn
        Arrays of the batch's shape.

    Examples
    --------
    >>> turn = measured_skid_turn(loads=[245.17, 245.17], positions=[0.25, -0.25], grip=1.0,
    ...                           side_grips=[1.0, 1.0], track=0.6, effective_track=1.2)
    >>> round(float(turn.yaw_factor), 4), round(float(turn.resistance), 2)
    (1.6667, 319.14)

    Source: minimum power principle: Peshkin and Sanderson, IEEE J. Robotics and Automation
    5(1), 1989, with the yaw rate given.
    """
    wide = np.asarray(effective_track, dtype=np.float64)
    batch = _batch(loads, positions, grip, side_grips, np.asarray(track) + 0.0 * wide)
    shape = batch.along.shape
    flat = _Skid(*(item.reshape(-1, *item.shape[len(shape) :]) for item in batch))
    yaw = np.broadcast_to(2.0 / wide, shape).reshape(-1)
    slip = 1.0 - yaw / flat.whole
    offset = yaw * _weighted_median(flat.at, flat.load * flat.across)
    along = np.abs(slip) > 1e-9
    if along.any():
        some = _Skid(*(item[along] for item in flat))
        offset[along] = _balanced(some, slip[along], offset[along])
    power = _value(flat, slip, offset)
    return SkidTurn(yaw.reshape(shape), (offset / yaw).reshape(shape), power.reshape(shape))


class _Skid(NamedTuple):
    """A skid turn's inputs as one batch; the first three have an axis for the axles."""

    load: FloatArray
    at: FloatArray
    across: FloatArray
    along: FloatArray
    whole: FloatArray
    """2/Tr, the yaw factor of wheels that slip across only [rad/m]."""


def _batch(
    loads: ArrayLike, positions: ArrayLike, grip: ArrayLike, side_grips: ArrayLike, track: ArrayLike
) -> _Skid:
    """Return the inputs of a skid turn broadcast to one batch."""
    per_axle = [np.asarray(item, dtype=np.float64) for item in (loads, positions, side_grips)]
    along, wide = (np.asarray(item, dtype=np.float64) for item in (grip, track))
    shape = np.broadcast_shapes(
        *(item.shape for item in per_axle), (*along.shape, 1), (*wide.shape, 1)
    )
    load, at, across = (np.broadcast_to(item, shape) for item in per_axle)
    return _Skid(
        load,
        at,
        across,
        np.broadcast_to(along, shape[:-1]),
        np.broadcast_to(2.0 / wide, shape[:-1]),
    )


def _weighted_median(at: FloatArray, weight: FloatArray) -> FloatArray:
    """Return the position that halves the weights, the middle of a tie."""
    order = np.argsort(at, axis=-1)
    places = np.take_along_axis(at, order, axis=-1)
    gathered = np.cumsum(np.take_along_axis(weight, order, axis=-1), axis=-1)
    half = gathered[:, -1:] / 2.0
    slack = 1e-12 * half
    first = np.argmax(gathered >= half - slack, axis=-1)
    second = np.argmax(gathered > half + slack, axis=-1)
    rows = np.arange(len(at))
    return np.asarray((places[rows, first] + places[rows, second]) / 2.0)


def _rolls_freely(skid: _Skid, median: FloatArray) -> NDArray[np.bool_]:
    """Return where the least lies at a = 0: the wheels slip across only, none along.

    The slope into a > 0, taken over the best change of y, is not below 0.
    """
    arm = skid.at - median[:, None]
    side = skid.load * skid.across
    still = (np.abs(arm) <= 1e-12) & (skid.across > 0.0)
    pull = np.sum(np.where(still, 0.0, side * np.sign(arm)), axis=-1)
    held = np.sum(np.where(still, side, 0.0), axis=-1)
    fall = skid.whole * np.sum(side * np.abs(arm), axis=-1)
    share = np.where(held > 0.0, pull / np.where(held > 0.0, held, 1.0), 2.0)
    rest = np.sum(np.where(still, skid.load, 0.0), axis=-1)
    free = np.sum(np.where(skid.across <= 0.0, skid.load, 0.0), axis=-1)
    gain = skid.along * (free + rest * np.sqrt(np.maximum(1.0 - share**2, 0.0)))
    return np.asarray(gain >= fall)


def _least_dissipation(skid: _Skid, *, start: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return a > 0 and y at the smooth least.

    For each a the least over y first, then Newton's rule for the slope over a that is left: in
    that order the sharp bend that an axle makes which hardly slips does no harm. Both are kept
    inside a bracket, as the slopes rise all along.
    """
    spread = np.sum(skid.load * (skid.at - start[:, None]) ** 2, axis=-1)
    turn = 1.0 / (1.0 + spread / np.sum(skid.load, axis=-1) * skid.whole**2)
    slip = np.clip(1.0 - turn, 1e-3, 1.0)
    aside = np.zeros(len(slip))
    low, high = np.zeros(len(slip)), np.ones(len(slip))
    offset = start * skid.whole * turn
    for _ in range(_STEPS):
        about = start * skid.whole * (1.0 - slip)
        offset = _balanced(skid, slip, about - slip * aside)
        aside = (about - offset) / slip
        (slope, _), (corner, edge, other) = _dissipation(skid, slip, offset)
        low, high = np.where(slope < 0.0, slip, low), np.where(slope < 0.0, high, slip)
        bend = corner - edge**2 / np.maximum(other, 1e-100)
        proposal = slip - slope / np.maximum(bend, 1e-100)
        inside = (proposal > low) & (proposal < high)
        following = np.where(inside, proposal, (low + high) / 2.0)
        change = np.abs(following - slip)
        slip = following
        if np.all(change <= 1e-10 * slip):
            break
    offset = _balanced(skid, slip, start * skid.whole * (1.0 - slip) - slip * aside)
    return slip, offset


def _balanced(skid: _Skid, slip: FloatArray, offset: FloatArray) -> FloatArray:
    """Return the y at which the forces across balance, for a given a other than 0."""
    yaw = skid.whole * (1.0 - slip)
    low, high = yaw * np.min(skid.at, axis=-1), yaw * np.max(skid.at, axis=-1)
    offset = np.clip(offset, low, high)
    for _ in range(_STEPS):
        (_, slope), (_, _, bend) = _dissipation(skid, slip, offset)
        low, high = np.where(slope < 0.0, offset, low), np.where(slope < 0.0, high, offset)
        proposal = offset - slope / np.maximum(bend, 1e-100)
        inside = (proposal >= low) & (proposal <= high)
        following = np.where(inside, proposal, (low + high) / 2.0)
        change = np.abs(following - offset)
        offset = following
        if np.all(change <= 1e-7 * np.abs(slip)):
            break
    return offset


def _aside(skid: _Skid, slip: FloatArray, offset: FloatArray) -> FloatArray:
    """Return each axle's slip across, times its side grip, for a unit of wheel-surface speed."""
    yaw = skid.whole * (1.0 - slip)
    return np.asarray(skid.across * (yaw[:, None] * skid.at - offset[:, None]))


def _value(skid: _Skid, slip: FloatArray, offset: FloatArray) -> FloatArray:
    """Return P/u at a and y."""
    length = np.hypot((skid.along * slip)[:, None], _aside(skid, slip, offset))
    return np.asarray(np.sum(skid.load * length, axis=-1))


def _dissipation(
    skid: _Skid, slip: FloatArray, offset: FloatArray
) -> tuple[tuple[FloatArray, FloatArray], tuple[FloatArray, FloatArray, FloatArray]]:
    """Return the gradient and curvature of P/u over a and y."""
    ahead, forward = (skid.along * slip)[:, None], skid.along[:, None]
    aside = _aside(skid, slip, offset)
    length = np.maximum(np.hypot(ahead, aside), 1e-100)
    by_slip, by_offset = -skid.across * skid.whole[:, None] * skid.at, -skid.across
    pull, bend = skid.load / length, skid.load / length**3
    turned = aside * forward - ahead * by_slip
    tilted = -ahead * by_offset
    gradient = (
        np.sum(pull * (ahead * forward + aside * by_slip), axis=-1),
        np.sum(pull * aside * by_offset, axis=-1),
    )
    hessian = (
        np.sum(bend * turned**2, axis=-1),
        np.sum(bend * turned * tilted, axis=-1),
        np.sum(bend * tilted**2, axis=-1),
    )
    return gradient, hessian


def turning(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    skid: SkidTurn | None,
) -> Turning:
    """Return what a turn in place asks of the wheels of any layout.

    Steered γ = 1/√((L/2)² + (Tr/2)²), mecanum γ = 2/(L + Tr), omni at 45° γ = 2√2/(L + Tr),
    each against the rolling drag D; linked sides γ and P/u + D of the skid turn

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass, wheelbase as xf + xr, and track [SI].
    layout : Layout
        Layout of the batch (word).
    skid : SkidTurn or None
        The skid turn of linked sides, none for the other layouts [SI].

    Returns
    -------
    Turning
        Arrays of the batch's shape.

    Raises
    ------
    OutOfRangeError
        Where linked sides come without their skid turn.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> round(float(turning(example_drive(), stance, "swerve", skid=None).yaw_factor), 4)
    2.6664

    Source: Lynch and Park, Modern Robotics ch. 13, for mecanum; rolling about one centre.
    """
    span, track = stance.to_front + stance.to_rear, stance.track
    drag = rolling_drag(drive_of, stance.mass)
    cap = drive_of.grip * stance.mass * STANDARD_GRAVITY
    if layout in LINKED:
        if skid is None:
            message = "Linked sides turn by skidding; their skid turn is missing."
            raise OutOfRangeError(message)
        return Turning(skid.yaw_factor, np.asarray(skid.resistance + drag), np.asarray(cap))
    factors = {
        "swerve": 2.0 / np.hypot(span, track),
        "mecanum": 2.0 / (span + track),
        "omni": 2.0 * _ROOT2 / (span + track),
    }
    held = cap / _ROOT2 if layout == "mecanum" else cap
    return Turning(np.asarray(factors[layout]), np.asarray(drag), np.asarray(held))


def turn_motion(drive_of: Drive, stance: Stance, turn: Turning) -> Motion:
    """Return a turn in place as a motion of the wheel surface.

    (Izz·γ² + mrot)·a = min(Fw, cap) − resistance

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Yaw inertia [SI].
    turn : Turning
        What the turn asks of the wheels [SI].

    Returns
    -------
    Motion
        One line; it does not get going where the drive or the grip cannot overcome the resistance.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> turn = turning(example_drive(), stance, "swerve", skid=None)
    >>> round(float(turn_motion(example_drive(), stance, turn).bound), 3)
    21.748

    Source: own derivation, energy of the turning robot.
    """
    inertia = stance.yaw_inertia * turn.yaw_factor**2 + rotating_mass(drive_of)
    pull = force_per_ampere(drive_of)
    slope = np.asarray(pull / inertia)
    offset = np.asarray(-(pull * drive_of.motor.free_current + turn.resistance) / inertia)
    return motion_of(
        drive_of,
        speed_factor=1.0,
        slopes=slope[..., None],
        offsets=offset[..., None],
        bound=(turn.cap - turn.resistance) / inertia,
        bound_tips=False,
    )


def turn_braking(drive_of: Drive, stance: Stance, turn: Turning) -> FloatArray:
    """Return how the wheel surface slows down at the end of a turn.

    min(Fb + resistance, max(cap, resistance))/(Izz·γ² + mrot)

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Yaw inertia [SI].
    turn : Turning
        What the turn asks of the wheels [SI].

    Returns
    -------
    array
        Deceleration at the wheel surface [m/s²].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> turn = turning(example_drive(), stance, "swerve", skid=None)
    >>> round(float(turn_braking(example_drive(), stance, turn)), 3)
    22.151

    Source: own derivation.
    """
    inertia = stance.yaw_inertia * turn.yaw_factor**2 + rotating_mass(drive_of)
    force = motor_brake_force(drive_of) + turn.resistance
    return np.asarray(np.minimum(force, np.maximum(turn.cap, turn.resistance)) / inertia)
