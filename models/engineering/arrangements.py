"""Which arrangements of four steered modules fit: every orientation at every corner, with insets.

The search is taken apart: whether a module keeps clear of the keep-outs depends on its own corner,
orientation and inset alone, so each such option is looked at once; only then are options put
together, and the few pairs of modules that come near each other checked, once for each distance
between them.

Contents
--------
Surroundings: what the modules have to stand clear of.
inset_steps: the insets that are tried.
CornerOptions, corner_options: every option of one corner, and how it stands.
Arrangements, combined: the options put together to whole arrangements.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

from models.engineering.placement import CORNER_SIGNS, CORNERS, Corner
from models.engineering.prisms import LENGTH_TOLERANCE, VOLUME_TOLERANCE, Prisms
from models.errors import OutOfRangeError

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.intp]
Pair = tuple[IntArray, IntArray]

MOST_COMBINATIONS = 4_000_000
"""Pairs of axles, or of corners, that are put together at the most."""

MOST_STEPS = 41
"""Insets tried along or across at the most."""


class Surroundings(NamedTuple):
    """What the modules of a base have to stand clear of."""

    keepouts: Prisms
    asked: FloatArray
    """Clearance that each keep-out asks for [m]."""
    bodies: Prisms
    """The base's other bodies, which modules may touch but not overlap."""
    half_frame: FloatArray
    """Half of the frame's length and width, which modules stay inside of [m]."""
    height_limit: float
    """Which no module may stand taller than; infinite for none [m]."""


class CornerOptions(NamedTuple):
    """Every orientation and inset of one corner, the orientation changing slowest, then along."""

    corner: Corner
    orientation: IntArray
    """Index of the orientation, shape (n,)."""
    inset: FloatArray
    """How far inwards along and across, shape (n, 2) [m]."""
    contact: FloatArray
    """Where the wheel stands, shape (n, 2) [m]."""
    margin: FloatArray
    """Least of gap less clearance over prisms and keep-outs; infinite without any [m]."""
    clear: BoolArray
    """True where every keep-out keeps its clearance and nothing is shared with one."""
    in_place: BoolArray
    """True inside the frame, under the height limit and clear of the base's other bodies."""

    @property
    def free(self) -> BoolArray:
        """True where nothing but another module can stand in the way."""
        return np.asarray(self.clear & self.in_place)


class Arrangements(NamedTuple):
    """Whole arrangements: each front axle option with each rear axle option."""

    options: tuple[CornerOptions, ...]
    """In the order of `CORNERS`."""
    front: Pair
    """Options of the left and the right corner, one pair for each front axle."""
    rear: Pair
    apart: BoolArray | None
    """Which front (first axis) goes with which rear; None where every one goes with every one."""

    @property
    def total(self) -> int:
        """How many arrangements there are."""
        if self.apart is None:
            return len(self.front[0]) * len(self.rear[0])
        return int(np.count_nonzero(self.apart))


def inset_steps(*, largest: float, step: float) -> FloatArray:
    """Return the insets that are tried, from none to the largest.

    i = 0, s, 2s … up to the largest

    Parameters
    ----------
    largest : float
        End of the range [m].
    step : float
        Distance s between two of them [m].

    Returns
    -------
    array, shape (n,)
        Insets [m].

    Raises
    ------
    OutOfRangeError
        With a step of 0 or less, a range below 0, or more than `MOST_STEPS` insets.

    Examples
    --------
    >>> inset_steps(largest=0.04, step=0.02).tolist()
    [0.0, 0.02, 0.04]

    Source: own definition.
    """
    if not (np.isfinite(largest) and np.isfinite(step)) or step <= 0.0 or largest < 0.0:
        message = (
            f"Insets go from 0 to at least 0 m in steps above 0 m; {largest:g} m in steps of "
            f"{step:g} m were asked for."
        )
        raise OutOfRangeError(message)
    count = int(min(np.floor(largest / step + 1e-9), 1e6)) + 1
    if count > MOST_STEPS:
        message = (
            f"{count} insets each way are too many to try; at most {MOST_STEPS} are. Take a "
            "larger step or a shorter range."
        )
        raise OutOfRangeError(message)
    return np.asarray(np.round(np.arange(count) * step, 12))


