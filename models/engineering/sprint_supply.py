"""What a sprint takes from the battery: currents, bus voltage, energy, charge.

Contents
--------
Load, load_at: currents and bus voltage at a speed.
AxleCurrents, axle_currents_at: what the motors of the front and rear half carry there.
SupplyRun, supply_over_run: the extremes and integrals of a run from rest to a speed.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import Drive, Layout, Stance, current_for_force, directions
from models.engineering.sprint import Run
from models.engineering.sprint_pieces import FULL_DUTY, Pieces, acceleration_at
from models.engineering.supply import bus_voltage, total_of_halves
from models.engineering.traction import Motion, axle_forces

FloatArray = NDArray[np.float64]

NODES, WEIGHTS = np.polynomial.legendre.leggauss(16)
NODES, WEIGHTS = (NODES + 1.0) / 2.0, WEIGHTS / 2.0
"""Gauss-Legendre nodes and weights on 0 to 1."""

_CLOSER = np.linspace(-1.0, 1.0, 33)


class Load(NamedTuple):
    """The electrical side at one speed."""

    acceleration: FloatArray
    """[m/s²]"""
    motor_current: FloatArray
    """Of the hardest-worked motor [A]."""
    total_current: FloatArray
    """From the battery, accessories included [A]."""
    voltage: FloatArray
    """Of the bus [V]."""


class AxleCurrents(NamedTuple):
    """The motor currents at one speed."""

    acceleration: FloatArray
    """[m/s²]"""
    front: FloatArray
    """Of a motor of the front half [A]."""
    rear: FloatArray
    """Of one of the rear half [A]."""


class SupplyRun(NamedTuple):
    """What a run from rest to a speed takes from the battery."""

    peak_current: FloatArray
    """The greatest total current [A]."""
    least_voltage: FloatArray
    """The least bus voltage [V]."""
    energy: FloatArray
    """∫Vbus·I dt [J]."""
    charge: FloatArray
    """∫I dt [C]."""


def load_at(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    motion: Motion,
    angle: ArrayLike,
    speed: ArrayLike,
) -> Load:
    """Return currents and bus voltage of a robot that accelerates as hard as it can at a speed.

    I = If + F·r/(n·η·Gr·kT·κf) of each half's force F; Ib by the bus equation, solved together
    where front and rear work unequally

    Parameters
    ----------
    drive_of : Drive
        The drive, one design or fields that broadcast against the speed [SI].
    stance : Stance
        Its stance, alike [SI].
    layout : Layout
        Its layout (word).
    motion : Motion
        Its motion along the way; the speed has this batch's shape and one axis more [SI].
    angle : float or array
        θ of the way from straight ahead [rad].
    speed : array
        v [m/s].

    Returns
    -------
    Load
        Arrays of the speed's shape.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.traction import travel_motion
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = travel_motion(example_drive(), stance, "swerve", angle=0.0)
    >>> load = load_at(example_drive(), stance, "swerve", motion=motion, angle=0.0, speed=[4.0])
    >>> bool(load.voltage[0] < 12.6)
    True

    Source: own derivation.
    """
    feed = drive_of.supply
    axles = axle_currents_at(drive_of, stance, layout, motion=motion, angle=angle, speed=speed)
    emf = motion.emf[..., None] * np.asarray(speed, dtype=np.float64)
    powers = [
        (emf + drive_of.motor.resistance * current) * current
        for current in (axles.front, axles.rear)
    ]
    drawn = total_of_halves(feed, first_power=powers[0], second_power=powers[1])
    total = np.asarray(drawn + feed.accessory_current)
    hardest = np.maximum(axles.front, axles.rear)
    return Load(axles.acceleration, hardest, total, bus_voltage(feed, total_current=total))


def axle_currents_at(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    motion: Motion,
    angle: ArrayLike,
    speed: ArrayLike,
) -> AxleCurrents:
    """Return the motor currents of a robot that accelerates as hard as it can at a speed.

    I = If + F·r/(n·η·Gr·kT·κf) of each half's force F

    Parameters
    ----------
    drive_of, stance, layout, motion, angle, speed
        As in `load_at` [SI].

    Returns
    -------
    AxleCurrents
        Arrays of the speed's shape.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.traction import travel_motion
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = travel_motion(example_drive(), stance, "swerve", angle=0.0)
    >>> axles = axle_currents_at(example_drive(), stance, "swerve", motion=motion, angle=0.0,
    ...                          speed=[1.0])
    >>> bool(axles.front[0] < axles.rear[0])
    True

    Source: own derivation.
    """
    at = np.asarray(speed, dtype=np.float64)
    acceleration, able = acceleration_at(motion, at)
    halves = axle_forces(
        drive_of, stance, layout, angle=angle, current=able, acceleration=acceleration
    )
    factor = directions(layout, angle).force
    front, rear = (current_for_force(drive_of, half / factor, share=0.5) for half in halves)
    return AxleCurrents(acceleration, front, rear)


def supply_over_run(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    motion: Motion,
    angle: ArrayLike,
    pieces: Pieces,
    run: Run,
) -> SupplyRun:
    """Return the extremes and integrals of a run from rest to a speed, as hard as it can.

    E = ∫P dt = P₀·t + ∫(P − P₀) dv/a in each piece, Q = ∫I dt alike, by Gauss-Legendre nodes; with
    P₀ at the law's steady speed the remainder stays smooth for a run that nearly reaches it. The
    peak is looked for at nodes and ends and then more closely about the greatest of them.

    Parameters
    ----------
    drive_of : Drive
        One design [SI].
    stance : Stance
        Its stance [SI].
    layout : Layout
        Its layout (word).
    motion : Motion
        Its motion along the way, of shape () [SI].
    angle : float
        θ of the way from straight ahead [rad].
    pieces : Pieces
        Of that motion [SI].
    run : Run
        The run: time and speed at its end, without braking [s, m/s].

    Returns
    -------
    SupplyRun
        Scalars.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> from models.engineering.sprint import run_over
    >>> from models.engineering.sprint_pieces import governing_pieces
    >>> from models.engineering.traction import travel_motion
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> motion = travel_motion(example_drive(), stance, "swerve", angle=0.0)
    >>> pieces = governing_pieces(motion)
    >>> taken = supply_over_run(example_drive(), stance, "swerve", motion=motion, angle=0.0,
    ...                         pieces=pieces, run=run_over(pieces, distance=6, braking=np.inf))
    >>> bool(1000.0 < taken.energy < 2000.0)
    True

    Source: own derivation.
    """
    end = float(np.asarray(run.speed))
    used = np.flatnonzero(pieces.lower < np.minimum(pieces.upper, end))
    if len(used) == 0:
        used = np.array([0])
    some = Pieces._make(field[used] for field in pieces)
    lower, upper = some.lower, np.minimum(some.upper, end)
    width = upper - lower
    times = some.time.copy()
    times[-1] = float(np.asarray(run.time)) - float(np.sum(times[:-1]))
    inside = lower[:, None] + width[:, None] * NODES
    # A steady speed that the robot never tends to is no place to look at the currents
    near = (some.settling > 0.0) & (some.steady <= pieces.upper[-1] * (1.0 + 1e-9))
    reference = np.where(near, pieces.upper[-1], upper)
    speeds = np.concatenate([inside, lower[:, None], upper[:, None], reference[:, None]], axis=1)

    def loads(at: FloatArray) -> Load:
        return load_at(drive_of, stance, layout, motion=motion, angle=angle, speed=at.reshape(-1))

    found = Load(*(field.reshape(speeds.shape) for field in loads(speeds)))
    count = len(NODES)
    exact = (some.steady[:, None] - inside) / np.where(near, some.settling, 1.0)[:, None]
    straight = (near & (some.law == FULL_DUTY))[:, None]
    acceleration = np.where(straight, exact, found.acceleration[:, :count])
    share = width[:, None] * WEIGHTS / acceleration
    charge, energy = (
        float(np.sum(values[:, -1] * times + np.sum((values[:, :-3] - values[:, -1:]) * share, 1)))
        for values in (found.total_current, found.total_current * found.voltage)
    )
    drawn = found.total_current[:, : count + 2]
    peak = int(np.argmax(drawn))
    greatest = np.max(drawn)
    if peak % (count + 2) < count:
        # Between nodes: look more closely; at the end of a piece the greatest is exact
        reach = float(width[peak // (count + 2)]) / count
        about = speeds[:, : count + 2].reshape(-1)[peak] + reach * _CLOSER
        closer = loads(np.clip(about, 0.0, end)).total_current
        greatest = np.maximum(np.max(closer), greatest)
    return SupplyRun(
        np.asarray(greatest),
        bus_voltage(drive_of.supply, total_current=greatest),
        np.asarray(energy),
        np.asarray(charge),
    )
