"""Draws of uncertain inputs: their distribution, and which of them share their luck."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from scipy import stats

from models.study.numbers import Estimate
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.draws import draw_inputs, pert_values, ranged_inputs


def ranged(value: float, low: float, high: float) -> dict[str, Any]:
    return {"value": value, "low": low, "high": high, "source": "assumed"}


@pytest.fixture
def document(reference_document: dict[str, Any]) -> dict[str, Any]:
    document = copy.deepcopy(reference_document)
    document["power"]["internal_resistance_ohm"] = ranged(0.016, 0.012, 0.024)
    for one in document["candidates"]:
        grip = one["wheels"]["grip"]
        one["wheels"]["grip"] = ranged(grip, grip * 0.8, grip * 1.1)
        one["drive"]["efficiency"] = ranged(0.9, 0.85, 0.94)
    return document


@pytest.fixture
def study(document: dict[str, Any]) -> Study:
    return parse_study(document)


@pytest.mark.parametrize(("low", "value", "high"), [(2, 3, 6), (0, 0, 1), (1, 5, 5), (-1, 0, 2)])
def test_values_follow_the_pert_beta_distribution(low: float, value: float, high: float) -> None:
    chances = (np.arange(20_000) + 0.5) / 20_000
    found = pert_values(Estimate(value, low=low, high=high), chances)
    alpha = 1 + 4 * (value - low) / (high - low)
    expected = stats.beta(alpha, 6 - alpha, loc=low, scale=high - low)
    inner = slice(100, -100)  # beyond, a slice of the table is wider than its quantiles are apart
    assert found[inner] == pytest.approx(expected.ppf(chances)[inner], abs=2e-3 * (high - low))
    assert found.mean() == pytest.approx((low + 4 * value + high) / 6, abs=1e-4 * (high - low))


def test_the_ends_of_the_range_are_not_left() -> None:
    ends = pert_values(Estimate(3.0, low=2.0, high=6.0), np.array([0.0, 1.0 - 2.0**-53]))
    assert ends[0] == 2.0
    assert ends[1] <= 6.0


def test_only_inputs_with_a_range_vary(study: Study) -> None:
    draws = draw_inputs(study, count=100)
    power = study.power
    assert draws.varies(power.internal_resistance_ohm)
    assert draws.of(power.internal_resistance_ohm).shape == (100,)
    assert draws.of(power.open_circuit_v).tolist() == float(power.open_circuit_v)
    assert draws.of(None, missing=np.inf) == np.inf


def test_an_equal_number_elsewhere_does_not_vary(study: Study) -> None:
    draws = draw_inputs(study, count=10)
    assert draws.of(float(study.power.internal_resistance_ohm)).shape == ()


def test_the_carpet_is_the_same_under_all(study: Study) -> None:
    draws = draw_inputs(study, count=500)
    shares = []
    for one in study.candidates:
        grip = one.wheels.grip
        shares.append((draws.of(grip) - grip.low) / (grip.high - grip.low))
    for share in shares[1:]:
        assert share == pytest.approx(shares[0])


def test_variants_of_a_layout_share_what_was_typed_alike(study: Study) -> None:
    draws = draw_inputs(study, count=500)
    by_key = {one.key: draws.of(one.drive.efficiency) for one in study.candidates}
    assert by_key["swerve"] == pytest.approx(by_key["swerve-tall"])
    assert abs(np.corrcoef(by_key["tank"], by_key["swerve"])[0, 1]) < 0.2


def test_the_same_seed_gives_the_same_draws(document: dict[str, Any]) -> None:
    one, other = (draw_inputs(parse_study(document), count=50, seed=3) for _ in range(2))
    for first, second in zip(one.inputs, other.inputs, strict=True):
        assert first.place == second.place
        assert one.of(first.estimate).tolist() == other.of(second.estimate).tolist()
    third = draw_inputs(parse_study(document), count=50, seed=4)
    assert third.of(third.inputs[0].estimate).tolist() != one.of(one.inputs[0].estimate).tolist()


def test_an_input_says_where_it_stands_and_whose_it_is(study: Study) -> None:
    inputs = {one.place: one for one in ranged_inputs(study)}
    assert inputs["power.internal_resistance_ohm"].candidate is None
    assert inputs["power.internal_resistance_ohm"].unit == "ohm"
    grip = inputs["candidates[1].wheels.grip"]
    assert (grip.candidate, grip.label) == (study.candidates[1].key, "Grip")


def test_plan_and_judgement_are_not_drawn_here(document: dict[str, Any]) -> None:
    document["decision"]["criteria"][0]["weight"] = ranged(3, 2, 4)
    document["candidates"][1].setdefault("purchases", []).append(
        {"name": "spare carpet", "unit_cost": ranged(300, 250, 380), "lead_days": [1, 2, 3]}
    )
    places = [one.place for one in ranged_inputs(parse_study(document))]
    assert not any("decision" in place or "lead_days" in place for place in places)
    assert any("purchases" in place and place.endswith("unit_cost") for place in places)