def corner_options(
    *,
    corner: Corner,
    envelopes: Sequence[Prisms],
    reach: ArrayLike,
    insets: ArrayLike,
    around: Surroundings,
) -> CornerOptions:
    """Return every option of one corner and how it stands to what is around it.

    An option keeps clear where √(d² + v²) − c ≥ 0 for each of its prisms and each keep-out, with
    the plan distance d, the vertical gap v and the clearance c, and shares no volume with one.
    Exact distances are worked out only for pairs whose bounding boxes can be the nearest.

    Parameters
    ----------
    corner : str
        One of `CORNERS` (word).
    envelopes : sequence of Prisms
        The module in each orientation, drawn for the front-left corner about its wheel [m].
    reach : array, shape (2,)
        Half of the wheelbase and half of the track before any inset [m].
    insets : array, shape (k,)
        Insets that are tried along and across [m].
    around : Surroundings
        Keep-outs, other bodies, frame and height limit [m].

    Returns
    -------
    CornerOptions
        len(envelopes)·k² options.

    Raises
    ------
    OutOfRangeError
        Where an inset reaches the middle line.

    Examples
    --------
    >>> from models.engineering.prisms import prisms
    >>> module = prisms([[[-0.1, -0.1], [0.05, -0.1], [0.05, 0.05], [-0.1, 0.05]]],
    ...                 bottoms=[0.05], tops=[0.1])
    >>> mast = prisms([[[-0.1, -0.1], [0.18, -0.1], [0.18, 0.1], [-0.1, 0.1]]],
    ...               bottoms=[0.0], tops=[1.0])
    >>> around = Surroundings(mast, np.array([0.005]), prisms([], bottoms=[], tops=[]),
    ...                       np.array([0.35, 0.35]), np.inf)
    >>> found = corner_options(corner="front_left", envelopes=[module], reach=[0.3, 0.2],
    ...                        insets=[0.0, 0.02], around=around)
    >>> found.margin.round(6).tolist(), found.clear.tolist()
    ([0.015, 0.015, -0.005, -0.005], [True, True, False, False])

    Source: own derivation, Pythagoras over plan and height.
    """
    steps = np.asarray(insets, dtype=np.float64)
    half = np.asarray(reach, dtype=np.float64)
    if float(np.max(steps)) >= float(np.min(half)):
        message = (
            f"Insets stay below half of the wheelbase and half of the track, "
            f"{float(np.min(half)):g} m; {float(np.max(steps)):g} m was asked for."
        )
        raise OutOfRangeError(message)
    along, across = np.meshgrid(steps, steps, indexing="ij")
    grid = np.column_stack([along.ravel(), across.ravel()])
    signs = CORNER_SIGNS[CORNERS.index(corner)]
    contacts = signs * (half - grid)
    looked = [_looked_at(envelope, signs, contacts, around) for envelope in envelopes]
    kinds = len(envelopes)
    return CornerOptions(
        corner=corner,
        orientation=np.repeat(np.arange(kinds), len(grid)),
        inset=np.tile(grid, (kinds, 1)),
        contact=np.tile(contacts, (kinds, 1)),
        margin=np.concatenate([one[0] for one in looked]),
        clear=np.concatenate([one[1] for one in looked]),
        in_place=np.concatenate([one[2] for one in looked]),
    )


def _outlines(envelope: Prisms, signs: FloatArray) -> list[FloatArray]:
    return [signs * shapely.get_coordinates(plan)[:-1] for plan in envelope.plan]


