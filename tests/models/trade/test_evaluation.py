"""The evaluation as a whole: its shape, its order, what is missing and why.

The figures themselves are held in `tests/reference` and `tests/models/engineering`.
"""

from __future__ import annotations

import copy
import json
import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from models.quantities import metrics_made_by
from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study
from tests.random_studies import random_study

REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "reference-1.json"


@pytest.fixture
def case() -> dict[str, Any]:
    return dict(json.loads(REFERENCE.read_text(encoding="utf-8")))


def evaluated(document: dict[str, Any], key: str) -> dict[str, Any]:
    payload = evaluate_study(parse_study(document), keys=[key])
    return dict(payload["candidates"][0])


def candidate(document: dict[str, Any], key: str) -> dict[str, Any]:
    return next(one for one in document["candidates"] if one["key"] == key)


def plain(value: Any) -> bool:
    """Whether a value is what JSON knows, with finite numbers only."""
    if isinstance(value, dict):
        return all(type(key) is str and plain(item) for key, item in value.items())
    if isinstance(value, list):
        return all(plain(item) for item in value)
    if type(value) is float:
        return math.isfinite(value)
    return value is None or type(value) in (str, bool, int)


def test_an_evaluation_is_plain_and_finite(case: dict[str, Any]) -> None:
    assert plain(evaluate_study(parse_study(case)))


def test_every_metric_that_it_makes_is_there(case: dict[str, Any]) -> None:
    names = [metric.key for metric in metrics_made_by("drive")]
    for one in evaluate_study(parse_study(case))["candidates"]:
        assert list(one["metrics"]) == names


def test_named_candidates_alone_keep_their_letters(case: dict[str, Any]) -> None:
    whole = evaluate_study(parse_study(case))
    some = evaluate_study(parse_study(case), keys=["mecanum", "swerve"])
    assert [one["letter"] for one in some["candidates"]] == ["B", "D"]
    assert some["candidates"][0] == whole["candidates"][1]
    assert some["baseline"] == "tank"


def test_equal_documents_give_equal_evaluations(case: dict[str, Any]) -> None:
    assert evaluate_study(parse_study(case)) == evaluate_study(parse_study(copy.deepcopy(case)))


def test_fit_lists_conflicts_first(case: dict[str, Any]) -> None:
    rows = evaluated(case, "swerve-tall")["fit"]
    conflicts = [row["conflict"] for row in rows]
    assert conflicts == sorted(conflicts, reverse=True)
    assert any(conflicts)


def test_without_bodies_the_fit_is_not_known(case: dict[str, Any]) -> None:
    found = evaluated(case, "mecanum")
    assert found["metrics"]["fits"] is None
    assert found["metrics"]["worst_clearance_m"] is None
    assert found["fit"] == []


def test_limits_and_margins_add_up(case: dict[str, Any]) -> None:
    for limit in evaluated(case, "swerve")["limits"].values():
        assert limit["margin"] == pytest.approx(limit["limit"] - limit["value"])


def test_the_worst_pose_is_named(case: dict[str, Any]) -> None:
    found = evaluated(case, "tank")
    assert found["worst_pose"]["tip_forward_mps2"] == "raised"
    tips = {pose["name"]: pose["tip_forward_mps2"] for pose in found["poses"]}
    assert found["metrics"]["tip_forward_mps2"] == min(tips.values()) == tips["raised"]


def test_segments_cover_every_speed_once(case: dict[str, Any]) -> None:
    segments = evaluated(case, "swerve")["segments"]
    assert segments[0]["from_mps"] == 0.0
    assert segments[0]["from_s"] == segments[0]["from_m"] == 0.0
    for one, following in pairwise(segments):
        assert one["to_mps"] == following["from_mps"]
        assert one["limit"] != following["limit"]
    assert segments[-1]["to_mps"] == pytest.approx(
        evaluated(case, "swerve")["metrics"]["top_speed_mps"]
    )


def test_a_route_is_the_sum_of_its_legs(case: dict[str, Any]) -> None:
    routes = evaluated(case, "swerve")["routes"]
    for route in routes.values():
        assert route["time_s"] == pytest.approx(sum(leg["time_s"] for leg in route["legs"]))
    autonomous, cycle = routes["two-crate autonomous"], routes["long cycle"]
    assert autonomous["margin_s"] == pytest.approx(15 - autonomous["time_s"])
    assert autonomous["cycles"] is None
    assert cycle["cycles"] == math.floor((150 - 15) / cycle["time_s"])
    assert cycle["margin_s"] is None


