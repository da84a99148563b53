"""Many designs at once: what ratio, wheel and current limits make of a sprint, a push, the bus.

The designs of a sweep go through the very functions that a single candidate goes through, as
arrays, in blocks that the processor keeps at hand. Only where the greatest battery current of a
run lies is found with fewer looks, and exactly: while all motors work alike, what they take rises
or falls throughout each stretch of speed under one law, so that it is greatest at an end; inside
a stretch it is looked for where one axle slips and the other follows the motors.

Contents
--------
designs_of: a drive with other ratios, wheels and limits.
DesignFigures, figures_of_designs: time, push, voltage, current and top speed of each.
slip_current: the motor current at which the tyres break away.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.drive import (
    LINKED,
    STANDARD_GRAVITY,
    Drive,
    Layout,
    Stance,
    current_for_force,
    directions,
)
from models.engineering.motors import MotorConstants
from models.engineering.pushing import push
from models.engineering.sprint import BLOCK, run_over
from models.engineering.sprint_pieces import CONSTANT, Pieces, governing_pieces
from models.engineering.sprint_supply import NODES, axle_currents_at, load_at
from models.engineering.supply import (
    Supply,
    bus_voltage,
    path_resistance,
    supply,
    total_of_halves,
)
from models.engineering.traction import TRACTION, Motion, braking, top_speed, travel_motion

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_CLOSER = np.linspace(-1.0, 1.0, 33)


class DesignFigures(NamedTuple):
    """Figures of many designs; not a number where one does not get going."""

    stop_time: FloatArray
    """From rest over the distance to a standstill at its end [s]."""
    passing_time: FloatArray
    """From rest until it passes the end [s]."""
    end_speed: FloatArray
    """There [m/s]."""
    push_force: FloatArray
    """At rest against something that does not move [N]."""
    push_current: FloatArray
    """From the battery in that push, accessories included [A]."""
    peak_current: FloatArray
    """The greatest from the battery until it passes the end [A]."""
    least_voltage: FloatArray
    """The least of the bus until it passes the end [V]."""
    top_speed: FloatArray
    """0 where it does not get going [m/s]."""


def designs_of(
    drive_of: Drive,
    *,
    ratio: ArrayLike,
    wheel_radius: ArrayLike,
    stator_limit: ArrayLike,
    supply_limit: ArrayLike,
) -> Drive:
    """Return a drive with other ratios, wheels and current limits, a batch of one axis.

    Mass, wheel inertia and where the weight stands are taken to stay as they are.

    Parameters
    ----------
    drive_of : Drive
        One design, whose motors, battery and grip all have [SI].
    ratio : float or array
        Gr, motor turns for a wheel turn [ratio].
    wheel_radius : float or array
        r [m].
    stator_limit, supply_limit : float or array
        Istator of a winding, Isup of what a controller takes; infinite for none [A].

    Returns
    -------
    Drive
        What changes has one axis, as the four broadcast and are laid out in a row.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> several = designs_of(example_drive(), ratio=[5.0, 6.0], wheel_radius=0.05,
    ...                      stator_limit=90.0, supply_limit=np.inf)
    >>> several.ratio.tolist(), several.wheel_radius.tolist()
    ([5.0, 6.0], [0.05, 0.05])

    Source: own definition.
    """
    four = (ratio, wheel_radius, stator_limit, supply_limit)
    spread = np.broadcast_arrays(*(np.asarray(one, dtype=np.float64) for one in four))
    ratios, radii, stator, asked = (np.ascontiguousarray(one).reshape(-1) for one in spread)
    feed = drive_of.supply
    limited = supply(
        open_voltage=feed.open_voltage,
        source_resistance=feed.source_resistance,
        branch_resistance=feed.branch_resistance,
        accessory_current=feed.accessory_current,
        motor_count=feed.motor_count,
        stator_limit=stator,
        supply_limit=asked,
    )
    return drive_of._replace(supply=limited, ratio=ratios, wheel_radius=radii)


def figures_of_designs(
    drive_of: Drive, stance: Stance, layout: Layout, *, distance: float
) -> DesignFigures:
    """Return what each design of a batch does on a sprint straight ahead and in a push.

    Parameters
    ----------
    drive_of : Drive
        The designs; each field has shape () or the batch's one axis [SI].
    stance : Stance
        Mass and place of the centre of gravity, one for all [SI].
    layout : Layout
        Layout of the batch (word).
    distance : float
        X of the sprint, above 0 [m].

    Returns
    -------
    DesignFigures
        Arrays of the batch's shape.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> several = designs_of(example_drive(), ratio=[5.0, 6.5, 9.0], wheel_radius=0.0508,
    ...                      stator_limit=90.0, supply_limit=50.0)
    >>> figures = figures_of_designs(several, stance, "swerve", distance=6.0)
    >>> figures.stop_time.round(3).tolist()
    [1.822, 1.877, 2.12]

    Source: the functions that it calls; shared work only, no approximation.
    """
    count = len(drive_of.ratio)
    blocks = []
    for first in range(0, max(count, 1), BLOCK):
        part = slice(first, first + BLOCK)
        some = _each_field(drive_of, lambda field, part=part: field[part])  # type: ignore[misc]
        blocks.append(_figures(some, stance, layout, distance))
    return DesignFigures(*(np.concatenate(fields) for fields in zip(*blocks, strict=True)))


def slip_current(drive_of: Drive, stance: Stance, layout: Layout) -> FloatArray:
    """Return the motor current at which the tyres of a standing robot break away, all alike.

    I = If + κμ·μ·M·g/(n·η·Gr·kT·κf/r)

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Its mass [SI].
    layout : Layout
        Its layout (word).

    Returns
    -------
    array
        Current of each motor [A].

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> round(float(slip_current(example_drive(), stance, "swerve")), 2)
    62.14

    Source: own derivation, Coulomb friction and torque through the gearing.
    """
    factors = directions(layout, 0.0)
    held = factors.grip * drive_of.grip * stance.mass * STANDARD_GRAVITY
    return current_for_force(drive_of, held / factors.force)


def _each_field(drive_of: Drive, change: Callable[[FloatArray], FloatArray]) -> Drive:
    """Return the drive with a change made to every field that goes along the batch."""

    def changed(field: FloatArray) -> FloatArray:
        return field if field.ndim == 0 else change(field)

    return Drive(
        MotorConstants._make(changed(field) for field in drive_of.motor),
        Supply._make(changed(field) for field in drive_of.supply),
        *(changed(field) for field in drive_of[2:]),
    )


def _figures(drive: Drive, stance: Stance, layout: Layout, distance: float) -> DesignFigures:
    """Return the figures of one block of designs."""
    shape = drive.ratio.shape
    motion = travel_motion(drive, stance, layout, angle=0.0)
    pieces = governing_pieces(motion)
    passing = run_over(pieces, distance=distance, braking=np.inf)
    brake = braking(drive, stance, layout, angle=0.0)
    stopping = run_over(pieces, distance=distance, braking=brake)
    shove = push(drive, stance, layout)
    goes = np.isfinite(passing.time)
    end = np.where(goes, passing.speed, 0.0)
    batch = _Batch(_each_field(drive, lambda field: field[:, None]), stance, layout, motion)
    peak = np.where(goes, _peak_current(batch, pieces, end), np.nan)
    return DesignFigures(
        stop_time=np.broadcast_to(stopping.time, shape),
        passing_time=passing.time,
        end_speed=passing.speed,
        push_force=np.broadcast_to(shove.force, shape),
        push_current=np.broadcast_to(shove.total_current, shape),
        peak_current=peak,
        least_voltage=bus_voltage(drive.supply, total_current=peak),
        top_speed=top_speed(drive, stance, layout, motion=motion),
    )


class _Batch(NamedTuple):
    """A block of designs and their motion straight ahead."""

    drive: Drive
    """Fields have one axis more than the motion's, to go along speeds."""
    stance: Stance
    layout: Layout
    motion: Motion

    def some(self, rows: IntArray) -> _Batch:
        """Return the designs in some rows, as often as they are named."""
        drive = _each_field(self.drive, lambda field: field[rows])
        motion = Motion._make(field[rows] for field in self.motion)
        return self._replace(drive=drive, motion=motion)

    def drawn(self, speeds: FloatArray) -> FloatArray:
        """Return the battery current at some speeds of each design [A]."""
        drive, stance, layout, motion = self
        load = load_at(drive, stance, layout, motion=motion, angle=0.0, speed=speeds)
        return load.total_current