def _looked_at(
    envelope: Prisms, signs: FloatArray, contacts: FloatArray, around: Surroundings
) -> tuple[FloatArray, BoolArray, BoolArray]:
    """Return margin, clear and in place of one orientation at many places."""
    count, places = len(envelope.plan), len(contacts)
    margin = np.full(places, np.inf)
    clear = np.ones(places, dtype=bool)
    in_place = np.ones(places, dtype=bool)
    if count == 0:
        return margin, clear, in_place
    plan = np.concatenate(
        [
            shapely.polygons(outline[None] + contacts[:, None, :])
            for outline in _outlines(envelope, signs)
        ]
    )
    shapes = Prisms(plan, np.repeat(envelope.bottom, places), np.repeat(envelope.top, places))
    least = _least_margins(shapes, around.keepouts, around.asked)
    margin = least.reshape(count, places).min(axis=0)
    loose = np.flatnonzero(around.asked <= LENGTH_TOLERANCE)
    shared = _share_volume(shapes, _some(around.keepouts, loose))
    clear = (margin >= -LENGTH_TOLERANCE) & ~shared.reshape(count, places).any(axis=0)
    bounds = shapely.bounds(plan)
    far = np.maximum(np.abs(bounds[:, :2]), np.abs(bounds[:, 2:])) - around.half_frame
    fits = np.all(far <= LENGTH_TOLERANCE, axis=1)
    fits &= shapes.top <= around.height_limit + LENGTH_TOLERANCE
    fits &= ~_share_volume(shapes, around.bodies)
    in_place = fits.reshape(count, places).all(axis=0)
    return margin, clear, in_place


def _some(prisms: Prisms, which: IntArray) -> Prisms:
    return Prisms(prisms.plan[which], prisms.bottom[which], prisms.top[which])


def _apart_in_height(shapes: Prisms, others: Prisms) -> FloatArray:
    """Return the vertical gap of every pair, below 0 where heights overlap."""
    above = shapes.bottom[:, None] - others.top[None, :]
    below = others.bottom[None, :] - shapes.top[:, None]
    return np.asarray(np.maximum(above, below))


def _apart_in_boxes(ours: FloatArray, theirs: FloatArray) -> FloatArray:
    """Return along which axis bounding boxes lie how far apart, shape (n, m, 2)."""
    return np.asarray(
        np.maximum(theirs[None, :, :2] - ours[:, None, 2:], ours[:, None, :2] - theirs[None, :, 2:])
    )


def _least_margins(shapes: Prisms, keepouts: Prisms, asked: FloatArray) -> FloatArray:
    """Return the least of gap less clearance of each shape over all keep-outs, exactly.

    The distance of bounding boxes is never more than that of the outlines: a pair is left out
    where it cannot come below what an exact distance has shown already.
    """
    if len(keepouts.plan) == 0:
        return np.full(len(shapes.plan), np.inf)
    boxes = _apart_in_boxes(shapely.bounds(shapes.plan), shapely.bounds(keepouts.plan))
    in_plan = np.hypot(np.maximum(boxes[..., 0], 0.0), np.maximum(boxes[..., 1], 0.0))
    upright = np.maximum(_apart_in_height(shapes, keepouts), 0.0)
    least_possible = np.hypot(in_plan, upright) - asked
    rows = np.arange(len(shapes.plan))
    likely = np.argmin(least_possible, axis=1)
    found = (
        np.hypot(shapely.distance(shapes.plan, keepouts.plan[likely]), upright[rows, likely])
        - asked[likely]
    )
    least_possible[rows, likely] = np.inf
    left, column = np.nonzero(least_possible < found[:, None])
    exact = (
        np.hypot(shapely.distance(shapes.plan[left], keepouts.plan[column]), upright[left, column])
        - asked[column]
    )
    np.minimum.at(found, left, exact)
    return np.asarray(found)


def _share_volume(shapes: Prisms, others: Prisms) -> BoolArray:
    """Return which shapes share volume with any of the others."""
    shares = np.zeros(len(shapes.plan), dtype=bool)
    if len(others.plan) == 0:
        return shares
    boxes = _apart_in_boxes(shapely.bounds(shapes.plan), shapely.bounds(others.plan))
    height = -_apart_in_height(shapes, others)
    left, column = np.nonzero((boxes < 0.0).all(axis=-1) & (height > 0.0))
    area = shapely.area(shapely.intersection(shapes.plan[left], others.plan[column]))
    volume = area * height[left, column]
    shares[left[volume > VOLUME_TOLERANCE]] = True
    return shares


