"""Drives that their builders characterised, against the free speed of gearing and datasheet.

The table beside this file says where its rows come from. 12/kV, the speed that the measured
constant implies at 12 V, has to lie near the geared free speed.
"""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from models.engineering.drive import example_drive, free_speed
from models.engineering.motors import RPM_IN_RADPS

TABLE = Path(__file__).resolve().parent / "measured_drives.csv"


def rows() -> list[dict[str, str]]:
    with TABLE.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(line for line in file if not line.startswith("#")))


def test_the_table_has_all_its_rows() -> None:
    assert len(rows()) == 21


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["id"])
def test_the_measured_speed_lies_near_the_geared_one(row: dict[str, str]) -> None:
    base = example_drive()
    drive = base._replace(
        motor=base.motor._replace(free_speed=float(row["motor_free_rpm"]) * RPM_IN_RADPS),
        ratio=float(row["gear_ratio"]),
        wheel_radius=float(row["wheel_diameter_m"]) / 2.0,
    )
    geared = float(free_speed(drive, row["layout"], 0.0))  # type: ignore[arg-type]
    measured = 12.0 / float(row["kV_V_per_mps"])
    assert 0.85 <= measured / geared <= 1.12
