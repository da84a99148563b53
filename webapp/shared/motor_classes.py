"""The motor classes that come with the program, to begin a study's own motors from."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from typing import Any

from webapp.paths import data_folder

CLASSES_FILE = "motor_classes.csv"
FIGURES = (
    "nominal_v",
    "free_speed_rpm",
    "free_current_a",
    "stall_torque_nm",
    "stall_current_a",
    "rotor_inertia_kgm2",
)


@dataclass(frozen=True)
class MotorClass:
    """One class of motor: what it is called, and its datasheet figures as a study states them."""

    key: str
    name: str
    figures: dict[str, Any]


@cache
def motor_classes() -> tuple[MotorClass, ...]:
    """Return the motor classes in the order of the table in `seed_data`."""
    file = data_folder("seed_data") / CLASSES_FILE
    if not file.is_file():
        return ()
    with file.open(encoding="utf-8", newline="") as lines:
        return tuple(_motor_class(row) for row in csv.DictReader(lines))


def _motor_class(row: dict[str, str]) -> MotorClass:
    figures: dict[str, Any] = {"name": row["name"]}
    figures |= {name: float(row[name]) for name in FIGURES if row.get(name)}
    return MotorClass(row["key"], row["name"], figures)
