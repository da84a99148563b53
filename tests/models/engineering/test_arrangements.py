"""The search for arrangements, against every arrangement checked pair by pair."""

from __future__ import annotations

from itertools import product
from typing import Any

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from models.engineering.arrangement_ranking import ORDERS, best_arrangements, best_rows
from models.engineering.arrangements import (
    Arrangements,
    CornerOptions,
    Surroundings,
    combined,
    corner_options,
    inset_steps,
)
from models.engineering.placement import CORNERS, corner_outline, footprint
from models.engineering.prisms import Prisms, clearances, overlap_volumes, prisms
from models.errors import OutOfRangeError

NOTHING = prisms([], bottoms=[], tops=[])
FRAME = np.array([0.4, 0.36])


def rectangle(x: float, y: float, length: float, width: float) -> list[list[float]]:
    return [[x, y], [x + length, y], [x + length, y + width], [x, y + width]]


def searched(
    envelopes: list[Prisms],
    around: Surroundings,
    *,
    reach: tuple[float, float] = (0.28, 0.24),
    insets: Any = (0.0, 0.03),
    mirrored: bool = True,
) -> Arrangements:
    options = [
        corner_options(
            corner=corner, envelopes=envelopes, reach=reach, insets=insets, around=around
        )
        for corner in CORNERS
    ]
    return combined(
        options,
        envelopes=envelopes,
        allowed=[one.free for one in options],
        mirrored=mirrored,
    )


def placed(envelope: Prisms, option: CornerOptions, index: int) -> Prisms:
    plan = [
        corner_outline(
            outline=shapely.get_coordinates(outline)[:-1],
            corner=option.corner,
            contact=option.contact[index],
        )
        for outline in envelope.plan
    ]
    return prisms(plan, bottoms=envelope.bottom, tops=envelope.top)


def passes(
    envelopes: list[Prisms], around: Surroundings, found: Arrangements, choice: tuple[int, ...]
) -> bool:
    """The plain check: every body against every keep-out, other body and other module."""
    modules = [
        placed(envelopes[one.orientation[index]], one, index)
        for one, index in zip(found.options, choice, strict=True)
    ]
    for number, module in enumerate(modules):
        if clearances(module, around.keepouts, asked=around.asked).conflict.any():
            return False
        if (overlap_volumes(module, around.bodies) > 1e-12).any():
            return False
        corners = shapely.get_coordinates(module.plan)
        if (np.abs(corners) > around.half_frame + 1e-9).any():
            return False
        if (module.top > around.height_limit + 1e-9).any():
            return False
        for other in modules[number + 1 :]:
            if (overlap_volumes(module, other) > 1e-12).any():
                return False
    return True


def in_the_set(found: Arrangements) -> set[tuple[int, ...]]:
    apart = found.apart
    if apart is None:
        apart = np.ones((len(found.front[0]), len(found.rear[0])), dtype=bool)
    front, rear = np.nonzero(apart)
    return {
        (int(found.front[0][f]), int(found.front[1][f]),
         int(found.rear[0][r]), int(found.rear[1][r]))
        for f, r in zip(front, rear, strict=True)
    }  # fmt: skip


def tenths_of_mm(least: float, most: float) -> st.SearchStrategy[float]:
    return st.integers(round(least * 1e4), round(most * 1e4)).map(lambda count: count / 1e4)


def outlines() -> st.SearchStrategy[list[list[float]]]:
    """Rectangles, triangles and an angle that is not convex."""
    place, side = tenths_of_mm(-0.35, 0.3), tenths_of_mm(0.03, 0.3)

    def shaped(kind: str, x: float, y: float, length: float, width: float) -> list[list[float]]:
        if kind == "triangle":
            return [[x, y], [x + length, y], [x, y + width]]
        if kind == "angle":
            inner = [[x + length, y + width / 3], [x + length / 3, y + width / 3]]
            return [[x, y], [x + length, y], *inner, [x + length / 3, y + width], [x, y + width]]
        return rectangle(x, y, length, width)

    return st.builds(
        shaped, st.sampled_from(["rectangle", "triangle", "angle"]), place, place, side, side
    )


