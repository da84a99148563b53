"""Routes of an evaluation: poses, margins, passed points, reasons, and what must always hold."""

from __future__ import annotations

import copy
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study
from tests.random_studies import random_study

G = 9.80665
LAYOUTS = ["tank", "swerve", "mecanum", "omni"]
layouts = st.sampled_from(LAYOUTS)
metres = st.floats(-8.0, 8.0)


def study_of(layout: str, *legs: dict[str, Any], **start: Any) -> dict[str, Any]:
    """An invented study that drives one route; `start` changes where it begins."""
    document = random_study(3, layout)
    document["routes"] = [
        {
            "name": "run", "kind": "cycle",
            "start": {"at_m": [0.0, 0.0], "heading_deg": 0, **start},
            "legs": [dict(leg) for leg in legs],
        }
    ]  # fmt: skip
    return document


def with_poses(document: dict[str, Any], *, lifted: float = 0.5) -> dict[str, Any]:
    document["robot"]["poses"] = [
        {"name": "low"},
        {"name": "raised", "offsets": {"mechanism": [0.0, 0.0, lifted]}},
    ]
    return document


def driven(document: dict[str, Any]) -> dict[str, Any]:
    return dict(evaluate_study(parse_study(document))["candidates"][0])


def run(document: dict[str, Any]) -> dict[str, Any]:
    return dict(driven(document)["routes"]["run"])


def seconds(document: dict[str, Any]) -> float:
    time = run(document)["time_s"]
    assert time is not None
    return float(time)


# --- what must hold of every route


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("passed", [False, True])
def test_one_straight_leg_is_the_sprint_and_stop(layout: str, passed: bool) -> None:
    document = study_of(layout)
    length = document["yardsticks"]["sprint_distance_m"]
    legs = [{"to_m": [length, 0.0]}]
    if passed:
        legs.insert(0, {"to_m": [0.3 * length, 0.0], "pass": True, "radius_m": 50})
    document["routes"][0]["legs"] = legs
    found = driven(document)
    stop = found["metrics"]["sprint_stop_time_s"]
    steer = document["candidates"][0]["drive"].get("steer_time_s", 0.0)
    assert found["routes"]["run"]["time_s"] == pytest.approx(stop + steer, rel=1e-6)


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_leg_of_no_length_costs_nothing(layout: str) -> None:
    document = study_of(layout, {}, {"to_m": [0.0, 0.0]}, {"to_m": [0.0, 0.0], "heading_deg": 0})
    assert seconds(document) == 0.0


@settings(max_examples=25)
@given(layouts, metres, metres)
def test_start_and_end_of_a_symmetric_route_can_be_swapped(layout: str, x: float, y: float) -> None:
    there = study_of(layout, {"to_m": [x, y], "heading_deg": 0})
    back = study_of(layout, {"to_m": [0.0, 0.0], "heading_deg": 0}, at_m=[x, y])
    assert seconds(there) == pytest.approx(seconds(back), rel=1e-9, abs=1e-12)


legs_drawn = st.fixed_dictionaries(
    {"to_m": st.tuples(metres, metres).map(list)},
    optional={
        "heading_deg": st.floats(-180, 180),
        "prepare_s": st.floats(0.0, 4.0),
        "action_s": st.floats(0.0, 2.0),
    },
)


@settings(max_examples=25)
@given(layouts, st.lists(legs_drawn, min_size=1, max_size=3), legs_drawn, st.booleans())
def test_adding_a_leg_never_shortens_it(
    layout: str, legs: list[dict[str, Any]], more: dict[str, Any], margin: bool
) -> None:
    documents = [study_of(layout, *legs), study_of(layout, *legs, more)]
    for document in documents:
        document["yardsticks"]["tip_margin"] = 0.3 if margin else 0.0
    assert seconds(documents[1]) >= seconds(documents[0])


