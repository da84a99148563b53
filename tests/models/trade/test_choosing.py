"""Who leads and with whom that is a tie; figures of the routes; who is in the field."""

from __future__ import annotations

from typing import Any

import pytest

from models.seed import example_document
from models.study.reader import parse_study
from models.trade.choosing import basis_of, decision_of, lead_of, matters_of
from models.trade.deciding import keys_in_field
from models.trade.what_matters import LEAD


def decision(shares: dict[str, float], scores: dict[str, float], draws: int) -> dict[str, Any]:
    order = sorted(scores, key=lambda key: -scores[key])
    rows = [
        {"key": key, "score": score, "team_ranks": [shares.get(key, 0.0)]}
        for key, score in scores.items()
    ]
    return {"leader": order[0], "order": order, "draws": draws, "candidates": rows}


@pytest.mark.parametrize(
    ("shares", "ties"),
    [
        ({"a": 0.9, "b": 0.1}, ()),
        ({"a": 0.89, "b": 0.11}, ("b",)),
        ({"a": 0.89, "b": 0.04, "c": 0.07}, ("c",)),
        ({"a": 0.4, "b": 0.25, "c": 0.35}, ("c", "b")),
        ({"a": 0.05, "b": 0.95}, ("b",)),
    ],
)
def test_a_lead_holds_where_one_comes_first_in_nine_draws_of_ten(
    shares: dict[str, float], ties: tuple[str, ...]
) -> None:
    found = lead_of(decision(shares, {"a": 0.8, "b": 0.7, "c": 0.6}, draws=2000))
    assert found is not None
    assert (found.leader, found.ties) == ("a", ties)
    assert found.shares["a"] == shares["a"]


def test_without_draws_scores_closer_than_the_usual_share_are_a_tie() -> None:
    found = lead_of(decision({}, {"a": 0.80, "b": 0.77, "c": 0.70}, draws=0))
    assert found is not None
    assert found.ties == ("b",)
    assert found.shares == {}


def test_nobody_leads_an_empty_field_and_one_alone_ties_with_nobody() -> None:
    assert lead_of({"leader": None}) is None
    alone = lead_of(decision({"a": 0.5}, {"a": 0.8}, draws=2000))
    assert alone is not None
    assert alone.ties == ()


def test_the_lead_is_held_against_those_in_the_field_only() -> None:
    """A twin of the leader that fails a gate does not stand in its way."""
    study = parse_study(example_document())
    basis = basis_of(study, count=50)
    found = decision_of(study, basis, weightings=200)
    out = [one["key"] for one in found["candidates"] if one["failed_gates"]]
    assert out
    assert set(keys_in_field(study, basis.figures)) == set(found["order"])
    scores = {one["key"]: one["score"] for one in found["candidates"]}
    ahead = scores[found["leader"]] - max(scores[key] for key in found["order"][1:])
    lead = matters_of(study, basis, LEAD, found["leader"])
    assert lead["value"] == pytest.approx(ahead, abs=1e-12)
    assert lead["value"] > 0.0


def test_what_moves_a_routes_time_can_be_asked_for() -> None:
    study = parse_study(example_document())
    basis = basis_of(study, count=50)
    metric = f"route_s:{study.routes[0].name}"
    found = matters_of(study, basis, metric, "steered")
    assert found["value"] == basis.figures["steered"][metric]
    assert found["rows"]
    assert found["rows"][0]["swing"] > 0.0
