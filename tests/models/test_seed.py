"""The data that come with the program."""

from __future__ import annotations

import re

import pytest

from models.engineering.materials import MATERIALS
from models.seed import example_document, materials, motor_classes, seed_folder, wire_sizes
from models.study import parse_study
from models.study.physics import datasheet_agreement

SOURCES = set(
    re.findall(r"^## `(.+)`$", (seed_folder() / "SOURCES.md").read_text(encoding="utf-8"), re.M)
)


def test_the_example_has_what_a_study_can_have() -> None:
    study = parse_study(example_document())
    assert [one.layout for one in study.candidates].count("swerve") == 3
    assert study.baseline.layout == "tank"
    assert (len(study.robot.poses), len(study.robot.keepouts)) == (4, 5)
    assert sorted(route.kind for route in study.routes) == ["autonomous", "cycle"]
    assert study.schedule is not None and study.decision is not None


def test_motor_classes_can_stand_in_a_study() -> None:
    document = example_document()
    document["motors"] |= motor_classes()
    study = parse_study(document)
    for key in motor_classes():
        assert datasheet_agreement(study.motors[key]) == pytest.approx(1, abs=0.04)


def test_materials_are_those_that_the_program_knows() -> None:
    assert {key: row.density_kgm3 for key, row in materials().items()} == {
        key: material.density for key, material in MATERIALS.items()
    }


# Published: ASTM B258 diameters 12/14/18 AWG, in mil (read in the standard's table).
@pytest.mark.parametrize(("awg", "mil"), [(12, 80.808), (14, 64.084), (18, 40.303)])
def test_wire_diameters_are_those_of_the_standard(awg: int, mil: float) -> None:
    assert wire_sizes()[awg].diameter_mm / 0.0254 == pytest.approx(mil, abs=0.003)


# Published wire table, Ω per 1000 ft at 20 °C, within 0.05 %.
@pytest.mark.parametrize(("awg", "ohm"), [(12, 1.588), (14, 2.525), (16, 4.016), (18, 6.385)])
def test_wire_resistances_are_those_of_a_published_table(awg: int, ohm: float) -> None:
    assert wire_sizes()[awg].ohm_per_m * 304.8 == pytest.approx(ohm, rel=5e-4)


def test_every_second_source_is_known_too() -> None:
    used = {row.source for row in materials().values()}
    used |= {name for row in wire_sizes().values() for name in (row.source, row.resistance_source)}
    assert used <= SOURCES
