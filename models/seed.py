"""The data that come with the program: the example study, motor classes, materials, wire, tasks.

Contents: `example_document`, `motor_classes`, `materials`, `wire_sizes`, `task_templates`.
"""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any, NamedTuple

from models.errors import NotFoundError

_PACKAGE = Path(__file__).resolve().parent
_NUMBER_ENDINGS = ("_v", "_rpm", "_a", "_nm", "_kgm2")


class MaterialRow(NamedTuple):
    """A material and its density [kg/m³]."""

    key: str
    name: str
    density_kgm3: float
    source: str


class WireSize(NamedTuple):
    """A copper wire by gauge: diameter [mm], area [mm²], one lead's resistance at 20 °C [Ω/m]."""

    awg: int
    diameter_mm: float
    area_mm2: float
    ohm_per_m: float
    source: str
    resistance_source: str


def seed_folder() -> Path:
    """Return the folder of the seed data, in an installed wheel and in a checkout alike.

    Raises `NotFoundError` where the installation lost it.
    """
    for folder in (
        _PACKAGE.parent / "webapp" / "_data" / "seed_data",
        _PACKAGE.parent / "seed_data",
    ):
        if folder.is_dir():
            return folder
    raise NotFoundError("This installation has no folder seed_data; install it anew.")


def example_document() -> dict[str, Any]:
    """Return the example study as a document.

    >>> example_document()["format"]
    'switchover-study'
    """
    text = (seed_folder() / "example-study.json").read_text(encoding="utf-8")
    document: dict[str, Any] = json.loads(text)
    return document


def motor_classes() -> dict[str, dict[str, Any]]:
    """Return the motor classes by key, each as a study file's motor: name and figures.

    >>> motor_classes()["brushed-64"]["stall_current_a"]
    131
    """
    rows = json.loads((seed_folder() / "motor_classes.json").read_text(encoding="utf-8"))
    return {
        row["key"]: {
            name: value
            for name, value in row.items()
            if name == "name" or name.endswith(_NUMBER_ENDINGS)
        }
        for row in rows
    }


def materials() -> dict[str, MaterialRow]:
    """Return the materials by key.

    >>> materials()["steel"].density_kgm3
    7850.0
    """
    return {
        row["key"]: MaterialRow(row["key"], row["name"], float(row["density_kgm3"]), row["source"])
        for row in _rows("materials.csv")
    }


def wire_sizes() -> dict[int, WireSize]:
    """Return the copper wires by American wire gauge.

    >>> round(wire_sizes()[12].area_mm2, 2)
    3.31
    """
    return {
        int(row["awg"]): WireSize(
            int(row["awg"]),
            float(row["diameter_mm"]),
            float(row["area_mm2"]),
            float(row["ohm_per_m"]),
            row["source"],
            row["resistance_source"],
        )
        for row in _rows("wire_sizes.csv")
    }


def task_templates() -> dict[str, dict[str, Any]]:
    """Return the lists of tasks and purchases to start from, by key, as a study file has them.

    Each has `key`, `name`, `sentence`, `tasks` and `purchases`; every hour and day is an estimate
    marked as common practice.

    >>> task_templates()["gearing"]["tasks"][0]["hours"][1]
    {'value': 3, 'source': 'practice'}
    """
    rows = json.loads((seed_folder() / "task_templates.json").read_text(encoding="utf-8"))
    for row in rows:
        for one, name in [
            *((task, "hours") for task in row["tasks"]),
            *((purchase, "lead_days") for purchase in row["purchases"]),
        ]:
            one[name] = [{"value": value, "source": "practice"} for value in one[name]]
    return {row["key"]: row for row in rows}


def _rows(name: str) -> list[dict[str, str]]:
    with (seed_folder() / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))
