"""Tasks, crews and parts as a schedule in shop time, for many runs at once.

Each crew takes its tasks in the listed order; with several hands the next task goes to the hand
that is free first. A task starts when its hand is free, all before it have ended and its parts
can be used. All times are whole milliseconds of shop time (`models.engineering.calendar`).

A longer duration or a later part never makes any task earlier, and one more hand, one more
meeting or one task less never makes any later. The anomalies of list scheduling (Graham, Bounds
on Multiprocessing Timing Anomalies, 1969) come from workers who pass over a task that cannot
start yet; here nobody passes over one, so the hands' free times in rising order follow the
recursion of a queue served in turn (Kiefer and Wolfowitz 1955), where every step, a maximum, a
sum and a sort, only grows with what it is made of.

Contents
--------
Plan: who does what after what with which parts.
LoopError, work_order: an order in which tasks can be worked out, or the loop that forbids it.
Runs, simulate: when tasks start and end.
finish_times: when all have ended, no more.
least_tails: how long it takes at least from a task's start until all have ended.
Chain, chain_shares: the share of the runs in which each lies on the chain that sets the end.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.errors import OutOfRangeError

Times = NDArray[np.int64]
Truths = NDArray[np.bool_]
FloatArray = NDArray[np.float64]


class Plan(NamedTuple):
    """Tasks by index, in the listed order."""

    crews: tuple[int, ...]
    """Which crew does each task (index)."""
    hands: tuple[int, ...]
    """How many tasks each crew can work on at once (count)."""
    after: tuple[tuple[int, ...], ...]
    """Which tasks must end before each (index)."""
    needs: tuple[tuple[int, ...], ...]
    """Which purchases each has to have (index)."""

    def earlier(self, task: int) -> tuple[int, ...]:
        """Return the tasks that the same crew takes before one, in turn."""
        crew = self.crews[task]
        return tuple(other for other in range(task) if self.crews[other] == crew)


class LoopError(OutOfRangeError):
    """Tasks that wait for each other; `loop` has them in turn, the first again at the end."""

    def __init__(self, loop: Sequence[int]) -> None:
        self.loop = tuple(loop)
        super().__init__(f"Tasks wait for each other: {', '.join(map(str, self.loop))}.")


class Runs(NamedTuple):
    """Times of each task, shape (tasks, runs)."""

    starts: Times
    """When each starts [ms of shop time]."""
    ends: Times
    """When each ends [ms of shop time]."""
    hand_free: Times
    """When the hand that does it is free [ms of shop time]."""


class Chain(NamedTuple):
    """How often each lies on the chain that sets the end."""

    tasks: FloatArray
    """By task (share)."""
    purchases: FloatArray
    """By purchase (share)."""


def work_order(plan: Plan) -> tuple[int, ...]:
    """Return the tasks in an order in which each has behind it what it waits for.

    A task waits for its predecessors and, once its crew has taken as many as it has hands, for
    all that the crew takes before it.

    Parameters
    ----------
    plan : Plan
        The tasks (index).

    Returns
    -------
    tuple of int
        All tasks (index).

    Raises
    ------
    LoopError
        Where tasks wait for each other, the crews' listed orders included; it names a loop.

    Examples
    --------
    >>> work_order(Plan(crews=(0, 0), hands=(2,), after=((1,), ()), needs=((), ())))
    (1, 0)

    Source: Kahn, Topological Sorting of Large Networks, Communications of the ACM 5 (1962).
    """
    waits = [set(before) for before in plan.after]
    for task in range(len(plan.crews)):
        earlier = plan.earlier(task)
        if len(earlier) >= plan.hands[plan.crews[task]]:
            waits[task].update(earlier)
    order: list[int] = []
    done: set[int] = set()
    open_tasks = list(range(len(waits)))
    while open_tasks:
        ready = [task for task in open_tasks if waits[task] <= done]
        if not ready:
            raise LoopError(_loop(open_tasks[0], waits, done))
        order += ready
        done.update(ready)
        open_tasks = [task for task in open_tasks if task not in done]
    return tuple(order)


def _loop(task: int, waits: Sequence[set[int]], done: set[int]) -> list[int]:
    """Return a loop, each task before the one that waits for it; every open task has one open."""
    path = [task]
    while path.count(path[-1]) == 1:
        path.append(min(waits[path[-1]] - done))
    return path[path.index(path[-1]) :][::-1]


def simulate(
    plan: Plan, *, durations: Times, usable: Times, order: Sequence[int], not_before: int = 0
) -> Runs:
    """Return when each task starts and ends.

    Parameters
    ----------
    plan : Plan
        The tasks (index).
    durations : array of int, shape (tasks, runs)
        How long each takes [ms of shop time].
    usable : array of int, shape (purchases, runs)
        From when each purchase can be used [ms of shop time].
    order : sequence of int
        What `work_order` gave (index).
    not_before : int
        When the first task can start at the earliest [ms of shop time].

    Returns
    -------
    Runs
        Starts and ends.

    Examples
    --------
    >>> plan = Plan(crews=(0, 0, 1), hands=(1, 1), after=((), (), (0, 1)), needs=((0,), (), ()))
    >>> runs = simulate(plan, durations=np.array([[2], [3], [4]]), usable=np.array([[5]]),
    ...                 order=work_order(plan))
    >>> runs.starts[:, 0].tolist(), runs.ends[:, 0].tolist()
    ([5, 7, 10], [7, 10, 14])

    Source: Kiefer and Wolfowitz, On the Theory of Queues with Many Servers, Transactions of the
    American Mathematical Society 78 (1955), for the hands' free times in rising order.
    """
    starts, ends, hand_free = (np.empty_like(durations) for _ in range(3))
    free: list[list[Times]] = [[] for _ in plan.hands]
    for task in order:
        crew = plan.crews[task]
        busy = len(free[crew]) >= plan.hands[crew]
        hand_free[task] = free[crew].pop(0) if busy else not_before
        start = starts[task]
        start[:] = hand_free[task]
        for before in plan.after[task]:
            np.maximum(start, ends[before], out=start)
        for need in plan.needs[task]:
            np.maximum(start, usable[need], out=start)
        np.add(start, durations[task], out=ends[task])
        _sort_in(free[crew], ends[task])
    return Runs(starts, ends, hand_free)


def finish_times(
    plan: Plan, *, durations: Times, usable: Times, order: Sequence[int], not_before: int = 0
) -> Times:
    """Return when all tasks have ended, as `simulate` has it, in a third of its time.

    Parameters
    ----------
    plan : Plan
        The tasks (index).
    durations : array of int, shape (tasks, runs)
        How long each takes [ms of shop time].
    usable : array of int, shape (purchases, runs)
        From when each purchase can be used [ms of shop time].
    order : sequence of int
        What `work_order` gave (index).
    not_before : int
        When the first task can start at the earliest [ms of shop time].

    Returns
    -------
    array of int, shape (runs,)
        When the last task ends [ms of shop time].

    Examples
    --------
    >>> plan = Plan(crews=(0, 0, 1), hands=(1, 1), after=((), (), (0, 1)), needs=((0,), (), ()))
    >>> finish_times(plan, durations=np.array([[2], [3], [4]]), usable=np.array([[5]]),
    ...              order=work_order(plan)).tolist()
    [14]

    Source: as `simulate`.
    """
    ends = np.empty_like(durations)
    free: list[list[Times]] = [[] for _ in plan.hands]
    for task in order:
        crew = plan.crews[task]
        waits = [ends[before] for before in plan.after[task]]
        waits += [usable[need] for need in plan.needs[task]]
        if len(free[crew]) >= plan.hands[crew]:
            waits.append(free[crew].pop(0))
        end = ends[task]
        if not waits:
            np.add(durations[task], not_before, out=end)
        else:
            _greatest(waits, end)
            if not_before and plan.needs[task]:  # else it waits for a task, which ends later
                np.maximum(end, not_before, out=end)
            np.add(end, durations[task], out=end)
        _sort_in(free[crew], end)
    return np.asarray(ends.max(axis=0))


def _greatest(times: Sequence[Times], out: Times) -> None:
    """Put the greatest of some times, run by run, into an array."""
    np.maximum(times[0], times[-1], out=out)
    for time in times[1:-1]:
        np.maximum(out, time, out=out)


def least_tails(plan: Plan, *, durations: Times, order: Sequence[int]) -> Times:
    """Return how long it takes at least from the start of each task until all have ended.

    That is the longest way over those that come after it, and over the next tasks of a crew that
    has one pair of hands; parts and further hands can only make it longer.

    Parameters
    ----------
    plan : Plan
        The tasks (index).
    durations : array of int, shape (tasks, runs)
        How long each takes [ms of shop time].
    order : sequence of int
        What `work_order` gave (index).

    Returns
    -------
    array of int, shape (tasks, runs)
        Least time to the end [ms of shop time].

    Examples
    --------
    >>> plan = Plan(crews=(0, 0, 1), hands=(1, 1), after=((), (), (0,)), needs=((), (), ()))
    >>> least_tails(plan, durations=np.array([[2], [3], [4]]), order=(0, 1, 2))[:, 0].tolist()
    [6, 3, 4]

    Source: backward pass of the critical path method (Kelley and Walker 1959).
    """
    tails = np.zeros_like(durations)
    for task in reversed(order):
        tails[task] += durations[task]
        before = set(plan.after[task])
        if plan.hands[plan.crews[task]] == 1:
            before.update(plan.earlier(task)[-1:])
        for other in before:
            np.maximum(tails[other], tails[task], out=tails[other])
    return tails


def _sort_in(rising: list[Times], new: Times) -> None:
    """Put one more free time, run by run, among those that rise from entry to entry."""
    for index, value in enumerate(rising):
        rising[index], new = np.minimum(value, new), np.maximum(value, new)
    rising.append(new)


def chain_shares(plan: Plan, runs: Runs, *, usable: Times, order: Sequence[int]) -> Chain:
    """Return the share of the runs in which each lies on the chain that sets the end.

    The chain goes back from the task that ends last to whatever its start waited for: the task
    before it, the one whose end freed the hand, or the part. Where two set the same moment, both
    lie on it: parts that can be used from the same meeting, equal durations.

    Parameters
    ----------
    plan : Plan
        The tasks (index).
    runs : Runs
        What `simulate` gave.
    usable : array of int, shape (purchases, runs)
        From when each purchase can be used [ms of shop time].
    order : sequence of int
        What `work_order` gave (index).

    Returns
    -------
    Chain
        Shares from 0 to 1.

    Examples
    --------
    >>> plan = Plan(crews=(0, 0, 1), hands=(1, 1), after=((), (), (0, 1)), needs=((0,), (), ()))
    >>> usable = np.array([[5]])
    >>> runs = simulate(plan, durations=np.array([[2], [3], [4]]), usable=usable,
    ...                 order=work_order(plan))
    >>> chain = chain_shares(plan, runs, usable=usable, order=work_order(plan))
    >>> chain.tasks.tolist(), chain.purchases.tolist()
    ([1.0, 1.0, 1.0], [1.0])

    Source: criticality index of Van Slyke, Monte Carlo Methods and the PERT Problem, Operations
    Research 11 (1963), with crews and parts as further causes.
    """
    on = runs.ends == runs.ends.max(axis=0)
    parts = np.zeros(usable.shape, dtype=bool)
    for task in reversed(order):
        bound = on[task] & (runs.starts[task] > 0)
        if not bound.any():
            continue
        start = runs.starts[task]
        for before in plan.after[task]:
            on[before] |= bound & (runs.ends[before] == start)
        for need in plan.needs[task]:
            parts[need] |= bound & (usable[need] == start)
        _mark_crew(on, plan, runs, task, bound)
    return Chain(on.mean(axis=1), parts.mean(axis=1))


def _mark_crew(on: Truths, plan: Plan, runs: Runs, task: int, bound: Truths) -> None:
    """Mark the tasks whose end freed the hand that a task waited for."""
    earlier = plan.earlier(task)
    hands = plan.hands[plan.crews[task]]
    if len(earlier) < hands:
        return
    start = runs.starts[task]
    waited = bound & (runs.hand_free[task] == start)
    if waited.any():
        for other in earlier[-1:] if hands == 1 else earlier:
            on[other] |= waited & (runs.ends[other] == start)
