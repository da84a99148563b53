"""Finding one's way in a sweep: what nothing beats, and where a figure is as good as the best.

Contents
--------
never_beaten: the designs that no other is as good as in everything and better in something.
TieBand, tie_band: the stretches of one input over which a figure stays within a share of its best.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
Curve = Callable[[FloatArray], FloatArray]

_CLOSER = np.linspace(-1.0, 1.0, 33)
_SHARES = np.linspace(0.0, 1.0, 33)
_ROUNDS = 9


def never_beaten(
    time: ArrayLike, push_force: ArrayLike, least_voltage: ArrayLike, *, finest: float = 1e-6
) -> BoolArray:
    """Return which designs nothing beats on time, push and voltage together.

    One design beats another that is no better in any of the three and worse in one. Of designs
    that are alike in all three none beats the other. Differences below the finest are none.

    Sorted by time, then by push and voltage, a design can only be beaten by one that stands
    before it; of those only the staircase of greatest pushes and voltages is kept.

    Parameters
    ----------
    time : array
        The less the better; one that is not finite is beaten [s].
    push_force : array
        The more the better [N].
    least_voltage : array
        The more the better [V].
    finest : float
        What is no difference, in the unit of each, such as rounding [any].

    Returns
    -------
    array of bool
        Of the designs' shape (truth).

    Examples
    --------
    >>> never_beaten([1.0, 1.1, 1.2], [500.0, 500.0, 400.0], [7.0, 8.0, 7.5]).tolist()
    [True, True, False]

    Source: the definition of V. Pareto's optimum; own derivation of the search.
    """
    three = np.stack(
        [
            np.asarray(time, dtype=np.float64),
            -np.asarray(push_force, dtype=np.float64),
            -np.asarray(least_voltage, dtype=np.float64),
        ],
        axis=-1,
    )
    kept = np.zeros(three.shape[:-1], dtype=bool)
    known = np.all(np.isfinite(three), axis=-1)
    if not known.any():
        return kept
    rounded = np.round(three[known] / finest)
    order = np.lexsort(rounded.T[::-1])
    rising = rounded[order]
    fresh = np.ones(len(rising), dtype=bool)
    fresh[1:] = np.any(rising[1:] != rising[:-1], axis=1)
    best = np.array(_on_staircase(rising[fresh, 1].tolist(), rising[fresh, 2].tolist()))
    found = np.zeros(len(rising), dtype=bool)
    found[order] = best[np.cumsum(fresh) - 1]
    kept[known] = found
    return kept


def _on_staircase(weaknesses: list[float], sags: list[float]) -> list[bool]:
    """Return which of some designs, quickest first, no earlier one is as good as in both.

    Both figures are the better the less; the staircase holds the best so far, where a harder
    push costs more sag.
    """
    steps: list[float] = []
    rises: list[float] = []
    best = []
    for weakness, sag in zip(weaknesses, sags, strict=True):
        place = bisect_left(steps, -weakness)
        good = place == len(rises) or rises[place] > sag
        best.append(good)
        if not good:
            continue
        last = place + (place < len(steps) and steps[place] == -weakness)
        first = place
        while first > 0 and rises[first - 1] >= sag:
            first -= 1
        steps[first:last], rises[first:last] = [-weakness], [sag]
    return best


class TieBand(NamedTuple):
    """Where a figure stays within a share of its best."""

    best: float
    """The place of the least figure [any]."""
    least: float
    """That figure [any]."""
    intervals: tuple[tuple[float, float], ...]
    """Stretches inside of which no figure is greater than asked for, in rising order [any]."""


def tie_band(
    curve: Curve, *, low: float, high: float, share: float, nodes: int = 240
) -> TieBand | None:
    """Return the stretches of an input over which a figure is within a share of its least.

    f(x) ≤ (1 + share)·min f. The curve is looked at on evenly spaced logarithms, about each of
    its turning points more closely, and the ends are bracketed ever closer; the inner end of the
    last bracket counts, so that what is inside is inside.

    Parameters
    ----------
    curve : function
        Takes an array of the input, returns the figure of each; not finite where there is
        none [any].
    low, high : float
        Range of the input, above 0 [any].
    share : float
        How much more than the least is still a tie [ratio].
    nodes : int
        Places that are looked at first [count].

    Returns
    -------
    TieBand or None
        None where the figure exists nowhere.

    Examples
    --------
    >>> band = tie_band(lambda x: 1.0 + (x - 4.0) ** 2, low=1.0, high=16.0, share=0.25)
    >>> round(band.best, 6), [(round(a, 6), round(b, 6)) for a, b in band.intervals]
    (4.0, [(3.5, 4.5)])

    Source: own derivation; nested brackets.
    """
    places = np.geomspace(low, high, nodes)
    figures = _judged(curve, places)
    places, figures = _with_turning_points(curve, places, figures)
    if not np.isfinite(figures).any():
        return None
    least = int(np.argmin(figures))
    allowed = float(figures[least]) * (1.0 + share)
    inside = figures <= allowed
    change = np.flatnonzero(inside[1:] != inside[:-1])
    yes = np.where(inside[change], places[change], places[change + 1])
    no = np.where(inside[change], places[change + 1], places[change])
    for _ in range(_ROUNDS if len(change) else 0):
        looks = yes[:, None] + (no - yes)[:, None] * _SHARES
        good = _judged(curve, looks.reshape(-1)).reshape(looks.shape) <= allowed
        good[:, 0], good[:, -1] = True, False
        last = np.argmin(good, axis=1) - 1
        rows = np.arange(len(change))
        yes, no = looks[rows, last], looks[rows, last + 1]
    ends = yes.tolist()
    if inside[0]:
        ends.insert(0, low)
    if inside[-1]:
        ends.append(high)
    intervals = tuple(zip(ends[::2], ends[1::2], strict=True))
    return TieBand(float(places[least]), float(figures[least]), intervals)


def _judged(curve: Curve, places: FloatArray) -> FloatArray:
    """Return the figures, infinite where there is none."""
    figures = np.asarray(curve(places), dtype=np.float64)
    return np.where(np.isfinite(figures), figures, np.inf)


def _with_turning_points(
    curve: Curve, places: FloatArray, figures: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return places and figures with the least and greatest of each bend added, in order."""
    before, at, after = figures[:-2], figures[1:-1], figures[2:]
    known = np.isfinite(before) & np.isfinite(at) & np.isfinite(after)
    valleys = np.flatnonzero(known & (at <= before) & (at <= after)) + 1
    hills = np.flatnonzero(known & (at >= before) & (at >= after)) + 1
    found = np.concatenate([valleys, hills])
    if not len(found):
        return places, figures
    sign = np.concatenate([np.ones(len(valleys)), -np.ones(len(hills))])
    middle = places[found]
    reach = np.maximum(places[found + 1] - middle, middle - places[found - 1])
    for _ in range(8):
        looks = np.clip(middle[:, None] + reach[:, None] * _CLOSER, places[0], places[-1])
        seen = _judged(curve, looks.reshape(-1)).reshape(looks.shape)
        chosen = np.argmin(sign[:, None] * seen, axis=1)
        middle = looks[np.arange(len(found)), chosen]
        reach = reach / 12.0
    more = _judged(curve, middle)
    whole, order = np.unique(np.concatenate([places, middle]), return_index=True)
    return whole, np.concatenate([figures, more])[order]
