"""Characterised constants: the unit found, what they imply, and what a mentor would say."""

from __future__ import annotations

import csv
import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from models.engineering.characterised import constants_of, metres_per_unit
from models.engineering.drive import Drive, example_drive
from models.engineering.motors import motor_constants
from models.errors import OutOfRangeError
from models.trade.characterised import (
    TEMPLATE_VELOCITIES,
    TEMPLATES,
    UNITS,
    Unit,
    Written,
    guesses,
    judge,
    payload_of,
    unit_of_key,
)
from models.trade.characterised_words import mentor_words, unit_words
from models.units import UnitSystem

TABLE = Path(__file__).resolve().parents[2] / "reference" / "measured_drives.csv"
USUAL_MASS = 60.0
"""Of the table's robots, whose mass nobody wrote down; common practice, no source [kg]."""
WRONG = {"d13": "did a current limit", "d16": "means a 7.0 kg robot: was it off the floor?",
         "d19": "was it off the floor?"}  # fmt: skip
"""Rows whose kA cannot be: two far too small, one that means a robot of 180 kg."""


def rows() -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def drive_of(row: dict[str, str]) -> Drive:
    """The row's drive; gearing efficiency and rotor are the example's."""
    base = example_drive()
    known = bool(row["motor_stall_A"])
    motor = motor_constants(
        nominal_voltage=12.0,
        free_speed_rpm=float(row["motor_free_rpm"]),
        free_current=float(row["motor_free_A"]) if known else 1.0,
        stall_torque=float(row["motor_stall_torque_Nm"]) if known else 1.0,
        stall_current=float(row["motor_stall_A"]) if known else 100.0,
        rotor_inertia=6e-5,
    )
    supply = base.supply._replace(motor_count=np.float64(row["drive_motor_count"]))  # type: ignore[arg-type]
    return base._replace(
        motor=motor,
        supply=supply,
        ratio=np.asarray(float(row["gear_ratio"])),
        wheel_radius=np.asarray(float(row["wheel_diameter_m"]) / 2.0),
    )


def written_of(row: dict[str, str]) -> Written:
    known = bool(row["motor_stall_A"]) and bool(row["kA_V_per_mps2"])
    return Written(
        float(row["kV_V_per_mps"]),
        float(row["kS_V"]),
        float(row["kA_V_per_mps2"]) if known else None,
    )


def words(judged: Any) -> str:
    return " ".join(said.text for said in mentor_words(judged, UnitSystem.SI))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["id"])
def test_plausible_drives_are_believed_and_the_others_are_asked(row: dict[str, str]) -> None:
    """Measured drives, anonymous: the table says where its rows come from."""
    layout: Any = row["layout"]
    judged = judge(drive_of(row), layout, mass=USUAL_MASS, written=written_of(row))
    assert judged.chosen is not None
    assert judged.chosen.unit == Unit("m", False)
    assert judged.others == ()
    assert judged.velocity_belief == "good"
    assert judged.wrong == (row["id"] in WRONG)
    assert WRONG.get(row["id"], "") in words(judged)


def test_a_model_believes_its_own_constants() -> None:
    for layout in ("tank", "swerve", "mecanum", "omni"):
        constants = constants_of(example_drive(), layout, mass=55.0)
        written = Written(*(float(constants[index]) for index in (1, 0, 2)))
        judged = judge(example_drive(), layout, mass=55.0, written=written)
        assert not judged.wrong
        assert judged.ratio == pytest.approx(6.5)
        assert judged.diameter == pytest.approx(0.1016)
        assert judged.implied_mass == pytest.approx(55.0)
        assert judged.rolling == pytest.approx(0.02)


def test_one_drive_in_every_unit_is_one_speed() -> None:
    """A drive of 5.89:1 with 100.8 mm wheels: 2.31 V per m/s is 0.733 per wheel rev/s, 0.117 per
    wheel rad/s, 0.124 per motor rev/s, 0.193 as a share of 12 V and 0.0588 per in/s."""
    drive = example_drive()._replace(ratio=np.asarray(5.89), wheel_radius=np.asarray(0.0504))
    listed = {"m": 2.31, "wheel_rev": 0.733, "wheel_rad": 0.117, "motor_rev": 0.124,
              "m:share": 0.193, "in": 0.0588}  # fmt: skip
    for key, velocity in listed.items():
        unit = unit_of_key(key)
        by_unit = {one.unit: one for one in guesses(drive, "swerve", velocity)}
        assert unit is not None
        assert by_unit[unit].speed == pytest.approx(12.0 / 2.31, rel=0.01)
        assert by_unit[unit].plausible
    rpm = metres_per_unit("motor_rpm", wheel_radius=0.0504, ratio=5.89)
    assert float(rpm) == pytest.approx(2 * math.pi * 0.0504 / 5.89 / 60)


@pytest.mark.parametrize("unit", UNITS, ids=unit_words)
def test_a_unit_is_found_or_named_among_those_it_could_be(unit: Unit) -> None:
    drive = example_drive()
    metres = float(metres_per_unit(unit.speed, wheel_radius=0.0508, ratio=6.5))
    own = float(constants_of(drive, "swerve", mass=50.0).velocity)
    velocity = own * metres / (12.0 if unit.share else 1.0)
    judged = judge(drive, "swerve", mass=50.0, written=Written(velocity))
    assert judged.chosen is not None
    speeds = {one.unit: one.speed for one in (judged.chosen, *judged.others)}
    assert unit in speeds
    if judged.others:
        assert "Which is it?" in words(judged)
    stated = judge(drive, "swerve", mass=50.0, written=Written(velocity), unit=unit)
    assert stated.chosen is not None
    assert stated.chosen.unit == unit
    assert "as stated" in words(stated)


def test_a_speed_above_the_geared_one_asks_for_the_ratio() -> None:
    drive = example_drive()
    own = 12.0 / 4.8287
    text = words(judge(drive, "swerve", mass=50.0, written=Written(own / 1.17)))
    assert "12/kV is 17 % above the geared free speed" in text
    assert "is the ratio right?" in text
    text = words(judge(drive, "swerve", mass=50.0, written=Written(own / 0.75)))
    assert "25 % below" in text


@pytest.mark.parametrize("constants", TEMPLATES)
def test_well_known_values_are_not_taken_for_measured(
    constants: tuple[float, float, float],
) -> None:
    static, velocity, acceleration = constants
    judged = judge(
        example_drive(), "tank", mass=50.0, written=Written(velocity, static, acceleration)
    )
    assert judged.template
    assert judged.wrong
    assert "treated as not measured" in words(judged)
    near = Written(velocity * 1.001, static, acceleration)
    assert not judge(example_drive(), "tank", mass=50.0, written=near).template


def test_a_template_velocity_alone_is_known() -> None:
    for velocity in TEMPLATE_VELOCITIES:
        assert judge(example_drive(), "tank", mass=50.0, written=Written(velocity)).template


def test_a_speed_in_no_unit_is_asked_about() -> None:
    judged = judge(example_drive(), "tank", mass=50.0, written=Written(9000.0))
    assert judged.chosen is None
    assert judged.wrong
    assert "In no usual unit" in words(judged)
    assert payload_of(judged)["constants"] is None


@pytest.mark.parametrize(
    "written", [Written(0.0), Written(-1.0), Written(math.nan), Written(2.0, math.inf)]
)
def test_numbers_that_are_none_are_refused(written: Written) -> None:
    with pytest.raises(OutOfRangeError, match="above 0"):
        judge(example_drive(), "tank", mass=50.0, written=written)
