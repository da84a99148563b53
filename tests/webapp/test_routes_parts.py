"""Parts of the page of the routes: seconds that add up, sentences, limits, the drawing to scale."""

from __future__ import annotations

import copy
import re
from typing import Any

import pytest

from models.seed import example_document
from models.study import parse_study
from models.study.schema import Study
from models.trade.comparison import compare
from models.trade.evaluation import evaluate_study
from models.trade.route_limits import faster_drive, pose_limits
from models.units import UnitSystem
from webapp.shared.candidates import marks_of
from webapp.shared.routes.field import extent_of, field_view
from webapp.shared.routes.leads import RouteSentence, route_leads
from webapp.shared.routes.limits import limits_context
from webapp.shared.routes.times import BAR_WIDTH, Bars, bars_of, runs_of, times_of

SI = UnitSystem.SI
CYCLE = "quay to beacon and back"
AUTONOMOUS = "three floats before the bell"


@pytest.fixture
def example() -> dict[str, Any]:
    return copy.deepcopy(example_document())


def route_of(document: dict[str, Any], name: str) -> dict[str, Any]:
    found: dict[str, Any] = next(one for one in document["routes"] if one["name"] == name)
    return found


def leads(document: dict[str, Any], name: str) -> list[RouteSentence]:
    study = parse_study(document)
    faster = {key: found[name] for key, found in faster_drive(study).items()}
    route = next(one for one in study.routes if one.name == name)
    payload = evaluate_study(study)
    return route_leads(route, payload, compare(payload), faster)


def bars(study: Study, payload: dict[str, Any], name: str) -> Bars:
    route = next(one for one in study.routes if one.name == name)
    allowed = float(study.rules.autonomous_s)
    return bars_of(route, runs_of(payload, name), marks_of(study), compare(payload), allowed)


def test_what_a_leg_is_made_of_adds_up_to_its_time(example: dict[str, Any]) -> None:
    for one in evaluate_study(parse_study(example))["candidates"]:
        for run in one["routes"].values():
            for leg in run["legs"]:
                parts = times_of(leg, one["layout"])
                assert sum(parts.values()) == pytest.approx(leg["time_s"], abs=1e-9)
                assert min(parts.values()) >= 0.0


def test_figures_of_an_earlier_model_are_taken_apart_the_same_way() -> None:
    leg = {"time_s": 3.4, "drive_s": 1.5, "turn_s": 0.5, "steer_s": 0.0, "prepare_s": 3.0,
           "action_s": 0.4}  # fmt: skip
    assert times_of(leg, "tank") == pytest.approx(
        {"turn": 0.5, "drive": 1.5, "wait": 1.0, "act": 0.4}
    )
    assert times_of({**leg, "time_s": None}, "tank") == {}


def test_bars_are_as_long_as_the_times_on_one_scale(example: dict[str, Any]) -> None:
    study = parse_study(example)
    payload = evaluate_study(study)
    drawn = bars(study, payload, AUTONOMOUS)
    ends = [row.pieces[-1].left + row.pieces[-1].width for row in drawn.rows]
    times = [one["routes"][AUTONOMOUS]["time_s"] for one in payload["candidates"]]
    scale = BAR_WIDTH / max(*times, float(study.rules.autonomous_s))
    assert ends == pytest.approx([time * scale for time in times], abs=0.3)
    assert drawn.limit == pytest.approx(float(study.rules.autonomous_s) * scale, abs=0.1)
    assert bars(study, payload, CYCLE).limit is None


def test_the_lead_names_the_quickest_and_the_gain_over_today(example: dict[str, Any]) -> None:
    runs = runs_of(evaluate_study(parse_study(example)), CYCLE)
    times = {key: run["time_s"] for key, run in runs.items()}
    quickest = min(times, key=lambda key: times[key])
    lead = leads(example, CYCLE)[0]
    gain = times["tank"] - times[quickest]
    assert f"{gain:.2f} s quicker than today's A" in lead.text
    assert f"{runs[quickest]['cycles']} whole cycles a match" in lead.text


def test_a_route_that_waits_for_its_mechanism_says_what_a_faster_drive_buys(
    example: dict[str, Any],
) -> None:
    for leg in route_of(example, CYCLE)["legs"]:
        leg.pop("pass", None)
        leg.pop("radius_m", None)
        leg["prepare_s"] = 30
    words = [one.text for one in leads(example, CYCLE)]
    assert any("are a tie" in text for text in words)
    (held,) = [text for text in words if text.startswith("On every leg the mechanism")]
    assert held.endswith("a faster drive buys 0.00 s at most.")


def test_a_candidate_that_cannot_do_a_leg_says_which_and_why(example: dict[str, Any]) -> None:
    tank = next(one for one in example["candidates"] if one["key"] == "tank")
    tank["drive"]["stator_limit_a"] = 5
    found = leads(example, CYCLE)
    study = parse_study(example)
    drawn = bars(study, evaluate_study(study), CYCLE)
    reasons = {row.mark.key: row.reason for row in drawn.rows}
    assert reasons["tank"] and not reasons["steered"]
    (cannot,) = [
        one.text for one in found if one.text.startswith("Today's A") and one.kind == "bad"
    ]
    assert re.search(r"cannot drive legs? \d.*: .+\.$", cannot)


