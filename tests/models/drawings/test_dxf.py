"""DXF made by the library's own writer, read back: areas, units, blocks, chains."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import shapely

from models.drawings.dxf import read_dxf
from models.drawings.limits import MOST_POINTS, DrawingRefusedError

Draw = Callable[..., bytes]


@pytest.fixture
def layers(draw: Draw, tmp_path: Path) -> Callable[..., dict[str, dict[str, Any]]]:
    def read(drawer: Callable[[Any, Any], None]) -> dict[str, dict[str, Any]]:
        file = tmp_path / "drawing.dxf"
        file.write_bytes(draw(drawer))
        return {layer["name"]: layer for layer in read_dxf(file)["layers"]}

    return read


def areas(layer: dict[str, Any]) -> list[float]:
    return [shapely.Polygon(outline).area for outline in layer["outlines"]]


def test_straight_outlines_come_in_exactly(layers: Any) -> None:
    corners = [(0, 0), (310.5, 0), (310.5, 200), (20, 220)]
    read = layers(lambda document, space: space.add_lwpolyline(corners, close=True))
    assert areas(read["0"]) == [pytest.approx(shapely.Polygon(corners).area, rel=1e-8)]
    assert read["0"]["sticks_out"] == 0.0
    assert len(read["0"]["outlines"][0]) == 4


ROUND = {
    "circle": (lambda space: space.add_circle((500, 100), 50), math.pi * 50**2),
    "ellipse": (lambda space: space.add_ellipse((9, 9), (40, 0), 0.5), math.pi * 40 * 20),
    "bulges": (
        lambda space: space.add_lwpolyline([(0, 0, 1), (100, 0, 1)], format="xyb", close=True),
        math.pi * 50**2,
    ),
    "bulges of an old polyline": (
        lambda space: space.add_polyline2d([(0, 0, 1), (100, 0, 1)], format="xyb", close=True),
        math.pi * 50**2,
    ),
}
"""Closed forms: π r², π a b; a bulge of 1 is half a circle."""


@pytest.mark.parametrize("name", ROUND)
def test_curves_never_shrink_and_grow_by_less_than_stated(layers: Any, name: str) -> None:
    drawer, area = ROUND[name]
    layer = layers(lambda document, space: drawer(space))["0"]
    (found,) = areas(layer)
    perimeter = shapely.Polygon(layer["outlines"][0]).length
    assert area < found <= area + perimeter * layer["sticks_out"]
    low_x, _, high_x, _ = layer["extent"]
    assert layer["sticks_out"] <= 0.004 * (high_x - low_x)
    assert len(layer["outlines"][0]) <= MOST_POINTS


def test_a_circle_is_covered_by_its_outline(layers: Any) -> None:
    layer = layers(lambda document, space: space.add_circle((3, -2), 40))["0"]
    assert shapely.Polygon(layer["outlines"][0]).covers(shapely.Point(3, -2).buffer(40, 64))


def test_a_closed_spline_keeps_its_area(layers: Any) -> None:
    from ezdxf.math import BSpline, closed_uniform_bspline

    points = [(0, 0), (100, -20), (140, 60), (60, 120), (-30, 70)]
    curve: BSpline = closed_uniform_bspline(points, order=4)
    exact = shapely.Polygon([(p.x, p.y) for p in curve.approximate(4000)]).area

    def drawer(document: Any, space: Any) -> None:
        spline = space.add_spline()
        spline.apply_construction_tool(curve)

    layer = layers(drawer)["0"]
    assert exact < areas(layer)[0] < exact * 1.01


def test_lines_and_arcs_that_meet_become_one_loop(layers: Any) -> None:
    def slot(document: Any, space: Any) -> None:
        space.add_line((0, 0), (100, 0))
        space.add_line((100, 40), (0, 40))
        space.add_arc((100, 20), 20, -90, 90)
        space.add_arc((0, 20), 20, 90, 270)

    layer = layers(slot)["0"]
    assert layer["open"] == 0
    exact = 100 * 40 + math.pi * 20**2
    assert exact < areas(layer)[0] < exact * 1.005


def test_lines_that_do_not_close_are_counted_and_left(layers: Any) -> None:
    def drawer(document: Any, space: Any) -> None:
        space.add_line((0, 0), (100, 0), dxfattribs={"layer": "open"})
        space.add_line((100, 0), (100, 50), dxfattribs={"layer": "open"})
        space.add_circle((0, 0), 5)

    read = layers(drawer)
    assert (read["open"]["open"], read["open"]["outlines"]) == (2, [])


def test_blocks_keep_scale_turn_array_and_take_the_layer_of_their_insert(layers: Any) -> None:
    def drawer(document: Any, space: Any) -> None:
        block = document.blocks.new("PLATE", base_point=(1, 1))
        block.add_lwpolyline([(0, 0), (10, 0), (10, 5), (0, 5)], close=True)
        space.add_blockref(
            "PLATE",
            (100, 200),
            dxfattribs={
                "layer": "GRID", "xscale": 2, "yscale": 3, "rotation": 90,
                "row_count": 2, "column_count": 3, "row_spacing": 50, "column_spacing": 70,
            },
        )  # fmt: skip

    layer = layers(drawer)["GRID"]
    assert areas(layer) == [pytest.approx(10 * 5 * 6)] * 6
    corners = [100 + 3 - 15 - 50, 200 - 2, 100 + 3, 200 - 2 + 2 * 70 + 20]
    assert layer["extent"] == pytest.approx(corners)


def test_what_lies_inside_another_outline_is_left_out(layers: Any) -> None:
    def drawer(document: Any, space: Any) -> None:
        space.add_lwpolyline([(0, 0), (100, 0), (100, 100), (0, 100)], close=True)
        space.add_circle((50, 50), 10)

    layer = layers(drawer)["0"]
    assert (layer["closed"], areas(layer)) == (2, [pytest.approx(10_000.0)])


def test_the_unit_is_a_hint_only_where_the_file_states_it(draw: Draw, tmp_path: Path) -> None:
    file = tmp_path / "drawing.dxf"
    content = draw(lambda document, space: space.add_circle((0, 0), 5), units=1)
    file.write_bytes(content)
    assert read_dxf(file)["hint"] == "in"
    start, end = content.index(b"$INSUNITS") - 5, content.index(b"$INSUNITS")
    rest = content[end:].split(b"\n", 3)[3]
    file.write_bytes(content[:start].rstrip(b" 9\r\n") + b"\n" + rest)
    assert read_dxf(file)["hint"] is None
    entities = content[content.index(b"SECTION\n  2\nENTITIES") - 4 :]
    file.write_bytes(entities)
    assert read_dxf(file)["hint"] is None


def test_a_drawing_without_anything_closed_is_refused(layers: Any) -> None:
    with pytest.raises(DrawingRefusedError, match="No closed outline"):
        layers(lambda document, space: space.add_line((0, 0), (1, 1)))


def test_binary_and_text_form_read_alike(tmp_path: Path) -> None:
    from ezdxf.filemanagement import new

    document = new("R2010")
    document.modelspace().add_circle((0, 0), 5)
    document.saveas(tmp_path / "text.dxf")
    document.saveas(tmp_path / "binary.dxf", fmt="bin")
    assert read_dxf(tmp_path / "binary.dxf") == read_dxf(tmp_path / "text.dxf")
