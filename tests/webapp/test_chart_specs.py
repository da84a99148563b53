"""The specifications of the charts: valid, readable without colour, units on every axis."""

from __future__ import annotations

import json
from importlib.resources import files
from typing import Any

import jsonschema
import pytest

from models.units import UnitSystem
from webapp.shared.candidates import COLOURS, DASHES
from webapp.shared.charts.specs import CHARTS, Chart, Line, axis_title, chart_spec

LINES = [
    Line(letter, colour, dash, strong=letter == "B")
    for letter, colour, dash in zip("ABCDE", COLOURS, DASHES, strict=False)
]


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    """The schema of the charting language, as the Altair package carries it."""
    text = files("altair.vegalite.v6.schema").joinpath("vega-lite-schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def encodings(spec: dict[str, Any], channel: str) -> list[dict[str, Any]]:
    return [layer["encoding"][channel] for layer in spec["layer"] if channel in layer["encoding"]]


@pytest.mark.parametrize("system", UnitSystem)
@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.key)
def test_a_specification_is_valid(chart: Chart, system: UnitSystem, schema: dict[str, Any]) -> None:
    spec = chart_spec(chart, LINES, system, brownout_v=6.8)
    validator = jsonschema.Draft7Validator(schema)
    assert [error.message for error in validator.iter_errors(spec)] == []


@pytest.mark.parametrize("chart", CHARTS, ids=lambda chart: chart.key)
def test_every_curve_has_its_own_dash_pattern_and_letter(chart: Chart) -> None:
    spec = chart_spec(chart, LINES, UnitSystem.SI)
    dashes = encodings(spec, "strokeDash")[0]["scale"]
    assert dashes["domain"] == list("ABCDE")
    assert len({tuple(dash) for dash in dashes["range"]}) == 5
    assert {"field": "letter", "type": "nominal"} in encodings(spec, "text")


@pytest.mark.parametrize(
    ("system", "speed", "force"),
    [
        (UnitSystem.SI, "Speed, m/s", "Force on the floor, N"),
        (UnitSystem.INCH_POUND, "Speed, ft/s", "Force on the floor, lbf"),
    ],
)
def test_axes_say_their_unit(system: UnitSystem, speed: str, force: str) -> None:
    chart = next(chart for chart in CHARTS if chart.key == "force")
    assert (axis_title(chart.x, system), axis_title(chart.y, system)) == (speed, force)


def test_the_candidate_in_hand_is_drawn_wider() -> None:
    width = encodings(chart_spec(CHARTS[0], LINES, UnitSystem.SI), "strokeWidth")[-1]
    assert width["condition"]["test"]["oneOf"] == ["B"]
    assert width["condition"]["value"] > width["value"]


def test_the_voltage_chart_marks_the_brownout() -> None:
    chart = next(chart for chart in CHARTS if chart.key == "voltage")
    spec = chart_spec(chart, LINES, UnitSystem.SI, brownout_v=6.75)
    rules = [layer for layer in spec["layer"] if layer["mark"]["type"] == "rule"]
    words = [layer for layer in spec["layer"] if "limit-words" in layer["mark"].get("style", [])]
    assert rules[0]["encoding"]["y"]["datum"] == 6.75
    assert words[0]["data"]["values"] == [{"words": "brownout, 6.75 V"}]


def test_a_specification_loads_nothing() -> None:
    for chart in CHARTS:
        text = json.dumps(chart_spec(chart, LINES, UnitSystem.SI, brownout_v=6.8))
        assert "url" not in text
        assert "http" not in text
