"""Turning in place: heading over time, what a turn costs, and a measured track held against it.

Contents
--------
TurnCurve, turn_curve: heading over time from rest to rest.
TurnFigures, turn_figures: times, spin, resistance, grip spent, effective track.
MeasuredTrack, side_share_for_track: a measured effective track against the computed one.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import wheel_force
from models.engineering.sprint import run_over, state_at_speed
from models.engineering.sprint_pieces import Pieces, governing_pieces
from models.engineering.supply import motor_current
from models.engineering.traction import GOVERNING
from models.engineering.turning import (
    Turning,
    skid_turn,
    turn_braking,
    turn_motion,
    turning,
)
from models.trade.driving import Base, skid_of

FloatArray = NDArray[np.float64]

POINTS = 60
"""Points of a curve's rise, and as many of its end."""

GRIP_RANGE = (0.02, 50.0)
"""Shares of the typed side grip between which one is looked for that explains a track."""


class TurnCurve(NamedTuple):
    """Heading over time; empty where the base cannot turn in place."""

    time: FloatArray
    """[s]"""
    degrees: FloatArray
    """Turned so far."""


class MeasuredTrack(NamedTuple):
    """A measured effective track beside the computed one."""

    measured_m: float
    computed_m: float
    geometric_m: float
    side_share: float | None
    """By which the typed side grips would have to be multiplied to compute it; none: no share."""


class TurnFigures(NamedTuple):
    """What turning in place asks of a candidate, and what it takes."""

    times: tuple[float | None, ...]
    """For each angle asked for, steering included; none where it cannot turn [s]."""
    spin_rate: float | None
    """Steady [rad/s]."""
    resistance: float
    """At the wheel surfaces [N]."""
    cap: float
    """What the grip passes there [N]."""
    able: float
    """What the motors make there at rest, if the grip passes it [N]."""
    limited_by: str
    """What governs as the turn begins."""
    effective_track: float
    """2/γ [m]."""
    geometric_track: float
    """[m]"""
    steer_time: float
    """[s]"""
    measured: MeasuredTrack | None

    @property
    def grip_spent(self) -> float:
        """Share of the wheels' grip that the resistance takes."""
        return self.resistance / self.cap


def _solved(base: Base) -> tuple[Turning, Pieces, float]:
    turn = turning(base.drive, base.stance, base.layout, skid=skid_of(base))
    pieces = governing_pieces(turn_motion(base.drive, base.stance, turn))
    return turn, pieces, float(turn_braking(base.drive, base.stance, turn))


def turn_curve(base: Base, *, degrees: float) -> TurnCurve:
    """Return the heading over time of a turn in place by an angle, from rest to rest.

    Parameters
    ----------
    base : Base
        The candidate as arrays.
    degrees : float
        How far it turns.

    Returns
    -------
    TurnCurve
        Steered modules first take their steering time, in which the heading stays.
    """
    turn, pieces, brake = _solved(base)
    distance = float(np.radians(degrees) / turn.yaw_factor)
    run = run_over(pieces, distance=distance, braking=brake)
    if not np.isfinite(run.time):
        return TurnCurve(np.zeros(0), np.zeros(0))
    top, steer = float(run.speed), float(base.drive.steer_time)
    speeds = _rising(pieces, top)
    along = Pieces._make(np.broadcast_to(field, (len(speeds), field.shape[-1])) for field in pieces)
    state = state_at_speed(along, speed=speeds)
    begins = float(run.time) - top / brake
    held = np.linspace(0.0, 1.0, POINTS + 1)
    slowing = held * top / brake
    covered = distance - 0.5 * (top * (1.0 - held)) ** 2 / brake
    times = np.concatenate([[0.0], steer + state.time, steer + begins + slowing])
    places = np.concatenate([[0.0], state.distance, covered])
    return TurnCurve(times, np.degrees(places * float(turn.yaw_factor)))


def _rising(pieces: Pieces, top: float) -> FloatArray:
    """Return rising speeds below a top, closer together where a steady speed is tended to.

    The top itself is left out: where it equals the steady speed by rounding, the law never
    reaches it.
    """
    steady = float(pieces.upper[-1])
    gap = max(steady - top, 1e-9 * steady)
    near = steady - np.geomspace(steady, gap, POINTS)
    speeds = np.concatenate([np.linspace(0.0, top, POINTS)[:-1], np.clip(near, 0.0, top)])
    return np.unique(speeds[speeds < top])


def turn_figures(base: Base, *, degrees: Sequence[float]) -> TurnFigures:
    """Return what turning in place asks of a candidate, and how long turns by some angles take.

    Parameters
    ----------
    base : Base
        The candidate as arrays.
    degrees : sequence of float
        Angles.

    Returns
    -------
    TurnFigures
        Steering included in the times.
    """
    turn, pieces, brake = _solved(base)
    wanted = np.radians(np.asarray(degrees, dtype=np.float64)) / turn.yaw_factor
    runs = run_over(pieces, distance=wanted, braking=brake)
    steer = float(base.drive.steer_time)
    top = float(pieces.upper[-1])
    most = motor_current(base.drive.supply, emf=0.0, resistance=base.drive.motor.resistance)
    return TurnFigures(
        times=tuple(float(t) + steer if np.isfinite(t) else None for t in runs.time),
        spin_rate=top * float(turn.yaw_factor) if top > 0.0 else None,
        resistance=float(turn.resistance),
        cap=float(turn.cap),
        able=float(wheel_force(base.drive, most)),
        limited_by=GOVERNING[int(pieces.governed_by[0])],
        effective_track=2.0 / float(turn.yaw_factor),
        geometric_track=float(base.stance.track),
        steer_time=steer,
        measured=_measured(base),
    )


def _measured(base: Base) -> MeasuredTrack | None:
    """Return a measured track beside what the least dissipation gives; none where none is."""
    if base.measured_track is None:
        return None
    computed = skid_of(base, computed=True)
    if computed is None:
        return None
    wanted = float(base.measured_track)
    return MeasuredTrack(
        measured_m=wanted,
        computed_m=2.0 / float(computed.yaw_factor),
        geometric_m=float(base.stance.track),
        side_share=side_share_for_track(base, track_m=wanted),
    )


def side_share_for_track(base: Base, *, track_m: float) -> float | None:
    """Return how much more the wheels would have to grip sideways for an effective track.

    Wheels that grip sideways more turn the base less, so that the track grows with it.

    Parameters
    ----------
    base : Base
        A candidate with linked sides.
    track_m : float
        The effective track that is looked for.

    Returns
    -------
    float or None
        Share of the typed side grips, all wheels alike; none between a fiftieth and fifty gives
        none.
    """
    if base.loads is None or base.positions is None or base.side_grips is None:
        return None
    loads, positions, grips = base.loads, base.positions, base.side_grips
    low, high = (np.log(share) for share in GRIP_RANGE)

    def track_at(share: float) -> float:
        turn = skid_turn(
            loads=loads,
            positions=positions,
            grip=base.drive.grip,
            side_grips=grips * share,
            track=base.stance.track,
        )
        return 2.0 / max(float(turn.yaw_factor), 1e-12)

    if not track_at(np.exp(low)) < track_m < track_at(np.exp(high)):
        return None
    for _ in range(50):
        middle = (low + high) / 2.0
        low, high = (middle, high) if track_at(np.exp(middle)) < track_m else (low, middle)
    return float(np.exp(low))