@pytest.mark.parametrize("able", ["tank", "steered"])
def test_where_one_alone_can_drive_it_that_is_said(example: dict[str, Any], able: str) -> None:
    for one in example["candidates"]:
        if one["key"] != able and "drive" in one:
            one["drive"]["stator_limit_a"] = 1
    example["candidates"] = [one for one in example["candidates"] if "same_base_as" not in one]
    lead, *others = leads(example, CYCLE)
    assert lead.text.startswith("Only ") and " can drive it: " in lead.text
    assert sum("cannot drive" in one.text for one in others) == len(example["candidates"]) - 1


def test_a_leg_through_an_obstacle_is_named_and_drawn_differently(example: dict[str, Any]) -> None:
    example["field"] = {
        "length_m": 16,
        "width_m": 8,
        "obstacles": [{"name": "reef", "outline_m": [[4, 2], [5, 2], [5, 5], [4, 5]]}],
    }
    assert any("“reef”" in one.text and one.kind == "bad" for one in leads(example, CYCLE))
    study = parse_study(example)
    run = runs_of(evaluate_study(study), CYCLE)["tank"]
    index = [one.name for one in study.routes].index(CYCLE)
    view = field_view(study.routes[index], index, study, legs=run["legs"],
                      extent=extent_of(study), system=SI)  # fmt: skip
    crossing = [line.title for line in view.lines if "field-crossing" in line.css]
    assert crossing == [
        f"Leg {number}, crosses reef"
        for number, leg in enumerate(run["legs"], start=1)
        if leg["crosses"]
    ]
    assert crossing


def test_the_field_is_drawn_to_scale_with_every_point_where_it_is(example: dict[str, Any]) -> None:
    example["field"] = {"length_m": 16, "width_m": 8}
    study = parse_study(example)
    assert extent_of(study) == (0.0, 0.0, 16.0, 8.0)
    view = field_view(study.routes[0], 0, study, legs=[], extent=extent_of(study), system=SI)
    edge = [float(one) for one in re.findall(r"-?\d+\.\d", view.below[0].path)]
    assert edge[2] - edge[0] == pytest.approx(16 * view.on.scale, abs=0.1)
    assert edge[3] - edge[5] == pytest.approx(8 * view.on.scale, abs=0.1)
    for point in view.points:
        assert point.at == view.on.at(*point.metres)
    assert not view.note


def test_without_a_field_the_room_of_all_routes_is_drawn_and_said_so(
    example: dict[str, Any],
) -> None:
    example.pop("field", None)
    study = parse_study(example)
    low_x, low_y, high_x, high_y = extent_of(study)
    places = [leg.to_m for route in study.routes for leg in route.legs if leg.to_m]
    assert all(low_x < x < high_x and low_y < y < high_y for x, y in places)
    view = field_view(study.routes[0], 0, study, legs=[], extent=extent_of(study), system=SI)
    assert "gives no field size" in view.note
    route_of(example, CYCLE)["legs"][0]["to_m"] = [2, 2]
    assert extent_of(parse_study(example), study) == (low_x, low_y, high_x, high_y)


def test_a_point_that_is_passed_is_a_ring_with_its_arc(example: dict[str, Any]) -> None:
    route = route_of(example, CYCLE)
    route["legs"] = [
        {"to_m": [6, 2.4], "pass": True, "radius_m": 1.2},
        {"to_m": [6, 6]},
    ]
    study = parse_study(example)
    index = [one.name for one in study.routes].index(CYCLE)
    view = field_view(study.routes[index], index, study, legs=[],
                      extent=extent_of(study), system=SI)  # fmt: skip
    kinds = [shape.css for shape in view.above]
    assert kinds.count("field-through") == 1
    (arc,) = [shape.path for shape in view.above if shape.css == "field-arc"]
    numbers = [float(one) for one in re.findall(r"-?\d+\.\d", arc)]
    assert numbers[:2] == pytest.approx(view.on.at(4.8, 2.4), abs=0.2)
    assert numbers[-2:] == pytest.approx(view.on.at(6, 3.6), abs=0.2)
    assert any("r 1.2 m" in label.text for label in view.labels)


def test_labels_stay_on_the_field(example: dict[str, Any]) -> None:
    study = parse_study(example)
    for index, route in enumerate(study.routes):
        view = field_view(route, index, study, legs=[], extent=extent_of(study), system=SI)
        for label in view.labels:
            if label.css == "words-point":
                assert 0 < label.at[0] < view.width
                assert 0 < label.at[1] < view.height


def test_limits_are_rounded_down_and_said_where_they_bind(example: dict[str, Any]) -> None:
    study = parse_study(example)
    limits = pose_limits(study)
    shown = limits_context(limits, study, UnitSystem.INCH_POUND)
    feet = float(shown["limit_poses"][0].rows[1].cells[0].text)
    metres = float(limits_context(limits, study, SI)["limit_poses"][0].rows[1].cells[0].text)
    assert metres / 0.3048 - 0.1 < feet <= metres / 0.3048
    assert shown["limit_unit"] == "ft/s²"
    notes = {cell.note for pose in shown["limit_poses"] for row in pose.rows for cell in row.cells}
    assert "not reached" in notes
    assert any(note.startswith("! could do") for note in notes)
