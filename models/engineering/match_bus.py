"""The bus along a match: voltage and currents where motors, loads and accessories draw at once.

Contents
--------
Feed, BusState, bus_state: the battery side of each stretch, and what is left at its nodes.
time_below: how long a voltage lies below a threshold.
Lowest, lowest: the least voltage of each group, and where it lies.
BusSums, sums_over: charge, energies and squares of currents, one value a group.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.supply import Supply, bus_current, coupled_bus_currents

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

_ALIKE = 1e-9
"""Two halves whose motors differ by less power work alike [W]."""


class Feed(NamedTuple):
    """Battery, wiring and what else draws; fields broadcast against the motors' powers."""

    open_voltage: FloatArray
    """Voc [V]."""
    battery_resistance: FloatArray
    """Of the battery alone [Ω]."""
    main_resistance: FloatArray
    """Of the main wiring and breaker [Ω]."""
    branch_resistance: FloatArray
    """Rw of one motor's branch [Ω]."""
    motor_count: FloatArray
    """n [motors]."""
    load_current: FloatArray
    """Of accessories and named loads [A]."""
    beside_current: FloatArray
    """Of what the motors do beside the run that is followed [A]."""


class BusState(NamedTuple):
    """What the bus is at, and what it gives."""

    voltage: FloatArray
    """[V]"""
    current: FloatArray
    """From the battery, all together [A]."""
    first: FloatArray
    """Bus current of one motor of the first half [A]."""
    second: FloatArray
    """Of the second half [A]."""


def bus_state(feed: Feed, *, first_power: ArrayLike, second_power: ArrayLike) -> BusState:
    """Return bus voltage and currents under the powers that motors and loads take.

    Vbus = Voc − Rb (Il + n/2 (i1 + i2)), i = 2P/(Vbus + √(Vbus² − 4·Rw·P)), Il of loads and what
    runs beside; in closed form where both halves work alike, else solved together.

    Parameters
    ----------
    feed : Feed
        The battery side [SI].
    first_power, second_power : array
        At the terminals of one motor of each half [W].

    Returns
    -------
    BusState
        Of the powers' shape; at most the greatest power that the battery can give.

    Examples
    --------
    >>> feed = Feed(*(np.asarray(x) for x in (12.6, 0.014, 0.005, 0.006, 4.0, 8.0, 0.0)))
    >>> at = bus_state(feed, first_power=[300.0], second_power=[100.0])
    >>> at.voltage.round(3).tolist(), at.first.round(4).tolist(), at.second.round(4).tolist()
    ([11.056], [27.5469], [9.0899])

    Source: Ohm's law and the lossless chopper.
    """
    one, other = (np.asarray(power, dtype=np.float64) for power in (first_power, second_power))
    shape = np.broadcast_shapes(one.shape, other.shape, *(field.shape for field in feed))
    main = feed.battery_resistance + feed.main_resistance
    steady = feed.load_current + feed.beside_current
    source = feed.open_voltage - main * steady
    each = bus_current(
        source_voltage=source,
        path=feed.motor_count * main + feed.branch_resistance,
        motor_power=one,
    )
    first = np.array(np.broadcast_to(each, shape))
    second = first.copy()
    uneven = np.broadcast_to(np.abs(one - other) > _ALIKE, shape)
    if uneven.any():
        some = _supply_of(feed, main, source)
        first[uneven], second[uneven] = coupled_bus_currents(
            Supply._make(x if x.ndim == 0 else np.broadcast_to(x, shape)[uneven] for x in some),
            first_power=np.broadcast_to(one, shape)[uneven],
            second_power=np.broadcast_to(other, shape)[uneven],
        )
    current = steady + feed.motor_count / 2.0 * (first + second)
    return BusState(feed.open_voltage - main * current, current, first, second)


def _supply_of(feed: Feed, main: FloatArray, source: FloatArray) -> Supply:
    """Return the battery side as the equations of unequal motors take it; no limits in it."""
    never = np.asarray(np.inf)
    return Supply(
        source, feed.open_voltage, main, feed.branch_resistance, feed.load_current,
        feed.motor_count, never, never, never,
    )  # fmt: skip


def time_below(*, time: FloatArray, voltage: FloatArray, threshold: ArrayLike) -> FloatArray:
    """Return how long a voltage lies below a threshold in each stretch.

    Between two nodes the voltage is a straight line in time.

    Parameters
    ----------
    time : array, shape (stretches, nodes)
        Rising along the nodes [s].
    voltage : array, shape (stretches, nodes)
        At the nodes [V].
    threshold : float or array
        One for all or one a stretch [V].

    Returns
    -------
    array, shape (stretches,)
        Time below [s].

    Examples
    --------
    >>> time_below(time=np.array([[0.0, 1.0]]), voltage=np.array([[8.0, 6.0]]),
    ...            threshold=6.5).tolist()
    [0.25]

    Source: own definition.
    """
    limit = np.asarray(threshold, dtype=np.float64)
    gap = voltage - (limit[:, None] if limit.ndim else limit)
    one, other = gap[:, :-1], gap[:, 1:]
    under = np.maximum(-one, 0.0) + np.maximum(-other, 0.0)
    length = np.abs(one) + np.abs(other)
    crosses = (one < 0.0) != (other < 0.0)
    share = np.where(crosses, under / np.where(crosses, length, 1.0), (one < 0.0) * 1.0)
    return np.asarray(np.sum(share * np.diff(time, axis=1), axis=1))