@settings(max_examples=20)
@given(layouts, st.floats(0.0, 0.6), st.floats(0.01, 0.25), st.floats(0.1, 3.0))
def test_more_margin_and_a_smaller_radius_never_make_it_quicker(
    layout: str, margin: float, more: float, radius: float
) -> None:
    def time(share: float, arc: float) -> float:
        document = study_of(
            layout,
            {"to_m": [2.0, 0.5], "pass": True, "radius_m": arc, "pose": "raised"},
            {"to_m": [3.0, 2.0], "pass": True, "radius_m": 1.0},
            {"to_m": [3.5, 4.0]},
        )
        document["yardsticks"]["tip_margin"] = share
        return seconds(with_poses(document, lifted=0.2))

    usual = time(margin, radius)
    assert time(margin + more, radius) >= usual - 1e-9
    assert time(margin, radius * 0.7) >= usual - 1e-9


@pytest.mark.parametrize("layout", LAYOUTS)
def test_passing_is_quicker_than_stopping(layout: str) -> None:
    legs = [{"to_m": [2.0, 0.5]}, {"to_m": [3.5, 2.0]}]
    stops = seconds(study_of(layout, *legs))
    passes = study_of(layout, {**legs[0], "pass": True, "radius_m": 0.6}, legs[1])
    assert seconds(passes) < stops - 0.2


# --- held to the tip limit of a pose


def held(layout: str, margin: float, **changes: Any) -> tuple[dict[str, Any], float, float]:
    """A tall robot, strong enough to be held by tipping all the way; its two caps."""
    document = with_poses(study_of(layout, {"to_m": [1.2, 0.0], **changes}), lifted=1.5)
    document["yardsticks"]["tip_margin"] = margin
    one = document["candidates"][0]
    one["drive"].update(motor="bl50", motor_count=8 if layout == "swerve" else 6, ratio=12.0)
    one["drive"].pop("supply_limit_a", None)
    one["drive"].pop("stator_limit_a", None)
    one["wheels"]["grip"] = 1.4
    tips = next(pose for pose in driven(document)["poses"] if pose["name"] == "raised")
    share = 1.0 - margin
    return document, tips["tip_forward_mps2"] * share, tips["tip_brake_mps2"] * share


@pytest.mark.parametrize("layout", ["tank", "swerve"])
@pytest.mark.parametrize("margin", [0.0, 0.4])
def test_a_leg_held_by_tipping_alone_follows_the_closed_form(layout: str, margin: float) -> None:
    document, up, down = held(layout, margin, pose="raised")
    document["routes"][0]["legs"][0].update(may_reverse=False)
    leg = run(document)["legs"][0]
    top = math.sqrt(2 * 1.2 / (1 / up + 1 / down))
    assert leg["drive_s"] == pytest.approx(top / up + top / down, rel=1e-9)
    assert leg["top_mps"] == pytest.approx(top, rel=1e-9)
    assert (leg["accel_limit"], leg["pose"]) == ("tip", "raised")


def test_backwards_the_two_limits_change_places() -> None:
    document, *_ = held("tank", 0.2, pose="raised")
    for part in document["robot"]["parts"]:
        part["centre_m"][0] -= 0.2
    document["routes"][0]["legs"][0].update(to_m=[-1.2, 0.0])
    tips = driven(document)["poses"][1]
    up, down = (0.8 * tips[key] for key in ("tip_brake_mps2", "tip_forward_mps2"))
    assert up > down + 0.5
    leg = run(document)["legs"][0]
    # The law of driving off stays below the forward tip limit whichever way it drives
    most = min(up, tips["tip_forward_mps2"])
    top = math.sqrt(2 * 1.2 / (1 / most + 1 / down))
    assert leg["reverse"]
    assert leg["drive_s"] == pytest.approx(top / most + top / down, rel=1e-9)