@st.composite
def several(draw: Any, shape: st.SearchStrategy[list[list[float]]], most: int, top: float) -> Any:
    drawn = draw(st.lists(shape, min_size=0, max_size=most))
    bottoms = [draw(tenths_of_mm(0.0, top)) for _ in drawn]
    tops = [bottom + draw(tenths_of_mm(0.02, 0.15)) for bottom in bottoms]
    return prisms(drawn, bottoms=bottoms, tops=tops)


def module_shapes() -> st.SearchStrategy[list[list[float]]]:
    return st.builds(
        lambda back, out: rectangle(-back, -back, back + out, back + out),
        tenths_of_mm(0.06, 0.25),
        tenths_of_mm(0.02, 0.08),
    )


@st.composite
def cases(draw: Any) -> tuple[list[Prisms], Surroundings]:
    envelopes = [draw(several(module_shapes(), 2, 0.12)) for _ in range(2)]
    keepouts = draw(several(outlines(), 4, 0.2))
    asked = np.array([draw(st.sampled_from([0.0, 0.005, 0.02])) for _ in keepouts.plan])
    around = Surroundings(
        keepouts, asked, draw(several(outlines(), 1, 0.1)), FRAME, draw(st.sampled_from([0.2, 9.0]))
    )
    return envelopes, around


class TestAgainstBruteForce:
    @settings(max_examples=25, deadline=None)
    @given(cases())
    def test_feasible_is_what_passes_the_plain_check_both_ways(
        self, case: tuple[list[Prisms], Surroundings]
    ) -> None:
        envelopes, around = case
        found = searched(envelopes, around)
        cells = 4
        expected = {
            (o1 * cells + f, o2 * cells + f, o3 * cells + r, o4 * cells + r)
            for o1, o2, o3, o4 in product(range(2), repeat=4)
            for f, r in product(range(cells), repeat=2)
            if passes(
                envelopes,
                around,
                found,
                (o1 * cells + f, o2 * cells + f, o3 * cells + r, o4 * cells + r),
            )
        }
        assert in_the_set(found) == expected
        assert found.total == len(expected)

    @settings(max_examples=6, deadline=None)
    @given(cases())
    def test_the_same_with_both_sides_freed(self, case: tuple[list[Prisms], Surroundings]) -> None:
        envelopes, around = case
        envelopes = envelopes[:1]
        found = searched(envelopes, around, mirrored=False)
        expected = {
            choice
            for choice in product(range(4), repeat=4)
            if passes(envelopes, around, found, choice)
        }
        assert in_the_set(found) == expected

    @settings(max_examples=25, deadline=None)
    @given(cases())
    def test_margins_are_those_of_the_plain_check(
        self, case: tuple[list[Prisms], Surroundings]
    ) -> None:
        envelopes, around = case
        for corner in CORNERS:
            option = corner_options(
                corner=corner, envelopes=envelopes, reach=(0.28, 0.24), insets=(0.0, 0.03),
                around=around,
            )  # fmt: skip
            for index, kind in enumerate(option.orientation):
                module = placed(envelopes[kind], option, index)
                margin = clearances(module, around.keepouts, asked=around.asked).margin
                assert option.margin[index] == pytest.approx(margin.min(initial=np.inf), abs=1e-12)

    def test_modules_that_would_share_room_are_left_out(self) -> None:
        module = prisms([rectangle(-0.2, -0.2, 0.25, 0.25)], bottoms=[0.05], tops=[0.1])
        around = Surroundings(NOTHING, np.array([]), NOTHING, FRAME, np.inf)
        found = searched([module], around, reach=(0.21, 0.24), insets=(0.0, 0.02))
        # Two modules 0.2 m deep stand 0.42 m apart along: one of them may come in by 20 mm, so
        # that they just touch, but not both.
        along = [
            (found.options[0].inset[f, 0], found.options[2].inset[r, 0])
            for f, _, r, _ in in_the_set(found)
        ]
        assert set(along) == {(0.0, 0.0), (0.0, 0.02), (0.02, 0.0)}


