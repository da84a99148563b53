"""The best of the arrangements that fit, in one of four orders.

Contents
--------
ORDERS: what arrangements can be ranked by.
Ranked, best_arrangements: the best of them with the figures they are ranked by.
best_rows: the best of very many rows, without a full sort.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.arrangements import Arrangements
from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.intp]

ORDERS = ("support-area", "clearance", "fewest-inverted", "wheelbase")
"""What arrangements can be ranked by; what ties on it is ranked by the others."""


class Ranked(NamedTuple):
    """The best arrangements, best first; every field has them as its first axis."""

    choice: IntArray
    """Option of each corner, shape (m, 4)."""
    support_area: FloatArray
    """Area of the support polygon [m²]."""
    margin: FloatArray
    """Least margin to any keep-out [m]."""
    inverted: IntArray
    """How many modules hang inverted (count)."""
    wheelbase: FloatArray
    """Between the axles' mean positions [m]."""


def best_arrangements(found: Arrangements, *, order: str, most: int) -> Ranked:
    """Return the best arrangements in one of the orders of `ORDERS`, best first.

    The support polygon's area is that of the hull of the contact points; ties are ranked by area,
    then margin, then fewest inverted, then wheelbase.

    Parameters
    ----------
    found : Arrangements
        What `combined` made.
    order : str
        One of `ORDERS` (word).
    most : int
        How many are wanted (count).

    Returns
    -------
    Ranked
        At most that many.

    Raises
    ------
    OutOfRangeError
        With an order that is not known.

    Examples
    --------
    >>> from models.engineering.arrangements import Surroundings, combined, corner_options
    >>> from models.engineering.placement import CORNERS
    >>> from models.engineering.prisms import prisms
    >>> nothing = prisms([], bottoms=[], tops=[])
    >>> around = Surroundings(nothing, np.array([]), nothing, np.array([0.4, 0.4]), np.inf)
    >>> options = [corner_options(corner=corner, envelopes=[nothing], reach=[0.3, 0.2],
    ...                           insets=[0.0, 0.02], around=around) for corner in CORNERS]
    >>> found = combined(options, envelopes=[nothing], allowed=[one.free for one in options],
    ...                  mirrored=True)
    >>> best_arrangements(found, order="support-area", most=3).support_area.round(6).tolist()
    [0.24, 0.232, 0.232]

    Source: own derivation, the shoelace formula taken apart by axles.
    """
    if order not in ORDERS:
        message = f"Arrangements are ranked by {', '.join(ORDERS)}; “{order}” was asked for."
        raise OutOfRangeError(message)
    figures = _Figures(found)
    names = [order, *(name for name in ORDERS if name != order)]
    cells = (
        np.arange(found.total) if found.apart is None else np.flatnonzero(found.apart.reshape(-1))
    )
    best = best_rows([partial(figures.at, name) for name in names], cells, most)
    front, rear = np.divmod(best, max(len(found.rear[0]), 1))
    choice = np.column_stack(
        [
            found.front[0][front],
            found.front[1][front],
            found.rear[0][rear],
            found.rear[1][rear],
        ]
    )
    return Ranked(
        choice=choice,
        support_area=figures.of("support-area", front, rear),
        margin=figures.of("clearance", front, rear),
        inverted=-figures.of("fewest-inverted", front, rear).astype(np.intp),
        wheelbase=figures.of("wheelbase", front, rear),
    )