def test_sideways_the_side_limit_counts() -> None:
    document, *_ = held("swerve", 0.3, pose="raised")
    document["routes"][0]["legs"][0].update(to_m=[0.0, 1.2])
    found = driven(document)
    tips = found["poses"][1]
    cg = tips["cg_m"][1]
    edge = tips["tip_side_mps2"]
    assert cg != 0.0
    leg = found["routes"]["run"]["legs"][0]
    # Driving to the left it tips over its right wheels, braking over its left ones
    height = tips["cg_m"][2]
    farther = edge + 2 * abs(cg) * G / height
    up, down = (edge, farther) if cg < 0 else (farther, edge)
    up, down = min(0.7 * up, tips["tip_forward_mps2"]), min(0.7 * down, tips["tip_brake_mps2"])
    top = math.sqrt(2 * 1.2 / (1 / up + 1 / down))
    assert leg["drive_s"] == pytest.approx(top / up + top / down, rel=1e-9)


def test_a_margin_holds_where_no_pose_is_named() -> None:
    document, *_ = held("swerve", 0.0)
    free = seconds(document)
    document["yardsticks"]["tip_margin"] = 0.7
    leg = run(document)["legs"][0]
    assert leg["pose"] == "low"
    assert leg["accel_limit"] == "tip"
    assert leg["time_s"] > free + 0.05


def test_naming_the_travelling_pose_changes_nothing_straight_ahead() -> None:
    legs = [{"to_m": [3.0, 0.0]}, {"heading_deg": 90}]
    plain = with_poses(study_of("tank", *legs))
    named = with_poses(study_of("tank", *({**leg, "pose": "low"} for leg in legs)))
    assert run(plain)["legs"] == run(named)["legs"]


def test_a_turn_is_made_with_the_inertia_of_its_pose() -> None:
    def turn(pose: str) -> float:
        document = study_of("swerve", {"heading_deg": 180, "pose": pose})
        document["robot"]["poses"] = [
            {"name": "low"}, {"name": "out", "offsets": {"mechanism": [0.6, 0.0, 0.0]}},
        ]  # fmt: skip
        return float(run(document)["legs"][0]["turn_s"])

    assert turn("out") > 1.1 * turn("low")


def test_the_load_carried_in_a_pose_weighs_on_its_legs_only() -> None:
    document = study_of("tank", {"to_m": [3.0, 0.0]}, {"to_m": [0.0, 0.0], "pose": "laden"})
    crate = {"name": "crate", "mass_kg": 12.0, "centre_m": [0.0, 0.0, 0.3]}
    document["robot"]["poses"] = [{"name": "low"}, {"name": "laden", "loads": [crate]}]
    first, second = run(document)["legs"]
    assert second["drive_s"] > first["drive_s"] * 1.02


# --- why a leg cannot be done


def test_a_pose_that_cannot_stand_says_so() -> None:
    document = study_of("swerve", {"to_m": [1.0, 0.0]}, {"to_m": [2.0, 0.0], "pose": "over"})
    document["robot"]["poses"] = [
        {"name": "low"}, {"name": "over", "offsets": {"mechanism": [1.6, 0.0, 0.4]}},
    ]  # fmt: skip
    found = run(document)
    assert found["time_s"] is None
    assert "leg 2" in found["reason"]
    assert "tip over in the pose “over”" in found["reason"]
    assert found["legs"][0]["reason"] is None
    assert found["legs"][0]["time_s"] > 0
    assert found["legs"][1]["time_s"] is None


def test_a_tank_says_that_it_cannot_pass_looking_aside() -> None:
    legs = [
        {"to_m": [2.0, 0.0], "heading_deg": 60, "pass": True, "radius_m": 0.5},
        {"to_m": [4.0, 0.0]},
    ]
    found = run(study_of("tank", *legs))
    assert found["time_s"] is None
    assert found["reason"].startswith("In leg 1 ")
    assert "heading" in found["legs"][0]["reason"]
    assert run(study_of("swerve", *legs))["time_s"] > 0


