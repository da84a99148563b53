"""Three-point estimates as random numbers that are the same on every machine.

The uniform numbers are the raw 64-bit words of numpy's PCG64, whose stream numpy promises not to
change (numpy enhancement proposal 19), seeded by a hash of words. `Generator.beta` is not used:
the same proposal leaves its stream free to change with any version, and its rejection loop takes
a varying count of words, so that one task's draws would shift all that follow. Inversion takes
one word a draw, so that a run has the same luck for a task whatever else in the plan changes.
A greater likely value, and all three values raised by the same sum or factor, never give a
shorter time. A greater high value alone can: it spreads the distribution to both sides of what
was likely, as the definition has it (its mean still grows).

Contents
--------
uniforms: seeded uniform numbers.
pert_shape, pert_mean, pert_variance: the distribution's figures.
pert_quantiles: its inverse, as a table of 4,096 equally likely slices.
pert_times: draws of it, in whole milliseconds.
"""

from __future__ import annotations

from functools import lru_cache
from hashlib import sha256

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]
Times = NDArray[np.int64]

SLICES = 4096
"""Slices of the inverse: within each, draws are spread evenly. Means are right to 2e-5 of the
range from low to high, held against another program's inverse in the tests."""
STEPS = 2048
"""Steps of the integral of the density, each by Simpson's rule."""


def uniforms(*, seed: int, word: str, count: int) -> FloatArray:
    """Return uniform numbers from 0 to below 1 that follow from a seed and a word alone.

    Parameters
    ----------
    seed : int
        Any whole number (index).
    word : str
        What the numbers are for: other words have independent numbers (word).
    count : int
        How many (count).

    Returns
    -------
    array, shape (count,)
        Multiples of 2⁻⁵³ (share).

    Examples
    --------
    >>> uniforms(seed=1, word="frame", count=2).round(6).tolist()
    [0.495135, 0.300402]

    Source: O'Neill, PCG: A Family of Simple Fast Space-Efficient Statistically Good Algorithms for
    Random Number Generation (2014); the top 53 bits as a float, as numpy itself makes them.
    """
    digest = sha256(f"{seed}:{word}".encode()).digest()
    stream = np.random.PCG64(np.random.SeedSequence(int.from_bytes(digest[:16], "big")))
    return np.asarray((stream.random_raw(count) >> np.uint64(11)) * 2.0**-53)


def pert_shape(low: ArrayLike, likely: ArrayLike, high: ArrayLike) -> FloatArray:
    """Return α of the PERT beta distribution; β is 6 − α.

    α = 1 + 4·(likely − low)/(high − low); 3 where low and high are equal.

    Parameters
    ----------
    low : float or array
        Least (any unit).
    likely : float or array
        Most likely (same unit).
    high : float or array
        Greatest (same unit).

    Returns
    -------
    array
        From 1 to 5 (ratio).

    Examples
    --------
    >>> pert_shape(5.0, 8.0, 17.0).tolist()
    2.0

    Source: Malcolm, Roseboom, Clark and Fazar, Application of a Technique for Research and
    Development Program Evaluation, Operations Research 7 (1959), in its beta form.
    """
    least, mode, greatest = (np.asarray(value, dtype=float) for value in (low, likely, high))
    if np.any(least > mode) or np.any(mode > greatest):
        given = ", ".join(str(value.tolist()) for value in (least, mode, greatest))
        raise OutOfRangeError(f"An estimate has low ≤ likely ≤ high; {given} was given.")
    span = greatest - least
    with np.errstate(invalid="ignore", divide="ignore"):
        share = (mode - least) / span
    return np.asarray(np.where(span > 0.0, 1.0 + 4.0 * share, 3.0))


def pert_mean(low: ArrayLike, likely: ArrayLike, high: ArrayLike) -> FloatArray:
    """Return the mean of the PERT beta distribution, (low + 4·likely + high)/6.

    Parameters
    ----------
    low : float or array
        Least (any unit).
    likely : float or array
        Most likely (same unit).
    high : float or array
        Greatest (same unit).

    Returns
    -------
    array
        Mean (same unit).

    Examples
    --------
    >>> pert_mean(5.0, 8.0, 17.0).tolist()
    9.0

    Source: Malcolm et al., Operations Research 7 (1959), equation of the expected time.
    """
    least, mode, greatest = (np.asarray(value, dtype=float) for value in (low, likely, high))
    return np.asarray((least + 4.0 * mode + greatest) / 6.0)


