"""The least bus voltage of a push: a limit keeps it, full duty does not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from models.study.reader import parse_study
from models.trade.battery import batteries_of
from models.trade.driving import base_of
from models.trade.match_legs import courses_of
from models.trade.match_yardsticks import pushes

REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "reference-1.json"


def pushed(**drive: Any) -> dict[str, Any]:
    document = json.loads(REFERENCE.read_text(encoding="utf-8"))
    one = document["candidates"][0]
    one["drive"] |= drive
    one["wheels"]["grip"] = 3.0  # so that the motors and not the tyres set the push
    study = parse_study(document)
    candidate = study.candidates[0]
    found: dict[str, Any] = pushes(
        study, courses_of(study, candidate, base_of(study, candidate)), batteries_of(study)[:1]
    )[0]
    return found


def test_a_push_at_its_stator_limit_stands_where_it_is() -> None:
    found = pushed(stator_limit_a=40.0, supply_limit_a=None)
    assert found["limited_by"] == "stator limit"
    assert found["min_voltage_v"] == found["voltage_v"]


def test_a_push_at_full_duty_takes_its_winding_current_from_the_bus() -> None:
    found = pushed(stator_limit_a=None, supply_limit_a=None)
    document = json.loads(REFERENCE.read_text(encoding="utf-8"))
    power, drive = document["power"], document["candidates"][0]["drive"]
    motor = document["motors"][drive["motor"]]
    winding = motor["nominal_v"] / motor["stall_current_a"]
    shared = power["internal_resistance_ohm"] + power.get("main_wiring_ohm", 0.0)
    count, branch = drive["motor_count"], drive.get("branch_ohm", 0.0)
    idle = power.get("accessory_current_a", 0.0)
    # Ohm's law of the windings, each behind its branch, all behind the battery
    source = power["open_circuit_v"] - shared * idle
    current = source / (winding + branch + count * shared)
    assert found["limited_by"] == "voltage"
    assert found["motor_current_a"] == pytest.approx(current, rel=1e-9)
    if winding < branch + count * shared:
        expected = source - shared * count * current
        assert found["min_voltage_v"] == pytest.approx(expected, rel=1e-9)
    assert found["min_voltage_v"] < 0.6 * source
