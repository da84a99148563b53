"""What looks odd is said in plain words, with the likely fix; what is usual is not."""

from __future__ import annotations

from typing import Any

import pytest

from models.seed import example_document
from models.study import Remark, field_for, parse_study, remarks_on
from models.study.physics import datasheet_agreement, geared_free_speed


def _set(document: dict[str, Any], path: str, value: Any) -> None:
    *steps, last = [int(step) if step.isdigit() else step for step in path.split("/")]
    holder: Any = document
    for step in steps:
        holder = holder[step]
    holder[last] = value


def _remarks(*edits: tuple[str, Any]) -> list[Remark]:
    document = example_document()
    for path, value in edits:
        _set(document, path, value)
    return remarks_on(parse_study(document))


def test_the_example_gives_nothing_to_remark_on() -> None:
    assert _remarks() == []


_STEERED = "candidates/1/"
ODD = [
    ([(_STEERED + "drive/ratio", 0.9), (_STEERED + "wheels/diameter_m", 0.03)],
     "candidates[1].drive.ratio", "Did you mean 1.111:1?", "1.111"),
    ([(_STEERED + "wheels/diameter_m", "50.8 mm")],
     "candidates[1].wheels.diameter_m", "50.8 mm is half of the usual 101.6 mm wheel", "0.1016"),
    ([("rules/mass_limit_kg", 125)], "rules.mass_limit_kg", "Pounds?", "125 lb"),
    ([("robot/parts/0/mass_kg", 50)], "robot.parts[0].mass_kg", "Pounds in “mast”?", "50 lb"),
    ([("robot/keepouts/0/clearance_m", 0.25)], "robot.keepouts[0].clearance_m",
     "Inches or millimetres?", "0.25 in"),
    ([(_STEERED + "drive/ratio", "14:50, 27:17, 15:45")], "candidates[1].drive.ratio",
     "read driver first: 3.571 × 0.630 × 3.000 = 6.746", "50:14, 17:27, 45:15"),
    ([(_STEERED + "drive/ratio", "50:14, 27:17, 15:45"),
      (_STEERED + "wheels/diameter_m", "2 in")], "candidates[1].drive.ratio",
     "gives only 1.89", None),
    ([("yardsticks/target_speed_mps", "15.1 ft/s")], "yardsticks.target_speed_mps",
     "lies above the geared free speed", None),
    ([(_STEERED + "drive/stator_limit_a", None), (_STEERED + "drive/supply_limit_a", None)],
     "candidates[1].drive.stator_limit_a", "times what the tyres hold", None),
    ([(_STEERED + "drive/supply_limit_a", 120)], "candidates[1].drive.supply_limit_a",
     "A supply limit of 120 A never acts", None),
    ([(_STEERED + "drive/motor_count", 8)], "candidates[1].drive.motor_count",
     "Steering motors do not drive", 4),
    ([(_STEERED + "wheels/track_m", "26 in")], "candidates[1].wheels.track_m",
     "Frame size typed as wheel distance?", "0.530"),
    ([("robot/poses", [{"name": "stowed", "offsets": {}}]), ("robot/keepouts/2/poses", []),
      ("routes", [])],
     "robot.poses", "one pose only", None),
    ([("robot/parts/6/exempt", False)], "robot.parts[6].exempt", "counts towards", True),
    ([("robot/parts/7/name", "fenders")], "robot.parts", "No part is called bumper", None),
    ([("candidates/4/parts", [])], "candidates[4].parts", "weighs nothing", None),
    ([(_STEERED + "wheels/grip", 1.1)], "candidates[1].wheels.grip", "stands as a fact",
     {"value": 1.1, "low": 0.9, "high": 1.3, "source": "assumed"}),
    ([(_STEERED + "wheels/grip", 2.255)], "candidates[1].wheels.grip", "outside the usual", None),
    ([(_STEERED + "drive/efficiency", 1)], "candidates[1].drive.efficiency", "without any loss",
     0.92),
    ([(_STEERED + "drive/steer_time_s", 0)], "candidates[1].drive.steer_time_s", "in no time",
     0.15),
    ([("motors/brushless-60/stall_torque_nm", 9.4)], "motors.brushless-60",
     "does not agree with itself", None),
    ([("power/internal_resistance_ohm", 0.002)], "power.internal_resistance_ohm", "only 5 mΩ",
     "0.013"),
    ([("power/brownout_v", 13)], "power.brownout_v", "browns out at rest", None),
    ([("candidates/4/wheels/centre_drop_m", 0.003)], "candidates[4].wheels.centre_drop_m",
     "needs a tank with an odd number", 0),
    ([("power/warning_v", 6.5)], "power.warning_v", "warns of nothing", "8"),
    ([("power/batteries/0/internal_resistance_ohm", 0.022)],
     "power.batteries[0].internal_resistance_ohm", "usual for a practice battery", None),
    ([("power/batteries/1/internal_resistance_ohm", 0.013)],
     "power.batteries[1].internal_resistance_ohm", "usual for a match battery", None),
    ([("power/batteries/2/charge", "0.85 %")], "power.batteries[2].charge", "85 %?", "0.85"),
    ([("power/main_breaker_curve", [[162, 300], [240, 28]])], "power.main_breaker_curve",
     "divide them by the rating: 2 times 120 A", None),
    ([("power/branch_breaker_a", None)], "power.branch_breaker_curve", "no rating", None),
    ([("power/branch_breaker_a", 40)], "candidates[1].drive.supply_limit_a",
     "does not protect the branch", "40"),
    ([("power/loads/0/during", "always"), ("power/loads/0/current_a", 90)],
     "power.loads[0].duty", "through the whole match", None),
    ([("power/cables/0/length_m", 24)], "power.cables[0].length_m", "Inches or centimetres?",
     "24 cm"),
    ([("yardsticks/opponent/mass_kg", 140)], "yardsticks.opponent.mass_kg", "Pounds?", "140 lb"),
    ([("yardsticks/tip_margin", 0)], "yardsticks.tip_margin", "edge of tipping", "0.2"),
    ([("field/obstacles/0/outline_m/1", [15, 4.2])], "field.obstacles[0].outline_m",
     "sticks out of the field", None),
    ([("field/width_m", 6)], "routes[1].legs[2].to_m", "outside the field", None),
    ([("module_types/module-100/ratios_on_offer/0", 0.15)],
     "module_types.module-100.ratios_on_offer[0]", "Did you mean 6.667:1?", "6.667"),
    ([("candidates/0/drive/ratios_on_offer/1", 0.125)],
     "candidates[0].drive.ratios_on_offer[1]", "Did you mean 8:1?", "8"),
    ([("candidates/0/wheels/effective_track_m", 0.5)],
     "candidates[0].wheels.effective_track_m", "smaller than the track itself", None),
    ([("candidates/0/wheels/effective_track_m", 2.4)],
     "candidates[0].wheels.effective_track_m", "4 times the track itself", None),
    ([("schedule/give_up_base_on", "2027-03-05")], "schedule.give_up_base_on",
     "after all has to be ready", None),
    ([("schedule/gates/0/on", "2027-01-20")], "schedule.gates[0].on", "outside the time", None),
]  # fmt: skip