def _peak_current(batch: _Batch, pieces: Pieces, end: FloatArray) -> FloatArray:
    """Return the greatest battery current of each run from rest to its end speed [A]."""
    drive, stance, layout, motion = batch
    ends = np.minimum(np.concatenate([pieces.lower, end[:, None]], axis=1), end[:, None])
    axles = axle_currents_at(drive, stance, layout, motion=motion, angle=0.0, speed=ends)
    emf, feed = motion.emf[:, None] * ends, drive.supply
    first, second = (
        (emf + drive.motor.resistance * current) * current for current in (axles.front, axles.rear)
    )
    idle = feed.accessory_current
    totals = total_of_halves(feed, first_power=first, second_power=second) + idle
    greatest = np.asarray(np.max(totals, axis=1))
    bends = (pieces.governed_by == TRACTION) & (pieces.law != CONSTANT)
    rows, columns = np.nonzero(bends & (ends[:, 1:] > ends[:, :-1]))
    if layout in LINKED or not len(rows):
        return greatest
    low, high = (rows, columns), (rows, columns + 1)
    rises = _rises([axles.front, axles.rear], [first, second], low, high)
    # Each axle's force is a line in the current, which falls as the speed rises: at an end of the
    # stretch each axle works hardest, and both at once bound what lies between
    most = [np.maximum(current[low], current[high]) for current in (axles.front, axles.rear)]
    bound = _bound(batch, rows, most, ends[high]) + idle
    higher = np.flatnonzero((bound > greatest[rows]) & ~rises)
    rows, columns = rows[higher], columns[higher]
    if not len(rows):
        return greatest
    lower, upper = ends[rows, columns], ends[rows, columns + 1]
    return _closer_peak(batch, greatest, rows=rows, lower=lower, upper=upper, end=ends[:, -1])


