"""Where a drawing lies on the robot, and which edits take it over."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.drawings.placing import (
    FRONTS,
    LayerChoice,
    Placement,
    overall_sizes,
    placed,
    take_over,
)
from models.drawings.records import UNITS_M, Drawing, Layer, parse_drawing
from models.errors import StudyRefusedError
from models.study import parse_study
from models.study.sections import apply_edits

REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "reference-1.json"


@pytest.fixture
def document() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(REFERENCE.read_text(encoding="utf-8"))
    return loaded


def layer(name: str = "PLATE", **rest: Any) -> Layer:
    corners = ((0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0))
    given = {"closed": 1, "open": 0, "extent": (0, 0, 200, 100), "sticks_out": 0.0,
             "heights": None, "off": False, "outlines": (corners,)}  # fmt: skip
    return Layer.model_validate({"name": name, **given, **rest})


def drawing(*layers: Layer, kind: str = "dxf") -> Drawing:
    return Drawing(kind=kind, hint=None, layers=layers or (layer(),), notes=())


def test_each_unit_gives_its_overall_size() -> None:
    sizes = {unit: (across, along) for unit, across, along in overall_sizes(drawing())}
    assert sizes["in"] == (pytest.approx(5.08), pytest.approx(2.54))
    assert sizes["mm"] == (pytest.approx(0.2), pytest.approx(0.1))


@given(st.sampled_from(FRONTS), st.sampled_from(list(UNITS_M)))
def test_turning_keeps_areas_and_handedness(front: str, unit: str) -> None:
    corners = placed(drawing(), Placement(unit, front))[0].outlines[0]
    signed = sum(
        x * b - a * y for (x, y), (a, b) in zip(corners, corners[1:] + corners[:1], strict=True)
    )
    assert signed / 2 == pytest.approx(200 * 100 * UNITS_M[unit] ** 2)


def test_front_up_means_that_the_drawings_right_is_the_robots_right() -> None:
    corners = placed(drawing(), Placement("mm", "up", forward_m=0.01, left_m=0.02))[0].outlines[0]
    assert corners[2] == pytest.approx((0.11, -0.18))


def test_the_middle_of_the_frames_layer_can_lie_in_the_middle() -> None:
    both = drawing(layer("FRAME"), layer("A", extent=(500, 0, 700, 100)))
    corners = placed(both, Placement("mm", "right", "frame"), [0])[0].outlines[0]
    assert corners[0] == pytest.approx((-0.1, -0.05))
    with pytest.raises(StudyRefusedError, match="which layer is the frame"):
        placed(both, Placement("mm", "right", "frame"))


def test_what_is_taken_over_makes_a_sound_study(document: dict[str, Any]) -> None:
    key = document["candidates"][0]["key"]
    before = len(document["robot"]["keepouts"])
    layers = drawing(layer("SWEEP", outlines=layer().outlines * 2), layer("RAIL"), layer("BASE"))
    choices = [
        LayerChoice(0, "keepout", "", 0.05, 0.2, 0.01),
        LayerChoice(1, "body", key, 0.0, 0.1),
        LayerChoice(2, "frame", key),
    ]
    taken = take_over(document, layers, Placement("mm"), choices)
    study = parse_study(apply_edits(document, taken.edits))
    names = [keepout.name for keepout in study.robot.keepouts[before:]]
    assert names == ["SWEEP", "SWEEP 2"]
    added = study.robot.keepouts[-1]
    assert (added.bottom_m, added.top_m, added.clearance_m) == (0.05, 0.2, 0.01)
    candidate = study.candidate(key)
    assert candidate.bodies[-1].name == "RAIL"
    assert (candidate.frame.length_m, candidate.frame.width_m) == (0.1, 0.2)
    assert "2 keep-outs from “SWEEP”" in taken.words


def test_a_mesh_brings_its_heights_and_is_lifted(document: dict[str, Any]) -> None:
    mesh = drawing(layer("lift 1", heights=(-10.0, 30.0)), kind="stl")
    taken = take_over(document, mesh, Placement("mm", lift_m=0.1), [LayerChoice(0, "keepout")])
    prism = taken.edits["robot.keepouts"][-1]
    assert (prism["bottom_m"], prism["top_m"]) == (0.09, 0.13)


@pytest.mark.parametrize(
    ("choice", "place"),
    [
        (LayerChoice(0, "ignore"), "layers"),
        (LayerChoice(0, "keepout", "", None, 0.1), "layers.0.bottom"),
        (LayerChoice(0, "keepout", "", 0.1, None), "layers.0.top"),
        (LayerChoice(0, "keepout", "", 0.1, 0.1), "layers.0.top"),
        (LayerChoice(0, "body", "", 0.0, 0.1), "layers.0.candidate"),
        (LayerChoice(0, "frame"), "layers.0.candidate"),
    ],
)
def test_what_is_missing_is_named_with_its_place(
    document: dict[str, Any], choice: LayerChoice, place: str
) -> None:
    with pytest.raises(StudyRefusedError) as refused:
        take_over(document, drawing(), Placement("mm"), [choice])
    assert [fault.place for fault in refused.value.faults] == [place]


def test_the_document_given_is_left_as_it_was(document: dict[str, Any]) -> None:
    before = json.dumps(document)
    take_over(document, drawing(), Placement("mm"), [LayerChoice(0, "keepout", "", 0.0, 0.1)])
    assert json.dumps(document) == before


def test_a_drawing_survives_its_way_through_a_form() -> None:
    sent = drawing(layer("A"), layer("B", heights=(0.0, 1.5)))
    assert parse_drawing(sent.model_dump_json()) == sent
