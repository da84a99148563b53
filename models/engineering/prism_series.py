"""Prisms whose shape varies, taken one by one against others that vary along with them.

Contents
--------
prism_series: one prism over many cases.
paired_clearances: how two of them stand to each other in every case.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from models.engineering.prisms import LENGTH_TOLERANCE, VOLUME_TOLERANCE, Clearances, Prisms

FloatArray = NDArray[np.float64]


def prism_series(outlines: ArrayLike, *, bottoms: ArrayLike, tops: ArrayLike) -> Prisms:
    """Return one prism over many cases.

    Parameters
    ----------
    outlines : array, shape (cases or 1, corners, 2)
        Its plan outline in every case [m]. One that crosses itself counts as the area it encloses.
    bottoms, tops : float or array, shape (cases,)
        Its lower and upper end [m].

    Returns
    -------
    Prisms
        As many prisms as the longest of the three.

    Examples
    --------
    >>> box = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
    >>> prism_series([box], bottoms=0.0, tops=[0.5, 0.6]).top.tolist()
    [0.5, 0.6]

    Source: own definition.
    """
    drawn = shapely.polygons(np.asarray(outlines, dtype=np.float64))
    sound = np.where(shapely.is_valid(drawn), drawn, shapely.make_valid(drawn))
    plan, bottom, top = np.broadcast_arrays(
        sound, np.asarray(bottoms, dtype=np.float64), np.asarray(tops, dtype=np.float64)
    )
    return Prisms(np.atleast_1d(plan), np.atleast_1d(bottom), np.atleast_1d(top))


def paired_clearances(first: Prisms, second: Prisms, *, asked: ArrayLike) -> Clearances:
    """Return how two prisms stand to each other, case by case.

    gap √(plan distance² + vertical gap²), overlap plan area × common height, margin gap − c

    Parameters
    ----------
    first, second : Prisms
        Of as many cases, or one [m].
    asked : float or array, shape (cases,)
        Clearance c [m].

    Returns
    -------
    Clearances
        Arrays of shape (cases,).

    Examples
    --------
    >>> box = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]
    >>> beside = [[[x + 1.2, y] for x, y in box], [[x + 0.9, y] for x, y in box]]
    >>> found = paired_clearances(prism_series([box], bottoms=0.0, tops=1.0),
    ...                           prism_series(beside, bottoms=0.0, tops=1.0), asked=0.1)
    >>> found.gap.round(6).tolist(), found.overlap.round(6).tolist()
    ([0.2, 0.0], [0.0, 0.1])

    Source: own definition.
    """
    away = shapely.distance(first.plan, second.plan)
    above = np.maximum(np.maximum(second.bottom - first.top, first.bottom - second.top), 0.0)
    common = np.maximum(
        np.minimum(first.top, second.top) - np.maximum(first.bottom, second.bottom), 0.0
    )
    cases = np.broadcast_shapes(away.shape, above.shape)
    overlap = np.zeros(cases)
    near = np.broadcast_to((away <= 0.0) & (common > 0.0), cases)
    if near.any():
        ours, theirs = (np.broadcast_to(one.plan, cases)[near] for one in (first, second))
        shared = shapely.area(shapely.intersection(ours, theirs))
        overlap[near] = shared * np.broadcast_to(common, cases)[near]
    gap = np.hypot(away, above)
    margin = gap - np.asarray(asked, dtype=np.float64)
    conflict = (margin < -LENGTH_TOLERANCE) | (overlap > VOLUME_TOLERANCE)
    return Clearances(gap, np.asarray(margin), overlap, conflict)