def _rises(
    currents: list[FloatArray],
    powers: list[FloatArray],
    low: tuple[IntArray, IntArray],
    high: tuple[IntArray, IntArray],
) -> NDArray[np.bool_]:
    """Return where what the motors take rises all along a stretch, so that its end has the most.

    The axle at its grip carries less than the one that follows the motors. Its current is a
    straight line in theirs, so that power rises with speed where its current does. The power of
    the other keeps to one side of the battery's greatest, or is what the supply limit passes.
    """
    front_follows = currents[0][low] > currents[1][low]
    held_low, held_high = (
        np.where(front_follows, currents[1][end], currents[0][end]) for end in (low, high)
    )
    power_low, power_high = (
        np.where(front_follows, powers[0][end], powers[1][end]) for end in (low, high)
    )
    return np.asarray((held_high >= held_low) & (power_high >= power_low * (1.0 - 1e-13)))


def _bound(batch: _Batch, rows: IntArray, most: list[FloatArray], speed: FloatArray) -> FloatArray:
    """Return a current that no run takes for its motors up to a speed, from each axle's most."""
    feed = _each_field(batch.drive, lambda field: field[rows, 0]).supply
    emf, winding = batch.motion.emf[rows] * speed, batch.drive.motor.resistance
    first, second = ((emf + winding * current) * current for current in most)
    # Beyond what the battery can give the equation has no root, and nothing is known
    hardest = np.maximum(first, second)
    known = feed.source_voltage**2 > 4.0 * path_resistance(feed) * hardest
    first, second = np.where(known, first, 0.0), np.where(known, second, 0.0)
    total = total_of_halves(feed, first_power=first, second_power=second)
    bound = np.where(known, total, np.inf)
    return bound * (1.0 + 1e-9)


def _closer_peak(
    batch: _Batch,
    greatest: FloatArray,
    *,
    rows: IntArray,
    lower: FloatArray,
    upper: FloatArray,
    end: FloatArray,
) -> FloatArray:
    """Return the greatest currents with those inside some stretches, looked for at nodes."""
    width = upper - lower
    speeds = lower[:, None] + width[:, None] * NODES
    inside = batch.some(rows).drawn(speeds)
    node = np.argmax(inside, axis=1)
    most = inside[np.arange(len(rows)), node]
    # Of each design only the greatest is worth a closer look, and only where it is no end
    higher = np.full(len(greatest), -np.inf)
    np.maximum.at(higher, rows, most)
    worth = np.flatnonzero((most > greatest[rows]) & (most == higher[rows]))
    if len(worth):
        some = rows[worth]
        about = speeds[worth, node[worth]][:, None]
        about = about + (width[worth] / len(NODES))[:, None] * _CLOSER
        looks = np.clip(about, 0.0, end[some][:, None])
        closer = batch.some(some).drawn(looks)
        np.maximum.at(greatest, some, np.maximum(np.max(closer, axis=1), most[worth]))
    return greatest
