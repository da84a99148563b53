"""A match in figures and as a line for a chart.

Contents
--------
match_figures: voltages, currents, charge, and where the energy goes.
series_of: bus voltage and current along the match, thinned out, with its marks.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.engineering.battery import HIGH_RATE, resting_share, usable_capacity
from models.engineering.match_bus import BusSums
from models.study.schema import Study
from models.trade.match_legs import PARTS
from models.trade.match_timeline import Drive, Figures, Idle, MatchRun, thresholds

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_POINTS = 600
"""Points of a line: finer than a screen shows a match."""

NUMBERS = (
    "autonomous_time_s", "cycles", "cycle_first_s", "cycle_last_s", "min_voltage_v", "min_at_s",
    "min_where", "browns_out", "below_warning_s", "below_brownout_s", "mean_current_a",
    "rms_current_a", "peak_current_a", "branch_peak_a", "branch_rms_a", "motor_rms_a",
    "charge_used_ah", "usable_ah", "beyond_table", "taken_share", "left_share", "resting_end_v",
    "energy_j", "battery_heat_j", "closing_share",
)  # fmt: skip
"""What a match that cannot be driven has no figure of."""

LEDGER = (
    ("loads", "Accessories and loads"),
    ("main", "Main wiring"),
    ("branches", "Branch wiring"),
    ("winding", "Motor windings"),
    ("gearing", "Motor friction and gearing"),
    ("rolling", "Rolling"),
    ("turning", "Turning in place"),
    ("kinetic", "Motion, lost in braking"),
)


def match_figures(study: Study, run: MatchRun) -> dict[str, Any]:
    """Return a match's figures, as the head of `models.trade.match` lists them."""
    if run.reason is not None:
        nothing: dict[str, Any] = dict.fromkeys(NUMBERS)
        return {"able": False, "reason": run.reason, **nothing, "autonomous_fits": None,
                "ledger": []}  # fmt: skip
    totals = _totals(study, run)
    time = run.plan.match_s
    rms = {name: float(np.sqrt(totals[name] / time)) for name in ("square", "branch", "motor")}
    used = totals["charge"] / 3600.0
    mean = totals["charge"] / time
    autonomous = [one for one in run.drives if one.route == run.plan.autonomous]
    cycles = [one for one in run.drives if one.route != run.plan.autonomous]
    ledger = _ledger(totals)
    # All that leaves the battery's posts: what reaches the bus and what the main wiring keeps
    out = totals["energy"] + totals["main"]
    some = out if out > 0.0 else 1.0
    return {
        "able": True,
        "reason": None,
        "autonomous_time_s": autonomous[0].end - autonomous[0].begin if autonomous else None,
        "autonomous_fits": None if run.plan.autonomous is None else bool(autonomous),
        "cycles": len(cycles),
        "cycle_first_s": cycles[0].end - cycles[0].begin if cycles else None,
        "cycle_last_s": cycles[-1].end - cycles[-1].begin if cycles else None,
        **_least(study, run),
        "below_warning_s": totals["warned"],
        "below_brownout_s": totals["browned"],
        "mean_current_a": mean,
        "rms_current_a": rms["square"],
        "branch_rms_a": rms["branch"],
        "motor_rms_a": rms["motor"],
        "charge_used_ah": used,
        **_charge(run, used, mean),
        "energy_j": out,
        "battery_heat_j": totals["battery"],
        "ledger": [
            {"key": key, "name": name, "joules": ledger[key], "share": ledger[key] / some}
            for key, name in LEDGER
        ],
        "closing_share": (sum(ledger.values()) - out) / some,
    }


def _totals(study: Study, run: MatchRun) -> dict[str, float]:
    """Return the sums over all drives and waits."""
    totals = dict.fromkeys(
        ("charge", "square", "branch", "motor", "energy", "battery", "main", "branches", "loads",
         "winding", "gearing", "rolling", "turning", "kinetic", "warned", "browned"), 0.0
    )  # fmt: skip
    for route, done in run.figures.items():
        times = np.zeros(len(done.time))
        for one in run.drives:
            if one.route == route:
                times[one.state] += 1.0
        sums: BusSums = done.sums
        works = done.trace.works @ times
        own = {
            "charge": sums.charge, "square": sums.square, "branch": sums.branch_square,
            "motor": sums.winding_square, "energy": sums.energy, "battery": sums.battery,
            "main": sums.main, "branches": sums.branches, "loads": sums.loads,
            "warned": done.below[0], "browned": done.below[1],
        }  # fmt: skip
        for name, values in own.items():
            totals[name] += float(values @ times)
        for name, value in zip(
            ("winding", "gearing", "rolling", "turning", "kinetic"), works, strict=True
        ):
            totals[name] += float(value)
    warning, brownout = thresholds(study)
    for wait in run.idle:
        length = wait.end - wait.begin
        square = wait.current**2 * length
        totals["charge"] += wait.current * length
        totals["square"] += square
        totals["energy"] += wait.voltage * wait.current * length
        totals["loads"] += wait.voltage * wait.current * length
        totals["battery"] += wait.resistance * square
        totals["main"] += float(study.power.main_wiring_ohm) * square
        totals["warned"] += length if wait.voltage < warning else 0.0
        totals["browned"] += length if wait.voltage < brownout else 0.0
    return totals


def _ledger(totals: dict[str, float]) -> dict[str, float]:
    return {key: totals[key] for key, _ in LEDGER}


