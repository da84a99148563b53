"""Bumpers, underside, ramp and platform of a candidate, as a study lays them out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from models.study.reader import parse_study
from models.trade.driving import base_of
from models.trade.evaluation import evaluate_study
from models.trade.ground import ramp_figures, rule_figures

Document = dict[str, Any]


@pytest.fixture
def rules_of(reference_document: Document) -> Callable[..., dict[str, Any]]:
    """Make the rule figures of a candidate, its belly and the study's bumpers given."""

    def figures(key: str = "tank", belly: float | None = None, **rules: float) -> dict[str, Any]:
        reference_document["rules"].update(rules)
        reference_document["yardsticks"]["ramp_deg"] = 15
        for candidate in reference_document["candidates"]:
            if candidate["key"] == key and belly is not None:
                candidate["frame"]["belly_m"] = belly
        study = parse_study(reference_document)
        return rule_figures(study, study.candidate(key))

    return figures


def test_what_is_not_given_is_not_known(rules_of: Any) -> None:
    found = rules_of()
    assert found["bumper"] is None
    assert found["ground_clearance_m"] is None
    keys = ("approach_deg", "departure_deg", "breakover_deg")
    assert [found[key] for key in keys] == [None] * 3
    assert found["passes"] == dict.fromkeys(keys)


def test_bumpers_stand_out_on_every_side(rules_of: Any, reference_document: Document) -> None:
    frame = reference_document["candidates"][0]["frame"]
    bumper = rules_of(bumper_thickness_m=0.08)["bumper"]
    assert bumper["length_m"] == pytest.approx(frame["length_m"] + 0.16)
    assert bumper["perimeter_m"] == pytest.approx(
        2 * (frame["length_m"] + frame["width_m"]) + 8 * 0.08
    )


def test_the_lower_of_frame_and_bumper_meets_the_ramp(rules_of: Any) -> None:
    frame = rules_of(belly=0.02, bumper_thickness_m=0.08, bumper_bottom_m=0.2)
    assert (frame["approach_by"], frame["departure_by"]) == ("frame", "frame")
    bumper = rules_of(belly=0.05, bumper_thickness_m=0.2, bumper_bottom_m=0.05)
    assert bumper["approach_by"] == "bumper"
    assert bumper["approach_deg"] < frame["approach_deg"]


def test_centre_wheels_take_a_tank_over_a_crest(rules_of: Any) -> None:
    tank = rules_of(belly=0.03)
    assert tank["breakover_deg"] > 15 > tank["breakover_without_centre_deg"]
    assert tank["passes"]["breakover_deg"] is True
    steered = rules_of("swerve", belly=0.03)
    assert steered["breakover_without_centre_deg"] is None
    assert steered["passes"]["breakover_deg"] is False


def test_bodies_below_the_belly_are_named(rules_of: Any, reference_document: Document) -> None:
    box = {"outline_m": [[0, 0], [0.1, 0], [0.1, 0.1]], "bottom_m": 0.01, "top_m": 0.1}
    reference_document["candidates"][0]["bodies"] = [{"name": "chain guard", **box}]
    assert rules_of(belly=0.03)["hangs_lower"] == [{"name": "chain guard", "bottom_m": 0.01}]


def test_a_body_around_a_wheel_is_no_underside(rules_of: Any, reference_document: Document) -> None:
    wheels = reference_document["candidates"][0]["wheels"]
    x, y = wheels["wheelbase_m"] / 2, wheels["track_m"] / 2
    outline = [
        [x - 0.05, y - 0.02],
        [x + 0.05, y - 0.02],
        [x + 0.05, y + 0.02],
        [x - 0.05, y + 0.02],
    ]
    wheel = {"name": "wheel", "outline_m": outline, "bottom_m": 0.0, "top_m": 0.1}
    reference_document["candidates"][0]["bodies"] = [wheel]
    assert rules_of(belly=0.03)["hangs_lower"] == []


def ramp_of(document: Document, key: str = "swerve", degrees: float | None = 12) -> Document:
    document["yardsticks"]["ramp_deg"] = degrees
    study = parse_study(document)
    candidate = study.candidate(key)
    return ramp_figures(study, candidate, base_of(study, candidate))


def test_no_ramp_no_climb(reference_document: Document) -> None:
    found = ramp_of(reference_document, degrees=None)
    assert (found["ramp_deg"], found["poses"], found["platform"]) == (None, [], None)