@pytest.mark.parametrize(("edits", "place", "words", "fix"), ODD, ids=[one[2] for one in ODD])
def test_an_odd_input_is_remarked_on(
    edits: list[tuple[str, Any]], place: str, words: str, fix: Any
) -> None:
    found = [remark for remark in _remarks(*edits) if remark.place == place]
    assert any(words in str(remark) for remark in found)
    fixes = [remark.fix_value for remark in found]
    assert fix is None or fix in fixes


@pytest.mark.parametrize(
    ("edits", "place", "fix"), [(e, p, f) for e, p, _, f in ODD if f is not None]
)
def test_the_fix_offered_is_taken_and_quiets_the_remark(
    edits: list[tuple[str, Any]], place: str, fix: Any
) -> None:
    path = place.replace("[", "/").replace("]", "").replace(".", "/")
    before = {(remark.place, remark.what) for remark in _remarks(*edits)}
    after = {(remark.place, remark.what) for remark in _remarks(*edits, (path, fix))}
    assert after < before


def test_places_of_remarks_are_fields() -> None:
    places = {place for _, place, _, _ in ODD}
    assert all(field_for(place).label for place in places)


def test_the_datasheet_that_contradicts_itself_is_found() -> None:
    """A published homework problem: kT 0.12 N·m/A against kE 12 V per 1000 rpm (0.1146)."""
    document = example_document()
    document["motors"]["brushless-60"] |= {
        "free_speed_rpm": 1000, "free_current_a": 0, "stall_current_a": 100, "stall_torque_nm": 12,
    }  # fmt: skip
    study = parse_study(document)
    assert datasheet_agreement(study.motors["brushless-60"]) == pytest.approx(0.12 / 0.1146, 1e-3)
    assert any(remark.place == "motors.brushless-60" for remark in remarks_on(study))


def test_free_speed_follows_ratio_and_wheel() -> None:
    """Own: 6000 rpm through 6.75:1 on a 101.6 mm wheel rolls at π·0.1016·6000/60/6.75."""
    document = example_document()
    document["candidates"][3]["drive"]["ratio"] = 6.75
    document["candidates"][3]["wheels"]["diameter_m"] = 0.1016
    study = parse_study(document)
    speed = geared_free_speed(study.candidates[3], study.motors["brushless-60"])
    assert speed == pytest.approx(4.7287, rel=1e-4)
