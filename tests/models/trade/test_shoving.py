"""How long a push lasts, what gives up first, and who moves whom, for whole studies."""

from __future__ import annotations

import math
from typing import Any

import pytest

from models.study import parse_study
from models.study.schema import Study
from models.trade.driving import base_of
from models.trade.evaluation import evaluate_study
from models.trade.shoving import (
    Endurance,
    MatchFigures,
    Opponent,
    endurance_of,
    match_of,
    opponent_of,
)


def push_of(study: Study, key: str) -> Endurance:
    candidate = study.candidate(key)
    return endurance_of(study, candidate, base_of(study, candidate))


def match(study: Study, key: str, opponent: Opponent) -> MatchFigures:
    return match_of(base_of(study, study.candidate(key)), opponent)


def test_a_push_has_the_currents_of_the_metrics(reference: Study) -> None:
    for one in evaluate_study(reference)["candidates"]:
        found, metrics = push_of(reference, one["key"]), one["metrics"]
        assert found.force == pytest.approx(metrics["push_force_n"])
        assert found.total == pytest.approx(metrics["push_bus_current_a"])
        assert max(found.front_motor, found.rear_motor) == pytest.approx(
            metrics["push_motor_current_a"]
        )
        assert found.limited_by == metrics["push_limited_by"]
        if found.limited_by == "traction":
            assert found.most_motor >= found.slip_motor
        assert found.most_motor >= max(found.front_motor, found.rear_motor) - 1e-9


def test_what_the_study_does_not_say_is_not_given(reference_document: Any) -> None:
    power = reference_document["power"]
    for name in ("main_breaker_a", "capacity_ah"):
        power.pop(name, None)
    study = parse_study(reference_document)
    found = push_of(study, study.candidates[0].key)
    assert [one.key for one in found.missing] == [
        "main breaker", "branch breaker", "battery", "winding",
    ]  # fmt: skip
    assert found.first is None
    assert all(one.holds_s is None and one.missing for one in found.limits)


def given_all(document: Any, **power: Any) -> Study:
    document["power"].update(
        {
            "main_breaker_a": 60,
            "main_breaker_curve": [[1.2, 300], [2, 20], [4, 2]],
            "branch_breaker_a": 20,
            "branch_breaker_curve": [[1.3, 100], [3, 2]],
            "capacity_ah": 18,
            **power,
        }
    )
    for motor in document["motors"].values():
        motor.update({"winding_heat_j_per_k": 40, "winding_limit_c": 155})
    return parse_study(document)


def test_the_first_to_give_up_is_the_least_of_the_four(reference_document: Any) -> None:
    study = given_all(reference_document)
    for one in study.candidates:
        found = push_of(study, one.key)
        times = [limit.holds_s for limit in found.limits]
        assert all(time is not None for time in times)
        finite = [time for time in times if time is not None and math.isfinite(time)]
        assert found.first is not None
        assert found.first.holds_s == min(finite)
        assert found.missing == ()


def test_a_breaker_holds_below_its_first_point(reference_document: Any) -> None:
    study = given_all(
        reference_document, main_breaker_a=1000, branch_breaker_a=500, capacity_ah=200
    )
    found = push_of(study, study.candidates[0].key)
    assert [limit.holds_s for limit in found.limits[:2]] == [math.inf, math.inf]
    assert found.first is not None
    assert found.first.key in ("battery", "winding")


def test_a_weak_battery_browns_out_at_once(reference_document: Any) -> None:
    reference_document["power"]["internal_resistance_ohm"] = 0.1
    study = given_all(reference_document, brownout_v=10.0)
    assert any(push_of(study, one.key).browns_out for one in study.candidates)


def test_more_charge_lasts_longer(reference_document: Any) -> None:
    times = []
    for charge in (0.4, 1.0):
        batteries = [{"name": "one", "kind": "own", "internal_resistance_ohm": 0.015,
                      "charge": charge}]  # fmt: skip
        study = given_all(reference_document, batteries=batteries, battery="one")
        found = push_of(study, study.candidates[0].key).limits[2]
        times.append(found.holds_s or 0.0)
    assert 0.0 < times[0] < times[1]


def test_the_opponent_is_the_studys_or_todays_likeness(reference_document: Any) -> None:
    study = parse_study(reference_document)
    base = base_of(study, study.baseline)
    like = opponent_of(study, base)
    assert like.mass == pytest.approx(float(base.stance.mass))
    assert like.push == like.hold
    reference_document["yardsticks"]["opponent"] = {
        "mass_kg": 50, "grip": 1.0, "push_force_n": 300,
    }  # fmt: skip
    given = opponent_of(parse_study(reference_document), base)
    assert (given.mass, given.push, given.slips) == (50.0, 300.0, False)
    assert given.hold == pytest.approx(50.0 * 9.80665)


def test_a_push_beyond_its_grip_only_spins_the_others_wheels() -> None:
    strong = Opponent(50.0, 1.0, 5000.0)
    assert strong.push == strong.hold
    assert strong.slips


def test_everyone_moves_a_feather_and_nobody_a_mountain(reference: Study) -> None:
    for one in reference.candidates:
        light = match(reference, one.key, Opponent(5.0, 0.5, None))
        assert light.head_on.outcome == "it moves the other"
        assert light.shoved_from_side.outcome == "stalemate"
        assert light.head_on.speed is not None
        assert light.head_on.metre_s is not None
        heavy = match(reference, one.key, Opponent(400.0, 1.2, None))
        assert heavy.head_on.outcome == "the other moves it"
        assert heavy.shoved_from_side.outcome == "the other moves it"
        assert heavy.shoves_side.outcome == "stalemate"
        assert heavy.head_on.speed is None
        assert heavy.head_on.acceleration is not None


def test_a_weaker_push_with_the_same_grip_is_moved_but_holds_its_side(reference: Study) -> None:
    """Its motors give little, its wheels still grip: head-on it loses, from the side it stands."""
    for one in reference.candidates:
        force = match(reference, one.key, Opponent(5.0, 0.5, None)).head_on.ours
        weak = match(reference, one.key, Opponent(100.0, 1.2, 0.5 * force))
        assert weak.head_on.outcome == "it moves the other"
        assert weak.shoves_side.outcome == "stalemate"


def test_a_heavier_opponent_of_the_same_push_is_moved_no_quicker(reference: Study) -> None:
    for one in reference.candidates:
        found = [
            match(reference, one.key, Opponent(mass, 1.2, 60.0)).head_on for mass in (30.0, 90.0)
        ]
        assert found[0].speed == pytest.approx(found[1].speed)
        assert (found[0].metre_s or 0.0) < (found[1].metre_s or 0.0)
        assert (found[0].acceleration or 0.0) > (found[1].acceleration or 0.0)
