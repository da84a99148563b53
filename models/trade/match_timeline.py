"""A match as drives in their order: each at its time and its charge, with the waits in between.

The charge falls from drive to drive, and resting voltage and resistance with it; within one drive
of a route they stay as they were at its beginning.

Contents
--------
MatchRun, Drive, Idle, matches_on: one candidate's matches on several batteries.
Figures, figures_of: a route at several states of the battery.
thresholds: the voltages that count.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.match_bus import (
    BusState,
    BusSums,
    Feed,
    Lowest,
    bus_state,
    lowest,
    sums_over,
    time_below,
)
from models.errors import NotFoundError
from models.study.schema import Study
from models.trade.battery import Battery, at_charges, with_charge
from models.trade.match_legs import (
    BRAKE,
    MOVE,
    ON_THE_WAY,
    Courses,
    States,
    Trace,
    trace_of,
)
from models.trade.match_plan import MatchPlan, Period, leg_loads, loads_on, match_plan

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_LEVELS = 24
"""Levels of charge that a match is cut into where it has more drives than that."""

_ROUNDS = 2
"""In which the current beside a move is brought to its exact energy."""

SHORTEST_CYCLE_S = 0.1
"""A cycle that takes less moves nothing and is not repeated."""

CANNOT = "The drive cannot do a leg of its routes; the routes page says which and why."
TOO_WEAK = "On this battery the drive cannot do a leg of its routes."
NO_ROUTES = "The study has no routes yet: draw a cycle on the routes page."


class Drive(NamedTuple):
    """One drive of a route in a match."""

    route: int
    state: int
    begin: float
    end: float


class Idle(NamedTuple):
    """A time in which the robot only waits."""

    begin: float
    end: float
    voltage: float
    current: float
    resistance: float
    """Of the battery [Ω]."""


class Figures(NamedTuple):
    """One route at every state: what a drive of it takes; arrays over the states."""

    trace: Trace
    bus: BusState
    sums: BusSums
    least: Lowest
    """Times since the route's beginning."""
    below: FloatArray
    """Below warning and brownout, shape (2, states) [s]."""
    time: FloatArray
    """That the route takes [s]."""


class MatchRun(NamedTuple):
    """A match of one candidate on one battery."""

    battery: Battery
    plan: MatchPlan
    reason: str | None
    """Why there is none, in a sentence."""
    figures: dict[int, Figures]
    """By route; the states of all batteries together."""
    drives: tuple[Drive, ...]
    idle: tuple[Idle, ...]


def matches_on(study: Study, batteries: Sequence[Battery], courses: Courses) -> list[MatchRun]:
    """Return one candidate's match on each of several batteries."""
    plan = match_plan(study)
    routes = [*([] if plan.autonomous is None else [plan.autonomous]), *plan.cycles]
    reason = None
    if not routes:
        reason = NO_ROUTES
    elif any(courses.courses[route] is None for route in routes):
        reason = CANNOT
    if reason is not None:
        return [MatchRun(one, plan, reason, {}, (), ()) for one in batteries]
    looks = {route: _first_look(study, courses, route, batteries) for route in routes}
    first = {route: done for route, (done, _) in looks.items()}
    able = np.all([np.isfinite(done.time) for done in first.values()], axis=0)
    levels: dict[int, list[tuple[int, float]]] = {route: [] for route in routes}
    orders = [
        _order(study, battery, index, first, levels) if able[index] else []
        for index, battery in enumerate(batteries)
    ]
    whole: dict[int, Figures] = {}
    as_they_are = [(index, one.charge) for index, one in enumerate(batteries)]
    for route, states in levels.items():
        done, beside = looks[route]
        if states == as_they_are and not beside.any():
            whole[route] = done
        elif states:
            whole[route] = figures_of(
                study,
                courses,
                route,
                [batteries[index] for index, _ in states],
                charges=[charge for _, charge in states],
                beside=beside[:, [index for index, _ in states]],
            )
    return [
        _timeline(study, plan, battery, whole, order)
        if can
        else MatchRun(battery, plan, TOO_WEAK, {}, (), ())
        for battery, order, can in zip(batteries, orders, able.tolist(), strict=True)
    ]


