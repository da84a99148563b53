"""Weighing of alternatives: values, scores, the share of weightings in which each comes first.

Contents
--------
linear_values: figures as values between 0 (worst) and 1 (best).
weighted_scores: weighted means of values.
uniform_weightings: weightings drawn evenly from all that there are.
rank_shares: in what share of weightings and draws each alternative takes each rank.
Flip, flip_weights: the weight of one criterion at which another alternative takes the lead.
rank_order_centroid: weights that follow from an order alone.
rank_correlation: how far two figures put draws in the same order.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

_NEAR = 1e-12
"""Scores closer than this count as equal, so that rounding decides no rank."""

_BLOCK = 4096
"""Weightings compared at once: the comparison of all pairs then stays in the cache."""


def linear_values(*, figures: ArrayLike, worst: ArrayLike, best: ArrayLike) -> FloatArray:
    """Return figures as values on a straight line from the worst (0) to the best (1), clipped.

    Parameters
    ----------
    figures : array, shape (…, criteria)
        In each criterion's own unit.
    worst, best : array, shape (criteria,)
        Figures that count 0 and 1, in the same units; best may lie below worst, not on it.

    Returns
    -------
    array, shape (…, criteria)
        0 to 1.

    Raises
    ------
    ValueError
        Where worst and best of a criterion are the same.

    Examples
    --------
    >>> linear_values(figures=[[2.1, 60.0]], worst=[2.4, 50.0], best=[1.8, 55.0]).tolist()
    [[0.5, 1.0]]

    Source: additive value model with linear single-attribute values, Goodwin and Wright,
    Decision Analysis for Management Judgment, chapter 3.
    """
    low, high = np.asarray(worst, dtype=np.float64), np.asarray(best, dtype=np.float64)
    if np.any(low == high):
        raise ValueError("The worst and the best figure of a criterion are the same.")
    given = np.asarray(figures, dtype=np.float64)
    return np.asarray(np.clip((given - low) / (high - low), 0.0, 1.0))


def weighted_scores(*, values: ArrayLike, weights: ArrayLike) -> FloatArray:
    """Return the weighted mean of values over the criteria.

    Parameters
    ----------
    values : array, shape (…, criteria)
        0 to 1.
    weights : array, shape (…, criteria)
        Not below 0, not all 0; their sum does not matter.

    Returns
    -------
    array, shape (…)
        Scores on the scale of the values.

    Raises
    ------
    ValueError
        Where all weights are 0 or one is below 0.

    Examples
    --------
    >>> float(weighted_scores(values=[1.0, 0.0], weights=[3.0, 1.0]))
    0.75

    Source: Goodwin and Wright, Decision Analysis for Management Judgment, chapter 3.
    """
    given = _weights(weights)
    shares = given / np.sum(given, axis=-1, keepdims=True)
    return np.asarray(np.sum(np.asarray(values, dtype=np.float64) * shares, axis=-1))


def _weights(weights: ArrayLike) -> FloatArray:
    given = np.asarray(weights, dtype=np.float64)
    if np.any(given < 0.0) or np.any(np.sum(given, axis=-1) <= 0.0):
        raise ValueError("Weights are not below 0, and at least one is above it.")
    return given


def uniform_weightings(*, criteria: int, count: int, seed: int) -> FloatArray:
    """Return weightings drawn evenly from all weightings that sum to 1.

    Exponential variates divided by their sum are uniform on the simplex. They are taken from
    uniform ones by the logarithm, whose stream does not depend on the version of numpy.

    Parameters
    ----------
    criteria : int
        How many weights, at least 1.
    count : int
        How many weightings.
    seed : int
        The same seed gives the same weightings.

    Returns
    -------
    array, shape (count, criteria)
        Each row sums to 1.

    Examples
    --------
    >>> drawn = uniform_weightings(criteria=3, count=2, seed=1)
    >>> drawn.shape, drawn.sum(axis=1).round(12).tolist()
    ((2, 3), [1.0, 1.0])

    Source: Rubinstein, Generating random vectors uniformly distributed inside and on the surface
    of different regions, European Journal of Operational Research 10 (1982), memory.
    """
    uniform = np.random.Generator(np.random.PCG64(seed)).random((count, criteria))
    lengths = -np.log1p(-uniform)
    total = np.sum(lengths, axis=1, keepdims=True)
    even = np.full_like(lengths, 1.0 / criteria)
    return np.asarray(np.divide(lengths, total, out=even, where=total > 0.0))


def rank_shares(*, values: ArrayLike, weightings: ArrayLike) -> FloatArray:
    """Return in what share of weightings each alternative takes each rank.

    Alternatives with equal scores share the ranks that they take together evenly.

    Parameters
    ----------
    values : array, shape (alternatives, criteria) or (draws, alternatives, criteria)
        0 to 1. With draws, weighting number i meets draw number i modulo the draws.
    weightings : array, shape (count, criteria)
        Each sums to what it likes, above 0.

    Returns
    -------
    array, shape (alternatives, alternatives)
        Row: the alternative; column: its rank, the first first. Rows and columns sum to 1.

    Examples
    --------
    >>> rank_shares(values=[[1, 0], [0, 1]], weightings=[[3, 1], [1, 1]]).tolist()
    [[0.75, 0.25], [0.25, 0.75]]

    Source: rank acceptability of SMAA-2, Lahdelma and Salminen, Operations Research 49(3), 2001.
    """
    given = np.asarray(values, dtype=np.float64)
    weights = _weights(weightings)
    draws = given if given.ndim == 3 else given[None]
    alternatives = draws.shape[1]
    shares = np.zeros((alternatives, alternatives))
    for first in range(0, len(weights), _BLOCK):
        part = weights[first : first + _BLOCK]
        met = draws[np.arange(first, first + len(part)) % len(draws)]
        scores = weighted_scores(values=met, weights=part[:, None, :])
        lead = scores[:, :, None] - scores[:, None, :]
        better = np.sum(lead < -_NEAR, axis=2)
        alike = np.sum(np.abs(lead) <= _NEAR, axis=2)
        for rank in range(alternatives):
            takes = (better <= rank) & (rank < better + alike)
            shares[:, rank] += np.sum(takes / alike, axis=0)
    return np.asarray(shares / len(weights))


class Flip(NamedTuple):
    """Where another alternative takes the lead as one criterion's weight changes."""

    criterion: int
    present: float
    """The criterion's share of the weights now."""
    weight: float
    """Its share at which the two tie, the other weights kept in proportion."""
    leader: int
    rival: int