class TestRanking:
    module = prisms([rectangle(-0.05, -0.05, 0.08, 0.08)], bottoms=[0.05], tops=[0.1])
    mast = prisms([rectangle(-0.1, -0.1, 0.26, 0.18)], bottoms=[0.0], tops=[0.5])

    def found(self, reach: tuple[float, float], insets: Any) -> Arrangements:
        around = Surroundings(self.mast, np.array([0.01]), NOTHING, FRAME, np.inf)
        return searched([self.module, self.module], around, reach=reach, insets=insets)

    @pytest.mark.parametrize("reach", [(0.3, 0.25), (0.12, 0.3)])
    @pytest.mark.parametrize("order", ORDERS)
    def test_agrees_with_a_full_sort(self, order: str, reach: tuple[float, float]) -> None:
        found = self.found(reach, (0.0, 0.05, 0.1))
        every = sorted(in_the_set(found))
        ranked = best_arrangements(found, order=order, most=25)
        contacts = [
            [one.contact[index] for one, index in zip(found.options, choice, strict=True)]
            for choice in every
        ]
        values = {
            "support-area": [shapely.MultiPoint(at).convex_hull.area for at in contacts],
            "clearance": [
                min(one.margin[i] for one, i in zip(found.options, choice, strict=True))
                for choice in every
            ],
            "fewest-inverted": [
                -sum(one.orientation[i] for one, i in zip(found.options, choice, strict=True))
                for choice in every
            ],
            "wheelbase": [float(footprint(at).wheelbase) for at in contacts],
        }[order]
        given_back = {
            "support-area": ranked.support_area,
            "clearance": ranked.margin,
            "fewest-inverted": -ranked.inverted,
            "wheelbase": ranked.wheelbase,
        }[order]
        assert given_back == pytest.approx(sorted(values, reverse=True)[:25])
        assert {tuple(int(i) for i in choice) for choice in ranked.choice} <= set(every)

    def test_a_corner_behind_the_others_leaves_a_triangle(self) -> None:
        around = Surroundings(NOTHING, np.array([]), NOTHING, FRAME, np.inf)
        found = searched([NOTHING], around, reach=(0.3, 0.3), insets=(0.0, 0.28), mirrored=False)
        ranked = best_arrangements(found, order="support-area", most=1000)
        for choice, area in zip(ranked.choice, ranked.support_area, strict=True):
            at = [one.contact[i] for one, i in zip(found.options, choice, strict=True)]
            assert area == pytest.approx(shapely.MultiPoint(at).convex_hull.area, abs=1e-12)

    @given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), max_size=40),
           st.integers(1, 12))  # fmt: skip
    def test_best_rows_are_the_head_of_a_full_sort(
        self, rows: list[tuple[int, int]], most: int
    ) -> None:
        keys = [np.array([row[i] for row in rows], dtype=float) for i in (0, 1)]
        best = best_rows([key.take for key in keys], np.arange(len(rows)), most)
        expected = sorted(rows, reverse=True)[:most]
        assert [rows[index] for index in best] == expected


class TestLimits:
    def test_insets_are_counted_from_none_to_the_largest(self) -> None:
        assert inset_steps(largest=0.03, step=0.01).tolist() == [0.0, 0.01, 0.02, 0.03]
        assert inset_steps(largest=0.0, step=0.01).tolist() == [0.0]

    @pytest.mark.parametrize(
        ("largest", "step"), [(0.1, 0.0), (-0.1, 0.01), (1.0, 0.001), (np.nan, 0.01), (9e9, 1e-9)]
    )
    def test_a_range_that_cannot_be_tried_is_refused(self, largest: float, step: float) -> None:
        with pytest.raises(OutOfRangeError):
            inset_steps(largest=largest, step=step)

    def test_an_inset_past_the_middle_is_refused(self) -> None:
        around = Surroundings(NOTHING, np.array([]), NOTHING, FRAME, np.inf)
        with pytest.raises(OutOfRangeError, match="half of the track"):
            searched([NOTHING], around, reach=(0.3, 0.2), insets=(0.0, 0.2))

    def test_more_combinations_than_can_be_looked_at_are_refused(self) -> None:
        around = Surroundings(NOTHING, np.array([]), NOTHING, FRAME, np.inf)
        insets = np.arange(41) * 0.004
        with pytest.raises(OutOfRangeError, match="larger step"):
            searched([NOTHING, NOTHING], around, insets=insets)

    def test_an_unknown_order_is_refused(self) -> None:
        around = Surroundings(NOTHING, np.array([]), NOTHING, FRAME, np.inf)
        with pytest.raises(OutOfRangeError, match="ranked by"):
            best_arrangements(searched([NOTHING], around), order="beauty", most=1)
