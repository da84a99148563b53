"""Outlines simplified outwards; loops chained from lines; properties over random shapes."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from models.drawings.chaining import closed_loops
from models.drawings.outlines import outermost, outward, polygons_of


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31), st.integers(3, 400), st.integers(8, 100))
def test_a_simplified_outline_covers_what_it_was_made_of(
    seed: int, corners: int, most: int
) -> None:
    random = np.random.default_rng(seed)
    angles = np.sort(random.uniform(0, 2 * np.pi, corners))
    reach = random.uniform(0.2, 1.0, corners) * 100
    points = np.column_stack([reach * np.cos(angles), reach * np.sin(angles)])
    for polygon in polygons_of(points):
        outline, out = outward(polygon, 0.01, most)
        assert outline.buffer(1e-9).covers(polygon)
        assert len(outline.exterior.coords) - 1 <= most
        assert outline.is_valid
        edge = shapely.get_coordinates(shapely.segmentize(outline.exterior, 0.5))
        assert shapely.distance(polygon, shapely.points(edge)).max() <= 1.02 * out + 1e-9


def test_a_line_that_crosses_itself_becomes_its_areas() -> None:
    bow = np.array([[0, 0], [2, 2], [2, 0], [0, 2]], dtype=float)
    assert [part.area for part in polygons_of(bow)] == [1.0, 1.0]


def test_only_the_outermost_are_kept() -> None:
    large, small = shapely.box(0, 0, 10, 10), shapely.box(2, 2, 3, 3)
    beside = shapely.box(20, 0, 21, 1)
    kept = [polygon for polygon, _ in outermost([(small, True), (large, False), (beside, False)])]
    assert kept == [large, beside]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**31), st.integers(3, 40))
def test_the_sides_of_a_polygon_in_any_order_and_sense_become_it_again(
    seed: int, corners: int
) -> None:
    random = np.random.default_rng(seed)
    angles = 2 * np.pi * (np.arange(corners) + 0.3 * random.random(corners)) / corners
    points = np.column_stack([np.cos(angles), np.sin(angles)]) * 10
    sides = list(zip(points, np.roll(points, -1, axis=0), strict=True))
    lines = [np.array(sides[i] if random.random() < 0.5 else sides[i][::-1])
             for i in random.permutation(corners)]  # fmt: skip
    jittered = [line + random.uniform(-1e-4, 1e-4, line.shape) for line in lines]
    loops, left = closed_loops(jittered, 1e-3)
    assert (len(loops), left) == (1, 0)
    area = shapely.Polygon(loops[0][0]).area
    assert abs(area - shapely.Polygon(points).area) < 0.05


def test_where_three_lines_meet_none_is_guessed() -> None:
    corners = [(0, 0), (1, 0), (1, 1)]
    sides = [np.array(pair, float) for pair in zip(corners, corners[1:] + corners[:1], strict=True)]
    loops, left = closed_loops([*sides, np.array([(0, 0), (-1, -1)], float)], 0.01)
    assert (loops, left) == ([], 4)
