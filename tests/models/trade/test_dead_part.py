"""What is left with a part dead, for whole studies."""

from __future__ import annotations

from typing import Any

import pytest

from models.study import parse_study
from models.study.schema import Study
from models.trade.dead_part import Left, whole_and_dead, worst_stuck_angle
from models.trade.driving import base_of
from models.trade.evaluation import evaluate_study
from tests.random_studies import random_study

LAYOUTS = ["tank", "swerve", "mecanum", "omni"]


def cases(study: Study, key: str, stuck: float = 45.0) -> dict[str, Left]:
    found = whole_and_dead(study, study.candidate(key), stuck_deg=stuck)
    return {left.case: left for left in found}


@pytest.mark.parametrize("layout", LAYOUTS)
@pytest.mark.parametrize("seed", range(5))
def test_the_whole_drive_has_its_metrics(layout: str, seed: int) -> None:
    study = parse_study(random_study(seed, layout))
    one = evaluate_study(study)["candidates"][0]
    whole = cases(study, one["key"])["whole"]
    metrics = one["metrics"]
    for mine, name in (
        (whole.top_speed, "top_speed_mps"), (whole.push, "push_force_n"),
        (whole.sprint, "sprint_time_s"), (whole.sprint_stop, "sprint_stop_time_s"),
        (whole.turn90, "turn90_s"),
    ):  # fmt: skip
        if metrics[name] is None:
            assert mine is None, name
        else:
            assert mine == pytest.approx(metrics[name], rel=1e-9), name
    assert whole.turns == (metrics["turn90_s"] is not None)
    assert whole.drives == (metrics["sprint_time_s"] is not None)


@pytest.mark.parametrize("seed", range(5))
def test_only_steered_bases_have_modules_to_lose(seed: int) -> None:
    for layout in LAYOUTS:
        study = parse_study(random_study(seed, layout))
        found = list(cases(study, study.candidates[0].key))
        assert found[:2] == ["whole", "motor off"]
        assert found[2:] == (["module free", "module stuck"] if layout == "swerve" else [])


@pytest.mark.parametrize("seed", range(8))
def test_what_is_stuck_leaves_less_than_what_rolls(seed: int) -> None:
    study = parse_study(random_study(seed, "swerve"))
    key = study.candidates[0].key
    for stuck in (30.0, 90.0):
        found = cases(study, key, stuck)
        assert found["module stuck"].push <= found["module free"].push + 1e-9
        assert found["module free"].push <= found["whole"].push + 1e-9
        assert found["module stuck"].spare_turn <= found["module free"].spare_turn + 1e-9


def test_a_tank_with_one_motor_a_side_loses_that_side(reference_document: Any) -> None:
    tank = next(one for one in reference_document["candidates"] if one["layout"] == "tank")
    tank["drive"]["motor_count"] = 2
    found = cases(parse_study(reference_document), tank["key"])["motor off"]
    assert not found.leaves_corner
    assert found.top_speed is None
    assert found.turn90 is None
    assert found.push == 0.0


def test_the_worst_angle_leaves_no_more_than_any_other(reference: Study) -> None:
    one = next(one for one in reference.candidates if one.layout == "swerve")
    worst = worst_stuck_angle(base_of(reference, one))
    assert worst is not None
    angle, corner, spare = worst
    assert -90.0 <= angle <= 90.0
    assert " " in corner
    for stuck in range(-90, 91, 15):
        left = cases(reference, one.key, float(stuck))["module stuck"]
        assert min(left.spare_drive, left.spare_turn) >= spare - 1e-6
    at_worst = cases(reference, one.key, angle)["module stuck"]
    assert min(at_worst.spare_drive, at_worst.spare_turn) == pytest.approx(spare, abs=1e-6)


def test_layouts_without_modules_have_no_worst_angle(reference: Study) -> None:
    one = next(one for one in reference.candidates if one.layout == "tank")
    assert worst_stuck_angle(base_of(reference, one)) is None


def test_half_a_wheels_motors_cost_less_than_all(reference_document: Any) -> None:
    """Two motors on each module: one of them off leaves the wheel driven."""
    steered = next(one for one in reference_document["candidates"] if one["layout"] == "swerve")
    steered["drive"]["motor_count"] = 8
    steered["drive"]["stator_limit_a"] = 20.0
    found = cases(parse_study(reference_document), steered["key"])
    assert found["module free"].push < found["motor off"].push < found["whole"].push
    assert found["motor off"].push == pytest.approx(found["whole"].push * 7 / 8)
