"""Plans written as DXF and SVG, read back: layers, millimetres, every outline where it was."""

from __future__ import annotations

import io
import json
import re
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
import shapely
from ezdxf.filemanagement import read

from models.drawings.dxf import read_dxf
from models.drawings.writing import LAYERS, plan_dxf, plan_lines, plan_svg
from models.study import parse_study
from models.trade.scene import Scene, fit_scene

REFERENCE = Path(__file__).resolve().parents[2] / "reference" / "reference-1.json"
SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def document() -> dict[str, Any]:
    loaded: dict[str, Any] = json.loads(REFERENCE.read_text(encoding="utf-8"))
    return loaded


@pytest.fixture(params=["swerve", "swerve-tall"])
def scene(document: dict[str, Any], request: pytest.FixtureRequest) -> Scene:
    study = parse_study(document)
    return fit_scene(study, study.candidate(request.param))


def up(outline: Any) -> Any:
    """Own derivation: front up means x = −left, y = forward; millimetres."""
    return shapely.Polygon([(-left * 1000, forward * 1000) for forward, left in outline])


def test_the_dxf_states_millimetres_and_names_its_layers(scene: Scene) -> None:
    document = read(io.StringIO(plan_dxf(scene)))
    assert document.header["$INSUNITS"] == 4
    assert {layer.dxf.name for layer in document.layers} >= set(LAYERS)
    assert not document.audit().errors


def test_every_outline_lies_where_the_scene_has_it(scene: Scene) -> None:
    space = read(io.StringIO(plan_dxf(scene))).modelspace()
    found: dict[str, list[Any]] = {}
    for line in space.query("LWPOLYLINE"):
        if line.closed:
            outline = shapely.Polygon(line.get_points("xy"))
            found.setdefault(line.dxf.layer, []).append(outline)
    drawn = {
        "FRAME": [scene.frame],
        "WHEELS": [wheel.outline for wheel in scene.wheels],
        "KEEPOUTS": [keepout.outline for keepout in scene.keepouts],
        "SUPPORT": [scene.support],
    }
    modules = [body.outline for body in scene.bodies if body.corner is not None]
    for layer, outlines in drawn.items():
        assert len(found[layer]) == len(outlines)
        for one, other in zip(found[layer], map(up, outlines), strict=True):
            assert one.symmetric_difference(other).area < 1e-3
    assert len(found.get("MODULES", [])) + len(found.get("MODULES_INVERTED", [])) == len(modules)


def test_keepouts_of_other_poses_and_swept_ones_have_layers_of_their_own(
    document: dict[str, Any],
) -> None:
    document["robot"]["keepouts"][0]["poses"] = [document["robot"]["poses"][1]["name"]]
    document["robot"]["keepouts"][1]["swept"] = True
    study = parse_study(document)
    layers = [
        line.layer
        for line in plan_lines(fit_scene(study, study.baseline))
        if line.layer.startswith("KEEPOUTS")
    ]
    assert layers[:2] == ["KEEPOUTS_OTHER_POSES", "KEEPOUTS_SWEPT"]
    assert set(layers[2:]) <= {"KEEPOUTS"}


def test_the_plan_can_be_taken_in_again(scene: Scene, tmp_path: Path) -> None:
    file = tmp_path / "plan.dxf"
    file.write_text(plan_dxf(scene), encoding="utf-8")
    back = read_dxf(file)
    frame = next(layer for layer in back["layers"] if layer["name"] == "FRAME")
    sides = (frame["extent"][2] - frame["extent"][0], frame["extent"][3] - frame["extent"][1])
    wanted = (scene.frame_width_m * 1000, scene.frame_length_m * 1000)
    assert back["hint"] == "mm"
    assert sides == pytest.approx(wanted)


def test_the_svg_is_as_large_as_it_says_and_holds_the_same_lines(scene: Scene) -> None:
    root = ElementTree.fromstring(plan_svg(scene))
    box = [float(number) for number in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{box[2]:.4f}mm"
    assert root.attrib["height"] == f"{box[3]:.4f}mm"
    lines = plan_lines(scene)
    for group in root.findall(f"{SVG}g"):
        own = [line for line in lines if line.layer == group.attrib["id"]]
        paths = group.findall(f"{SVG}path")
        assert len(paths) == len(own)
        for path, line in zip(paths, own, strict=True):
            numbers = [float(text) for text in re.findall(r"-?[0-9.]+", path.attrib["d"])]
            wanted = [number for x, y in line.points for number in (x, -y)]
            assert numbers == pytest.approx(wanted, abs=1e-3)
    assert {group.attrib["id"] for group in root.findall(f"{SVG}g")} == {x.layer for x in lines}


def test_a_name_with_markup_or_line_ends_stays_a_name(document: dict[str, Any]) -> None:
    document["robot"]["keepouts"][0]["name"] = 'a</title><script>"&'
    study = parse_study(document)
    plain = fit_scene(study, study.baseline)
    root = ElementTree.fromstring(plan_svg(plain))
    assert 'a</title><script>"&' in [title.text for title in root.iter(f"{SVG}title")]
    texts = read(io.StringIO(plan_dxf(plain))).modelspace().query("TEXT")
    assert 'a</title><script>"&' in [text.dxf.text for text in texts]