def _first_look(
    study: Study, courses: Courses, route: int, batteries: Sequence[Battery]
) -> tuple[Figures, FloatArray]:
    """Return a route on each battery as it is, and the currents that stand for shorter runs.

    Such a current b takes the run's energy E over the move's time T at the voltage that it leaves:
    b·(V − R·b)·T = E, with V the mean voltage without it; the charges told here have it in.
    """
    done = figures_of(study, courses, route, batteries)
    trace, shape = done.trace, done.trace.aside.shape
    if not np.any(trace.aside > 0.0):
        return done, np.zeros(shape)
    room, _ = _move_integral(trace, np.ones(trace.weight.shape))
    voltage = _move_integral(trace, done.bus.voltage)[0] / np.maximum(room, 1e-12)
    power = trace.aside / np.maximum(room, 1e-12)
    inner = np.array([one.internal_resistance_ohm for one in batteries])
    resistance = inner + float(study.power.main_wiring_ohm)
    root = np.sqrt(np.maximum(voltage**2 - 4.0 * resistance * power, 0.0))
    beside = np.where(room > 0.0, 2.0 * power / np.maximum(voltage + root, 1e-9), 0.0)
    more = np.sum(beside * room, axis=0)
    return done._replace(sums=done.sums._replace(charge=done.sums.charge + more)), beside