def combined(
    options: Sequence[CornerOptions],
    *,
    envelopes: Sequence[Prisms],
    allowed: Sequence[ArrayLike],
    mirrored: bool,
) -> Arrangements:
    """Return the arrangements made of allowed options whose modules do not overlap each other.

    Parameters
    ----------
    options : sequence of CornerOptions
        One for each corner, in the order of `CORNERS`.
    envelopes : sequence of Prisms
        The module in each orientation, as for `corner_options` [m].
    allowed : sequence of arrays of bool
        Which options of each corner may be taken (truth).
    mirrored : bool
        True where left and right have the same insets; orientations are free either way (truth).

    Returns
    -------
    Arrangements
        All of them, not listed one by one.

    Raises
    ------
    OutOfRangeError
        With more than `MOST_COMBINATIONS` pairs to put together.

    Examples
    --------
    >>> from models.engineering.prisms import prisms
    >>> module = prisms([[[-0.1, -0.1], [0.05, -0.1], [0.05, 0.05], [-0.1, 0.05]]],
    ...                 bottoms=[0.05], tops=[0.1])
    >>> nothing = prisms([], bottoms=[], tops=[])
    >>> around = Surroundings(nothing, np.array([]), nothing, np.array([0.4, 0.4]), np.inf)
    >>> options = [corner_options(corner=corner, envelopes=[module], reach=[0.3, 0.12],
    ...                           insets=[0.0, 0.02, 0.04], around=around) for corner in CORNERS]
    >>> combined(options, envelopes=[module], allowed=[one.free for one in options],
    ...          mirrored=True).total
    36

    Source: own derivation.
    """
    masks = [np.asarray(mask, dtype=bool) for mask in allowed]
    axles = []
    for left, right in ((0, 1), (2, 3)):
        pair = _axle_pairs(options[left], masks[left], masks[right], mirrored=mirrored)
        meet = _meet(envelopes, options[left], options[right], pair)
        axles.append((pair[0][~meet], pair[1][~meet]))
    front, rear = axles
    _check_combinations(len(front[0]) * len(rear[0]))
    apart: BoolArray | None = None
    for of_front in (0, 1):
        for of_rear in (0, 1):
            first, second = options[of_front], options[2 + of_rear]
            table = _meeting_table(envelopes, (first, front[of_front]), (second, rear[of_rear]))
            if table is not None:
                alone: BoolArray = ~table[np.ix_(front[of_front], rear[of_rear])]
                apart = alone if apart is None else apart & alone
    return Arrangements(tuple(options), front, rear, apart)


def _check_combinations(count: int) -> None:
    if count > MOST_COMBINATIONS:
        message = (
            f"{count} combinations are too many to look at; at most {MOST_COMBINATIONS} are. "
            "Take a larger step or a shorter range of insets, or keep both sides alike."
        )
        raise OutOfRangeError(message)


def _axle_pairs(of: CornerOptions, left: BoolArray, right: BoolArray, *, mirrored: bool) -> Pair:
    """Return which option of the left corner goes with which of the right one."""
    if not mirrored:
        ours, theirs = np.flatnonzero(left), np.flatnonzero(right)
        _check_combinations(len(ours) * len(theirs))
        return np.repeat(ours, len(theirs)), np.tile(theirs, len(ours))
    kinds = int(of.orientation[-1]) + 1
    cells = len(left) // kinds
    both = left.reshape(kinds, 1, cells) & right.reshape(1, kinds, cells)
    ours, theirs, cell = np.nonzero(both)
    return ours * cells + cell, theirs * cells + cell


