"""Lines of equal height through figures on a grid, and the areas above them.

Marching squares: each cell of the grid is crossed where a level lies between two of its corners;
a saddle is settled by the mean of its corners. The crossings join to lines from edge to edge.

Contents
--------
contour_lines: the lines of one level, open at the rim of the grid.
areas_above: the outlines of what lies at or above a level.
nice_levels: round levels between two figures.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]
Edge = tuple[int, int, int]

_SIDES: dict[int, tuple[tuple[int, int], ...]] = {
    1: ((3, 0),), 2: ((0, 1),), 3: ((3, 1),), 4: ((1, 2),), 6: ((0, 2),), 7: ((3, 2),),
    8: ((2, 3),), 9: ((2, 0),), 11: ((2, 1),), 12: ((1, 3),), 13: ((1, 0),), 14: ((0, 3),),
}  # fmt: skip
"""Sides that a line enters and leaves a cell by, with what is high on one hand throughout.

Corners count 1, 2, 4, 8 from the first column's first row along the row and back; sides 0 to 3
follow the corners.
"""
_SADDLES = {
    (5, True): ((3, 2), (1, 0)),
    (5, False): ((3, 0), (1, 2)),
    (10, True): ((0, 3), (2, 1)),
    (10, False): ((0, 1), (2, 3)),
}


def contour_lines(
    heights: ArrayLike, *, across: ArrayLike, along: ArrayLike, level: float
) -> list[FloatArray]:
    """Return the lines on which a figure has a level.

    Parameters
    ----------
    heights : array, shape (m, n)
        The figure at every crossing of the grid; cells with one that is not finite have no
        line [any].
    across : array, shape (m,)
        Place of the rows [any].
    along : array, shape (n,)
        Place of the columns [any].
    level : float
        The figure to follow [any].

    Returns
    -------
    list of arrays, each of shape (k, 2)
        Points as (row place, column place); a closed line ends where it begins.

    Examples
    --------
    >>> heights = [[0.0, 0.0], [2.0, 2.0]]
    >>> [line.tolist() for line in contour_lines(heights, across=[0, 1], along=[0, 4], level=1)]
    [[[0.5, 0.0], [0.5, 4.0]]]

    Source: marching squares, as in W. Lorensen and H. Cline's marching cubes (1987) in the plane.
    """
    grid = np.asarray(heights, dtype=np.float64)
    rows, columns = (np.asarray(item, dtype=np.float64) for item in (across, along))
    steps: dict[Edge, Edge] = {}
    for row, column, pairs in _crossed(grid, level):
        sides = [(row, column, 1), (row + 1, column, 0), (row, column + 1, 1), (row, column, 0)]
        # Side 0 joins the corners 1 and 2 (down the first column), side 1 corners 2 and 4 …
        for enter, leave in pairs:
            steps[sides[enter]] = sides[leave]
    return [
        np.array([_crossing(grid, rows, columns, edge, level) for edge in chain])
        for chain in _chains(steps)
    ]


def _crossed(grid: FloatArray, level: float) -> list[tuple[int, int, tuple[tuple[int, int], ...]]]:
    """Return the cells that a level crosses, with the sides it enters and leaves by."""
    high = grid >= level
    known = np.isfinite(grid)
    code = high[:-1, :-1] + 2 * high[1:, :-1] + 4 * high[1:, 1:] + 8 * high[:-1, 1:]
    whole = known[:-1, :-1] & known[1:, :-1] & known[1:, 1:] & known[:-1, 1:]
    found = []
    for row, column in np.argwhere(whole & (code != 0) & (code != 15)).tolist():
        kind = int(code[row, column])
        if kind in (5, 10):
            mean = float(np.mean(grid[row : row + 2, column : column + 2]))
            pairs: tuple[tuple[int, int], ...] = _SADDLES[kind, mean >= level]
        else:
            pairs = _SIDES[kind]
        found.append((row, column, pairs))
    return found


def _crossing(
    grid: FloatArray, rows: FloatArray, columns: FloatArray, edge: Edge, level: float
) -> tuple[float, float]:
    """Return where a level crosses an edge of the grid."""
    row, column, down = edge
    other_row, other_column = (row + 1, column) if down else (row, column + 1)
    first, last = grid[row, column], grid[other_row, other_column]
    share = 0.5 if first == last else float((level - first) / (last - first))
    return (
        float(rows[row] + share * (rows[other_row] - rows[row])),
        float(columns[column] + share * (columns[other_column] - columns[column])),
    )


def _chains(steps: dict[Edge, Edge]) -> list[list[Edge]]:
    """Return steps from edge to edge as lines; those that come in from the rim first."""
    reached = set(steps.values())
    starts = [edge for edge in steps if edge not in reached]
    chains = []
    for start in [*starts, *steps]:
        if start not in steps:
            continue
        chain = [start]
        while chain[-1] in steps:
            chain.append(steps.pop(chain[-1]))
        chains.append(chain)
    return chains


def areas_above(
    heights: ArrayLike, *, across: ArrayLike, along: ArrayLike, level: float
) -> list[FloatArray]:
    """Return the outlines of what lies at or above a level, closed along the rim of the grid.

    Filled by the even-odd rule they are that area. A figure that is not finite counts as above.

    Parameters
    ----------
    heights : array, shape (m, n)
        The figure at every crossing of the grid [any].
    across : array, shape (m,)
        Place of the rows [any].
    along : array, shape (n,)
        Place of the columns [any].
    level : float
        The figure [any].

    Returns
    -------
    list of arrays, each of shape (k, 2)
        Closed outlines as (row place, column place).

    Examples
    --------
    >>> (area,) = areas_above([[1.0, 1.0], [1.0, 1.0]], across=[0, 1], along=[0, 4], level=0.5)
    >>> area.min(axis=0).tolist(), area.max(axis=0).tolist()
    ([0.0, 0.0], [1.0, 4.0])

    Source: marching squares over a grid with a low rim of no width.
    """
    grid = np.asarray(heights, dtype=np.float64)
    finite = grid[np.isfinite(grid)]
    top = max(float(finite.max(initial=level)), level) + 1.0
    raised = np.where(np.isfinite(grid), grid, top)
    rimmed = np.pad(raised, 1, constant_values=min(float(finite.min(initial=level)), level) - 1.0)
    rows, columns = (
        np.pad(np.asarray(item, dtype=np.float64), 1, mode="edge") for item in (across, along)
    )
    return contour_lines(rimmed, across=rows, along=columns, level=level)


def nice_levels(low: float, high: float, *, most: int) -> list[float]:
    """Return round levels strictly between two figures: steps of 1, 2 or 5 times a power of ten.

    Parameters
    ----------
    low, high : float
        The figures [any].
    most : int
        At most so many levels [count].

    Returns
    -------
    list of float
        Rising; empty where there is nothing between [any].

    Examples
    --------
    >>> nice_levels(6.3, 11.8, most=6), nice_levels(1.62, 2.31, most=4)
    ([7.0, 8.0, 9.0, 10.0, 11.0], [1.8, 2.0, 2.2])

    Source: own derivation.
    """
    if not high > low:
        return []
    power = 10.0 ** math.floor(math.log10((high - low) / most))
    for step in (power, 2.0 * power, 5.0 * power, 10.0 * power, 20.0 * power):
        first, last = math.floor(low / step) + 1, math.ceil(high / step) - 1
        if last - first + 1 <= most:
            return [float(f"{index * step:.10g}") for index in range(first, last + 1)]
    return []