def flip_weights(*, values: ArrayLike, weights: ArrayLike) -> tuple[Flip, ...]:
    """Return the nearest weights of each criterion, above and below, that change the leader.

    With the other weights kept in proportion an alternative's score is linear in the share w of
    one criterion: w·v + (1 − w)·r, v its value there and r its score on the others. Two such
    lines cross once at most, which is solved exactly.

    Parameters
    ----------
    values : array, shape (alternatives, criteria)
        0 to 1.
    weights : array, shape (criteria,)
        Not below 0, not all 0.

    Returns
    -------
    tuple of Flip
        By criterion, the lower weight first; none where no weight changes the leader.

    Examples
    --------
    >>> flip = flip_weights(values=[[1.0, 0.0], [0.0, 1.0]], weights=[3.0, 1.0])[0]
    >>> flip.criterion, flip.present, flip.weight, flip.rival
    (0, 0.75, 0.5, 1)

    Source: sensitivity of additive scores to a weight, Goodwin and Wright, Decision Analysis for
    Management Judgment, chapter 3.
    """
    given = np.asarray(values, dtype=np.float64)
    shares = _weights(weights) / np.sum(_weights(weights))
    leader = int(np.argmax(np.round(given @ shares, 12)))
    found: list[Flip] = []
    for criterion, present in enumerate(shares):
        rest = _rest_scores(given, shares, criterion)
        if rest is None:
            continue
        found.extend(
            Flip(criterion, float(present), weight, leader, rival)
            for weight, rival in _crossings(given[:, criterion], rest, float(present), leader)
        )
    return tuple(found)