def _move_integral(trace: Trace, values: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return ∫f dt over the move of each leg at each state, and the cell of each stretch."""
    shape = trace.aside.shape
    cell = trace.leg * shape[1] + trace.state
    moves = np.isin(trace.part, (MOVE, BRAKE, ON_THE_WAY))
    whole = np.sum(values * trace.weight, axis=1) * moves
    summed = np.asarray(np.bincount(cell, whole, trace.aside.size), dtype=np.float64)
    return summed.reshape(shape), cell


def figures_of(
    study: Study,
    courses: Courses,
    route: int,
    batteries: Sequence[Battery],
    *,
    charges: Sequence[float] | None = None,
    beside: FloatArray | None = None,
) -> Figures:
    """Return what a drive of a route takes on several batteries, as they are or at other charges.

    `beside` is the current that stands for the shorter run of a leg, shape (legs, batteries).
    """
    course = courses.courses[route]
    if course is None:
        raise NotFoundError(CANNOT)
    period: Period = "autonomous" if study.routes[route].kind == "autonomous" else "driver"
    loads = np.repeat(leg_loads(study, route, period)[:, None], len(batteries), axis=1)
    aside = np.zeros(loads.shape) if beside is None else beside
    at = States(
        **at_charges(batteries, charges),
        main_resistance=float(study.power.main_wiring_ohm),
        loads=loads,
        beside=aside,
    )
    trace = trace_of(courses, course, at)
    drive = courses.base.drive
    feed = Feed(
        at.open_voltage[trace.state, None],
        at.battery_resistance[trace.state, None],
        np.asarray(at.main_resistance),
        drive.supply.branch_resistance,
        drive.supply.motor_count,
        trace.load_current[:, None],
        trace.beside_current[:, None],
    )
    powers = {"first_power": trace.first_power, "second_power": trace.second_power}
    bus = bus_state(feed, **powers)
    if beside is not None and np.any(trace.aside > 0.0):
        # The current told beforehand is near enough for the run; here it takes the exact energy
        flows = trace.beside_current > 0.0
        for _ in range(_ROUNDS):
            room, cell = _move_integral(trace, bus.voltage)
            exact = np.where(room > 0.0, trace.aside / np.maximum(room, 1e-9), 0.0)
            own = np.where(flows, exact.ravel()[cell], 0.0)
            bus = bus_state(feed._replace(beside_current=own[:, None]), **powers)
    count = len(batteries)
    sums = sums_over(
        feed, bus, weight=trace.weight, winding=(trace.first_current, trace.second_current),
        group=trace.state, count=count,
    )  # fmt: skip
    below = [
        np.bincount(
            trace.state, time_below(time=trace.time, voltage=bus.voltage, threshold=limit), count
        )
        for limit in thresholds(study)
    ]
    least = lowest(time=trace.time, voltage=bus.voltage, group=trace.state, count=count)
    time = np.asarray(trace.whole.sum(axis=0))
    return Figures(trace, bus, sums, least, np.array(below), time)


def thresholds(study: Study) -> tuple[float, float]:
    """Return the warning and the brownout voltage; without a warning, the brownout voltage."""
    brownout = float(study.power.brownout_v)
    warning = study.power.warning_v
    return (brownout if warning is None else float(warning)), brownout


def _order(
    study: Study,
    battery: Battery,
    index: int,
    first: dict[int, Figures],
    levels: dict[int, list[tuple[int, float]]],
) -> list[tuple[int, int]]:
    """Return the drives of a match as routes and states, and add the states that it needs.

    The charge at each drive is told from what the drives take at the first charge; they take as
    much to a percent at any later one.
    """
    plan = match_plan(study)
    taken = {route: float(done.sums.charge[index]) for route, done in first.items()}
    times = {route: float(done.time[index]) for route, done in first.items()}
    waiting = loads_on(study, "autonomous"), loads_on(study, "driver")
    held = None if battery.capacity_ah is None else 3600.0 * battery.capacity_ah
    known: dict[tuple[int, int], int] = {}
    order: list[tuple[int, int]] = []

    def drive(route: int, level: int, used: float) -> None:
        charge = battery.charge
        if held is not None:
            charge = min(max(charge - used / held, 0.0), 1.0)
        if (route, level) not in known:
            known[route, level] = len(levels[route])
            levels[route].append((index, charge))
        order.append((route, known[route, level]))

    used, now = 0.0, 0.0
    if plan.autonomous is not None and fits(times[plan.autonomous], plan.autonomous_s):
        drive(plan.autonomous, 0, used)
        used, now = taken[plan.autonomous], times[plan.autonomous]
    used += (plan.autonomous_s - now) * waiting[0]
    left = plan.match_s - plan.autonomous_s
    if plan.cycles and all(times[route] > SHORTEST_CYCLE_S for route in plan.cycles):
        mean = sum(times[route] for route in plan.cycles) / len(plan.cycles)
        together = 1 + int(left / mean / MOST_LEVELS)
        count = 0
        while fits(times[route := plan.cycles[count % len(plan.cycles)]], left):
            drive(route, 0 if held is None else count // together, used)
            used += taken[route]
            left -= times[route]
            count += 1
    return order


def fits(time: float, room: float) -> bool:
    """Return whether a whole drive fits into what is left, rounding granted."""
    return time <= room + 1e-9


def _timeline(
    study: Study,
    plan: MatchPlan,
    battery: Battery,
    figures: dict[int, Figures],
    order: Sequence[tuple[int, int]],
) -> MatchRun:
    """Return a match with every drive at its time, and the waits in between."""
    drives: list[Drive] = []
    idle: list[Idle] = []
    now, used = 0.0, 0.0

    def wait(until: float, period: Period) -> float:
        if until <= now + 1e-9:
            return used
        held = battery
        if battery.capacity_ah is not None:
            share = used / (3600.0 * battery.capacity_ah)
            held = with_charge(battery, max(battery.charge - share, 0.0))
        current = loads_on(study, period)
        resistance = held.internal_resistance_ohm + float(study.power.main_wiring_ohm)
        voltage = held.open_circuit_v - resistance * current
        idle.append(Idle(now, until, voltage, current, held.internal_resistance_ohm))
        return used + current * (until - now)

    driver = False
    for route, state in order:
        if route != plan.autonomous and not driver:
            used, now, driver = wait(plan.autonomous_s, "autonomous"), plan.autonomous_s, True
        time = float(figures[route].time[state])
        if not fits(now + time, plan.match_s if driver else plan.autonomous_s):
            if driver:
                break
            continue  # an autonomous route that is too long is not driven; the cycles are
        drives.append(Drive(route, state, now, now + time))
        used += float(figures[route].sums.charge[state])
        now += time
    if not driver:
        used, now = wait(plan.autonomous_s, "autonomous"), plan.autonomous_s
    wait(plan.match_s, "driver")
    return MatchRun(battery, plan, None, figures, tuple(drives), tuple(idle))
