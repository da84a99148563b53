"""Geometry of the reference case against its independent solution, to the last digits.

The solution comes from another program (its own sums and polygon distances), so a part in 10⁹
is rounding, not agreement by luck.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from models.engineering.mass import mass_properties
from models.engineering.placement import axle_distances, footprint
from models.engineering.prisms import hull_perimeter
from models.engineering.stability import side_reach, tip_limits, worst_pose
from models.study.reader import parse_study
from models.trade.assembly import (
    corner_wheels,
    fit_table,
    frame_outline,
    part_table,
    posed_centres,
)

HERE = Path(__file__).resolve().parent
DOCUMENT = json.loads((HERE / "reference-1.json").read_text(encoding="utf-8"))
EXPECTED = json.loads((HERE / "reference-1.expected.json").read_text(encoding="utf-8"))
STUDY = parse_study(DOCUMENT)


def close(expected: float) -> Any:
    return pytest.approx(expected, rel=1e-9, abs=1e-15)


@pytest.fixture(params=[candidate.key for candidate in STUDY.candidates])
def key(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def test_mass_centre_and_yaw_inertia_while_travelling(key: str) -> None:
    table = part_table(STUDY, STUDY.candidate(key))
    centres = posed_centres(table, STUDY.robot.poses)[0]
    whole = mass_properties(masses=table.masses, centres=centres, sizes=table.sizes)
    names = ("mass_kg", "cg_x_m", "cg_y_m", "cg_z_m", "yaw_inertia_kgm2")
    for name, value in zip(names, whole, strict=True):
        assert float(value) == close(EXPECTED[key][name]), name


def test_tipping_in_the_worst_pose(key: str) -> None:
    candidate = STUDY.candidate(key)
    table = part_table(STUDY, candidate)
    whole = mass_properties(
        masses=table.masses,
        centres=posed_centres(table, STUDY.robot.poses),
        sizes=table.sizes,
    )
    contacts = corner_wheels(candidate)
    size = footprint(contacts)
    away = axle_distances(front_x=size.front_x, rear_x=size.rear_x, cg_x=whole.cg_x)
    limits = tip_limits(
        to_front=away.front,
        to_rear=away.rear,
        to_side=side_reach(contacts=contacts, cg_x=whole.cg_x, cg_y=whole.cg_y),
        height=whole.cg_z,
    )
    names = ("tip_forward_mps2", "tip_brake_mps2", "tip_side_mps2")
    for name, values in zip(names, limits, strict=True):
        worst = worst_pose(values)
        assert float(worst.value) == close(EXPECTED[key][name]), name
    assert STUDY.robot.poses[int(worst_pose(limits.forward).pose)].name == "raised"


def test_frame_perimeter(key: str) -> None:
    outline = frame_outline(STUDY.candidate(key))
    assert hull_perimeter(outline) == close(EXPECTED[key]["perimeter_m"])


def test_clearances_and_overlaps(key: str) -> None:
    table = fit_table(STUDY, STUDY.candidate(key))
    expected = EXPECTED[key]
    if table is None:
        assert "fits" not in expected
        return
    state = table.clearances
    assert float(state.gap.min()) == close(expected["worst_clearance_m"])
    assert float(state.margin.min()) == close(expected["worst_clearance_margin_m"])
    assert float(state.overlap.sum()) == close(expected["overlap_m3"])
    assert bool(state.conflict.any()) is not expected["fits"]
