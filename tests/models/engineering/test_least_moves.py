"""Least moves and trims: applied they free, one per cent less does not, and no shorter one does."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from models.engineering.least_moves import depths, forbidden_moves, least_move, least_trim
from models.engineering.prisms import Prisms, clearances, prisms

SHAPES = ("rectangle", "triangle", "angle", "cup")


def outline(kind: str, x: float, y: float, length: float, width: float) -> list[list[float]]:
    unit = {
        "rectangle": [[0, 0], [1, 0], [1, 1], [0, 1]],
        "triangle": [[0, 0], [1, 0.2], [0.3, 1]],
        "angle": [[0, 0], [1, 0], [1, 0.3], [0.3, 0.3], [0.3, 1], [0, 1]],
        "cup": [[0, 0], [1, 0], [1, 1], [0.8, 1], [0.8, 0.2], [0.2, 0.2], [0.2, 1], [0, 1]],
    }[kind]
    return [[x + length * u, y + width * v] for u, v in unit]


def tenths_of_mm(least: float, most: float) -> st.SearchStrategy[float]:
    """Lengths as drawings have them; what lies between is left to rounding by the plain check."""
    return st.integers(round(least * 1e4), round(most * 1e4)).map(lambda count: count / 1e4)


@st.composite
def some_prisms(draw: Any, least: int, most: int) -> Prisms:
    count = draw(st.integers(least, most))
    place, side = tenths_of_mm(-0.2, 0.2), tenths_of_mm(0.05, 0.4)
    shapes = st.builds(outline, st.sampled_from(SHAPES), place, place, side, side)
    drawn = [draw(shapes) for _ in range(count)]
    bottoms = [draw(tenths_of_mm(0.0, 0.3)) for _ in drawn]
    return prisms(
        drawn, bottoms=bottoms, tops=[low + draw(tenths_of_mm(0.02, 0.3)) for low in bottoms]
    )


def conflicts(moving: Prisms, around: Prisms, asked: float, by: Any = (0.0, 0.0)) -> bool:
    moved = Prisms(
        shapely.transform(moving.plan, lambda corners: corners + np.asarray(by)),
        moving.bottom,
        moving.top,
    )
    need = np.full(len(around.plan), asked)
    return bool(clearances(moved, around, asked=need).conflict.any())


class TestLeastMove:
    @settings(max_examples=50, deadline=None)
    @given(some_prisms(1, 1), some_prisms(1, 5), st.sampled_from([0.0, 0.004, 0.03]))
    def test_frees_and_one_per_cent_less_does_not(
        self, moving: Prisms, around: Prisms, asked: float
    ) -> None:
        move = least_move(moving, around, asked=asked)
        assert move is not None
        assert (move.distance > 0.0) == conflicts(moving, around, asked)
        assert not conflicts(moving, around, asked, move.by)
        # Shorter moves than this are below what the plain check takes for rounding.
        assume(move.distance > 1e-5)
        assert conflicts(moving, around, asked, 0.99 * move.by)

    @settings(max_examples=15, deadline=None)
    @given(some_prisms(1, 1), some_prisms(1, 4), st.sampled_from([0.0, 0.01]))
    def test_no_shorter_move_in_any_direction_frees(
        self, moving: Prisms, around: Prisms, asked: float
    ) -> None:
        move = least_move(moving, around, asked=asked)
        assert move is not None
        assume(move.distance > 1e-5)
        for angle in np.linspace(0.0, 2 * np.pi, 24, endpoint=False):
            for share in (0.5, 0.99):
                by = share * move.distance * np.array([np.cos(angle), np.sin(angle)])
                assert conflicts(moving, around, asked, by)

    def test_out_of_a_corner_is_a_slanting_move(self) -> None:
        peg = prisms([outline("rectangle", 0.0, 0.0, 0.1, 0.1)], bottoms=[0], tops=[1])
        corner = prisms([[[2.22, -2], [-2, 2.22], [-2, -2]]], bottoms=[0], tops=[1])
        move = least_move(peg, corner, asked=0.0)
        assert move is not None
        # The front edge runs along x + y = 0.22: the peg's corner at (0, 0) has to come up to it.
        assert move.distance == pytest.approx(0.22 / np.sqrt(2), abs=1e-6)
        assert move.by[0] == pytest.approx(move.by[1], abs=1e-6)

    def test_a_clearance_around_a_corner_is_round(self) -> None:
        small = prisms([outline("rectangle", 0.0, 0.0, 0.1, 0.1)], bottoms=[0], tops=[1])
        other = prisms([outline("rectangle", 0.103, 0.104, 0.1, 0.1)], bottoms=[0], tops=[1])
        move = least_move(small, other, asked=0.01)
        assert move is not None
        # A corner 5 mm from a corner, in the ratio 3 : 4, has 5 mm to go straight away.
        assert move.distance == pytest.approx(0.005, abs=1e-6)
        assert move.by == pytest.approx([-0.003, -0.004], abs=2e-4)

    def test_bounds_are_kept_or_there_is_no_move(self) -> None:
        small = prisms([outline("rectangle", 0.0, 0.0, 0.1, 0.1)], bottoms=[0], tops=[1])
        wall = prisms([outline("rectangle", 0.08, -1.0, 0.1, 2.0)], bottoms=[0], tops=[1])
        assert least_move(small, wall, asked=0.0, within=(-0.01, -1.0, 0.0, 1.0)) is None
        move = least_move(small, wall, asked=0.0, within=(-0.01, -1.0, 0.5, 1.0))
        assert move is not None
        assert move.by == pytest.approx([0.18, 0.0], abs=1e-6)

    def test_what_lies_above_asks_for_nothing(self) -> None:
        low = prisms([outline("rectangle", 0.0, 0.0, 1.0, 1.0)], bottoms=[0.0], tops=[0.1])
        high = prisms([outline("rectangle", 0.0, 0.0, 1.0, 1.0)], bottoms=[0.1], tops=[0.2])
        assert forbidden_moves(low, high, asked=0.0).is_empty
        assert depths(forbidden_moves(low, high, asked=0.0), [[0.0, 0.0]]).tolist() == [0.0]
        move = least_move(low, high, asked=0.0)
        assert move is not None
        assert move.distance == 0.0


def trimmed(prism: Prisms, bottom: float, top: float) -> Prisms:
    return Prisms(prism.plan, prism.bottom + bottom, prism.top - top)


class TestLeastTrim:
    @settings(max_examples=50, deadline=None)
    @given(some_prisms(1, 1), some_prisms(1, 5), st.sampled_from([0.0, 0.004, 0.03]))
    def test_frees_and_one_per_cent_less_does_not(
        self, keepout: Prisms, around: Prisms, asked: float
    ) -> None:
        trim = least_trim(keepout, around, asked=asked)
        assume(trim is not None)
        assert trim is not None
        assert not conflicts(trimmed(keepout, trim.bottom, trim.top), around, asked)
        assert (sum(trim) > 1e-8) == conflicts(keepout, around, asked)
        assume(sum(trim) > 1e-5)
        less = trimmed(keepout, 0.99 * trim.bottom, 0.99 * trim.top)
        assert conflicts(less, around, asked)

    def test_is_from_the_top_where_that_is_less(self) -> None:
        square = outline("rectangle", 0.0, 0.0, 1.0, 1.0)
        keepout = prisms([square], bottoms=[0.1], tops=[0.5])
        shelf = prisms([square], bottoms=[0.45], tops=[0.6])
        trim = least_trim(keepout, shelf, asked=0.01)
        assert trim is not None
        assert trim == pytest.approx((0.0, 0.06))

    def test_is_from_both_ends_where_something_stands_at_both(self) -> None:
        square = outline("rectangle", 0.0, 0.0, 1.0, 1.0)
        keepout = prisms([square], bottoms=[0.1], tops=[0.5])
        both = prisms([square, square], bottoms=[0.0, 0.45], tops=[0.12, 0.6])
        trim = least_trim(keepout, both, asked=0.0)
        assert trim == pytest.approx((0.02, 0.05))

    def test_there_is_none_where_nothing_would_be_left(self) -> None:
        square = outline("rectangle", 0.0, 0.0, 1.0, 1.0)
        keepout = prisms([square], bottoms=[0.1], tops=[0.5])
        tall = prisms([square], bottoms=[0.0], tops=[1.0])
        assert least_trim(keepout, tall, asked=0.0) is None
