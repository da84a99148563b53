"""What to hold a pose to and what that costs; what a faster drive is worth."""

from __future__ import annotations

import math
from typing import Any

import pytest

from models.seed import example_document
from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study
from models.trade.route_limits import faster_drive, pose_limits
from tests.random_studies import random_study


@pytest.fixture(scope="module")
def example() -> dict[str, Any]:
    return dict(example_document())


def raised(margin: float, *, layout: str = "tank") -> dict[str, Any]:
    document = random_study(3, layout)
    document["yardsticks"]["tip_margin"] = margin
    document["robot"]["poses"] = [
        {"name": "low"},
        {"name": "raised", "offsets": {"mechanism": [0.0, 0.0, 0.9]}},
        {"name": "unused", "offsets": {"mechanism": [0.0, 0.0, 2.0]}},
    ]
    document["routes"] = [
        {
            "name": "run", "kind": "cycle", "start": {"at_m": [0, 0], "heading_deg": 0},
            "legs": [{"to_m": [4, 0]}, {"to_m": [8, 0], "pose": "raised", "prepare_s": 0.5}],
        },
        {
            "name": "plain", "kind": "cycle", "start": {"at_m": [0, 0], "heading_deg": 0},
            "legs": [{"to_m": [4, 0], "action_s": 1.0}],
        },
    ]  # fmt: skip
    return document


@pytest.mark.parametrize("margin", [0.0, 0.25])
def test_the_limits_are_the_tip_limits_less_the_margin_rounded_down(margin: float) -> None:
    study = parse_study(raised(margin))
    poses = evaluate_study(study)["candidates"][0]["poses"]
    for limit, pose in zip(pose_limits(study)["one"], poses, strict=True):
        assert limit["pose"] == pose["name"]
        for name, tip in (("accel_mps2", "tip_forward_mps2"), ("brake_mps2", "tip_brake_mps2"),
                          ("side_mps2", "tip_side_mps2")):  # fmt: skip
            exact = pose[tip] * (1 - margin)
            assert limit[name] <= exact + 1e-9
            assert limit[name] == pytest.approx(math.floor(exact * 10 + 1e-9) / 10)


def test_being_held_costs_what_the_route_is_longer_by() -> None:
    tall, flat = parse_study(raised(0.3)), raised(0.3)
    low, up, unused = pose_limits(tall)["one"]
    assert up["legs"] == {"run": [1], "plain": []}
    assert up["cost_s"]["run"] > 0.05
    assert up["cost_s"]["plain"] == 0.0
    assert up["binding"]
    assert unused["cost_s"] == {"run": 0.0, "plain": 0.0}
    # The same legs with everything lying so low that nothing tips
    assert low["cost_s"]["run"] >= 0.0
    flat["routes"][0]["legs"][1].pop("pose")
    flat["yardsticks"]["tip_margin"] = 0.0
    eased = evaluate_study(parse_study(flat))["candidates"][0]["routes"]["run"]["time_s"]
    held = evaluate_study(tall)["candidates"][0]["routes"]["run"]["time_s"]
    assert low["cost_s"]["run"] + up["cost_s"]["run"] == pytest.approx(held - eased, abs=0.02)


def test_more_margin_costs_more() -> None:
    costs = [pose_limits(parse_study(raised(m)))["one"][1]["cost_s"]["run"] for m in (0, 0.2, 0.5)]
    assert costs == sorted(costs)
    assert costs[0] < costs[2]


def test_what_cannot_be_done_when_held_has_no_cost() -> None:
    document = raised(0.2)
    document["robot"]["poses"][1]["offsets"]["mechanism"] = [2.0, 0.0, 0.5]
    limit = pose_limits(parse_study(document))["one"][1]
    assert limit["cost_s"]["run"] is None
    assert limit["accel_mps2"] == limit["brake_mps2"] == limit["side_mps2"] == 0.0
    assert limit["binding"]


def test_a_limit_that_nothing_reaches_does_not_bind() -> None:
    document = raised(0.0)
    document["candidates"][0]["drive"]["stator_limit_a"] = 25
    document["candidates"][0]["wheels"]["grip"] = 0.5
    low = pose_limits(parse_study(document))["one"][0]
    assert low["binds"] == []
    assert not low["binding"]
    assert low["unlimited_accel"] < low["accel_mps2"]


def test_the_shipped_example_is_told_for_every_candidate_and_pose(example: dict[str, Any]) -> None:
    study = parse_study(example)
    found = pose_limits(study)
    assert list(found) == [one.key for one in study.candidates]
    for limits in found.values():
        assert [one["pose"] for one in limits] == [pose.name for pose in study.robot.poses]
        for one in limits:
            assert one["accel_mps2"] > 0
            assert set(one["cost_s"]) == {route.name for route in study.routes}


@pytest.mark.parametrize("layout", ["tank", "swerve", "mecanum"])
def test_an_infinitely_fast_drive_leaves_what_is_not_driving(layout: str) -> None:
    study = parse_study(raised(0.1, layout=layout))
    found = faster_drive(study)["one"]
    steer = float(study.candidates[0].drive.steer_time_s) if layout == "swerve" else 0.0
    assert found["plain"]["seconds_if_infinitely_fast"] == pytest.approx(steer + 1.0)
    assert found["run"]["seconds_if_infinitely_fast"] == pytest.approx(steer + max(steer, 0.5))


def test_a_tenth_quicker_saves_a_tenth_of_the_driving() -> None:
    study = parse_study(raised(0.0))
    run = evaluate_study(study)["candidates"][0]["routes"]["plain"]
    found = faster_drive(study)["one"]["plain"]
    assert found["seconds"] == pytest.approx(run["time_s"])
    assert found["saved_s"] == pytest.approx(0.1 * run["legs"][0]["move_s"])
    assert found["seconds_if_a_tenth_quicker"] == pytest.approx(run["time_s"] - found["saved_s"])


def test_a_leg_that_waits_anyway_gains_nothing() -> None:
    document = raised(0.0)
    document["routes"][0]["legs"][1]["prepare_s"] = 30
    found = faster_drive(parse_study(document))["one"]["run"]
    legs = evaluate_study(parse_study(document))["candidates"][0]["routes"]["run"]["legs"]
    assert found["legs_governed_by_mechanism"] == [1]
    assert found["saved_s"] == pytest.approx(0.1 * legs[0]["move_s"])


def test_what_cannot_be_driven_has_no_seconds() -> None:
    document = raised(0.0)
    document["robot"]["poses"][1]["offsets"]["mechanism"] = [2.0, 0.0, 0.5]
    found = faster_drive(parse_study(document))["one"]["run"]
    assert found["seconds"] is found["seconds_if_infinitely_fast"] is found["saved_s"] is None