def _charge(run: MatchRun, used: float, mean: float) -> dict[str, float | bool | None]:
    """Return what the battery could give at the mean current, and what is left of it."""
    battery = run.battery
    if battery.capacity_ah is None:
        names = ("usable_ah", "beyond_table", "taken_share", "left_share", "resting_end_v")
        return dict.fromkeys(names)
    usable = float(usable_capacity(current=mean, capacity=battery.capacity_ah))
    rested = max(battery.charge - used / battery.capacity_ah, 0.0)
    share = float(resting_share(charge=rested, temperature=battery.temperature_c))
    return {
        "usable_ah": usable,
        "beyond_table": mean > HIGH_RATE.at[-1] * battery.capacity_ah,
        "taken_share": used / usable,
        "left_share": max(battery.charge - used / usable, 0.0),
        "resting_end_v": battery.full_v * share,
    }


def _least(study: Study, run: MatchRun) -> dict[str, Any]:
    """Return the least bus voltage, when and in what it comes, and the greatest current."""
    best: tuple[float, float, dict[str, Any]] = (np.inf, 0.0, {})
    peak = branch = 0.0
    for drive in run.drives:
        done = run.figures[drive.route]
        least = float(done.least.voltage[drive.state])
        if least < best[0]:
            stretch = int(done.least.stretch[drive.state])
            route = study.routes[drive.route]
            where = {
                "period": "autonomous" if route.kind == "autonomous" else "driver",
                "route": route.name,
                "leg": int(done.trace.leg[stretch]) + 1,
                "part": PARTS[int(done.trace.part[stretch])],
                **_span(drive, done, stretch),
            }
            best = (least, drive.begin + float(done.least.time[drive.state]), where)
    for route_index, done in run.figures.items():
        states = {one.state for one in run.drives if one.route == route_index}
        own = np.isin(done.trace.state, list(states))
        peak = max(peak, float(np.max(done.bus.current[own], initial=0.0)))
        both = (done.bus.first[own], done.bus.second[own])
        branch = max(branch, *(float(np.max(one, initial=0.0)) for one in both))
    for wait in run.idle:
        peak = max(peak, wait.current)
        if wait.voltage < best[0]:
            nowhere = {"period": _period(run, wait), "route": None, "leg": None, "part": PARTS[-1],
                       "from_s": wait.begin, "until_s": wait.end}  # fmt: skip
            best = (wait.voltage, wait.begin, nowhere)
    lowest, at, where = best
    return {
        "min_voltage_v": lowest,
        "min_at_s": at,
        "min_where": where,
        "browns_out": lowest < float(study.power.brownout_v),
        "peak_current_a": peak,
        "branch_peak_a": branch,
    }


def _span(drive: Drive, done: Figures, stretch: int) -> dict[str, float]:
    """Return from when to when the leg of a stretch of time is driven, since the match began."""
    trace = done.trace
    own = (trace.leg == trace.leg[stretch]) & (trace.state == drive.state)
    times = trace.time[own]
    return {
        "from_s": drive.begin + float(times.min()),
        "until_s": drive.begin + float(times.max()),
    }


def _period(run: MatchRun, wait: Idle) -> str:
    return "autonomous" if wait.end <= run.plan.autonomous_s + 1e-9 else "driver"


def series_of(study: Study, run: MatchRun) -> dict[str, Any]:
    """Return bus voltage and current over time, and what is driven when.

    `series`: {time_s, voltage_v, current_a}, at most `MOST_POINTS`; of every stretch of time that
    is drawn as one the least and the greatest voltage stay. `marks`: {time_s, until_s, kind,
    route} with kind autonomous, cycle or idle.
    """
    empty: dict[str, list[float]] = {"time_s": [], "voltage_v": [], "current_a": []}
    if run.reason is not None:
        return {"series": empty, "marks": []}
    lines = []
    for drive in run.drives:
        done = run.figures[drive.route]
        own = np.flatnonzero(done.trace.state == drive.state)
        own = own[np.argsort(done.trace.time[own, 0], kind="stable")]
        fields = (done.trace.time[own] + drive.begin, done.bus.voltage[own], done.bus.current[own])
        lines.append(np.stack([field.ravel() for field in fields]))
    for wait in run.idle:
        ends = np.array([wait.begin, wait.end])
        lines.append(np.stack([ends, np.full(2, wait.voltage), np.full(2, wait.current)]))
    whole = np.concatenate(sorted(lines, key=lambda line: float(line[0, 0])), axis=1)
    time, voltage, current = _thinned(*whole)
    marks: list[dict[str, Any]] = [
        {
            "time_s": drive.begin,
            "until_s": drive.end,
            "kind": "autonomous" if drive.route == run.plan.autonomous else "cycle",
            "route": study.routes[drive.route].name,
        }
        for drive in run.drives
    ]
    marks += [
        {"time_s": wait.begin, "until_s": wait.end, "kind": "idle", "route": None}
        for wait in run.idle
    ]
    return {
        "series": {
            "time_s": time.tolist(),
            "voltage_v": voltage.tolist(),
            "current_a": current.tolist(),
        },
        "marks": sorted(marks, key=lambda mark: float(mark["time_s"])),
    }


def _thinned(
    time: FloatArray, voltage: FloatArray, current: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return a line with at most `MOST_POINTS`: the least and greatest voltage of even parts."""
    if len(time) <= MOST_POINTS:
        return time, voltage, current
    parts = MOST_POINTS // 2 - 1
    length = (time[-1] - time[0]) / parts
    bucket = np.minimum(((time - time[0]) / length).astype(np.int64), parts - 1)
    kept = [0, len(time) - 1]
    for sign in (1.0, -1.0):
        order = np.lexsort((sign * voltage, bucket))
        kept += order[np.flatnonzero(np.diff(bucket[order], prepend=-1))].tolist()
    chosen: IntArray = np.unique(np.array(kept, dtype=np.int64))
    return time[chosen], voltage[chosen], current[chosen]
