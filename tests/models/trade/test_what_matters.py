"""Which input moves a figure most, against closed forms and one study at a time."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from models.seed import example_document
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.deciding import decide
from models.trade.drawn_figures import drawn_figures
from models.trade.draws import draw_inputs, one_at_a_time
from models.trade.evaluation import evaluate_study
from models.trade.what_matters import LEAD, SCORE, what_matters

CRITERIA = [
    {"metric": "sprint_stop_time_s", "weight": 3, "worst": 2.6, "best": 1.6},
    {"metric": "push_force_n", "weight": 2, "worst": 250, "best": 750},
]


def asked(study: Study, metric: str, key: str) -> dict[str, Any]:
    lucks, ends = one_at_a_time(study)
    draws = draw_inputs(study, count=400)
    figures = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    return what_matters(
        study,
        metric,
        key,
        ends=(lucks, drawn_figures(study, ends)),
        draws=(draws, drawn_figures(study, draws)),
        figures=figures,
    )


@pytest.fixture(scope="module")
def study() -> Study:
    document = example_document()
    document["decision"] = {"criteria": CRITERIA}
    return parse_study(document)


def test_each_row_is_the_study_with_one_input_moved(study: Study) -> None:
    found = asked(study, "sprint_stop_time_s", "steered")
    assert len(found["rows"]) > 5
    _, ends = one_at_a_time(study)
    lucks = one_at_a_time(study)[0]
    for row in found["rows"][:3]:
        index = lucks.index(row["luck"])
        for name, number in (("at_low", 2 * index), ("at_high", 2 * index + 1)):
            payload = evaluate_study(ends.study_of(number), keys=["steered"])
            single = payload["candidates"][0]["metrics"]["sprint_stop_time_s"]
            assert row[name] == pytest.approx(single, rel=1e-6)
    swings = [row["swing"] for row in found["rows"]]
    assert swings == sorted(swings, reverse=True)


def test_a_push_at_the_grip_limit_hangs_on_the_grip(study: Study) -> None:
    payload = evaluate_study(study)["candidates"]
    one = next(item for item in payload if item["metrics"]["push_limited_by"] == "traction")
    found = asked(study, "push_force_n", one["key"])
    row = next(item for item in found["rows"] if item["luck"] == "grip of the carpet")
    # F = κμ·μ·M·g: at the low end of the grip, where traction still limits, all of it carries over
    share = one["metrics"]["push_force_n"] / row["value"]
    assert row["at_low"] == pytest.approx(row["low"] * share)
    assert row["correlation"] > 0.5


def test_what_has_no_part_in_a_figure_is_not_named(study: Study) -> None:
    found = asked(study, "mass_kg", "tank")
    assert {row["unit"] for row in found["rows"]} == {"kg"}
    assert all("steered" not in row["candidates"] for row in found["rows"])


def test_the_score_moves_by_its_weighted_values(study: Study) -> None:
    score, sprint = asked(study, SCORE, "tank"), asked(study, "sprint_stop_time_s", "tank")
    figures = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    plain = next(
        one["score"] for one in decide(study, figures)["candidates"] if one["key"] == "tank"
    )
    assert score["value"] == pytest.approx(plain)
    by_luck = {row["luck"]: row for row in score["rows"]}
    grip = by_luck["grip of the carpet"]
    times = next(row for row in sprint["rows"] if row["luck"] == "grip of the carpet")
    force = figures["tank"]["push_force_n"]  # at the motors' limit: the grip does not move it
    by_hand = (3 * (2.6 - times["at_low"]) / 1.0 + 2 * (force - 250) / 500) / 5
    assert grip["at_low"] == pytest.approx(by_hand)


def test_the_lead_is_the_score_less_the_best_of_the_others(study: Study) -> None:
    figures = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    scores = {
        one["key"]: one["score"]
        for one in decide(study, figures)["candidates"]
        if one["score"] is not None
    }
    found = asked(study, LEAD, "tank")
    best = max(score for key, score in scores.items() if key != "tank")
    assert found["value"] == pytest.approx(scores["tank"] - best)


def test_without_criteria_there_is_no_score() -> None:
    document = copy.deepcopy(example_document())
    document.pop("decision", None)
    found = asked(parse_study(document), SCORE, "tank")
    assert (found["value"], found["rows"]) == (None, [])


def test_a_figure_that_does_not_exist_has_no_rows(study: Study) -> None:
    assert asked(study, "push_limited_by", "tank")["rows"] == []
