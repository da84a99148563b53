"""Where a robot has to stand on a platform that is hinged in its middle, so that it lies level.

Contents
--------
Level, level_place: the place at which the loads balance, and the room on both sides of it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

STANDARD_GRAVITY = 9.80665
"""g [m/s²], exact by definition (CGPM 1901)."""


class Level(NamedTuple):
    """Where the centre of gravity has to be, counted from the hinge."""

    place: FloatArray
    """Where the moments cancel [m]."""
    room: FloatArray
    """How far on both sides of it the hinge still holds the platform level [m]."""
    hinge_load: FloatArray
    """What the hinge carries [N]."""


def level_place(
    *,
    mass: ArrayLike,
    partner_masses: ArrayLike,
    partner_places: ArrayLike,
    platform_mass: ArrayLike,
    hold_moment: ArrayLike,
) -> Level:
    """Return where a robot has to stand on a platform hinged in its middle for it to be level.

    |M·s + Σ mj·sj|·g ≤ T: s = −Σ mj·sj/M, give or take T/(M·g)

    The platform's own weight acts at the hinge. Level is a matter of balance, not of rest: what
    stands above the hinge moves outwards once it tilts, so beyond the band it goes all the way.

    Parameters
    ----------
    mass : float or array, shape (…)
        M of the robot [kg].
    partner_masses, partner_places : array, shape (k,)
        mj of the others on it, and where they stand: sj from the hinge [kg, m].
    platform_mass : float or array
        Of the platform itself [kg].
    hold_moment : float or array
        T that friction or a latch of the hinge holds; 0 for a free hinge [N·m].

    Returns
    -------
    Level
        s, the band on either side, and the load on the hinge.

    Examples
    --------
    >>> at = level_place(mass=50.0, partner_masses=[40.0], partner_places=[0.5],
    ...                  platform_mass=30.0, hold_moment=20.0)
    >>> round(float(at.place), 4), round(float(at.room), 4), round(float(at.hinge_load), 1)
    (-0.4, 0.0408, 1176.8)

    Source: own derivation, moments about the hinge.
    """
    own, others = np.asarray(mass, dtype=np.float64), np.asarray(partner_masses, dtype=np.float64)
    moments = np.sum(others * np.asarray(partner_places, dtype=np.float64))
    whole = own + np.sum(others) + np.asarray(platform_mass, dtype=np.float64)
    return Level(
        place=np.asarray(-moments / own + 0.0),
        room=np.asarray(np.asarray(hold_moment, dtype=np.float64) / (own * STANDARD_GRAVITY)),
        hinge_load=np.asarray(whole * STANDARD_GRAVITY),
    )
