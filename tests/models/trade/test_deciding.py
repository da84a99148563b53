"""Gates, scores, ranks and flips of a study, with and without uncertain figures."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest

from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.deciding import VoterWeights, decide, suggested_ends
from models.trade.evaluation import evaluate_study

DECISION: dict[str, Any] = {
    "gates": [{"metric": "mass_kg", "at_most": 60}, {"metric": "browns_out", "is": False}],
    "criteria": [
        {"metric": "sprint_stop_time_s", "weight": 3, "worst": 2.4, "best": 1.8},
        {"metric": "push_force_n", "weight": 2, "worst": 250, "best": 550},
        {"metric": "turn90_s", "weight": 1, "worst": 0.6, "best": 0.4},
    ],
}
FIGURES: dict[str, dict[str, Any]] = {
    "tank": {
        "mass_kg": 50.0,
        "browns_out": False,
        "sprint_stop_time_s": 2.1,
        "push_force_n": 520.0,
        "turn90_s": 0.5,
    },
    "swerve": {
        "mass_kg": 47.0,
        "browns_out": False,
        "sprint_stop_time_s": 1.92,
        "push_force_n": 460.0,
        "turn90_s": 0.48,
    },
    "mecanum": {
        "mass_kg": 49.0,
        "browns_out": False,
        "sprint_stop_time_s": 2.3,
        "push_force_n": 300.0,
        "turn90_s": 0.44,
    },
}


@pytest.fixture
def study(reference_document: dict[str, Any]) -> Study:
    return with_decision(reference_document, DECISION)


def with_decision(reference_document: dict[str, Any], decision: dict[str, Any]) -> Study:
    document = copy.deepcopy(reference_document)
    document["decision"] = decision
    document["candidates"] = [one for one in document["candidates"] if one["key"] in FIGURES]
    return parse_study(document)


def row(payload: dict[str, Any], key: str) -> dict[str, Any]:
    return next(one for one in payload["candidates"] if one["key"] == key)


def test_the_plain_score_is_the_weighted_mean_of_linear_values(study: Study) -> None:
    found = row(decide(study, FIGURES), "tank")
    by_hand = (3 * (2.4 - 2.1) / 0.6 + 2 * (520 - 250) / 300 + 1 * (0.6 - 0.5) / 0.2) / 6
    assert found["score"] == pytest.approx(by_hand)
    assert found["values"]["push_force_n"] == pytest.approx(0.9)


def test_the_reference_study_scores_and_ranks(reference_document: dict[str, Any]) -> None:
    # Scores and rank shares from an independent solution of the reference study
    study = parse_study(reference_document)
    figures = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    payload = decide(study, figures)
    expected = {
        "tank": (0.73253, [0.27756, 0.08310, 0.63727, 0.00207]),
        "swerve": (0.83673, [0.0, 0.63934, 0.35600, 0.00467]),
        "swerve-tall": (0.87893, [0.72244, 0.27634, 0.00122, 0.0]),
        "mecanum": (0.35545, [0.0, 0.00122, 0.00552, 0.99326]),
    }
    for key, (score, ranks) in expected.items():
        found = row(payload, key)
        assert found["passes"]
        assert found["score"] == pytest.approx(score, rel=1e-3)
        # four standard errors of 50,000 and of the solution's own draws
        assert found["rank_acceptability"] == pytest.approx(ranks, abs=0.012)
    assert payload["leader"] == "swerve-tall"


def test_draws_without_spread_give_the_plain_score(study: Study) -> None:
    drawn = {
        key: {metric: np.full(200, float(value)) for metric, value in own.items()}
        for key, own in FIGURES.items()
    }
    plain, spread = decide(study, FIGURES), decide(study, FIGURES, drawn=drawn)
    for key in FIGURES:
        one, other = row(plain, key), row(spread, key)
        assert other["score"] == one["score"]
        for name in ("score_p10", "score_p50", "score_p90"):
            assert other[name] == pytest.approx(one["score"])
        assert other["rank_acceptability"] == pytest.approx(one["rank_acceptability"])
        assert other["gate_chance"] == 1.0


def test_uncertain_figures_share_the_first_rank(study: Study) -> None:
    random = np.random.default_rng(1)
    drawn = {"tank": {"sprint_stop_time_s": random.uniform(1.5, 2.3, 4000)}}
    payload = decide(study, FIGURES, drawn=drawn)
    tank, swerve = row(payload, "tank"), row(payload, "swerve")
    # Tank leads where (2.4 − t)/0.6·3 + 1.8 + 0.5 beats swerve's 2.4 + 1.4 + 0.6: t below 1.98
    assert tank["team_ranks"][0] == pytest.approx((1.98 - 1.5) / 0.8, abs=0.03)
    assert tank["team_ranks"][0] + swerve["team_ranks"][0] == pytest.approx(1.0)
    assert tank["score_p10"] < tank["score_p50"] < tank["score_p90"]
    assert payload["draws"] == 4000


def test_a_failed_gate_excludes_from_the_ranks(reference_document: dict[str, Any]) -> None:
    decision = {**DECISION, "gates": [{"metric": "mass_kg", "at_most": 48}]}
    payload = decide(with_decision(reference_document, decision), FIGURES)
    assert [one["passes"] for one in payload["candidates"]] == [False, True, False]
    assert row(payload, "tank")["failed_gates"] == ["mass_kg"]
    assert row(payload, "tank")["rank_acceptability"] == []
    assert row(payload, "tank")["score"] is not None
    assert payload["order"] == ["swerve"]
    assert row(payload, "swerve")["rank_acceptability"] == [1.0]


def test_a_gate_on_a_figure_that_is_missing_is_not_passed(study: Study) -> None:
    figures = {**FIGURES, "tank": {**FIGURES["tank"], "mass_kg": None}}
    found = row(decide(study, figures), "tank")
    assert not found["passes"]
    assert found["gates"][0] == {"metric": "mass_kg", "value": None, "passes": None}


def test_what_is_missing_is_not_scored_and_never_counts_as_nothing(study: Study) -> None:
    figures = {**FIGURES, "tank": {**FIGURES["tank"], "turn90_s": None}}
    payload = decide(study, figures)
    found = row(payload, "tank")
    assert (found["score"], found["not_scored"]) == (None, ["turn90_s"])
    assert "tank" not in payload["order"]


def test_a_gate_has_a_chance_where_its_figure_varies(study: Study) -> None:
    drawn = {"tank": {"mass_kg": np.linspace(50.0, 70.0, 1001)}}
    found = row(decide(study, FIGURES, drawn=drawn), "tank")
    assert found["gate_chance"] == pytest.approx(0.5, abs=0.01)
    assert found["passes"]


def test_idle_gates_and_criteria_are_named(reference_document: dict[str, Any]) -> None:
    alike = {key: {**own, "turn90_s": 0.5} for key, own in FIGURES.items()}
    payload = decide(with_decision(reference_document, DECISION), alike)
    assert [one["idle"] for one in payload["criteria"]] == [False, False, True]
    assert [one["idle"] for one in payload["gates"]] == [True, True]


def test_criteria_that_measure_the_same_thing_are_named(reference_document: dict[str, Any]) -> None:
    twice = copy.deepcopy(DECISION)
    twice["criteria"].append({"metric": "mass_kg", "weight": 1, "worst": 60, "best": 40})
    figures = {
        key: {**own, "mass_kg": 40 + (own["sprint_stop_time_s"] - 1.8) * 10}
        for key, own in FIGURES.items()
    }
    payload = decide(with_decision(reference_document, twice), figures)
    assert payload["criteria"][3]["twins"] == ["sprint_stop_time_s"]
    assert payload["criteria"][0]["twins"] == ["mass_kg"]
    assert payload["criteria"][1]["twins"] == []


def test_a_flip_weight_put_in_ties_the_two(reference_document: dict[str, Any]) -> None:
    flips = decide(with_decision(reference_document, DECISION), FIGURES)["flips"]
    assert flips
    for flip in flips:
        changed = copy.deepcopy(DECISION)
        others = sum(
            one["weight"] for one in changed["criteria"] if one["metric"] != flip["metric"]
        )
        for one in changed["criteria"]:
            if one["metric"] == flip["metric"]:
                one["weight"] = others * flip["weight"] / (1.0 - flip["weight"])
        payload = decide(with_decision(reference_document, changed), FIGURES)
        assert row(payload, flip["leader"])["score"] == pytest.approx(
            row(payload, flip["rival"])["score"]
        )


def test_ballots_say_who_wins_for_whom(study: Study) -> None:
    ballots = [
        VoterWeights("Mara", {"push_force_n": 100.0}, "tank"),
        VoterWeights("Lee", {"turn90_s": 50.0}, "mecanum"),
        VoterWeights("Ned", {"sprint_stop_time_s": 60.0, "push_force_n": 30.0}, "tank"),
    ]
    payload = decide(study, FIGURES, ballots=ballots)
    said = payload["ballots"]
    assert [one["winner"] for one in said["voters"]] == ["tank", "mecanum", "swerve"]
    assert said["winners"] == {"tank": 1, "mecanum": 1, "swerve": 1}
    assert said["preferences"] == {"tank": 2, "mecanum": 1}
    push = next(one for one in said["weights"] if one["metric"] == "push_force_n")
    assert push["shares"] == pytest.approx([1.0, 0.0, 1 / 3])
    assert (push["low"], push["median"], push["high"]) == pytest.approx((0.0, 1 / 3, 1.0))
    assert row(payload, "tank")["ballot_ranks"] == pytest.approx([1 / 3, 1 / 3, 1 / 3])


def test_no_criteria_no_leader(reference_document: dict[str, Any]) -> None:
    payload = decide(with_decision(reference_document, {}), FIGURES)
    assert (payload["leader"], payload["flips"], payload["ballots"]) == (None, [], None)
    assert all(one["score"] is None for one in payload["candidates"])


def test_a_study_without_a_decision_still_answers(reference_document: dict[str, Any]) -> None:
    document = {key: value for key, value in reference_document.items() if key != "decision"}
    study = parse_study(document)
    figures = {one["key"]: one["metrics"] for one in evaluate_study(study)["candidates"]}
    assert decide(study, figures)["leader"] is None


@pytest.mark.parametrize(
    ("metric", "figures", "expected"),
    [
        ("push_force_n", [412.0, None, 533.0], (410.0, 540.0)),
        ("turn90_s", [0.42, 0.55], (0.55, 0.42)),
        ("mass_kg", [50.0, 50.0], (51.0, 50.0)),
        ("cost", [0.0, 1830.0], (1900.0, 0.0)),
        ("cg_x_m", [0.1, 0.2], None),
        ("push_force_n", [None], None),
        ("push_limited_by", ["traction"], None),
    ],
)
def test_suggested_ends_enclose_the_candidates(
    metric: str, figures: list[Any], expected: tuple[float, float] | None
) -> None:
    found = suggested_ends(metric, figures)
    if expected is None:
        assert found is None
    else:
        assert found is not None
        low, high = sorted(found)
        given = [one for one in figures if one is not None]
        assert low <= min(given) <= max(given) <= high
        assert low != high
        assert found == pytest.approx(expected, rel=0.05)
