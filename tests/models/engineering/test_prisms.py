"""Gaps, overlaps and moves between prisms, against closed forms and a second way."""

from __future__ import annotations

from typing import ClassVar

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.engineering.prisms import (
    Prisms,
    clearances,
    escape_moves,
    gaps,
    hull_perimeter,
    nearest_points,
    overlap_volumes,
    prisms,
)
from models.errors import OutOfRangeError

Box = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]


def box_outline(box: Box) -> list[list[float]]:
    (x0, x1), (y0, y1), _ = box
    return [[x0, y0], [x1, y0], [x1, y1], [x0, y1]]


def boxes(*some: Box) -> Prisms:
    return prisms(
        [box_outline(box) for box in some],
        bottoms=[box[2][0] for box in some],
        tops=[box[2][1] for box in some],
    )


def interval(least: float = -1.0) -> st.SearchStrategy[tuple[float, float]]:
    return st.tuples(st.floats(least, 1.0), st.floats(0.01, 0.5)).map(
        lambda start_and_length: (start_and_length[0], sum(start_and_length))
    )


a_box = st.tuples(interval(), interval(), interval(0.0))


def axis_gap(one: tuple[float, float], other: tuple[float, float]) -> float:
    return max(0.0, other[0] - one[1], one[0] - other[1])


def axis_overlap(one: tuple[float, float], other: tuple[float, float]) -> float:
    return max(0.0, min(one[1], other[1]) - max(one[0], other[0]))


class TestGaps:
    @given(a_box, a_box)
    def test_of_boxes_agree_with_the_distance_axis_by_axis(self, one: Box, other: Box) -> None:
        expected = np.sqrt(sum(axis_gap(a, b) ** 2 for a, b in zip(one, other, strict=True)))
        assert float(gaps(boxes(one), boxes(other))[0, 0]) == pytest.approx(expected, abs=1e-9)

    def test_every_pair_is_there(self) -> None:
        ours = boxes(((0, 1), (0, 1), (0, 1)), ((5, 6), (0, 1), (0, 1)))
        theirs = boxes(((2, 3), (0, 1), (0, 1)), ((0, 1), (0, 1), (3, 4)), ((0, 1), (1, 2), (0, 1)))
        assert gaps(ours, theirs) == pytest.approx(np.array([[1, 2, 0], [2, np.sqrt(20), 4]]))

    def test_to_a_slanting_edge_is_perpendicular(self) -> None:
        triangle = prisms([[[1, 0], [1, 1], [0, 1]]], bottoms=[0], tops=[1])
        corner = boxes(((-1, 0), (-1, 0), (0, 1)))
        assert float(gaps(corner, triangle)[0, 0]) == pytest.approx(np.sqrt(0.5))


class TestOverlaps:
    @given(a_box, a_box)
    def test_of_boxes_agree_with_the_volume_axis_by_axis(self, one: Box, other: Box) -> None:
        expected = np.prod([axis_overlap(a, b) for a, b in zip(one, other, strict=True)])
        volume = float(overlap_volumes(boxes(one), boxes(other))[0, 0])
        assert volume == pytest.approx(float(expected), abs=1e-12)

    def test_touching_shares_nothing(self) -> None:
        touching = boxes(((0, 1), (0, 1), (0, 1))), boxes(((1, 2), (0, 1), (0, 1)))
        assert float(overlap_volumes(*touching)[0, 0]) == 0.0
        assert float(gaps(*touching)[0, 0]) == 0.0


class TestClearances:
    def test_a_clearance_just_kept_is_no_conflict_for_rounding(self) -> None:
        body, keepout = boxes(((0, 0.1), (0, 1), (0, 1))), boxes(((0.106, 1), (0, 1), (0, 1)))
        kept = clearances(body, keepout, asked=[0.006])
        assert not kept.conflict.any()

    def test_missing_it_by_a_tenth_of_a_millimetre_is(self) -> None:
        body, keepout = boxes(((0, 0.1), (0, 1), (0, 1))), boxes(((0.1059, 1), (0, 1), (0, 1)))
        missed = clearances(body, keepout, asked=[0.006])
        assert missed.conflict.all()
        assert float(missed.margin[0, 0]) == pytest.approx(-1e-4)

    def test_an_overlap_is_a_conflict_even_where_no_clearance_is_asked(self) -> None:
        body, keepout = boxes(((0, 0.1), (0, 1), (0, 1))), boxes(((0.05, 1), (0, 1), (0, 1)))
        assert clearances(body, keepout, asked=[0.0]).conflict.all()

    @given(a_box, a_box, st.floats(0.0, 0.05))
    def test_a_mirrored_pair_stands_alike(self, one: Box, other: Box, asked: float) -> None:
        def mirrored(box: Box) -> Box:
            return box[0], (-box[1][1], -box[1][0]), box[2]

        ours = clearances(boxes(one), boxes(other), asked=[asked])
        theirs = clearances(boxes(mirrored(one)), boxes(mirrored(other)), asked=[asked])
        assert float(ours.gap[0, 0]) == pytest.approx(float(theirs.gap[0, 0]), abs=1e-9)
        assert float(ours.overlap[0, 0]) == pytest.approx(float(theirs.overlap[0, 0]), abs=1e-12)