def test_every_pose_climbs_by_its_own_balance(reference_document: Document) -> None:
    stowed, raised = ramp_of(reference_document)["poses"]
    assert stowed["climbs"] and stowed["limited_by"] == "voltage"
    assert stowed["holds"] == {"up": True, "down": True, "across": True}
    assert raised["tip_up_deg"] < stowed["tip_up_deg"]
    assert raised["front_load_n"] + raised["rear_load_n"] == pytest.approx(
        stowed["front_load_n"] + stowed["rear_load_n"]
    )


def test_a_load_slows_the_climb_of_its_pose_alone(reference_document: Document) -> None:
    before = ramp_of(reference_document)["poses"]
    load = {"name": "partner", "mass_kg": 45, "centre_m": [0, 0, 0.6]}
    reference_document["robot"]["poses"][1]["loads"] = [load]
    after = ramp_of(reference_document)["poses"]
    assert after[0] == before[0]
    assert after[1]["carried_kg"] == 45
    assert after[1]["speed_mps"] < before[1]["speed_mps"]
    assert after[1]["force_n"] > before[1]["force_n"]


def test_too_steep_says_why(reference_document: Document) -> None:
    pose = ramp_of(reference_document, degrees=55)["poses"][0]
    assert (pose["climbs"], pose["speed_mps"]) == (False, None)
    assert pose["limited_by"] in {"traction", "tip"}
    assert not any(pose["holds"].values())


def test_where_to_stand_counts_from_the_frames_middle(reference_document: Document) -> None:
    reference_document["platform"] = {
        "length_m": 2.4,
        "hold_moment_nm": 20,
        "partners": [{"name": "neighbour", "mass_kg": 50, "at_m": 0.4}],
    }
    study = parse_study(reference_document)
    base = base_of(study, study.candidate("swerve"))
    pose = ramp_of(reference_document)["platform"]["poses"][0]
    mass = float(base.poses.mass[0])
    assert pose["cg_at_m"] == pytest.approx(-50 * 0.4 / mass)
    assert pose["middle_at_m"] == pytest.approx(pose["cg_at_m"] - float(base.poses.cg_x[0]))
    assert pose["room_m"] == pytest.approx(20 / (mass * 9.80665))
    assert pose["on_it"]
    reference_document["platform"]["length_m"] = 1.0
    assert not ramp_of(reference_document)["platform"]["poses"][0]["on_it"]


def evaluated(document: Document, key: str = "swerve") -> Document:
    payload = evaluate_study(parse_study(document), keys=[key])
    return payload["candidates"][0]


def test_a_load_counts_in_the_balance_of_its_pose(reference_document: Document) -> None:
    before = evaluated(reference_document)
    load = {"name": "crate", "mass_kg": 6, "centre_m": [0.2, 0.1, 0.9], "size_m": [0.3, 0.3, 0.3]}
    reference_document["robot"]["poses"][1]["loads"] = [load]
    after = evaluated(reference_document)
    mass = before["metrics"]["mass_kg"]
    expected = (np.array(before["poses"][1]["cg_m"]) * mass + 6 * np.array([0.2, 0.1, 0.9])) / (
        mass + 6
    )
    assert after["poses"][1]["cg_m"] == pytest.approx(expected)
    assert after["poses"][0] == before["poses"][0]
    assert after["metrics"]["mass_kg"] == mass
    assert after["metrics"]["sprint_time_s"] == before["metrics"]["sprint_time_s"]


def test_what_travels_with_it_is_driven_but_not_weighed_by_the_rules(
    reference_document: Document,
) -> None:
    before = evaluated(reference_document)["metrics"]
    load = {"name": "crate", "mass_kg": 6, "centre_m": [0, 0, 0.3]}
    reference_document["robot"]["poses"][0]["loads"] = [load]
    after = evaluated(reference_document)["metrics"]
    assert after["mass_kg"] == pytest.approx(before["mass_kg"] + 6)
    assert after["legal_mass_kg"] == before["legal_mass_kg"]
    assert after["sprint_time_s"] > before["sprint_time_s"]


def test_every_figure_of_ramp_and_rules_can_be_sent(reference_document: Document) -> None:
    import json

    reference_document["yardsticks"]["ramp_deg"] = 60
    reference_document["platform"] = {"length_m": 2}
    payload = evaluate_study(parse_study(reference_document))
    json.dumps([[one["rules"], one["ramp"]] for one in payload["candidates"]], allow_nan=False)
