"""The yardstick sprint and the push on several batteries, with the loads that run meanwhile.

Contents
--------
sprints: the sprint on each battery.
pushes: the push against something that does not move on each battery.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import Drive
from models.engineering.match_bus import Feed, bus_state, lowest
from models.engineering.match_runs import runs_of_travel, stretches_of
from models.engineering.pushing import push
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import governing_pieces
from models.engineering.supply import bus_voltage, path_resistance, supply
from models.engineering.traction import GOVERNING
from models.study.schema import Study
from models.trade.battery import Battery
from models.trade.match_legs import Courses, States, at_states
from models.trade.match_plan import loads_on

FloatArray = NDArray[np.float64]

FULL_DUTY = GOVERNING.index("voltage")


def states_of(study: Study, batteries: Sequence[Battery]) -> States:
    """Return several batteries, each as it is, under the loads of the driver period."""
    load = loads_on(study, "driver")
    return States(
        open_voltage=np.array([one.open_circuit_v for one in batteries]),
        battery_resistance=np.array([one.internal_resistance_ohm for one in batteries]),
        main_resistance=float(study.power.main_wiring_ohm),
        loads=np.full((1, len(batteries)), load),
        beside=np.zeros((1, len(batteries))),
    )


def sprints(study: Study, courses: Courses, batteries: Sequence[Battery]) -> list[dict[str, Any]]:
    """Return the yardstick sprint, passing the end, on each battery.

    Each has `time_s`, `end_speed_mps`, `min_voltage_v`, `peak_current_a`, `energy_j`,
    `browns_out`, `load_a` and `series` {time_s, voltage_v, current_a, speed_mps}; numbers are
    None where the drive does not get going.
    """
    states = states_of(study, batteries)
    base, count = courses.base, len(batteries)
    motion = at_states(courses, np.zeros(1, dtype=np.int64), states, states.loads)
    pieces = governing_pieces(motion)
    run = run_over(
        pieces,
        distance=np.full(count, float(study.yardsticks.sprint_distance_m)),
        braking=np.inf,
    )
    moves = bool(np.all(np.isfinite(run.time)))
    load = float(states.loads[0, 0])
    if not moves:
        return [_no_sprint(load) for _ in batteries]
    runs = runs_of_travel(
        base.drive, base.stance, base.layout, angle=np.zeros(count), motion=motion,
        pieces=pieces, start=0.0, end=run.speed, time=run.time,
    )  # fmt: skip
    parts = stretches_of(base.drive, runs)
    feed = Feed(
        states.open_voltage[parts.row, None],
        states.battery_resistance[parts.row, None],
        np.asarray(states.main_resistance),
        base.drive.supply.branch_resistance,
        base.drive.supply.motor_count,
        np.asarray(load),
        np.asarray(0.0),
    )
    bus = bus_state(feed, first_power=parts.first_power, second_power=parts.second_power)
    least = lowest(time=parts.time, voltage=bus.voltage, group=parts.row, count=count)
    energy = np.bincount(parts.row, np.sum(bus.voltage * bus.current * parts.weight, axis=1), count)
    whole = states.battery_resistance + states.main_resistance
    limit = float(study.power.brownout_v)
    found = []
    for index in range(count):
        own = parts.row == index
        found.append(
            {
                "time_s": float(run.time[index]),
                "end_speed_mps": float(run.speed[index]),
                "min_voltage_v": float(least.voltage[index]),
                "peak_current_a": _current(
                    float(states.open_voltage[index]),
                    float(least.voltage[index]),
                    float(whole[index]),
                    float(np.max(bus.current[own])),
                ),
                "energy_j": float(energy[index]),
                "browns_out": bool(least.voltage[index] < limit),
                "load_a": load,
                "series": {
                    "time_s": parts.time[own].ravel().tolist(),
                    "voltage_v": bus.voltage[own].ravel().tolist(),
                    "current_a": bus.current[own].ravel().tolist(),
                    "speed_mps": parts.speed[own].ravel().tolist(),
                },
            }
        )
    return found


def _current(source: float, voltage: float, resistance: float, nodes: float) -> float:
    """Return the greatest current, which flows at the least voltage where anything drops it."""
    return (source - voltage) / resistance if resistance > 0.0 else nodes


def _no_sprint(load: float) -> dict[str, Any]:
    names = ("time_s", "end_speed_mps", "min_voltage_v", "peak_current_a", "energy_j", "browns_out")
    series: dict[str, list[float]] = {
        name: [] for name in ("time_s", "voltage_v", "current_a", "speed_mps")
    }
    return {**dict.fromkeys(names), "load_a": load, "series": series}


def drive_at(courses: Courses, states: States) -> Drive:
    """Return the drive on each battery, its supply as arrays over the states."""
    feed = courses.base.drive.supply
    return courses.base.drive._replace(
        supply=supply(
            open_voltage=states.open_voltage,
            source_resistance=states.battery_resistance + states.main_resistance,
            branch_resistance=feed.branch_resistance,
            accessory_current=states.loads[0],
            motor_count=feed.motor_count,
            stator_limit=feed.stator_limit,
            supply_limit=courses.supply_limit,
        )
    )


def pushes(study: Study, courses: Courses, batteries: Sequence[Battery]) -> list[dict[str, Any]]:
    """Return the push at rest against something that does not move, on each battery.

    Each has `force_n`, `limited_by`, `motor_current_a` (winding of the hardest motor),
    `branch_current_a` (bus side of that motor), `bus_current_a`, `voltage_v`, `min_voltage_v`,
    `browns_out`, `load_a`. The least voltage is lower than that of the push itself only where no
    limit stops the current and the winding's resistance is below that of its way from the battery:
    at full duty each motor then takes its winding current from the bus, which is more than that at
    which the battery gives its greatest power. A limit is reached on the way up, before that.
    """
    states = states_of(study, batteries)
    drive = drive_at(courses, states)
    done = push(drive, courses.base.stance, courses.base.layout)
    total = np.broadcast_to(done.total_current, (len(batteries),))
    voltage = np.asarray(bus_voltage(drive.supply, total_current=total))
    power = drive.motor.resistance * np.asarray(done.motor_current) ** 2
    root = np.sqrt(np.maximum(voltage**2 - 4.0 * drive.supply.branch_resistance * power, 0.0))
    branch = 2.0 * power / np.maximum(voltage + root, 1e-9)
    limit = float(study.power.brownout_v)
    free = np.asarray(done.limited_by) == FULL_DUTY
    passes = free & (drive.motor.resistance < path_resistance(drive.supply))
    whole = drive.supply.motor_count * done.motor_current + drive.supply.accessory_current
    least = np.where(passes, bus_voltage(drive.supply, total_current=whole), voltage)
    least = np.minimum(least, voltage)
    force, motor, branches = (
        np.broadcast_to(x, total.shape) for x in (done.force, done.motor_current, branch)
    )
    words = np.broadcast_to(done.limited_by, total.shape)
    return [
        {
            "force_n": float(force[index]),
            "limited_by": GOVERNING[int(words[index])],
            "motor_current_a": float(motor[index]),
            "branch_current_a": float(branches[index]),
            "bus_current_a": float(total[index]),
            "voltage_v": float(voltage[index]),
            "min_voltage_v": float(least[index]),
            "browns_out": bool(least[index] < limit),
            "load_a": float(states.loads[0, index]),
        }
        for index in range(len(batteries))
    ]