def test_a_drive_too_weak_to_skid_has_no_turn_and_says_so(case: dict[str, Any]) -> None:
    tank = candidate(case, "tank")
    tank["drive"]["stator_limit_a"] = 8
    tank["wheels"].update(track_m=0.35, centre_drop_m=0.0, count=4)
    found = evaluated(case, "tank")
    metrics = found["metrics"]
    assert metrics["turn90_s"] is metrics["turn180_s"] is metrics["spin_rate_radps"] is None
    assert metrics["sprint_time_s"] > 0
    route = found["routes"]["long cycle"]
    assert route["time_s"] is None
    assert route["cycles"] is None
    assert "turn" in route["reason"]
    assert any("cannot turn in place" in note for note in found["notes"])


def test_a_drive_that_does_not_get_going_has_no_sprint(case: dict[str, Any]) -> None:
    tank = candidate(case, "tank")
    tank["drive"]["stator_limit_a"] = 5
    tank["wheels"]["rolling_coefficient"] = 0.5
    found = evaluated(case, "tank")
    missing = [
        "sprint_time_s", "sprint_end_speed_mps", "sprint_stop_time_s", "accel_time_s",
        "peak_bus_current_a", "min_bus_voltage_v", "browns_out", "sprint_energy_j",
        "top_speed_mps", "grade_deg",
    ]  # fmt: skip
    assert {name: found["metrics"][name] for name in missing} == dict.fromkeys(missing)
    assert found["metrics"]["push_force_n"] > 0
    assert "get it going" in found["routes"]["long cycle"]["reason"]
    assert any("does not get going" in note for note in found["notes"])


def test_a_yardstick_speed_out_of_reach_is_said(case: dict[str, Any]) -> None:
    case["yardsticks"]["target_speed_mps"] = 5.5
    found = evaluated(case, "tank")
    assert found["metrics"]["accel_time_s"] is None
    assert any("5.5 m/s" in note for note in found["notes"])


def test_a_brownout_is_the_bus_below_the_threshold(case: dict[str, Any]) -> None:
    assert evaluated(case, "tank")["metrics"]["browns_out"] is False
    case["power"]["brownout_v"] = 7.5
    assert evaluated(case, "tank")["metrics"]["browns_out"] is True
    assert evaluated(case, "swerve")["metrics"]["browns_out"] is False


def test_a_tank_goes_nowhere_sideways(case: dict[str, Any]) -> None:
    assert evaluated(case, "tank")["metrics"]["side_speed_mps"] == 0.0


def test_omni_wheels_on_an_axle_weaken_the_side_hold(case: dict[str, Any]) -> None:
    before = evaluated(case, "tank")["metrics"]["side_hold_force_n"]
    candidate(case, "tank")["wheels"].update(omni_axles=[2], omni_side_grip=0.1, count=6)
    candidate(case, "tank")["wheels"]["centre_drop_m"] = 0.0
    found = evaluated(case, "tank")
    assert found["metrics"]["side_hold_force_n"] < before
    assert any("side grip" in note for note in found["notes"])


@pytest.mark.parametrize("layout", ["tank", "swerve", "mecanum", "omni"])
def test_mirrored_geometry_gives_mirrored_results(layout: str) -> None:
    document = random_study(3, layout)
    mirrored = copy.deepcopy(document)
    for part in [*mirrored["robot"]["parts"], *mirrored["candidates"][0]["parts"]]:
        part["centre_m"][1] = -part["centre_m"][1]
    for leg in mirrored["routes"][0]["legs"]:
        if "to_m" in leg:
            leg["to_m"][1] = -leg["to_m"][1]
        if "heading_deg" in leg:
            leg["heading_deg"] = -leg["heading_deg"]
    start = mirrored["routes"][0]["start"]
    start["at_m"][1], start["heading_deg"] = -start["at_m"][1], -start["heading_deg"]
    one, other = (evaluated(study, "one") for study in (document, mirrored))
    assert other["metrics"].pop("cg_y_m") == pytest.approx(-one["metrics"].pop("cg_y_m"))
    numbers = {k: v for k, v in one["metrics"].items() if type(v) is float}
    assert {k: other["metrics"][k] for k in numbers} == pytest.approx(numbers, rel=1e-9)
    assert {k: v for k, v in other["metrics"].items() if k not in numbers} == {
        k: v for k, v in one["metrics"].items() if k not in numbers
    }
    assert other["routes"]["run"]["time_s"] == pytest.approx(one["routes"]["run"]["time_s"])