def _rest_scores(values: FloatArray, shares: FloatArray, criterion: int) -> FloatArray | None:
    """Return the scores on all other criteria, none where those weigh nothing."""
    others = np.delete(shares, criterion)
    if np.sum(others) <= 0.0:
        return None
    return np.asarray(np.delete(values, criterion, axis=1) @ (others / np.sum(others)))


def _crossings(
    own: FloatArray, rest: FloatArray, present: float, leader: int
) -> list[tuple[float, int]]:
    """Return the nearest crossing with the leader's line below and above the present share.

    At a share of 0 or 1 two lines may meet without the rival ever taking the lead.
    """
    nearest: list[tuple[float, int]] = []
    ahead = rest[leader] - rest
    falls = ahead - (own[leader] - own)
    with np.errstate(divide="ignore", invalid="ignore"):
        at = np.where(np.abs(falls) > _NEAR, ahead / falls, np.nan)
    inside = (at > _NEAR) & (at < 1.0 - _NEAR)
    inside[leader] = False
    below = np.where(inside & (at < present - _NEAR), at, -np.inf)
    above = np.where(inside & (at > present + _NEAR), at, np.inf)
    if np.isfinite(np.max(below)):
        nearest.append((float(np.max(below)), int(np.argmax(below))))
    if np.isfinite(np.min(above)):
        nearest.append((float(np.min(above)), int(np.argmin(above))))
    return nearest


def rank_order_centroid(*, count: int) -> FloatArray:
    """Return weights for criteria of which only the order is known, the weightiest first.

    w_i = (1/i + 1/(i+1) + … + 1/n)/n

    Parameters
    ----------
    count : int
        How many criteria, at least 1.

    Returns
    -------
    array, shape (count,)
        Sum to 1.

    Examples
    --------
    >>> rank_order_centroid(count=4).round(2).tolist()
    [0.52, 0.27, 0.15, 0.06]

    Source: Barron and Barrett, Decision quality using ranked attribute weights, Management
    Science 42(11), 1996.
    """
    parts = 1.0 / np.arange(1, count + 1)
    return np.asarray(np.cumsum(parts[::-1])[::-1] / count)


def rank_correlation(*, first: ArrayLike, second: ArrayLike) -> FloatArray:
    """Return Spearman's rank correlation of two figures over draws; equal values share ranks.

    Parameters
    ----------
    first, second : array, shape (…, draws)
        Two figures, or sets of them that broadcast.

    Returns
    -------
    array, shape (…)
        −1 to 1; not a number where one of them does not vary.

    Examples
    --------
    >>> float(rank_correlation(first=[1.0, 2.0, 4.0], second=[10.0, 30.0, 90.0]).round(12))
    1.0

    Source: Spearman, The proof and measurement of association between two things, American
    Journal of Psychology 15 (1904).
    """
    one, other = (_centred_ranks(np.asarray(item, dtype=np.float64)) for item in (first, second))
    spread = np.sqrt(np.sum(one**2, axis=-1) * np.sum(other**2, axis=-1))
    product = np.sum(one * other, axis=-1)
    blank = np.full(np.broadcast_shapes(product.shape, spread.shape), np.nan)
    return np.asarray(np.divide(product, spread, out=blank, where=spread > 0.0))


def _centred_ranks(values: FloatArray) -> FloatArray:
    """Return ranks less their mean, equal values taking the mean of theirs."""
    flat = values.reshape(-1, values.shape[-1])
    ranks = np.empty_like(flat)
    for row, line in enumerate(flat):
        _, place, counts = np.unique(line, return_inverse=True, return_counts=True)
        last = np.cumsum(counts)
        ranks[row] = (last - (counts - 1) / 2.0)[place]
    return np.asarray((ranks - (values.shape[-1] + 1) / 2.0).reshape(values.shape))