class TestEscapeMoves:
    STEPS: ClassVar = {
        "forward": (1, 0, 0), "left": (0, 1, 0), "up": (0, 0, 1),
        "back": (-1, 0, 0), "right": (0, -1, 0), "down": (0, 0, -1),
    }  # fmt: skip

    @given(a_box, a_box, st.floats(0.0, 0.05))
    def test_the_move_frees_the_body_and_a_shorter_one_does_not(
        self, one: Box, other: Box, asked: float
    ) -> None:
        move = escape_moves(boxes(one), boxes(other), asked=[asked])
        before = clearances(boxes(one), boxes(other), asked=[asked])
        distance, towards = float(move.distance[0, 0]), str(move.towards[0, 0])
        assert (towards != "") == bool(before.conflict[0, 0])
        if not towards:
            return
        step = self.STEPS[towards]

        def moved(by: float) -> Box:
            return tuple((a + by * s, b + by * s) for (a, b), s in zip(one, step, strict=True))  # type: ignore[return-value]

        free = clearances(boxes(moved(distance + 1e-6)), boxes(other), asked=[asked])
        assert not free.conflict.any()
        if distance > 2e-4 and before.overlap[0, 0] > 0.0:
            tight = clearances(boxes(moved(distance - 1e-4)), boxes(other), asked=[asked])
            assert tight.conflict.any()

    def test_a_body_of_fixed_height_moves_in_plan(self) -> None:
        body, keepout = boxes(((0, 1), (0, 1), (0.5, 1))), boxes(((0, 1), (0, 1), (0.9, 2)))
        free = escape_moves(body, keepout, asked=[0.0])
        fixed = escape_moves(body, keepout, asked=[0.0], level=[True])
        assert str(free.towards[0, 0]) == "down"
        assert float(free.distance[0, 0]) == pytest.approx(0.1)
        assert float(fixed.distance[0, 0]) == pytest.approx(1.0)

    def test_no_move_goes_through_the_floor(self) -> None:
        body, keepout = boxes(((0, 1), (0, 1), (0, 0.5))), boxes(((0, 1), (0, 1), (0.4, 2)))
        assert str(escape_moves(body, keepout, asked=[0.0]).towards[0, 0]) != "down"


class TestNearestPoints:
    @given(a_box, a_box)
    def test_are_as_far_apart_as_the_outlines(self, one: Box, other: Box) -> None:
        ends = nearest_points(boxes(one), boxes(other))
        apart = float(np.hypot(*(ends.second - ends.first)[0, 0]))
        expected = np.hypot(axis_gap(one[0], other[0]), axis_gap(one[1], other[1]))
        assert apart == pytest.approx(float(expected), abs=1e-9)

    def test_of_overlapping_outlines_lie_inside_what_they_share(self) -> None:
        ends = nearest_points(boxes(((0, 1), (0, 1), (0, 1))), boxes(((0.8, 2), (0, 1), (0, 1))))
        assert ends.first[0, 0].tolist() == ends.second[0, 0].tolist()
        assert 0.8 < ends.first[0, 0][0] < 1.0


class TestRefusals:
    def test_an_outline_that_crosses_itself(self) -> None:
        with pytest.raises(OutOfRangeError, match="crosses itself"):
            prisms([[[0, 0], [1, 1], [1, 0], [0, 1]]], bottoms=[0], tops=[1])

    def test_an_outline_of_two_corners(self) -> None:
        with pytest.raises(OutOfRangeError, match="has 2"):
            prisms([[[0, 0], [1, 1]]], bottoms=[0], tops=[1])

    def test_a_top_below_its_bottom(self) -> None:
        with pytest.raises(OutOfRangeError, match=r"0\.2 m lies below its bottom of 0\.3 m"):
            prisms([[[0, 0], [1, 0], [1, 1]]], bottoms=[0.3], tops=[0.2])


def test_the_perimeter_is_a_string_round_the_outermost_corners() -> None:
    assert hull_perimeter([[0, 0], [0.7, 0], [0.7, 0.6], [0, 0.6], [0.3, 0.3]]) == pytest.approx(
        2.6
    )
    with pytest.raises(OutOfRangeError, match="2 were given"):
        hull_perimeter([[0, 0], [1, 1]])
