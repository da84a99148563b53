"""Curves of one candidate for the charts: the sprint over time, the force over speed.

Contents
--------
sprint_curves: speed, distance, bus voltage and current over the sprint.
force_curve: what drives the chassis at each speed, and which limit governs there.
sprint_and_force: both, from one solution of the sprint.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import STANDARD_GRAVITY, directions, rolling_drag
from models.engineering.sprint import state_at_speed
from models.engineering.sprint_pieces import CONSTANT, Pieces, acceleration_at
from models.engineering.sprint_supply import load_at
from models.engineering.traction import GOVERNING
from models.study.schema import Study
from models.trade.driving import Base, Performance, base_of, performance_of
from models.trade.evaluation import segments_of

FloatArray = NDArray[np.float64]

POINTS = 200
"""Points of a curve: finer than any screen shows it."""


def sprint_curves(study: Study, key: str) -> dict[str, list[float]]:
    """Return the sprint of a candidate over time, until it passes the end.

    Parameters
    ----------
    study : Study
        The study.
    key : str
        The candidate's key.

    Returns
    -------
    dict
        `time_s`, `speed_mps`, `distance_m`, `bus_voltage_v`, `bus_current_a`, of one length; empty
        where it does not get going.
    """
    return _sprint(*_driven(study, key))


def sprint_and_force(study: Study, key: str) -> tuple[dict[str, list[float]], dict[str, Any]]:
    """Return what `sprint_curves` and `force_curve` return, the sprint solved only once.

    Parameters
    ----------
    study : Study
        The study.
    key : str
        The candidate's key.

    Returns
    -------
    tuple
        The sprint over time, the force over speed.
    """
    base, done = _driven(study, key)
    return _sprint(base, done), _force(base, done)


def _driven(study: Study, key: str) -> tuple[Base, Performance]:
    candidate = study.candidate(key)
    base = base_of(study, candidate)
    return base, performance_of(study, candidate, base)


def _sprint(base: Base, done: Performance) -> dict[str, list[float]]:
    names = ("time_s", "speed_mps", "distance_m", "bus_voltage_v", "bus_current_a")
    if not np.isfinite(done.passing.time):
        return {name: [] for name in names}
    speeds = _speeds(done.pieces, float(done.passing.speed))
    state = state_at_speed(_along(done.pieces, len(speeds)), speed=speeds)
    load = load_at(
        base.drive, base.stance, base.layout, motion=done.motion, angle=0.0, speed=speeds
    )
    columns = (state.time, speeds, state.distance, load.voltage, load.total_current)
    if not np.isfinite(state.time[-1]):  # by rounding at its steady speed, which is never reached
        state.time[-1] = done.passing.time
        cruise = float(done.passing.time) - state.time[-2]
        state.distance[-1] = state.distance[-2] + float(done.passing.speed) * cruise
    return {
        name: [float(value) for value in column]
        for name, column in zip(names, columns, strict=True)
    }


def _speeds(pieces: Pieces, end: float) -> FloatArray:
    """Return rising speeds up to an end: even in time in each piece, ends of pieces included."""
    used = [i for i in range(len(pieces.lower)) if pieces.lower[i] < min(pieces.upper[i], end)]
    each = max(POINTS // max(len(used), 1), 8)
    share = np.linspace(0.0, 1.0, each + 1)
    stretches = [np.zeros(1)]
    for i in used:
        low, high = pieces.lower[i], min(float(pieces.upper[i]), end)
        steady = pieces.steady[i]
        if pieces.law[i] == CONSTANT or steady <= low:
            stretches.append((low + (high - low) * share)[1:])
            continue
        gap = max(steady - high, 1e-9 * (steady - low))
        decay = np.exp(-np.log((steady - low) / gap) * share)
        stretch = steady - (steady - low) * decay
        stretch[-1] = high
        stretches.append(stretch[1:])
    return np.concatenate(stretches)


def _along(pieces: Pieces, count: int) -> Pieces:
    """Return the pieces of one design as a batch, one row for each point."""
    return Pieces._make(np.broadcast_to(field, (count, field.shape[-1])) for field in pieces)


def force_curve(study: Study, key: str) -> dict[str, Any]:
    """Return the force that drives the chassis of a candidate over its speed.

    The force is what the floor passes, M·a + D: it accelerates the robot and overcomes its drag,
    and never exceeds the grip. What the rotors and wheels take up themselves is not in it.

    Parameters
    ----------
    study : Study
        The study.
    key : str
        The candidate's key.

    Returns
    -------
    dict
        `speed_mps`, `force_n`, `limit` (the word that governs at each point), of one length;
        `traction_n`, the force that all wheels' grip passes; `drag_n`; `segments`.
    """
    return _force(*_driven(study, key))


def _force(base: Base, done: Performance) -> dict[str, Any]:
    drive, stance = base.drive, base.stance
    factors = directions(base.layout, 0.0)
    drag = rolling_drag(drive, stance.mass)
    curve: dict[str, Any] = {
        "speed_mps": [],
        "force_n": [],
        "limit": [],
        "traction_n": float(factors.grip * drive.grip * stance.mass * STANDARD_GRAVITY),
        "drag_n": float(drag),
        "segments": segments_of(done.pieces),
    }
    top = float(done.pieces.upper[-1])
    if top <= 0.0:
        return curve
    ends = np.concatenate([done.pieces.lower, [top]])
    speeds = np.unique(np.concatenate([np.linspace(0.0, top, POINTS), ends]))
    acceleration, _ = acceleration_at(done.motion, speeds)
    at = np.clip(np.searchsorted(done.pieces.lower, speeds, side="right") - 1, 0, len(ends) - 2)
    curve["speed_mps"] = [float(value) for value in speeds]
    curve["force_n"] = [float(value) for value in stance.mass * acceleration + drag]
    curve["limit"] = [GOVERNING[int(word)] for word in done.pieces.governed_by[at]]
    return curve