def pert_variance(low: ArrayLike, likely: ArrayLike, high: ArrayLike) -> FloatArray:
    """Return the variance of the PERT beta distribution, (mean − low)·(high − mean)/7.

    The textbooks' ((high − low)/6)² is this only where likely stands at 15 or 85 % of the range;
    midway, this is the greater by 29 %.

    Parameters
    ----------
    low : float or array
        Least (any unit).
    likely : float or array
        Most likely (same unit).
    high : float or array
        Greatest (same unit).

    Returns
    -------
    array
        Variance (unit squared).

    Examples
    --------
    >>> pert_variance(0.0, 3.0, 6.0).round(4).tolist()
    1.2857

    Source: variance of the beta distribution with α + β = 6 (Johnson and Kotz, Continuous
    Univariate Distributions 2, 1970); own algebra.
    """
    mean = pert_mean(low, likely, high)
    return np.asarray((mean - np.asarray(low)) * (np.asarray(high) - mean) / 7.0)


@lru_cache(maxsize=1)
def _grid() -> tuple[FloatArray, FloatArray]:
    """Return x = sin²(θ/2) at the steps' ends and middles, and its logarithm; 1 − x is x turned."""
    share = np.sin(np.linspace(0.0, np.pi, 2 * STEPS + 1) / 2.0) ** 2
    share[-1] = 1.0
    with np.errstate(divide="ignore"):
        return share, np.log(share)


@lru_cache(maxsize=4096)
def pert_quantiles(shape: float) -> FloatArray:
    """Return the PERT beta distribution's inverse at 0, 1/4096 … 1, on the range from 0 to 1.

    The density x^(α−1)·(1−x)^(5−α) is integrated over θ with x = sin²(θ/2), which is smooth at
    both ends, by Simpson's rule, and inverted by straight lines between the steps.

    Parameters
    ----------
    shape : float
        α, from 1 to 5 (ratio).

    Returns
    -------
    array, shape (4097,)
        Share of the way from low to high (share). Shared: it cannot be written to.

    Examples
    --------
    >>> pert_quantiles(3.0)[[0, 2048, 4096]].round(9).tolist()
    [0.0, 0.5, 1.0]

    Source: regularised incomplete beta function, Abramowitz and Stegun 6.6.2; own substitution.
    """
    if not 1.0 <= shape <= 5.0:
        raise OutOfRangeError(f"α of a PERT estimate lies from 1 to 5; {shape:g} was given.")
    share, logarithm = _grid()
    density = np.exp((shape - 0.5) * logarithm + (5.5 - shape) * logarithm[::-1])
    pieces = density[:-1:2] + 4.0 * density[1::2] + density[2::2]
    chance = np.concatenate([[0.0], np.cumsum(pieces)])
    even = np.linspace(0.0, chance[-1], SLICES + 1)
    table: FloatArray = np.interp(even, chance, share[::2])
    table.setflags(write=False)
    return table


def pert_times(
    low: float, likely: float, high: float, *, chances: FloatArray, unit_ms: int
) -> Times:
    """Return draws of a three-point estimate by inverse transform, in whole milliseconds.

    Parameters
    ----------
    low : float
        Least (hours or days).
    likely : float
        Most likely (same unit).
    high : float
        Greatest (same unit).
    chances : array
        Uniform numbers, one a draw (share).
    unit_ms : int
        Milliseconds in the unit of the estimate [ms].

    Returns
    -------
    array of int
        Draws [ms].

    Examples
    --------
    >>> pert_times(2.0, 3.0, 6.0, chances=np.array([0.0, 0.5]), unit_ms=3_600_000).tolist()
    [7200000, 11718867]

    Source: Devroye, Non-Uniform Random Variate Generation (1986), chapter II.2, inversion.
    """
    table = pert_quantiles(float(pert_shape(low, likely, high)))
    if high == low:
        return np.full(len(chances), round(low * unit_ms), dtype=np.int64)
    place = chances * SLICES
    index = place.astype(np.intp)
    share = table.take(index)
    share += (place - index) * (table.take(index + 1) - share)
    return np.asarray(np.rint((low + (high - low) * share) * unit_ms), dtype=np.int64)
