"""Top speed and push of a candidate in every direction over the floor.

Contents
--------
Rose, rose_of: what it does at each heading, from straight ahead once round.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import LINKED
from models.engineering.pushing import push
from models.engineering.traction import GOVERNING, top_speed, travel_motion
from models.trade.driving import Base

FloatArray = NDArray[np.float64]

STEP_DEG = 3
"""Between two headings of a curve; the corners of mecanum and omni lie on multiples of 45°."""


class Rose(NamedTuple):
    """What a candidate does in every direction; a tank only forward and back."""

    degrees: FloatArray
    """To the left of straight ahead, 0 to 360 with both ends; 0 and 180 for a tank."""
    speed: FloatArray
    """Top speed, 0 where the drive does not overcome its drag [m/s]."""
    force: FloatArray
    """Against something that does not move [N]."""
    limited_by: tuple[str, ...]
    """What limits the push at each."""
    any_way: bool
    """False where it goes forward and back only."""

    def at(self, degrees: float) -> tuple[float, float] | None:
        """Return speed and push at one of the headings, none where it cannot go that way."""
        found = np.flatnonzero(np.isclose(self.degrees, degrees))
        if not len(found):
            return None
        return float(self.speed[found[0]]), float(self.force[found[0]])


def rose_of(base: Base) -> Rose:
    """Return top speed and push of a candidate at every heading.

    Parameters
    ----------
    base : Base
        The candidate as arrays.

    Returns
    -------
    Rose
        A whole turn in steps of `STEP_DEG`; forward and back for linked sides.
    """
    drive, stance, layout = base.drive, base.stance, base.layout
    linked = layout in LINKED
    degrees = np.array([0.0, 180.0]) if linked else np.arange(0.0, 360.0 + STEP_DEG, STEP_DEG)
    # Backwards the wheels of linked sides do what they do forwards
    ways = np.zeros(2) if linked else np.radians(degrees)
    motion = travel_motion(drive, stance, layout, angle=ways)
    speed = top_speed(drive, stance, layout, motion=motion, angle=ways)
    shove = push(drive, stance, layout, angle=ways)
    words = np.broadcast_to(shove.limited_by, degrees.shape)
    return Rose(
        degrees,
        np.broadcast_to(speed, degrees.shape),
        np.broadcast_to(shove.force, degrees.shape),
        tuple(GOVERNING[int(word)] for word in words),
        not linked,
    )