class BusSums(NamedTuple):
    """Integrals over time, one value a group."""

    time: FloatArray
    """[s]"""
    charge: FloatArray
    """∫I dt [C]."""
    square: FloatArray
    """∫I² dt [A²s]."""
    branch_square: FloatArray
    """∫Ib² dt of the harder worked half's motor [A²s]."""
    winding_square: FloatArray
    """∫Im² dt of the harder worked half's motor, the winding current [A²s]."""
    energy: FloatArray
    """∫Vbus·I dt [J]."""
    battery: FloatArray
    """Heat in the battery, ∫Rbatt·I² dt [J]."""
    main: FloatArray
    """Heat in the main wiring [J]."""
    branches: FloatArray
    """Heat in all branches [J]."""
    loads: FloatArray
    """What accessories and named loads take [J]."""


def sums_over(
    feed: Feed,
    state: BusState,
    *,
    weight: FloatArray,
    winding: tuple[FloatArray, FloatArray],
    group: IntArray,
    count: int,
) -> BusSums:
    """Return charge, energies and squares of currents over the stretches of each group.

    Parameters
    ----------
    feed : Feed
        The battery side, of shape (stretches, 1) or () [SI].
    state : BusState
        Of shape (stretches, nodes) [SI].
    weight : array, shape (stretches, nodes)
        Time that each node stands for [s].
    winding : tuple of two arrays
        Winding current of a motor of each half [A].
    group : array of int, shape (stretches,)
        Group of each stretch (index).
    count : int
        Groups that there are [count].

    Returns
    -------
    BusSums
        Arrays of shape (count,).

    Examples
    --------
    >>> feed = Feed(*(np.asarray(x) for x in (12.6, 0.014, 0.005, 0.006, 4.0, 8.0, 0.0)))
    >>> at = bus_state(feed, first_power=np.zeros((1, 2)), second_power=np.zeros((1, 2)))
    >>> sums = sums_over(feed, at, weight=np.ones((1, 2)), winding=(at.first, at.second),
    ...                  group=np.array([0]), count=1)
    >>> float(sums.charge[0]), float(sums.loads[0].round(3)) == float(sums.energy[0].round(3))
    (16.0, True)

    Source: own definition.
    """

    def whole(values: ArrayLike) -> FloatArray:
        summed = np.sum(np.asarray(values, dtype=np.float64) * weight, axis=1)
        return np.asarray(np.bincount(group, summed, count), dtype=np.float64)

    square = state.current**2
    branches = state.first**2 + state.second**2
    per_motor = np.maximum(state.first, state.second) ** 2
    hardest = np.maximum(winding[0], winding[1]) ** 2
    return BusSums(
        time=whole(np.ones(weight.shape)),
        charge=whole(state.current),
        square=whole(square),
        branch_square=whole(per_motor),
        winding_square=whole(hardest),
        energy=whole(state.voltage * state.current),
        battery=whole(feed.battery_resistance * square),
        main=whole(feed.main_resistance * square),
        branches=whole(feed.motor_count / 2.0 * feed.branch_resistance * branches),
        loads=whole(state.voltage * feed.load_current),
    )


class Lowest(NamedTuple):
    """The least voltage of each group of stretches."""

    voltage: FloatArray
    """[V]"""
    stretch: IntArray
    """In which it lies (index)."""
    time: FloatArray
    """When [s]."""


def lowest(*, time: FloatArray, voltage: FloatArray, group: IntArray, count: int) -> Lowest:
    """Return the least voltage of each group of stretches, and where it lies.

    Between nodes by the parabola through the least node and its neighbours

    Parameters
    ----------
    time : array, shape (stretches, nodes)
        Rising along the nodes [s].
    voltage : array, shape (stretches, nodes)
        At the nodes [V].
    group : array of int, shape (stretches,)
        Group of each stretch (index).
    count : int
        Groups that there are [count].

    Returns
    -------
    Lowest
        Arrays of shape (count,); of a group without stretches infinite and of no meaning.

    Examples
    --------
    >>> at = np.array([[0.0, 1.0, 2.0]])
    >>> least = lowest(time=at, voltage=9.0 + (at - 1.2) ** 2, group=np.array([0]), count=1)
    >>> round(float(least.voltage[0]), 6), round(float(least.time[0]), 6)
    (9.0, 1.2)

    Source: own definition.
    """
    present = np.bincount(group, minlength=count) > 0
    if not len(group):
        return Lowest(np.full(count, np.inf), np.zeros(count, dtype=np.int64), np.zeros(count))
    node = np.argmin(voltage, axis=1)
    rows = np.arange(len(voltage))
    order = np.lexsort((voltage[rows, node], group))
    first = np.searchsorted(group[order], np.arange(count))
    stretch = order[np.minimum(first, len(order) - 1)]
    middle = np.clip(node[stretch], 1, voltage.shape[1] - 2)
    t0, t1, t2 = (time[stretch, middle + shift] for shift in (-1, 0, 1))
    v0, v1, v2 = (voltage[stretch, middle + shift] for shift in (-1, 0, 1))
    least, when = voltage[stretch, node[stretch]], time[stretch, node[stretch]]
    wide = (t1 > t0) & (t2 > t1)
    left = (v1 - v0) / np.where(wide, t1 - t0, 1.0)
    right = (v2 - v1) / np.where(wide, t2 - t1, 1.0)
    bend = (right - left) / np.where(wide, t2 - t0, 1.0)
    curved = wide & (bend > 1e-12)
    vertex = (t0 + t1) / 2.0 - left / (2.0 * np.where(curved, bend, 1.0))
    inside = curved & (node[stretch] == middle) & (vertex > t0) & (vertex < t2)
    at_vertex = v0 + left * (vertex - t0) + bend * (vertex - t0) * (vertex - t1)
    better = inside & (at_vertex < least)
    least = np.where(present, np.where(better, at_vertex, least), np.inf)
    return Lowest(least, stretch, np.where(better, vertex, when))
