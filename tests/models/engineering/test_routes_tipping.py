"""Held to the tip limit on the move: reach of the support polygon, caps and what they change."""

from __future__ import annotations

from collections.abc import Callable
from math import atan2, cos, hypot, pi, sin

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Polygon

from models.engineering.drive import STANDARD_GRAVITY, Drive, Stance
from models.engineering.routes_tipping import (
    held_to,
    rounded_down,
    tip_caps,
    tip_reach,
    unbound,
    unbound_braking,
)
from models.engineering.sprint_pieces import example_motion, governing_pieces
from models.engineering.stability import side_reach, tip_limits
from models.engineering.traction import GOVERNING, braking, travel_motion

BOX = np.array([[0.3, 0.25], [0.3, -0.25], [-0.3, 0.25], [-0.3, -0.25]])
ODD = np.array([[0.3, 0.25], [0.26, -0.22], [-0.3, 0.21], [-0.32, -0.25]])


@given(st.floats(-pi, pi), st.floats(-0.2, 0.2), st.floats(-0.2, 0.2))
def test_the_reach_is_where_a_ray_leaves_the_rectangle(way: float, x: float, y: float) -> None:
    far = (x + 9 * cos(way), y + 9 * sin(way))
    polygon = Polygon(BOX[[0, 1, 3, 2]])
    expected = polygon.intersection(LineString([(x, y), far])).length
    found = tip_reach(contacts=BOX, cg_x=x, cg_y=y, direction=way)
    assert float(found) == pytest.approx(expected, abs=1e-9)


def test_straight_ahead_behind_and_across_it_is_the_tip_limit() -> None:
    x, y, height, margin = 0.05, -0.02, 0.4, 0.25
    front, rear = (ODD[0, 0] + ODD[1, 0]) / 2 - x, x - (ODD[2, 0] + ODD[3, 0]) / 2
    side = side_reach(contacts=ODD, cg_x=x, cg_y=y)
    limits = tip_limits(to_front=front, to_rear=rear, to_side=side, height=height)
    caps = tip_caps(contacts=ODD, cg_x=x, cg_y=y, cg_height=height, way=0.0, margin=margin)
    expected = [float(limit) * (1 - margin) for limit in limits]
    assert [float(cap) for cap in caps] == pytest.approx(expected, rel=1e-12)


def test_towards_a_corner_the_reach_is_to_the_corner() -> None:
    way = atan2(0.25, 0.3)
    found = tip_reach(contacts=BOX, cg_x=0.0, cg_y=0.0, direction=way)
    assert float(found) == pytest.approx(hypot(0.25, 0.3))


def test_driving_backwards_swaps_driving_off_and_braking() -> None:
    given_ = {"contacts": BOX, "cg_x": 0.1, "cg_y": 0.0, "cg_height": 0.5, "margin": 0.0}
    ahead, astern = tip_caps(way=0.0, **given_), tip_caps(way=pi, **given_)
    assert float(astern.drive) == pytest.approx(float(ahead.brake))
    assert float(astern.brake) == pytest.approx(float(ahead.drive))
    assert float(ahead.drive) == pytest.approx(STANDARD_GRAVITY * 0.4 / 0.5)


def test_outside_its_wheels_nothing_is_allowed_whatever_the_way() -> None:
    ways = np.linspace(-pi, pi, 9)
    caps = tip_caps(contacts=BOX, cg_x=0.35, cg_y=0.0, cg_height=0.5, way=ways, margin=0.0)
    assert all(np.all(cap < 0.0) for cap in caps)


def test_on_the_floor_nothing_tips() -> None:
    caps = tip_caps(contacts=BOX, cg_x=0.0, cg_y=0.0, cg_height=0.0, way=1.0, margin=0.5)
    assert all(np.isinf(cap) for cap in caps)


@given(st.floats(0.0, 0.8), st.floats(0.0, 0.1), st.floats(-pi, pi))
def test_more_margin_allows_less(margin: float, more: float, way: float) -> None:
    assume(more > 1e-6)
    given_ = {"contacts": ODD, "cg_x": 0.05, "cg_y": 0.03, "cg_height": 0.4, "way": way}
    for less, most in zip(
        tip_caps(margin=margin + more, **given_), tip_caps(margin=margin, **given_), strict=True
    ):
        assert float(less) < float(most)


def test_a_held_motion_says_that_tipping_holds_it() -> None:
    pieces = governing_pieces(held_to(example_motion(), 2.5))
    assert GOVERNING[int(pieces.governed_by[0])] == "tip"
    assert float(pieces.upper[0]) / float(pieces.time[0]) == pytest.approx(2.5)
    same = held_to(example_motion(), np.inf)
    assert float(same.bound) == float(example_motion().bound)
    assert not bool(same.bound_tips)


def test_without_tipping_a_tall_tank_is_held_by_grip_alone(
    make_drive: Callable[..., Drive], make_stance: Callable[..., Stance]
) -> None:
    drive, tall = make_drive(), make_stance(cg_height=1.2)
    mu = float(drive.grip) * STANDARD_GRAVITY
    drag = float(drive.rolling_coefficient) * STANDARD_GRAVITY
    free = unbound(drive, tall, "tank", angle=0.0)
    assert float(free.bound) == pytest.approx(mu - drag)
    assert not bool(free.bound_tips)
    assert bool(travel_motion(drive, tall, "tank", angle=0.0).bound_tips)
    assert float(unbound_braking(drive, tall, "tank", angle=0.0)) == pytest.approx(mu)
    assert float(braking(drive, tall, "tank", angle=0.0)) < mu


@given(st.floats(0.0, 40.0))
def test_a_limit_for_the_code_is_never_above_the_true_one(limit: float) -> None:
    found = float(rounded_down(limit, step=0.1))
    assert found <= limit + 1e-9
    assert found > limit - 0.1 - 1e-9
    assert round(found, 1) == found
