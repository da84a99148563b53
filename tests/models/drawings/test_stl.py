"""STL made by the library's own writer, read back: prisms cover the mesh; volumes within bounds."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import shapely
import trimesh

from models.drawings.limits import DrawingRefusedError
from models.drawings.stl import read_stl


def cut(mesh: Any, folder: Path, steps: int = 4, up: str = "z", fmt: str = "stl") -> dict[str, Any]:
    file = folder / "part.stl"
    mesh.export(file, file_type=fmt)
    return read_stl(file, steps, up, "part")


def volume(drawing: dict[str, Any]) -> float:
    return sum(
        shapely.Polygon(outline).area * (layer["heights"][1] - layer["heights"][0])
        for layer in drawing["layers"]
        for outline in layer["outlines"]
    )


@pytest.mark.parametrize("fmt", ["stl", "stl_ascii"])
def test_a_box_stays_one_prism_of_its_volume(tmp_path: Path, fmt: str) -> None:
    drawing = cut(trimesh.creation.box((200, 300, 40)), tmp_path, steps=6, fmt=fmt)
    assert len(drawing["layers"]) == 1
    assert drawing["layers"][0]["heights"] == pytest.approx([-20, 20])
    assert 200 * 300 * 40 <= volume(drawing) < 200 * 300 * 40 * 1.0001


def test_two_boxes_of_unlike_width_become_two_prisms(tmp_path: Path) -> None:
    lower = trimesh.creation.box((200, 200, 40))
    upper = trimesh.creation.box((100, 100, 40)).apply_translation((0, 0, 40))
    layers = cut(trimesh.util.concatenate([lower, upper]), tmp_path, steps=4)["layers"]
    areas = [shapely.Polygon(layer["outlines"][0]).area for layer in layers]
    assert areas == [pytest.approx(40_000, rel=1e-4), pytest.approx(10_000, rel=1e-4)]
    assert [layer["name"] for layer in layers] == ["part 1", "part 2"]


def test_the_volume_of_a_ball_is_approached_from_above(tmp_path: Path) -> None:
    ball = trimesh.creation.icosphere(subdivisions=3, radius=100)
    coarse, fine = (volume(cut(ball, tmp_path, steps=steps)) for steps in (2, 12))
    exact = 4 / 3 * math.pi * 100**3
    assert abs(ball.volume) < fine < coarse
    assert fine < 1.15 * exact
    # Own derivation: each of 2n steps is a disc of the ball's largest section in it.
    edges = np.linspace(-100, 100, 13)
    nearest = np.where(edges[:-1] * edges[1:] <= 0, 0, np.minimum(abs(edges[:-1]), abs(edges[1:])))
    discs = float(np.sum(math.pi * (100**2 - nearest**2) * np.diff(edges)))
    assert fine == pytest.approx(discs, rel=0.02)


@pytest.mark.parametrize("seed", range(6))
def test_no_point_of_a_random_mesh_lies_outside_of_the_prisms(tmp_path: Path, seed: int) -> None:
    random = np.random.default_rng(seed)
    ball = trimesh.creation.icosphere(subdivisions=2, radius=50)
    ball.vertices *= 1.0 + 0.5 * random.random((len(ball.vertices), 1))
    ring = trimesh.creation.annulus(10, 30, 60).apply_translation(random.uniform(-80, 80, 3))
    mesh = trimesh.util.concatenate([ball, ring])
    drawing = cut(mesh, tmp_path, steps=5)
    corners = np.asarray(trimesh.load_mesh(tmp_path / "part.stl").triangles)
    shares = random.dirichlet((1, 1, 1), len(corners))
    points = np.einsum("ij,ijk->ik", shares, corners)
    covered = np.zeros(len(points), dtype=bool)
    for layer in drawing["layers"]:
        low, high = layer["heights"]
        plan = shapely.union_all([shapely.Polygon(outline) for outline in layer["outlines"]])
        level = (points[:, 2] >= low - 1e-9) & (points[:, 2] <= high + 1e-9)
        covered |= level & shapely.covers(plan, shapely.points(points[:, :2]))
    assert covered.all()


def test_another_axis_can_point_up(tmp_path: Path) -> None:
    box = trimesh.creation.box((20, 30, 40))
    heights = {}
    for up in "xyz":
        layer = cut(box, tmp_path, steps=1, up=up)["layers"][0]
        heights[up] = layer["heights"][1] - layer["heights"][0]
    assert heights == {"x": pytest.approx(20), "y": pytest.approx(30), "z": pytest.approx(40)}


def test_a_mesh_with_a_hole_in_its_skin_becomes_hulls(tmp_path: Path) -> None:
    box = trimesh.creation.box((20, 30, 40))
    box.update_faces(np.arange(len(box.faces)) != 0)
    drawing = cut(box, tmp_path, steps=2)
    assert "not closed" in drawing["notes"][0]
    assert volume(drawing) == pytest.approx(20 * 30 * 40, rel=1e-3)


def test_a_flat_mesh_and_a_mesh_of_no_numbers_are_refused(tmp_path: Path) -> None:
    flat = trimesh.Trimesh([[0, 0, 0], [1, 0, 0], [0, 1, 0]], [[0, 1, 2]])
    with pytest.raises(DrawingRefusedError, match="no height"):
        cut(flat, tmp_path)
    file = tmp_path / "part.stl"
    content = bytearray(trimesh.creation.box((1, 1, 1)).export(file_type="stl"))
    content[96:100] = np.array([np.nan], dtype="<f4").tobytes()
    file.write_bytes(content)
    with pytest.raises(DrawingRefusedError, match="no usable number"):
        read_stl(file, 4, "z", "part")
