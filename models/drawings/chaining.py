"""Open lines and arcs that meet at their ends, chained to closed loops."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def closed_loops(
    lines: Sequence[FloatArray], snap: float
) -> tuple[list[tuple[FloatArray, list[int]]], int]:
    """Return the loops that open lines form, with the lines of each, and how many lines are left.

    `lines`: arrays of shape (points, 2); ends within `snap` of each other meet. A loop is a set of
    lines in which exactly two ends meet wherever ends meet; where three or more do, it is not
    known which way to go on, and the lines are left.

    >>> square = [(0, 0), (1, 0), (1, 1), (0, 1)]
    >>> sides = [np.array([a, b], float) for a, b in zip(square, square[1:] + square[:1])]
    >>> loops, left = closed_loops(sides, 0.01)
    >>> [points.shape for points, members in loops], left
    ([(4, 2)], 0)
    """
    ends = np.array([point for line in lines for point in (line[0], line[-1])]).reshape(-1, 2)
    node = _clusters(ends, snap)
    at_node: defaultdict[int, list[int]] = defaultdict(list)
    for end, name in enumerate(node):
        at_node[name].append(end)
    loops: list[tuple[FloatArray, list[int]]] = []
    used: set[int] = set()
    for first in range(len(lines)):
        if first in used:
            continue
        walk = _walk(first, node, at_node)
        used |= {end // 2 for end in walk}
        closed = node[walk[0]] == node[walk[-1] ^ 1]
        if closed and all(len(at_node[node[end]]) == 2 for end in walk):
            pieces = [lines[end // 2] if end % 2 == 0 else lines[end // 2][::-1] for end in walk]
            points = np.vstack([piece[:-1] for piece in pieces])
            loops.append((points, [end // 2 for end in walk]))
    members = sum(len(which) for _, which in loops)
    return loops, len(lines) - members


def _walk(first: int, node: list[int], at_node: dict[int, list[int]]) -> list[int]:
    """Return the ends at which each line is entered, going on from the first while it is clear."""
    walk = [2 * first]
    seen = {first}
    while True:
        leaving = walk[-1] ^ 1
        there = at_node[node[leaving]]
        onward = [end for end in there if end != leaving]
        if len(there) != 2 or onward[0] // 2 in seen:
            return walk
        walk.append(onward[0])
        seen.add(onward[0] // 2)


def _clusters(points: FloatArray, snap: float) -> list[int]:
    """Return a number for each point, equal for those within `snap` of one another."""
    parent = list(range(len(points)))

    def root(index: int) -> int:
        while parent[index] != index:
            parent[index] = parent[parent[index]]
            index = parent[index]
        return index

    cells: defaultdict[tuple[int, int], list[int]] = defaultdict(list)
    for index, (x, y) in enumerate(points):
        column, row = int(np.floor(x / snap)), int(np.floor(y / snap))
        for across in (-1, 0, 1):
            for along in (-1, 0, 1):
                for other in cells.get((column + across, row + along), ())[:4]:
                    if np.hypot(*(points[other] - points[index])) <= snap:
                        parent[root(index)] = root(other)
        cells[column, row].append(index)
    return [root(index) for index in range(len(points))]
