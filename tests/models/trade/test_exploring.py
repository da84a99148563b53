"""The explorer against whole evaluations of changed candidates, and its ties by plain counting."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from models.errors import NotFoundError, OutOfRangeError
from models.seed import example_document
from models.study.reader import parse_study
from models.study.schema import Candidate, Study
from models.trade.evaluation import evaluate_study
from models.trade.exploring import (
    AXES,
    Axis,
    Design,
    ExploreSettings,
    along_ratio,
    axis_range,
    bench_of,
    design_of,
    explore,
    figures_at,
    offers_of,
    ratio_reach,
    records,
    sweep,
    sweep_axes,
    with_design,
)
from models.trade.exploring_map import gear_map
from models.trade.exploring_picks import picks_of
from tests.random_studies import random_study

FIGURES = (
    "sprint_stop_time_s",
    "sprint_time_s",
    "push_force_n",
    "min_bus_voltage_v",
    "peak_bus_current_a",
    "top_speed_mps",
    "free_speed_mps",
)


@pytest.fixture(scope="module")
def example() -> Study:
    return parse_study(example_document())


def evaluated(study: Study, candidate: Candidate, design: Design) -> dict[str, Any]:
    """The metrics of a candidate with other numbers, by the evaluation of the whole study."""
    changed = study.model_copy(update={"candidates": (with_design(candidate, design),)})
    metrics: dict[str, Any] = evaluate_study(changed)["candidates"][0]["metrics"]
    return metrics


def same(one: dict[str, Any], metrics: dict[str, Any]) -> None:
    assert one["browns_out"] == metrics["browns_out"]
    for name in FIGURES:
        expected = metrics[name]
        assert one[name] == (None if expected is None else pytest.approx(expected, rel=1e-12))


@pytest.mark.parametrize("layout", ["tank", "swerve", "mecanum", "omni"])
@pytest.mark.parametrize("seed", range(3))
def test_designs_of_a_sweep_agree_with_single_evaluations(layout: str, seed: int) -> None:
    study = parse_study(random_study(seed, layout))
    candidate = study.candidates[0]
    bench = bench_of(study, candidate)
    draw = np.random.default_rng(seed)
    wheels = draw.uniform(0.06, 0.2, 8)
    reach = float(bench.drive.motor.free_speed) * wheels / 2.0
    stators, supplies = draw.uniform(10.0, 200.0, 8), draw.uniform(6.0, 100.0, 8)
    stators[0] = supplies[1] = np.inf
    table = np.stack([reach / draw.uniform(0.8, 8.0, 8), wheels, stators, supplies], axis=-1)
    designs = [Design(*row) for row in table.tolist()]
    for one, design in zip(records(bench, designs), designs, strict=True):
        same(one, evaluated(study, candidate, design))


@pytest.mark.parametrize("key", ["tank", "steered", "mecanum"])
def test_random_designs_of_the_usual_sweep_agree(example: Study, key: str) -> None:
    candidate = example.candidate(key)
    bench, own = bench_of(example, candidate), design_of(candidate)
    whole = sweep(bench, sweep_axes(bench, own, offers_of(example, candidate), {}))
    assert len(whole.designs) == 20_000
    for place in np.random.default_rng(4).choice(20_000, 12, replace=False).tolist():
        design = Design(*whole.designs[place].tolist())
        metrics = evaluated(example, candidate, design)
        assert whole.figures.stop_time[place] == pytest.approx(
            metrics["sprint_stop_time_s"], rel=1e-12
        )
        assert whole.figures.least_voltage[place] == pytest.approx(
            metrics["min_bus_voltage_v"], rel=1e-12
        )
        assert whole.figures.push_force[place] == pytest.approx(metrics["push_force_n"], rel=1e-12)


def test_the_own_design_has_the_candidate_s_own_figures(example: Study) -> None:
    payload = evaluate_study(example)
    for one in payload["candidates"]:
        candidate = example.candidate(one["key"])
        bench = bench_of(example, candidate)
        same(records(bench, [design_of(candidate)])[0], one["metrics"])


def test_another_battery_gives_that_battery_s_figures(example: Study) -> None:
    candidate = example.candidate("steered")
    power = example.power.model_copy(update={"battery": "practice battery"})
    metrics = evaluated(
        example.model_copy(update={"power": power}), candidate, design_of(candidate)
    )
    bench = bench_of(example, candidate, "practice battery")
    assert bench.battery == "practice battery"
    same(records(bench, [design_of(candidate)])[0], metrics)
    with pytest.raises(NotFoundError, match="No battery is called"):
        bench_of(example, candidate, "none such")


@pytest.mark.parametrize("key", ["tank", "steered", "steered-fast", "mecanum"])
@pytest.mark.parametrize("share", [0.01, 0.05])
def test_every_ratio_in_the_tie_is_a_tie_and_every_other_is_not(
    example: Study, key: str, share: float
) -> None:
    candidate = example.candidate(key)
    bench, own = bench_of(example, candidate), design_of(candidate)
    found = along_ratio(bench, own, offers_of(example, candidate), share)
    low, high = ratio_reach(bench, own)
    ratios = np.geomspace(low, high, 6_000)
    times = figures_at(
        bench, ratio=ratios, diameter_m=own.diameter_m, stator_a=own.stator_a,
        supply_a=own.supply_a,
    ).stop_time  # fmt: skip
    best = float(np.min(times))
    assert found["best"]["sprint_stop_time_s"] <= best + 1e-9
    inside = np.zeros(len(ratios), dtype=bool)
    for first, last in found["tie_band"]["intervals"]:
        inside |= (ratios >= first) & (ratios <= last)
    assert np.all(times[inside] <= best * (1.0 + share) * (1.0 + 1e-9))
    assert np.all(times[~inside] >= best * (1.0 + share) * (1.0 - 1e-6))
    for one in found["buyable"]:
        assert one["in_band"] == (one["sprint_stop_time_s"] <= found["tie_band"]["allowed_s"])
        assert one["in_band"] == any(
            first <= one["ratio"] <= last for first, last in found["tie_band"]["intervals"]
        )


def test_offers_of_module_and_drive_stand_once_each_in_order(example: Study) -> None:
    candidate = example.candidate("steered")
    offers = offers_of(example, candidate)
    assert [round(offer.ratio, 3) for offer in offers] == [4.868, 5.355, 6.092, 6.527, 7.322]
    assert offers[0].teeth == "45:16, 18:26, 40:16"
    drive = candidate.drive.model_copy(
        update={"ratios_on_offer": example.module_types[candidate.modules.type].ratios_on_offer}  # type: ignore[union-attr]
    )
    both = candidate.model_copy(update={"drive": drive})
    assert offers_of(example, both) == offers


def test_the_sweep_holds_the_own_design_the_offers_and_no_limits(example: Study) -> None:
    candidate = example.candidate("steered")
    bench, own = bench_of(example, candidate), design_of(candidate)
    offers = offers_of(example, candidate)
    axes = sweep_axes(bench, own, offers, {})
    for name, value in zip(AXES, own, strict=True):
        assert value in axes[name]
        assert np.all(np.diff(axes[name]) > 0)
    assert {offer.ratio for offer in offers} <= set(axes["ratio"].tolist())
    assert math.isinf(axes["stator"][-1]) and math.isinf(axes["supply"][-1])


def test_the_best_of_the_best_are_in_the_set(example: Study) -> None:
    candidate = example.candidate("steered")
    found = explore(example, candidate, ExploreSettings())
    times = [one["sprint_stop_time_s"] for one in found["unbeaten"]]
    assert times == sorted(times)
    assert found["designs"] == 20_000
    assert found["unbeaten_count"] == len(found["unbeaten"])
    bench = bench_of(example, candidate)
    axes = sweep_axes(bench, design_of(candidate), offers_of(example, candidate), {})
    whole = sweep(bench, axes)
    assert times[0] == np.nanmin(whole.figures.stop_time)


def test_picks_answer_their_questions(example: Study) -> None:
    candidate = example.candidate("steered-fast")
    bench = bench_of(example, candidate)
    axes = sweep_axes(bench, design_of(candidate), offers_of(example, candidate), {})
    whole = sweep(bench, axes)
    found = picks_of(bench, whole, share=0.05, margin_v=1.0)
    named = {pick["name"]: pick["figures"] for pick in found["picks"]}
    quickest = named["The quickest of all"]["sprint_stop_time_s"]
    assert quickest == np.nanmin(whole.figures.stop_time)
    tied = whole.figures.stop_time <= quickest * 1.05
    most = named["The highest bus voltage within the tie"]
    assert most["min_bus_voltage_v"] == pytest.approx(
        np.max(whole.figures.least_voltage[tied]), abs=1e-6
    )
    keeps = named["The quickest that keeps 1 V above brownout"]
    enough = whole.figures.least_voltage >= bench.brownout_v + 1.0
    assert keeps["sprint_stop_time_s"] == np.min(whole.figures.stop_time[enough])


def test_asked_axes_are_swept_as_asked(example: Study) -> None:
    candidate = example.candidate("tank")
    asked = {"ratio": Axis(6.0, 9.0, 4), "diameter": Axis(0.1, 0.1, 1), "supply": Axis(20, 40, 3)}
    found = explore(example, candidate, ExploreSettings(axes=asked))  # type: ignore[arg-type]
    assert found["axes"]["ratio"] == pytest.approx(np.geomspace(6, 9, 4).tolist())
    assert found["axes"]["diameter"] == [0.1]
    assert found["designs"] == 4 * 1 * 10 * 3
    assert found["tie_band"]["searched"] == [6.0, 9.0]
    many = {"ratio": Axis(6.0, 9.0, 2000)}
    with pytest.raises(OutOfRangeError, match="60000 at most"):
        explore(example, candidate, ExploreSettings(axes=many))  # type: ignore[arg-type]


@pytest.mark.parametrize("axis", ["diameter", "stator", "supply"])
def test_the_map_has_the_figures_of_its_designs(example: Study, axis: Any) -> None:
    candidate = example.candidate("steered")
    bench, own = bench_of(example, candidate), design_of(candidate)
    ranges = {name: axis_range(bench, own, name) for name in ("ratio", axis)}
    found = gear_map(bench, own, axis=axis, ratios=ranges["ratio"], rows=ranges[axis])
    row, column = 17, 23
    name = {"diameter": "diameter_m", "stator": "stator_a", "supply": "supply_a"}[axis]
    design = own._replace(ratio=float(found.ratios[column]), **{name: float(found.rows[row])})
    (one,) = records(bench, [design])
    assert found.time[row, column] == pytest.approx(one["sprint_stop_time_s"], rel=1e-12)
    assert found.voltage[row, column] == pytest.approx(one["min_bus_voltage_v"], rel=1e-12)
    assert found.push[row, column] == pytest.approx(one["push_force_n"], rel=1e-12)
    assert len(found.unbeaten) > 0


def test_a_limit_above_its_range_is_never_reached(example: Study) -> None:
    """At the end of the range and without any limit a drive does the same until it brakes."""
    for candidate in example.candidates:
        bench, own = bench_of(example, candidate), design_of(candidate)
        ends = [axis_range(bench, own, name)[1] for name in ("stator", "supply")]
        alike = [
            own._replace(stator_a=ends[0] * (1 + 1e-9)), own._replace(stator_a=math.inf),
            own._replace(supply_a=ends[1] * (1 + 1e-9)), own._replace(supply_a=math.inf),
        ]  # fmt: skip
        figures = records(bench, alike)
        for first, last in (figures[:2], figures[2:]):
            for name in ("sprint_time_s", "push_force_n", "min_bus_voltage_v"):
                assert first[name] == pytest.approx(last[name], rel=1e-9)


def test_ranges_take_in_the_own_design_and_stay_in_what_a_study_takes(example: Study) -> None:
    for candidate in example.candidates:
        bench, own = bench_of(example, candidate), design_of(candidate)
        for name, value in zip(AXES, own, strict=True):
            low, high = axis_range(bench, own, name)
            assert low < high
            assert low <= value
            if name in ("ratio", "diameter"):
                assert value <= high
        low, high = axis_range(bench, own, "ratio")
        least, most = ratio_reach(bench, own)
        assert least <= low and high <= most
