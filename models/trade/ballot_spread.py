"""How far apart members are in what they weigh; a split is named, never averaged away.

Contents
--------
Spread: lowest, median and highest points of a criterion, and the two camps where there are any.
spread_of: from the points of each member.
spread_words: the same in a sentence.
"""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

SPLIT_POINTS = 30.0
"""Two groups with more than this between them are a split."""
CLOSE_POINTS = 15.0
"""Points that lie within this of each other are close."""
MOST_NAMES = 6


class Spread(NamedTuple):
    """The points that members give one criterion, from 0 to 100."""

    low: float
    median: float
    high: float
    camps: tuple[tuple[str, ...], tuple[str, ...]] | None
    """Names of those below and above the widest gap, where it is wider than `SPLIT_POINTS`."""
    gap: float
    """The widest gap between neighbours."""


def spread_of(points: Mapping[str, float]) -> Spread:
    """Return how the points of members lie.

    Parameters
    ----------
    points : mapping
        Points by member's name, at least one.

    Returns
    -------
    Spread
        With the two camps on either side of the widest gap where that is a split.

    Examples
    --------
    >>> spread_of({"Mara": 100.0, "Ravi": 80.0, "Lee": 10.0}).camps
    (('Lee',), ('Ravi', 'Mara'))
    """
    ordered = sorted(points.items(), key=lambda item: item[1])
    values = [value for _, value in ordered]
    gaps = [after - before for before, after in pairwise(values)]
    widest = max(gaps, default=0.0)
    camps = None
    if widest > SPLIT_POINTS:
        cut = gaps.index(widest) + 1
        names = [name for name, _ in ordered]
        camps = (tuple(names[:cut]), tuple(names[cut:]))
    return Spread(values[0], float(statistics.median(values)), values[-1], camps, widest)


def spread_words(points: Mapping[str, float]) -> str:
    """Return how the points of members lie, in words.

    >>> spread_words({"Mara": 100.0, "Ravi": 80.0, "Lee": 10.0})
    'Split, 70 points apart: Ravi and Mara give 80 to 100, Lee gives 10.'
    >>> spread_words({"Mara": 60.0, "Lee": 50.0}), spread_words({"Mara": 60.0})
    ('Close together: 50 to 60.', 'One ballot: 60.')
    """
    spread = spread_of(points)
    if len(points) == 1:
        return f"One ballot: {spread.high:g}."
    if spread.camps is not None:
        low, high = spread.camps
        return f"Split, {spread.gap:g} points apart: {_camp(high, points)}, {_camp(low, points)}."
    if spread.low == spread.high:
        return f"All {len(points)} give {spread.high:g}."
    if spread.high - spread.low <= CLOSE_POINTS:
        return f"Close together: {spread.low:g} to {spread.high:g}."
    return f"From {spread.low:g} to {spread.high:g}, without a split."


def _camp(names: Sequence[str], points: Mapping[str, float]) -> str:
    values = [points[name] for name in names]
    verb = "gives" if len(names) == 1 else "give"
    low, high = min(values), max(values)
    amount = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    return f"{_listed(names)} {verb} {amount}"


def _listed(names: Sequence[str]) -> str:
    if len(names) > MOST_NAMES:
        return f"{len(names)} members"
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
