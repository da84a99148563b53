"""Curves of a candidate: they begin and end where its figures say, and never cross the grip."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.study.reader import parse_study
from models.trade.curves import force_curve, sprint_curves
from models.trade.evaluation import evaluate_study
from tests.random_studies import random_study

REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "reference-1.json"
DOCUMENT: dict[str, Any] = json.loads(REFERENCE.read_text(encoding="utf-8"))
STUDY = parse_study(DOCUMENT)
KEYS = [one.key for one in STUDY.candidates]
FIGURES = {one["key"]: one["metrics"] for one in evaluate_study(STUDY)["candidates"]}


@pytest.mark.parametrize("key", KEYS)
def test_a_sprint_curve_ends_where_the_figures_say(key: str) -> None:
    curve, figures = sprint_curves(STUDY, key), FIGURES[key]
    assert curve["time_s"][0] == curve["speed_mps"][0] == curve["distance_m"][0] == 0.0
    assert curve["time_s"][-1] == pytest.approx(figures["sprint_time_s"], rel=1e-6)
    assert curve["distance_m"][-1] == pytest.approx(6.0, rel=1e-6)
    assert curve["speed_mps"][-1] == pytest.approx(figures["sprint_end_speed_mps"])
    assert max(curve["bus_current_a"]) == pytest.approx(figures["peak_bus_current_a"], rel=1e-3)
    assert min(curve["bus_voltage_v"]) == pytest.approx(figures["min_bus_voltage_v"], rel=1e-3)


@pytest.mark.parametrize("key", KEYS)
def test_a_sprint_curve_rises_and_is_smooth_enough_to_draw(key: str) -> None:
    curve = sprint_curves(STUDY, key)
    time, speed = np.array(curve["time_s"]), np.array(curve["speed_mps"])
    assert 150 <= len(time) <= 260
    assert np.all(np.diff(time) > 0)
    assert np.all(np.diff(speed) > 0)
    assert np.max(np.diff(time)) < 0.05 * time[-1]
    # The distance is the area under the speed
    area = float(np.trapezoid(speed, time))
    assert area == pytest.approx(curve["distance_m"][-1], rel=2e-4)


@pytest.mark.parametrize("key", KEYS)
def test_a_force_curve_stays_below_the_grip_and_ends_at_the_drag(key: str) -> None:
    curve = force_curve(STUDY, key)
    force = np.array(curve["force_n"])
    assert len(curve["speed_mps"]) == len(force) == len(curve["limit"])
    assert np.all(force <= curve["traction_n"] * (1 + 1e-9))
    assert np.all(np.diff(force) <= 1e-9)
    assert force[-1] == pytest.approx(curve["drag_n"], rel=1e-6)


def test_a_force_curve_changes_its_word_where_the_segments_do() -> None:
    curve = force_curve(STUDY, "swerve-tall")
    for segment in curve["segments"]:
        middle = (segment["from_mps"] + segment["to_mps"]) / 2
        at = int(np.argmin(np.abs(np.array(curve["speed_mps"]) - middle)))
        assert curve["limit"][at] == segment["limit"]


def test_what_does_not_get_going_has_no_curve() -> None:
    document = json.loads(json.dumps(DOCUMENT))
    document["candidates"][0]["drive"]["stator_limit_a"] = 5
    document["candidates"][0]["wheels"]["rolling_coefficient"] = 0.5
    study = parse_study(document)
    assert set(map(tuple, sprint_curves(study, "tank").values())) == {()}
    assert force_curve(study, "tank")["force_n"] == []


@pytest.mark.parametrize("layout", ["tank", "swerve", "mecanum", "omni"])
@pytest.mark.parametrize("seed", [4, 5, 8])
def test_a_sprint_so_long_that_its_top_speed_is_reached_has_an_end(layout: str, seed: int) -> None:
    document = random_study(seed, layout)
    document["yardsticks"]["sprint_distance_m"] = 100
    document["candidates"][0]["wheels"]["rolling_coefficient"] = 0.05
    study = parse_study(document)
    curve = sprint_curves(study, "one")
    time, distance = np.array(curve["time_s"]), np.array(curve["distance_m"])
    done = evaluate_study(study)["candidates"][0]["metrics"]["sprint_time_s"]
    assert time[-1] == pytest.approx(done, rel=1e-9)
    assert distance[-1] == pytest.approx(100.0, rel=1e-6)
    assert np.all(np.diff(time) >= 0)
    assert np.all(np.diff(distance) >= 0)