def _module_boxes(envelopes: Sequence[Prisms], of: CornerOptions) -> FloatArray:
    """Return the bounding box of each option's module in plan, shape (n, 4)."""
    signs = CORNER_SIGNS[CORNERS.index(of.corner)]
    boxes = np.empty((len(envelopes), 4))
    for box, envelope in zip(boxes, envelopes, strict=True):
        corners = _outlines(envelope, signs)
        # A module without prisms takes no room, so its box lies nowhere.
        drawn = np.vstack(corners) if corners else np.full((1, 2), np.nan)
        box[:] = [*drawn.min(axis=0), *drawn.max(axis=0)]
    return np.asarray(boxes[of.orientation] + np.tile(of.contact, 2))


def _meeting_table(
    envelopes: Sequence[Prisms],
    first: tuple[CornerOptions, IntArray],
    second: tuple[CornerOptions, IntArray],
) -> BoolArray | None:
    """Return which options of two corners overlap; None where none of those used do."""
    ours, theirs = np.unique(first[1]), np.unique(second[1])
    if len(ours) == 0 or len(theirs) == 0:
        return None
    one = _module_boxes(envelopes, first[0])[ours]
    other = _module_boxes(envelopes, second[0])[theirs]
    if not _hulls_overlap(one, other):
        return None
    with np.errstate(invalid="ignore"):
        near = (_apart_in_boxes(one, other) < 0.0).all(axis=-1)
    rows, columns = np.nonzero(near)
    if len(rows) == 0:
        return None
    pair = (ours[rows], theirs[columns])
    meet = _meet(envelopes, first[0], second[0], pair)
    table = np.zeros((len(first[0].margin), len(second[0].margin)), dtype=bool)
    table[pair] = meet
    return table


def _hulls_overlap(ours: FloatArray, theirs: FloatArray) -> bool:
    """Return whether the box around all of some boxes overlaps that around all of others."""
    one, other = (some[~np.isnan(some[:, 0])] for some in (ours, theirs))
    if len(one) == 0 or len(other) == 0:
        return False
    low = np.maximum(one[:, :2].min(axis=0), other[:, :2].min(axis=0))
    high = np.minimum(one[:, 2:].max(axis=0), other[:, 2:].max(axis=0))
    return bool(np.all(low < high))


def _meet(
    envelopes: Sequence[Prisms], first: CornerOptions, second: CornerOptions, pair: Pair
) -> BoolArray:
    """Return which pairs of options overlap, each distance between two modules looked at once."""
    meet = np.zeros(len(pair[0]), dtype=bool)
    away = np.round(second.contact[pair[1]] - first.contact[pair[0]], 11)
    for kind in range(len(envelopes)):
        for other in range(len(envelopes)):
            which = np.flatnonzero(
                (first.orientation[pair[0]] == kind) & (second.orientation[pair[1]] == other)
            )
            places, inverse = np.unique(away[which, 0] + 1j * away[which, 1], return_inverse=True)
            apart = np.column_stack([places.real, places.imag])
            one = _turned(envelopes[kind], first.corner)
            two = _turned(envelopes[other], second.corner)
            meet[which] = _meet_at(one, two, apart)[inverse]
    return meet


def _turned(envelope: Prisms, corner: Corner) -> tuple[Prisms, list[FloatArray]]:
    outlines = _outlines(envelope, CORNER_SIGNS[CORNERS.index(corner)])
    plan = np.array([shapely.Polygon(outline) for outline in outlines], dtype=np.object_)
    return Prisms(plan, envelope.bottom, envelope.top), outlines


def _meet_at(
    one: tuple[Prisms, list[FloatArray]], two: tuple[Prisms, list[FloatArray]], apart: FloatArray
) -> BoolArray:
    """Return at which distances of the second module from the first they share volume."""
    meet = np.zeros(len(apart), dtype=bool)
    if len(apart) == 0:
        return meet
    for index, outline in enumerate(two[1]):
        plan = shapely.polygons(outline[None] + apart[:, None, :])
        bottom = np.repeat(two[0].bottom[index], len(apart))
        moved = Prisms(plan, bottom, np.repeat(two[0].top[index], len(apart)))
        meet |= _share_volume(moved, one[0])
    return meet
