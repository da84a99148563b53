"""What changed is told in the words of the fields, with names instead of positions."""

from __future__ import annotations

import copy
from collections.abc import Callable
from typing import Any

import pytest

from models.study.changes import describe_changes
from models.study.sections import ORDER, apply_edits
from models.units import UnitSystem

Edit = Callable[..., dict[str, Any]]


def words(before: dict[str, Any], after: dict[str, Any], **more: Any) -> list[str]:
    return [change.words for change in describe_changes(before, after, **more)]


@pytest.fixture
def after(document: dict[str, Any]) -> dict[str, Any]:
    return copy.deepcopy(document)


def test_nothing_changed_says_nothing(document: dict[str, Any], after: dict[str, Any]) -> None:
    after["rules"]["autonomous_s"] = 15.0
    assert words(document, after) == []


def test_a_number_is_shown_with_label_and_unit(
    document: dict[str, Any], after: dict[str, Any]
) -> None:
    after["power"]["internal_resistance_ohm"] = 0.02
    after["candidates"][1]["drive"]["ratio"] = 5.9
    assert words(document, after) == [
        "Power, battery's internal resistance: 16.0 mΩ → 20.0 mΩ",
        "Quicker gearing, ratio: 6.75 → 5.90",
    ]


def test_the_other_units_are_shown_on_request(
    document: dict[str, Any], after: dict[str, Any]
) -> None:
    after["rules"]["mass_limit_kg"] = 57.0
    (line,) = words(document, after, system=UnitSystem.INCH_POUND)
    assert line == "Rules, mass limit: 123 lb → 126 lb"


def test_a_small_difference_is_not_rounded_away(
    document: dict[str, Any], after: dict[str, Any]
) -> None:
    after["candidates"][1]["drive"]["ratio"] = 6.7512
    assert words(document, after) == ["Quicker gearing, ratio: 6.750 → 6.751"]


def test_what_was_typed_with_a_unit_is_shown_as_typed(
    document: dict[str, Any], after: dict[str, Any]
) -> None:
    after["candidates"][1]["wheels"]["diameter_m"] = "5 in"
    assert words(document, after) == ["Quicker gearing, wheel diameter: 4 in → 5 in"]


def test_an_estimate_is_shown_with_range_and_source(
    document: dict[str, Any], after: dict[str, Any]
) -> None:
    after["candidates"][1]["wheels"]["grip"] = 1.2
    assert words(document, after) == ["Quicker gearing, grip: 1.10 (0.900 to 1.30, assumed) → 1.20"]


def test_what_was_not_given_before_says_so(document: dict[str, Any], after: dict[str, Any]) -> None:
    after["candidates"][1]["drive"]["stator_limit_a"] = 90
    assert words(document, after) == ["Quicker gearing, stator current limit: not given → 90.0 A"]


def test_a_part_is_named_not_counted(document: dict[str, Any], after: dict[str, Any]) -> None:
    battery = {"name": "battery", "mass_kg": 5.8, "centre_m": [0, 0, 0.1], "size_m": [0.1] * 3}
    after["robot"]["parts"].insert(0, battery)
    after["robot"]["parts"][1]["mass_kg"] = 8.5
    after["candidates"][1]["parts"] = []
    assert words(document, after) == [
        "Robot part battery added",
        "Robot part riser, mass of one: 9.00 kg → 8.50 kg",
        "Quicker gearing, part drive base removed",
    ]


def test_a_new_name_in_its_place_is_a_renaming(
    document: dict[str, Any], after: dict[str, Any]
) -> None:
    after["robot"]["parts"][0]["name"] = "lifter"
    assert words(document, after) == ["Robot part lifter, name: riser → lifter"]


def test_a_point_is_one_value(document: dict[str, Any], after: dict[str, Any]) -> None:
    after["robot"]["parts"][0]["centre_m"] = [-0.05, 0, 0.6]
    (line,) = words(document, after)
    assert line.startswith("Robot part riser, centre: ")
    assert line.endswith("600 mm")


def test_motors_are_called_by_name(document: dict[str, Any], after: dict[str, Any]) -> None:
    after["motors"]["bl60"]["stall_torque_nm"] = 4.5
    after["motors"]["br63"] = {**after["motors"]["bl60"], "name": "63 mm brushed"}
    assert words(document, after) == [
        "Motor 60 mm brushless, stall torque: 4.20 N·m → 4.50 N·m",
        "Motor 63 mm brushed added",
    ]


def test_candidates_added_and_removed(document: dict[str, Any], edited: Edit) -> None:
    new = {**edited("quick"), "key": "slow", "name": "Slow base"}
    after = apply_edits(document, {"candidates/slow": new, "candidates/quick": None})
    assert words(document, after) == [
        "Candidate added: Slow base",
        "Candidate removed: Quicker gearing",
    ]


def test_a_new_order_is_told_once(document: dict[str, Any]) -> None:
    after = apply_edits(document, {ORDER: ["quick", "today"]})
    assert words(document, after) == ["Order of the candidates: Quicker gearing, Today's base"]


def test_legs_of_a_route(document: dict[str, Any], after: dict[str, Any]) -> None:
    route = {
        "name": "long cycle",
        "kind": "cycle",
        "start": {"at_m": [1, 1], "heading_deg": 0},
        "legs": [{"to_m": [2, 2], "action_s": 0.5}, {"to_m": [3, 3], "action_s": 0.5}],
    }
    document["routes"] = [route]
    after["routes"] = [copy.deepcopy(route)]
    after["routes"][0]["legs"][1]["action_s"] = 0.7
    after["routes"][0]["start"]["heading_deg"] = 90
    assert words(document, after) == [
        "Route long cycle, start, heading: 0° → 90.0°",
        "Route long cycle, leg 2, stands still after it: 0.500 s → 0.700 s",
    ]


def test_whole_groups_and_long_texts(document: dict[str, Any], after: dict[str, Any]) -> None:
    after["schedule"] = {"start": "2026-03-02", "ready_by": "2026-03-25"}
    after["notes"] = "Written again, with all that was found out about the old base since then."
    assert words(document, after) == ["Notes changed", "Schedule added"]
    assert words(after, document) == ["Notes changed", "Schedule removed"]


def test_places_are_those_of_forms(document: dict[str, Any], after: dict[str, Any]) -> None:
    after["candidates"][1]["drive"]["ratio"] = 5.9
    after["robot"]["parts"][0]["mass_kg"] = 8.5
    places = [(change.section, change.place) for change in describe_changes(document, after)]
    assert places == [("robot.parts", "0.mass_kg"), ("candidates/quick", "drive.ratio")]
