"""The limits found against a grid of all limits, and what the finder says where it must."""

from __future__ import annotations

import math

import numpy as np
import pytest

from models.seed import example_document
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.evaluation import evaluate_study
from models.trade.exploring import Bench, Design, bench_of, design_of, figures_at, with_design
from models.trade.limit_finder import LimitsWanted, find_limits, least_bus
from tests.random_studies import random_study

WORTH = 0.006
"""Rounding to whole amperes and what nobody can measure, together [s]."""


@pytest.fixture(scope="module")
def example() -> Study:
    return parse_study(example_document())


def grid_of(bench: Bench, design: Design) -> tuple[np.ndarray, np.ndarray]:
    """Times and lowest bus voltages over a grid of both limits, each with none."""
    stators = np.append(
        np.append(np.arange(2.0, 100.0, 4.0), np.arange(100.0, 241.0, 20.0)), np.inf
    )[:, None]
    supplies = np.append(np.append(np.arange(1.5, 80.0, 1.5), [90.0, 110.0, 140.0]), np.inf)
    figures = figures_at(
        bench, ratio=design.ratio, diameter_m=design.diameter_m, stator_a=stators,
        supply_a=supplies,
    )  # fmt: skip
    shape = (len(stators), len(supplies))
    return figures.stop_time.reshape(shape), least_bus(bench, design, stators, supplies)


def check(bench: Bench, design: Design, margin: float) -> str:
    found = find_limits(bench, design, LimitsWanted(margin))
    times, volts = grid_of(bench, design)
    target = bench.brownout_v + margin
    good = np.isfinite(times) & (volts >= target)
    answer = found["found"]
    lowest = min(answer["min_bus_voltage_v"] or -math.inf, answer["push_bus_voltage_v"])
    if found["status"] == "out of reach":
        assert not good.any()
        assert lowest < target
        assert lowest >= np.max(volts) - 0.15
    else:
        assert lowest >= target
        if good.any():
            assert answer["sprint_stop_time_s"] <= np.min(times[good]) + WORTH
    if found["status"] == "not needed":
        assert answer["stator_limit_a"] is None and answer["supply_limit_a"] is None
    return str(found["status"])


@pytest.mark.parametrize("battery", ["match battery", "practice battery"])
@pytest.mark.parametrize("key", ["tank", "steered", "steered-fast", "mecanum"])
@pytest.mark.parametrize("margin", [0.0, 1.0, 3.0])
def test_no_limits_of_a_grid_are_quicker_and_keep_the_bus_up(
    example: Study, battery: str, key: str, margin: float
) -> None:
    candidate = example.candidate(key)
    check(bench_of(example, candidate, battery), design_of(candidate), margin)


@pytest.mark.parametrize("layout", ["tank", "swerve", "mecanum", "omni"])
@pytest.mark.parametrize("seed", range(4))
def test_the_same_for_invented_studies(layout: str, seed: int) -> None:
    study = parse_study(random_study(seed, layout))
    candidate = study.candidates[0]
    bench, design = bench_of(study, candidate), design_of(candidate)
    for margin in (1.0, 4.9):
        check(bench, design, margin)


def test_raising_a_limit_never_lifts_the_bus(example: Study) -> None:
    """What the finder's narrowing down relies on."""
    for candidate in example.candidates:
        _, volts = grid_of(bench_of(example, candidate), design_of(candidate))
        known = np.isfinite(volts)
        volts = np.where(known, volts, 0.0)
        for steps, both in (
            (np.diff(volts, axis=0), known[1:] & known[:-1]),
            (np.diff(volts, axis=1), known[:, 1:] & known[:, :-1]),
        ):
            assert np.max(steps[both]) < 1e-9


def test_the_limits_found_keep_the_bus_up_in_a_whole_evaluation(example: Study) -> None:
    candidate = example.candidate("steered-fast")
    bench, design = bench_of(example, candidate), design_of(candidate)
    found = find_limits(bench, design, LimitsWanted(1.0))
    assert found["status"] == "found" and found["own_holds"] is False
    limits = [found["found"][key] for key in ("stator_limit_a", "supply_limit_a")]
    stator, supply = (math.inf if limit is None else limit for limit in limits)
    changed = with_design(candidate, design._replace(stator_a=stator, supply_a=supply))
    study = example.model_copy(update={"candidates": (changed,)})
    metrics = evaluate_study(study)["candidates"][0]["metrics"]
    assert metrics["min_bus_voltage_v"] >= float(example.power.brownout_v) + 1.0
    assert metrics["sprint_stop_time_s"] == pytest.approx(found["found"]["sprint_stop_time_s"])


def test_other_ways_keep_it_up_too_and_cost_more(example: Study) -> None:
    candidate = example.candidate("tank")
    bench, design = bench_of(example, candidate), design_of(candidate)
    found = find_limits(bench, design, LimitsWanted(1.0))
    for name in ("keeping", "stator_alone"):
        other = found[name]
        lowest = min(other["min_bus_voltage_v"], other["push_bus_voltage_v"])
        assert lowest >= found["target_v"]
        assert other["sprint_stop_time_s"] >= found["found"]["sprint_stop_time_s"] - WORTH
    assert found["keeping"]["stator_limit_a"] == design.stator_a
    assert found["stator_alone"]["supply_limit_a"] is None


def test_whole_amperes_are_set(example: Study) -> None:
    candidate = example.candidate("tank")
    bench = bench_of(example, candidate, "practice battery")
    found = find_limits(bench, design_of(candidate), LimitsWanted(1.0))["found"]
    assert float(found["supply_limit_a"]).is_integer()


def test_what_no_limit_can_reach_is_said_with_the_closest(example: Study) -> None:
    candidate = example.candidate("steered")
    bench = bench_of(example, candidate)
    found = find_limits(bench, design_of(candidate), LimitsWanted(6.0))
    assert found["status"] == "out of reach"
    assert found["resting_v"] < found["target_v"]
    assert found["found"]["min_bus_voltage_v"] <= found["resting_v"]


def test_below_the_slip_current_the_tyres_hold(example: Study) -> None:
    """At the protecting limit the push is limited by the motors, an ampere above by the tyres."""
    candidate = example.candidate("mecanum")
    bench, design = bench_of(example, candidate), design_of(candidate)
    tread = find_limits(bench, design, LimitsWanted(0.0))["tread"]
    assert tread["can_slip"] and tread["limit_a"] < tread["slip_current_a"] <= tread["limit_a"] + 1
    limits = np.array([tread["limit_a"], math.ceil(tread["slip_current_a"]) + 60.0])
    pushes = figures_at(
        bench, ratio=design.ratio, diameter_m=design.diameter_m, stator_a=limits, supply_a=np.inf
    ).push_force
    assert pushes[0] < pushes[1]
    assert tread["with"]["sprint_stop_time_s"] >= tread["without"]["sprint_stop_time_s"] - 1e-12


def test_motors_too_weak_to_spin_the_wheels_need_no_limit_for_the_tread(example: Study) -> None:
    candidate = example.candidate("steered")
    bench = bench_of(example, candidate)
    weak = design_of(candidate)._replace(ratio=3.2)
    tread = find_limits(bench, weak, LimitsWanted(0.0))["tread"]
    assert tread["able_current_a"] < tread["slip_current_a"]
    assert tread["can_slip"] is False
    assert tread["limit_a"] is None and tread["with"] is None
