"""The current limits that keep the bus above the brownout by a margin, at the least cost in time.

Contents
--------
LimitsWanted, find_limits: the limits of one design on one battery, and what they cost.
least_bus: the lowest bus voltage of designs, sprint and shove together.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from models.engineering.supply import bus_voltage, motor_current, path_resistance
from models.engineering.sweeps import designs_of
from models.trade.comparison import LEAST_DIFFERENCE
from models.trade.exploring import Bench, Design, axis_range, figures_at, records, slip_at

FloatArray = NDArray[np.float64]

USUAL_MARGIN_V = 0.5
"""Kept above the brownout voltage unless the team types another: common practice, no source."""
ALIKE_V = 0.05
"""Where nothing reaches the margin, bus voltages closer than this are alike [V]."""
STATORS = 56
LOOKS = 24
ROUNDS = 5
NO_COST = LEAST_DIFFERENCE["s"]
"""Times closer than what can be measured are not worth another limit [s]."""


@dataclass(frozen=True)
class LimitsWanted:
    """What the finder is asked for."""

    margin_v: float = USUAL_MARGIN_V

    def target_v(self, bench: Bench) -> float:
        """Return the bus voltage to stay above [V]."""
        return bench.brownout_v + self.margin_v


def find_limits(bench: Bench, design: Design, wanted: LimitsWanted) -> dict[str, Any]:
    """Return the limits that keep the bus up at the least cost in time, in plain values.

    `status` is "not needed" (without any limit the bus stays up), "found", or "out of reach" (no
    limit reaches the margin; `found` is then the closest). Whatever its own limits, the design's
    ratio and wheel stay. Limits are whole amperes, rounded down, where that costs nothing.
    """
    target = wanted.target_v(bench)
    free = design._replace(stator_a=math.inf, supply_a=math.inf)
    status, found, alone, keeping = "not needed", free, None, None
    if not _holds(bench, free, target):
        best = _quickest(bench, design, target)
        status = "out of reach" if best is None else "found"
        found = _closest(bench, design) if best is None else _whole(bench, best, target)
        if best is not None:
            alone = _stator_alone(bench, design, target)
            keeping = _keeping(bench, design, found, target)
    free_record, own, answer = limit_records(bench, [free, design, found])
    return {
        "status": status,
        "battery": bench.battery,
        "brownout_v": bench.brownout_v,
        "margin_v": wanted.margin_v,
        "target_v": target,
        "resting_v": float(bench.drive.supply.source_voltage),
        "own": own,
        "own_holds": _above(own, target),
        "without": free_record,
        "found": answer,
        "stator_alone": None if alone is None else limit_records(bench, [alone])[0],
        "keeping": None if keeping is None else limit_records(bench, [keeping])[0],
        "tread": _tread(bench, design, found),
    }


def limit_records(bench: Bench, designs: list[Design]) -> list[dict[str, Any]]:
    """Return designs as plain values, with the bus in a shove beside that in the sprint."""
    found = records(bench, designs)
    shoves = _of(bench, designs).shove
    for one, shove in zip(found, shoves, strict=True):
        one["push_bus_voltage_v"] = float(shove)
    return found


def _above(one: dict[str, Any], target: float) -> bool:
    sprint = one["min_bus_voltage_v"]
    return sprint is not None and min(sprint, one["push_bus_voltage_v"]) >= target


@dataclass(frozen=True)
class _Seen:
    """What the finder looks at."""

    time: FloatArray
    """Sprint and stop, infinite where it does not get going [s]."""
    sprint: FloatArray
    """Lowest bus voltage of the sprint [V]."""
    shove: FloatArray
    """Bus voltage in a push at rest [V]."""

    @property
    def least(self) -> FloatArray:
        """The lower of the two; minus infinity where it does not get going [V]."""
        low = np.minimum(self.sprint, self.shove)
        return np.where(np.isfinite(low), low, -np.inf)


def least_bus(bench: Bench, design: Design, stator: ArrayLike, supply: ArrayLike) -> FloatArray:
    """Return the lowest bus voltage in the sprint and in a push, over arrays of limits [V]."""
    return _seen(bench, design, stator, supply).least


def _seen(bench: Bench, design: Design, stator: ArrayLike, supply: ArrayLike) -> _Seen:
    limits = np.broadcast_arrays(
        np.asarray(stator, dtype=np.float64), np.asarray(supply, dtype=np.float64)
    )
    figures = figures_at(
        bench,
        ratio=design.ratio,
        diameter_m=design.diameter_m,
        stator_a=limits[0],
        supply_a=limits[1],
    )
    shape = limits[0].shape
    time = np.where(np.isfinite(figures.stop_time), figures.stop_time, np.inf)
    shove = bus_voltage(bench.drive.supply, total_current=figures.push_current)
    return _Seen(time.reshape(shape), figures.least_voltage.reshape(shape), shove.reshape(shape))


def _of(bench: Bench, designs: list[Design]) -> _Seen:
    stators, supplies = ([one[index] for one in designs] for index in (2, 3))
    return _seen(bench, designs[0], stators, supplies)


def _holds(bench: Bench, design: Design, target: float) -> bool:
    return bool(_of(bench, [design]).least[0] >= target)


def _quickest(bench: Bench, design: Design, target: float) -> Design | None:
    """Return the design whose limits keep the bus up and cost the least time, None for none.

    For each of many stator limits the highest supply limit that holds is narrowed down, since the
    bus only falls as a limit is raised; the stretch about the best is then looked at closely.
    """
    stators = _stators(bench, design)
    if math.isfinite(design.stator_a):
        stators = np.append(stators, design.stator_a)
    for _ in range(2):
        supplies = _highest_supply(bench, design, stators, target)
        seen = _seen(bench, design, stators, np.where(np.isnan(supplies), 1.0, supplies))
        times = np.where(np.isnan(supplies), np.inf, seen.time)
        if not np.isfinite(times).any():
            return None
        best = _preferred(stators, times, seen, design)
        if not math.isfinite(stators[best]):
            break
        place = float(stators[best])
        stators = np.concatenate([place * np.geomspace(0.8, 1.25, STATORS), [place, np.inf]])
    return design._replace(stator_a=float(stators[best]), supply_a=float(supplies[best]))


def _stators(bench: Bench, design: Design) -> FloatArray:
    """Return stator limits from the least that a study takes to the greatest ever reached."""
    high = axis_range(bench, design, "stator")[1]
    return np.append(np.geomspace(1.0, high, STATORS), np.inf)


def _preferred(stators: FloatArray, times: FloatArray, seen: _Seen, design: Design) -> int:
    """Return which is the quickest; of those alike the stator limit it has, else none."""
    alike = np.flatnonzero(times <= np.min(times) + NO_COST)
    for wanted in (design.stator_a, math.inf):
        for index in alike:
            if stators[index] == wanted:
                return int(index)
    return int(alike[np.argmax(seen.least[alike])])


def _highest_supply(bench: Bench, design: Design, stators: FloatArray, target: float) -> FloatArray:
    """Return the highest supply limit that keeps the bus up for each stator limit.

    Infinite where none is needed, not a number where none is enough [A].
    """
    reach = _reach(bench)
    floor = np.full(len(stators), 1.0)
    lowest = least_bus(bench, design, stators, floor)
    unlimited = least_bus(bench, design, stators, np.full(len(stators), np.inf))
    low, high = floor, np.full(len(stators), reach)
    going = np.isfinite(lowest)
    if not going.all():
        # Too little to get going is no answer: begin where it does
        low = np.where(going, low, _first_going(bench, design, stators, reach))
    for _ in range(ROUNDS):
        share = np.linspace(0.0, 1.0, LOOKS)
        looks = low[:, None] + (high - low)[:, None] * share
        good = least_bus(bench, design, stators[:, None], looks) >= target
        last = np.where(good.any(axis=1), LOOKS - 1 - np.argmax(good[:, ::-1], axis=1), 0)
        rows = np.arange(len(stators))
        following = np.minimum(last + 1, LOOKS - 1)
        low, high = looks[rows, last], looks[rows, following]
    holds = least_bus(bench, design, stators, low) >= target
    found = np.where(holds, low, np.nan)
    return np.asarray(np.where(unlimited >= target, np.inf, found))


def _reach(bench: Bench) -> float:
    """Return the supply current above which a limit is never reached [A]."""
    feed = bench.drive.supply
    path = float(path_resistance(feed))
    reach = float(feed.source_voltage) / (2.0 * path) if path > 0.0 else math.inf
    return min(max(reach, 2.0), 5000.0)


def _first_going(bench: Bench, design: Design, stators: FloatArray, reach: float) -> FloatArray:
    """Return a supply limit for each stator limit with which it gets going, near the least [A]."""
    looks = np.geomspace(1.0, reach, 60)
    goes = np.isfinite(_seen(bench, design, stators[:, None], looks).time)
    return np.asarray(looks[np.argmax(goes, axis=1)])


def _closest(bench: Bench, design: Design) -> Design:
    """Return the design whose limits keep the bus highest, the quickest of those alike."""
    stators = _stators(bench, design)
    supplies = np.append(np.geomspace(1.0, _reach(bench), 60), np.inf)
    seen = _seen(bench, design, stators[:, None], supplies)
    highest = float(np.max(seen.least))
    times = np.where(seen.least >= highest - ALIKE_V, seen.time, np.inf)
    row, column = np.unravel_index(int(np.argmin(times)), times.shape)
    return design._replace(stator_a=float(stators[row]), supply_a=float(supplies[column]))


def _whole(bench: Bench, found: Design, target: float) -> Design:
    """Return the limits rounded down to whole or tenth amperes where that costs no time."""
    choices = [
        found._replace(stator_a=_down(found.stator_a, parts), supply_a=_down(found.supply_a, parts))
        for parts in (1.0, 10.0)
    ]
    seen = _of(bench, [*choices, found])
    for choice, time, least in zip(choices, seen.time, seen.least, strict=False):
        if least >= target and time <= seen.time[-1] + NO_COST:
            return choice
    return found


def _down(limit: float, parts: float) -> float:
    return math.floor(limit * parts) / parts if math.isfinite(limit) else limit


def _stator_alone(bench: Bench, design: Design, target: float) -> Design | None:
    """Return the design with the highest stator limit that holds without a supply limit."""
    low, high = 1.0, axis_range(bench, design, "stator")[1]
    for _ in range(ROUNDS):
        looks = np.linspace(low, high, LOOKS)
        good = np.flatnonzero(least_bus(bench, design, looks, np.full(LOOKS, np.inf)) >= target)
        if not len(good):
            return None
        last = int(good[-1])
        low, high = float(looks[last]), float(looks[min(last + 1, LOOKS - 1)])
    return _whole(bench, design._replace(stator_a=low, supply_a=math.inf), target)


def _keeping(bench: Bench, design: Design, found: Design, target: float) -> Design | None:
    """Return the design that keeps its own stator limit, where the one found does not."""
    if not math.isfinite(design.stator_a) or found.stator_a == design.stator_a:
        return None
    supply = float(_highest_supply(bench, design, np.array([design.stator_a]), target)[0])
    if math.isnan(supply):
        return None
    return _whole(bench, design._replace(supply_a=supply), target)


def _tread(bench: Bench, design: Design, found: Design) -> dict[str, Any]:
    """Return what the tyres take: the slip current, and what keeping below it costs.

    Compared with the limits found: the stator limit on top of those.
    """
    slip = slip_at(bench, design)
    free = designs_of(
        bench.drive,
        ratio=design.ratio,
        wheel_radius=design.diameter_m / 2.0,
        stator_limit=math.inf,
        supply_limit=found.supply_a,
    )
    winding = free.motor.resistance
    able = float(motor_current(free.supply, emf=0.0, resistance=winding)[0])
    safe = float(math.ceil(slip) - 1)
    can_slip = able > slip
    protected = design._replace(stator_a=max(safe, 1.0), supply_a=found.supply_a)
    before, after = limit_records(bench, [found, protected])
    return {
        "slip_current_a": slip,
        "able_current_a": able,
        "can_slip": can_slip,
        "own_protects": design.stator_a < slip,
        "found_protects": found.stator_a < slip or not can_slip,
        "limit_a": protected.stator_a if can_slip else None,
        "without": before,
        "with": after if can_slip else None,
    }
