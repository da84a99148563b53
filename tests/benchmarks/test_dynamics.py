"""How long figures take: one candidate, a sweep of sprints, the same by time integration.

Run by itself: `python -m pytest tests/benchmarks/test_dynamics.py --benchmark-only`. The last
benchmark says in its extra figures how many times quicker a sprint of the sweep is than one by
scipy's `solve_ivp`, and how far the two differ at most.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from models.engineering.drive import Drive, Stance, example_drive
from models.engineering.sprint import Run, sweep_of_runs
from models.engineering.sprint_pieces import acceleration_at
from models.engineering.supply import supply
from models.engineering.traction import Motion, travel_motion
from models.seed import example_document
from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study

DESIGNS = 10_000
DISTANCE_M = 6.0


def designs(layout: str) -> tuple[Drive, Stance]:
    """Ratios, wheels, limits, grips and masses drawn evenly with a fixed seed."""
    draw = np.random.default_rng(1)

    def between(low: float, high: float) -> Any:
        return draw.uniform(low, high, DESIGNS)

    feed = supply(
        open_voltage=12.6, source_resistance=0.019, branch_resistance=0.006,
        accessory_current=8.0, motor_count=4, stator_limit=between(40, 200),
        supply_limit=between(25, 70),
    )  # fmt: skip
    drive = example_drive()._replace(
        supply=feed, ratio=between(4, 12), wheel_radius=between(0.038, 0.076),
        grip=between(0.8, 1.3),
    )  # fmt: skip
    figures = (between(30, 65), 0.0, between(0.15, 0.4), 2.6, 0.26, 0.28, 0.51)
    return drive, Stance(*(np.asarray(figure) for figure in figures))


def sweep(layout: str, drive: Drive, at: Stance) -> Run:
    motion = travel_motion(drive, at, layout, angle=0.0)  # type: ignore[arg-type]
    return sweep_of_runs(motion, distance=DISTANCE_M, braking=np.inf)


@pytest.mark.parametrize("key", [one["key"] for one in example_document()["candidates"]])
def test_all_metrics_of_one_candidate(benchmark: Any, key: str) -> None:
    study = parse_study(example_document())
    payload = benchmark(evaluate_study, study, keys=[key])
    assert payload["candidates"][0]["metrics"]["sprint_time_s"] > 0


@pytest.mark.parametrize("layout", ["tank", "swerve"])
def test_a_sweep_of_ten_thousand_sprints(benchmark: Any, layout: str) -> None:
    drive, at = designs(layout)
    run = benchmark(sweep, layout, drive, at)
    assert np.all(run.time > 0)


def integrated(motion: Motion) -> float:
    """Time over the distance by integration over time, at a tolerance of 0.1 % or better."""

    def slope(_t: float, state: Any) -> list[float]:
        return [float(acceleration_at(motion, state[0])[0]), state[0]]

    def passed(_t: float, state: Any) -> float:
        return float(state[1]) - DISTANCE_M

    passed.terminal = True  # type: ignore[attr-defined]
    found = solve_ivp(slope, (0.0, 60.0), [0.0, 0.0], events=passed, rtol=1e-6, atol=1e-8)
    return float(found.t_events[0][0])


@pytest.mark.parametrize("layout", ["tank", "swerve"])
def test_the_same_sprints_by_time_integration(benchmark: Any, layout: str) -> None:
    drive, at = designs(layout)
    motion = travel_motion(drive, at, layout, angle=0.0)  # type: ignore[arg-type]
    some = range(0, DESIGNS, DESIGNS // 40)
    alone = [Motion._make(field[row] for field in motion) for row in some]
    spent = []
    for _ in range(7):
        begun = time.perf_counter()
        run = sweep(layout, drive, at)
        spent.append(time.perf_counter() - begun)

    times = benchmark.pedantic(lambda: [integrated(one) for one in alone], rounds=2)
    difference = np.max(np.abs(np.array(times) / run.time[list(some)] - 1.0))
    each = benchmark.stats.stats.min / len(alone)
    benchmark.extra_info["times_quicker_each"] = round(each / (min(spent) / DESIGNS))
    benchmark.extra_info["greatest_difference"] = float(difference)
    assert difference < 1e-3
