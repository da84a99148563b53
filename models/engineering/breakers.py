"""Breakers by their maker's curve: how long they carry a current before they trip.

Contents
--------
trip_time: seconds until a breaker trips under a steady current.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def trip_time(
    *, current: ArrayLike, rating: ArrayLike, multiples: ArrayLike, seconds: ArrayLike
) -> FloatArray:
    """Return how long a cold breaker carries a steady current.

    Straight lines between the curve's points on log axes of multiple and time; below the first
    point it holds, beyond the last the line to it goes on.

    Parameters
    ----------
    current : float or array
        I [A].
    rating : float or array
        What it is rated for [A].
    multiples : array, shape (k,)
        Multiples of the rating, rising [ratio].
    seconds : array, shape (k,)
        Time at each, above 0 and not rising [s].

    Returns
    -------
    array
        t, infinite where it holds [s].

    Examples
    --------
    >>> curve = {"rating": 100.0, "multiples": [1.5, 6.0], "seconds": [100.0, 1.0]}
    >>> [round(float(trip_time(current=amps, **curve)), 1) for amps in (150.0, 300.0, 600.0)]
    [100.0, 10.0, 1.0]
    >>> float(trip_time(current=120.0, **curve))
    inf

    Source: own definition; breaker makers print their curves on log axes.
    """
    share = np.asarray(current, dtype=np.float64) / np.asarray(rating, dtype=np.float64)
    places = np.log(np.asarray(multiples, dtype=np.float64))
    times = np.log(np.asarray(seconds, dtype=np.float64))
    at = np.log(np.maximum(share, 1e-12))
    inside = np.interp(at, places, times)
    if len(places) > 1:
        steepness = (times[-1] - times[-2]) / (places[-1] - places[-2])
        inside = inside + np.minimum(steepness, 0.0) * np.maximum(at - places[-1], 0.0)
    return np.asarray(np.where(at < places[0] - 1e-12, np.inf, np.exp(inside)))
