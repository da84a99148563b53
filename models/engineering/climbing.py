"""On a ramp: the steady speed up it, what limits the climb, and holding still on it.

Contents
--------
CLIMB_WORDS, Climb, climb: steady speed up a slope, and what governs it.
Hold, hold_still: standing on a slope with wheels locked, facing up, down and across it.
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
    current_for_force,
    directions,
)
from models.engineering.supply import limiting
from models.engineering.traction import (
    GOVERNING,
    TIP,
    TRACTION,
    axle_normal_forces,
    speed_at_current,
    travel_motion,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CLIMB_WORDS = GOVERNING
"""What can govern a climb, in the order of `Climb.limited_by`."""


class Climb(NamedTuple):
    """A steady climb straight up a slope."""

    speed: FloatArray
    """0 where it does not climb [m/s]."""
    limited_by: IntArray
    """Index into `CLIMB_WORDS`: what sets the speed, or what keeps it from climbing."""
    current: FloatArray
    """Of the hardest-worked motor; not a number where grip or tipping stop it [A]."""
    force: FloatArray
    """That the climb takes [N]."""
    grip_used: FloatArray
    """Share of what the wheels can pass that the climb takes; above 1 they slip [ratio]."""


class Hold(NamedTuple):
    """Standing on a slope with all wheels locked."""

    slip: FloatArray
    """Slope at which it slides down, facing up or down [rad]."""
    slip_across: FloatArray
    """Slope at which it slides down sideways, standing across it [rad]."""
    tip_up: FloatArray
    """Slope at which it tips backwards, facing up [rad]."""
    tip_down: FloatArray
    """Slope at which it tips forwards, facing down [rad]."""
    tip_across: FloatArray
    """Slope at which it tips sideways, standing across it [rad]."""
    front_load: FloatArray
    """On the front axle, facing up [N]."""
    rear_load: FloatArray
    """On the rear axle, facing up [N]."""


def climb(drive_of: Drive, stance: Stance, layout: Layout, *, slope: ArrayLike) -> Climb:
    """Return the steady speed straight up a slope and what governs it.

    Need W = M·g (sin θ + crr·cos θ). It slips where W > κμ·μ·M·g·cos θ (linked) or
    W > κμ·μ·(Nf + Nr) with axle loads not below 0 (independent), and tips backwards where
    tan θ > xr/H. Linked motors share W. Independent halves carry W/2 each; where the lighter axle
    can only pass κμ·μ·N, the other carries W − κμ·μ·N, and so must its motors. The speed is that
    at which a motor can still carry the current: stator limit, supply limit or full duty.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity in the pose [SI].
    layout : Layout
        Layout of the batch (word).
    slope : float or array
        θ, rising ahead [rad].

    Returns
    -------
    Climb
        Arrays of the batch's shape.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> up = climb(example_drive(), stance, "swerve", slope=np.radians(12.0))
    >>> round(float(up.speed), 3), CLIMB_WORDS[int(up.limited_by)]
    (4.267, 'voltage')

    Source: own derivation, forces along an incline; axle loads as in Jazar, Vehicle Dynamics,
    eq. 2.121.
    """
    factors = directions(layout, 0.0)
    rise = np.asarray(slope, dtype=np.float64)
    weight = stance.mass * STANDARD_GRAVITY
    need = weight * (np.sin(rise) + drive_of.rolling_coefficient * np.cos(rise))
    grip = factors.grip * drive_of.grip
    front, rear = (
        grip * np.maximum(load, 0.0)
        for load in axle_normal_forces(stance, acceleration=0.0, slope=rise)
    )
    if layout in LINKED:
        able, heavy = grip * weight * np.cos(rise), need / 2.0
    else:
        able, heavy = front + rear, np.maximum(need / 2.0, need - np.minimum(front, rear))
    current = current_for_force(drive_of, heavy / factors.force, share=0.5)
    motion = travel_motion(drive_of, stance, layout, angle=0.0)
    speed = speed_at_current(motion, current)
    short = np.where(
        current > motion.stator_limit,
        limiting(drive_of.supply, emf=0.0, resistance=drive_of.motor.resistance),
        limiting(
            drive_of.supply,
            emf=motion.emf * np.maximum(speed, 0.0) * (1.0 - 1e-9),
            resistance=drive_of.motor.resistance,
        ),
    )
    tips = stance.cg_height * np.sin(rise) > stance.to_rear * np.cos(rise)
    slips = need > able * (1.0 + 1e-12)
    word = np.where(tips, TIP, np.where(slips, TRACTION, short))
    stopped = tips | slips | (speed <= 0.0)
    return Climb(
        speed=np.asarray(np.where(stopped, 0.0, speed)),
        limited_by=np.asarray(word, dtype=np.int64),
        current=np.asarray(np.where(tips | slips, np.nan, current)),
        force=np.asarray(need),
        grip_used=np.asarray(need / np.maximum(able, 1e-12)),
    )


def hold_still(
    drive_of: Drive,
    stance: Stance,
    layout: Layout,
    *,
    slope: ArrayLike,
    to_side: ArrayLike,
    side_grip: ArrayLike,
) -> Hold:
    """Return on which slopes a robot with locked wheels still stands, and its axle loads on one.

    Slides at tan θ = κμ·μ facing up or down, tan θ = μs (tank), μ (steered, wheels crossed) or
    μ/√2 (mecanum, omni) across. Tips at tan θ = xr/H facing up, xf/H facing down, d/H across.

    Parameters
    ----------
    drive_of : Drive
        The drive [SI].
    stance : Stance
        Mass and place of the centre of gravity in the pose [SI].
    layout : Layout
        Layout of the batch (word).
    slope : float or array
        θ at which the axle loads are wanted [rad].
    to_side : float or array
        d from the centre of gravity to the nearer side edge [m].
    side_grip : float or array
        μs of a tank; of no effect on other layouts [ratio].

    Returns
    -------
    Hold
        Slopes and axle loads.

    Examples
    --------
    >>> from models.engineering.drive import example_drive
    >>> stance = Stance(*(np.float64(x) for x in (47.3, 0.0, 0.25, 2.6, 0.27, 0.28, 0.51)))
    >>> hold = hold_still(example_drive(), stance, "swerve", slope=0.2, to_side=0.25,
    ...                   side_grip=1.1)
    >>> round(float(np.degrees(hold.slip)), 2), round(float(np.degrees(hold.tip_across)), 2)
    (47.73, 45.0)

    Source: own derivation, statics on an incline; static stability as T/(2h) (NHTSA).
    """
    grip = drive_of.grip * directions(layout, 0.0).grip
    across = {"tank": np.asarray(side_grip, dtype=np.float64), "swerve": drive_of.grip}
    height = np.maximum(stance.cg_height, 1e-6)
    side = np.asarray(to_side, dtype=np.float64)
    front, rear = axle_normal_forces(stance, acceleration=0.0, slope=slope)
    return Hold(
        slip=np.asarray(np.arctan(grip)),
        slip_across=np.asarray(np.arctan(across.get(layout, drive_of.grip / np.sqrt(2.0)))),
        tip_up=np.asarray(np.arctan(stance.to_rear / height)),
        tip_down=np.asarray(np.arctan(stance.to_front / height)),
        tip_across=np.asarray(np.arctan(side / height)),
        front_load=front,
        rear_load=rear,
    )