def test_a_tank_that_may_not_reverse_says_that_it_would_have_to() -> None:
    legs = [
        {"to_m": [2.0, 0.0], "heading_deg": 180, "pass": True, "radius_m": 0.5},
        {"to_m": [4.0, 0.0], "may_reverse": False},
    ]
    found = run(study_of("tank", *legs, heading_deg=180))
    assert "backwards only" in found["reason"]
    legs[1].pop("may_reverse")
    assert run(study_of("tank", *legs, heading_deg=180))["legs"][1]["reverse"]


def test_a_tank_too_weak_to_turn_names_the_leg() -> None:
    document = study_of("tank", {"to_m": [2.0, 0.0]}, {"heading_deg": 90})
    one = document["candidates"][0]
    one["drive"]["stator_limit_a"] = 8
    one["wheels"].update(track_m=0.35, count=4)
    found = run(document)
    assert found["reason"] == "In leg 2 the drive cannot turn it in place, which this leg needs."


# --- shares, and the field


def test_what_the_mechanisms_take_is_told_apart() -> None:
    document = study_of(
        "swerve", {"to_m": [1.0, 0.0], "prepare_s": 5.0, "action_s": 0.5},
        {"to_m": [4.0, 0.0], "action_s": 1.0},
    )  # fmt: skip
    found = run(document)
    first, second = found["legs"]
    assert first["governed_by"] == "mechanism"
    assert first["wait_s"] == pytest.approx(5.0 - first["move_s"])
    assert second["wait_s"] == 0.0
    assert found["wait_s"] == pytest.approx(first["wait_s"])
    assert found["action_s"] == pytest.approx(1.5)
    assert found["unhelped_s"] == pytest.approx(5.0 + 1.5)
    assert found["mechanism_share"] == pytest.approx(6.5 / found["time_s"])
    for leg in found["legs"]:
        parts = leg["move_s"] + leg["wait_s"] + leg["action_s"]
        assert leg["time_s"] == pytest.approx(parts)


def test_a_way_through_an_obstacle_is_told() -> None:
    document = study_of("tank", {"to_m": [4.0, 0.0]}, {"to_m": [4.0, 4.0]}, {})
    width = document["candidates"][0]["frame"]["width_m"]
    near = width / 2 - 0.01
    document["field"] = {
        "length_m": 10, "width_m": 10,
        "obstacles": [
            {"name": "pier", "outline_m": [[2, near], [3, near], [3, 2], [2, 2]]},
            {"name": "crane", "outline_m": [[4 + width / 2 + 0.01, 1], [6, 1], [6, 2]]},
        ],
    }  # fmt: skip
    legs = run(document)["legs"]
    assert [leg["crosses"] for leg in legs] == [["pier"], [], []]


def test_the_speed_at_a_corner_is_told() -> None:
    document = study_of(
        "swerve", {"to_m": [3.0, 0.0], "pass": True, "radius_m": 0.3}, {"to_m": [3.0, 3.0]}
    )
    first, second = run(document)["legs"]
    tips = driven(document)["poses"][0]
    # It looks along the field's x axis all the while, so that it drives the second leg sideways
    hold = min(
        document["candidates"][0]["wheels"]["grip"] * G,
        *(tips[key] for key in ("tip_side_mps2", "tip_forward_mps2", "tip_brake_mps2")),
    )
    assert first["corner_mps"] == pytest.approx(math.sqrt(0.3 * hold))
    assert first["pass"]
    assert second["corner_mps"] is None
    assert first["top_mps"] > first["corner_mps"]


def test_a_study_with_poses_and_passes_is_evaluated_alike_twice() -> None:
    document = study_of("omni", {"to_m": [3.0, 0.0], "pass": True, "radius_m": 0.3},
                        {"to_m": [3.0, 3.0]})  # fmt: skip
    assert driven(copy.deepcopy(document)) == driven(document)
