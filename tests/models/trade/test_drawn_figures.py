"""Figures over many draws are, draw by draw, those of a study with the drawn values typed in."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from models.quantities import METRICS
from models.seed import example_document
from models.study.reader import parse_study
from models.trade.drawn_base import possible_draws
from models.trade.drawn_figures import drawn_figures, ranges_of
from models.trade.draws import Draws, draw_inputs, one_at_a_time
from models.trade.evaluation import evaluate_study
from models.trade.readiness import plan_figures
from tests.random_studies import random_study

PEAKS = {"peak_bus_current_a": 1e-3, "min_bus_voltage_v": 1e-3}
"""The peak between two nodes is not looked at as closely as for a single candidate."""


def ranged(value: float, share: float = 0.06) -> dict[str, Any]:
    ends = sorted((value * (1.0 - share), value * (1.0 + share)))
    return {"value": value, "low": ends[0], "high": ends[1], "source": "assumed"}


def spread(item: Any, keys: tuple[str, ...], share: float) -> None:
    """Give every plain number under one of the keys a range."""
    if isinstance(item, dict):
        for key, value in item.items():
            if key in keys and isinstance(value, int | float) and not isinstance(value, bool):
                item[key] = ranged(float(value), share)
            elif key in keys and isinstance(value, list):
                item[key] = [one if isinstance(one, dict) else nested(one, share) for one in value]
            else:
                spread(value, keys, share)
    elif isinstance(item, list):
        for one in item:
            spread(one, keys, share)


def nested(value: Any, share: float) -> Any:
    if isinstance(value, list):
        return [nested(one, share) for one in value]
    return ranged(float(value), share)


EVERYTHING = {
    "drive": (
        "free_speed_rpm", "free_current_a", "stall_torque_nm", "stall_current_a", "ratio",
        "rotor_inertia_kgm2", "efficiency", "branch_ohm", "steer_time_s", "stator_limit_a",
        "supply_limit_a", "grip", "side_grip", "rolling_coefficient", "inertia_kgm2",
        "diameter_m", "open_circuit_v", "internal_resistance_ohm", "main_wiring_ohm",
        "accessory_current_a", "brownout_v", "sprint_distance_m", "target_speed_mps",
    ),
    "mass": ("mass_kg", "centre_m", "size_m", "wall_m", "length_m", "thickness_m"),
    "room": ("wheelbase_m", "track_m", "outline_m", "bottom_m", "top_m", "clearance_m"),
}  # fmt: skip


@pytest.mark.parametrize("what", EVERYTHING)
def test_every_draw_is_the_study_with_those_values(
    reference_document: dict[str, Any], what: str
) -> None:
    document = copy.deepcopy(reference_document)
    document.pop("decision", None)
    spread(document, EVERYTHING[what], 0.002 if what == "room" else 0.05)
    study = parse_study(document)
    draws = draw_inputs(study, count=60)
    assert len(draws.inputs) > 20
    assert_equal_draws(draws, numbers=(0, 17, 59))


def test_the_example_with_ranges_in_all_layouts() -> None:
    document = example_document()
    document["power"]["battery"] = document["power"]["batteries"][-1]["name"]
    document["candidates"][0]["wheels"]["effective_track_m"] = ranged(1.1)
    document["yardsticks"]["tip_margin"] = 0.15
    for route in document["routes"]:
        for leg in route["legs"]:
            if not leg.get("pass"):
                leg["prepare_s"] = ranged(float(leg.get("prepare_s", 0.0)) + 0.5, 0.5)
                leg["action_s"] = ranged(0.4, 0.3)
    draws = draw_inputs(parse_study(document), count=40)
    assert_equal_draws(draws, numbers=(3, 21))


def assert_equal_draws(draws: Any, numbers: tuple[int, ...]) -> None:
    drawn = drawn_figures(draws.study, draws)
    for number in numbers:
        for one in evaluate_study(draws.study_of(number))["candidates"]:
            own = drawn[one["key"]]
            for metric, value in one["metrics"].items():
                if METRICS[metric].kind == "word":
                    assert metric not in own
                    continue
                found = own[metric][number] if metric in own else np.nan
                if value is None:
                    assert np.isnan(found), (one["key"], metric)
                else:
                    near = pytest.approx(float(value), rel=PEAKS.get(metric, 1e-6), abs=1e-9)
                    assert found == near, (one["key"], metric)
            assert_equal_routes(one, own, number)


def assert_equal_routes(one: dict[str, Any], own: Any, number: int) -> None:
    for name, run in one["routes"].items():
        for figure, value in (
            (f"route_s:{name}", run["time_s"]),
            (f"route_margin_s:{name}", run["margin_s"]),
            (f"route_cycles:{name}", run["cycles"]),
        ):
            if value is None:
                assert figure not in own or np.isnan(own[figure][number])
            else:
                assert own[figure][number] == pytest.approx(value, rel=1e-6), figure


def test_without_ranges_nothing_varies(reference_document: dict[str, Any]) -> None:
    study = parse_study(reference_document)
    draws = draw_inputs(study, count=5)
    assert draws.inputs == ()
    assert draws.count == 1
    drawn = drawn_figures(study, draws)
    assert ranges_of(drawn) == {one.key: {} for one in study.candidates}
    figures = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    assert drawn["tank"]["push_force_n"][0] == pytest.approx(figures["tank"]["push_force_n"])


def test_a_range_holds_what_it_says() -> None:
    study = parse_study(example_document())
    drawn = drawn_figures(study, draw_inputs(study, count=1000))
    for key, own in ranges_of(drawn).items():
        for metric, (low, middle, high, share) in own.items():
            values = drawn[key][metric]
            there = values[np.isfinite(values)]
            assert low <= middle <= high
            assert np.mean(there < low) <= 0.1 <= np.mean(there <= low) + 1e-9
            assert np.mean(there > high) <= 0.1 + 1e-9
            assert share == len(there) / 1000


def test_one_at_a_time_moves_one_luck_to_its_ends() -> None:
    study = parse_study(example_document())
    lucks, draws = one_at_a_time(study)
    assert draws.count == 2 * len(lucks)
    for index, luck in enumerate(lucks):
        low, high = draws.study_of(2 * index), draws.study_of(2 * index + 1)
        assert low != high
        for one in draws.inputs:
            own = draws.of(one.estimate)
            moved = np.flatnonzero(own != float(one.estimate))
            inside = set(moved.tolist()) <= {2 * index, 2 * index + 1}
            assert inside == (one.luck == luck) or len(moved) == 0


def test_what_a_purchase_costs_is_drawn() -> None:
    document = example_document()
    one = next(item for item in document["candidates"] if item["key"] == "steered")
    bought = one["purchases"][1]
    bought["unit_cost"] = {"value": 290, "low": 280, "high": 330, "source": "assumed"}
    study = parse_study(document)
    draws = draw_inputs(study, count=200)
    drawn = drawn_figures(study, draws)
    pieces = bought["quantity"] - bought.get("in_stock", 0)
    plain = plan_figures(study)["steered"]["cost"]
    unit = draws.of(study.candidate("steered").purchases[1].unit_cost)
    assert drawn["steered"]["cost"] == pytest.approx(plain + pieces * (unit - 290.0))
    assert np.ptp(drawn["tank"]["cost"]) == 0.0


IMPOSSIBLE = {
    "falls over": ("robot", "parts", 0, "centre_m", 0, ranged(-0.05) | {"low": -3.0, "high": 3.0}),
    "weighs nothing": None,
    "idles at more than it stalls": (
        "motors", "bl60", "free_current_a", ranged(2.0) | {"low": 0.0, "high": 200.0},
    ),
}  # fmt: skip


@pytest.mark.parametrize("how", IMPOSSIBLE)
@pytest.mark.parametrize("layout", ["tank", "swerve"])
def test_draws_of_which_there_can_be_no_such_robot_have_no_figures(layout: str, how: str) -> None:
    document = random_study(3, layout)
    document["candidates"][0]["drive"]["motor"] = "bl60"
    document["motors"]["bl60"]["stall_current_a"] = 120
    change = IMPOSSIBLE[how]
    if change is None:
        for part in (*document["robot"]["parts"], *document["candidates"][0]["parts"]):
            part["mass_kg"] = ranged(part["mass_kg"]) | {"low": 0.0}
    else:
        *steps, last, value = change
        place: Any = document
        for step in steps:
            place = place[step]
        place[last] = value
    study = parse_study(document)
    _, ends = one_at_a_time(study)
    if change is None:  # each at its lower end alone still leaves the others
        lows = {one.place: np.array([one.estimate.low, one.estimate]) for one in ends.inputs}
        ends = Draws(study, ends.inputs, lows)
    possible = possible_draws(study, study.candidates[0], ends)
    assert not possible.all()
    drawn = drawn_figures(study, ends)["one"]
    for number in range(ends.count):
        figures = [values[number] for name, values in drawn.items() if name != "cost"]
        if possible[number]:
            metrics = evaluate_study(ends.study_of(number))["candidates"][0]["metrics"]
            assert drawn["turn90_s"][number] == pytest.approx(metrics["turn90_s"], rel=1e-6)
        else:
            assert np.all(np.isnan(figures))
