"""Contours against plain geometry: what lies inside an outline is above the level."""

from __future__ import annotations

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from models.engineering.contours import areas_above, contour_lines, nice_levels


@pytest.mark.parametrize("seed", range(40))
def test_an_area_holds_the_crossings_that_lie_above_and_no_other(seed: int) -> None:
    draw = np.random.default_rng(seed)
    rows, columns = draw.integers(2, 9, 2)
    heights = draw.normal(size=(rows, columns))
    across, along = np.sort(draw.uniform(0, 5, rows)), np.sort(draw.uniform(0, 5, columns))
    level = float(draw.normal() * 0.5)
    area = Polygon()
    for outline in areas_above(heights, across=across, along=along, level=level):
        assert np.allclose(outline[0], outline[-1])
        area = area.symmetric_difference(Polygon(outline).buffer(0))
    for i in range(rows):
        for j in range(columns):
            inside = area.distance(Point(across[i], along[j])) < 1e-9
            assert inside == (heights[i, j] >= level)


def test_a_line_lies_on_its_level() -> None:
    across, along = np.linspace(0, 2, 9), np.linspace(0, 3, 13)
    plane = 2.0 * across[:, None] + along[None, :]
    (line,) = contour_lines(plane, across=across, along=along, level=3.1)
    assert 2.0 * line[:, 0] + line[:, 1] == pytest.approx(np.full(len(line), 3.1))
    ends = sorted([line[0].tolist(), line[-1].tolist()])
    assert ends[0] == pytest.approx([0.05, 3.0])
    assert ends[1] == pytest.approx([1.55, 0.0])


def test_a_peak_has_a_closed_line() -> None:
    places = np.linspace(-1, 1, 21)
    dome = 1.0 - places[:, None] ** 2 - places[None, :] ** 2
    (line,) = contour_lines(dome, across=places, along=places, level=0.51)
    assert np.allclose(line[0], line[-1])
    assert np.hypot(*line.T) == pytest.approx(np.full(len(line), 0.7), abs=0.01)


def test_a_hole_without_figures_is_not_crossed() -> None:
    heights = np.array([[0.0, 0.0, 0.0], [2.0, np.nan, 2.0], [2.0, 2.0, 2.0]])
    assert contour_lines(heights, across=[0, 1, 2], along=[0, 1, 2], level=1.0) == []


@pytest.mark.parametrize(("low", "high"), [(6.3, 11.9), (1.91, 2.86), (0.0, 1.0), (90, 700)])
@pytest.mark.parametrize("most", [2, 4, 7])
def test_levels_are_round_few_and_between(low: float, high: float, most: int) -> None:
    levels = nice_levels(low, high, most=most)
    assert 1 <= len(levels) <= most
    assert all(low < level < high for level in levels)
    steps = np.diff(levels)
    assert len(steps) == 0 or steps == pytest.approx(np.full(len(steps), steps[0]))


def test_no_level_lies_in_nothing() -> None:
    assert nice_levels(2.0, 2.0, most=5) == []