def best_rows(
    keys: Sequence[Callable[[IntArray], FloatArray]], rows: IntArray, most: int
) -> IntArray:
    """Return the rows with the greatest keys, the first key counting most; ties keep their order.

    Only rows that tie where the list is cut are compared by the next key, and only for those it
    is worked out, so that millions of rows need no full sort.

    Parameters
    ----------
    keys : sequence of functions
        What to rank by, from rows to values, the greatest first (any unit).
    rows : array of int, shape (m,)
        Which rows take part (index).
    most : int
        How many are wanted (count).

    Returns
    -------
    array of int
        At most that many rows, best first.

    Examples
    --------
    >>> first, second = np.array([1.0, 2.0, 2.0]), np.array([0.0, 5.0, 6.0])
    >>> best_rows([first.take, second.take], np.arange(3), 2).tolist()
    [2, 1]

    Source: own definition.
    """
    if len(rows) == 0 or len(keys) == 0:
        return rows[:most]
    if len(rows) <= most:
        order = np.lexsort([-key(rows) for key in reversed(keys)])
        return np.asarray(rows[order])
    values = keys[0](rows)
    last = np.partition(values, len(values) - most)[len(values) - most]
    better = best_rows(keys, rows[values > last], most)
    ties = best_rows(keys[1:], rows[values == last], most - len(better))
    return np.concatenate([better, ties])


class _Figures:
    """What arrangements are ranked by, the greater the better, for any fronts and rears."""

    def __init__(self, found: Arrangements) -> None:
        self.found = found
        pairs = list(zip(found.options, (*found.front, *found.rear), strict=True))
        self.places = [options.contact[index] for options, index in pairs]
        margins = [options.margin[index] for options, index in pairs]
        self.margins = np.minimum(*margins[:2]), np.minimum(*margins[2:])
        turned = [(options.orientation[index] != 0) * 1.0 for options, index in pairs]
        self.turned = turned[0] + turned[1], turned[2] + turned[3]

    def at(self, name: str, cells: IntArray) -> FloatArray:
        """Return a figure for cells of the table of fronts by rears, free of rounding."""
        rears = len(self.found.rear[0])
        fronts = len(self.found.front[0])
        if len(cells) * 2 < fronts * rears:
            return np.round(self.of(name, *np.divmod(cells, rears)), 9)
        whole = self.of(name, np.arange(fronts)[:, None], np.arange(rears)[None, :]).reshape(-1)
        return np.round(whole if len(cells) == len(whole) else whole[cells], 9)

    def of(self, name: str, front: IntArray, rear: IntArray) -> FloatArray:
        """Return a figure for fronts and rears that broadcast with each other."""
        if name == "clearance":
            return np.asarray(np.minimum(self.margins[0][front], self.margins[1][rear]))
        if name == "fewest-inverted":
            return np.asarray(-(self.turned[0][front] + self.turned[1][rear]))
        if name == "wheelbase":
            mean = [(self.places[i][:, 0] + self.places[i + 1][:, 0]) / 2.0 for i in (0, 2)]
            return np.asarray(mean[0][front] - mean[1][rear])
        return self.support_areas(front, rear)

    def support_areas(self, front: IntArray, rear: IntArray) -> FloatArray:
        """Return the area of the hull of the contact points.

        Twice the area of the corners in turn is |a×b + b×c + c×d + d×a|. Where one corner lies
        inside the triangle of the others, that triangle is the hull.
        """
        left, right, rear_left, rear_right = self.places

        def across(one: FloatArray, other: FloatArray) -> FloatArray:
            return np.asarray(
                one[:, 0][front] * other[:, 1][rear] - one[:, 1][front] * other[:, 0][rear]
            )

        of_front, of_rear = _cross(right, left)[front], _cross(rear_left, rear_right)[rear]
        to_left, to_right = across(left, rear_left), -across(right, rear_right)
        area = np.abs(of_front + of_rear + to_left + to_right)
        if self._never_inside():
            return np.asarray(area / 2.0)
        diagonal, other = across(left, rear_right), across(right, rear_left)
        for triangle in (
            of_front + diagonal + to_right,
            of_front + to_left - other,
            of_rear + to_left - diagonal,
            of_rear + other + to_right,
        ):
            area = np.maximum(area, np.abs(triangle))
        return np.asarray(area / 2.0)

    def _never_inside(self) -> bool:
        """Whether insets are so small that no corner can lie behind the line of two others."""
        insets = np.concatenate([options.inset for options in self.found.options])
        reach = np.abs(np.concatenate([options.contact for options in self.found.options])) + insets
        return bool(np.all(insets.max(axis=0) < reach.min(axis=0) / 2.0))


def _cross(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])
