"""The whole evaluation joins driving, power and plan, and says how sure each figure is."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest

from models.quantities import METRICS
from models.seed import example_document
from models.study.reader import parse_study
from models.trade.drawn_figures import drawn_figures
from models.trade.draws import draw_inputs
from models.trade.evaluation import evaluate_study
from models.trade.power_figures import power_figures
from models.trade.readiness import plan_figures
from models.trade.whole import shares_ahead, whole_evaluation


@pytest.fixture(scope="module")
def payload() -> dict[str, Any]:
    return whole_evaluation(parse_study(example_document()), draws=300)


def test_every_figure_of_the_catalogue_is_there(payload: dict[str, Any]) -> None:
    study = parse_study(example_document())
    driving = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    power, plan = power_figures(study), plan_figures(study)
    for one in payload["candidates"]:
        key = one["key"]
        assert list(one["metrics"]) == list(METRICS)
        for metric, value in one["metrics"].items():
            parts = {**driving[key], **power[key], **plan[key]}
            assert value == parts[metric]


def test_it_is_plain_json(payload: dict[str, Any]) -> None:
    assert json.loads(json.dumps(payload, allow_nan=False)) == payload


def test_ranges_are_those_of_the_draws(payload: dict[str, Any]) -> None:
    study = parse_study(example_document())
    drawn = drawn_figures(study, draw_inputs(study, count=300))
    for one in payload["candidates"]:
        for metric, (low, middle, high, share) in one["ranges"].items():
            values = drawn[one["key"]][metric]
            there = values[np.isfinite(values)]
            expected = np.quantile(there, (0.1, 0.5, 0.9))
            assert [low, middle, high] == pytest.approx(expected, rel=1e-5)
            assert share == pytest.approx(len(there) / 300)
    assert payload["draws"] == 300


def test_a_study_without_ranges_has_none(reference_document: dict[str, Any]) -> None:
    payload = whole_evaluation(parse_study(reference_document), draws=50)
    assert payload["draws"] == 0
    assert payload["ahead"] == {}
    assert all(one["ranges"] == {} for one in payload["candidates"])


def test_shares_ahead_follow_which_way_is_better() -> None:
    drawn = {
        "a": {"mass_kg": np.array([50.0, 52.0, 54.0, 56.0]), "push_force_n": np.full(4, 500.0)},
        "b": {"mass_kg": np.full(4, 53.0), "push_force_n": np.array([400.0, 600.0, 700.0, np.nan])},
    }
    found = shares_ahead(drawn)
    assert found["mass_kg"] == {"a": {"b": 0.5}, "b": {"a": 0.5}}
    assert found["push_force_n"]["b"]["a"] == pytest.approx(2 / 3, abs=1e-4)
    assert found["push_force_n"]["a"]["b"] == pytest.approx(1 / 3, abs=1e-4)


def test_what_does_not_vary_or_exist_has_no_share() -> None:
    drawn = {
        "a": {"mass_kg": np.full(3, 50.0), "turn90_s": np.full(3, np.nan)},
        "b": {"mass_kg": np.full(3, 51.0), "turn90_s": np.array([0.5, 0.6, 0.7])},
    }
    assert shares_ahead(drawn) == {}
