"""Tipping limits against the static stability factor, closed forms and mirror images."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.engineering.placement import corner_contacts
from models.engineering.stability import (
    STANDARD_GRAVITY,
    side_reach,
    support_polygon,
    tip_limits,
    worst_pose,
)

insets = st.lists(st.tuples(st.floats(0, 0.1), st.floats(0, 0.1)), min_size=4, max_size=4)


class TestSideReach:
    @given(st.floats(-0.3, 0.3), st.floats(-0.3, 0.3))
    def test_of_a_rectangle_is_half_the_track_less_the_offset(self, x: float, y: float) -> None:
        contacts = corner_contacts(wheelbase=0.6, track=0.5)
        reach = side_reach(contacts=contacts, cg_x=x, cg_y=y)
        assert float(reach) == pytest.approx(0.25 - abs(y))

    @given(insets, st.floats(-0.2, 0.2), st.floats(-0.1, 0.1))
    def test_a_mirrored_base_tips_alike(self, inward: list, x: float, y: float) -> None:
        ours = corner_contacts(wheelbase=0.6, track=0.5, insets=inward)
        swapped = [inward[1], inward[0], inward[3], inward[2]]
        theirs = corner_contacts(wheelbase=0.6, track=0.5, insets=swapped)
        one = side_reach(contacts=ours, cg_x=x, cg_y=y)
        other = side_reach(contacts=theirs, cg_x=x, cg_y=-y)
        assert float(one) == pytest.approx(float(other))

    def test_is_by_the_nearer_edge_when_one_corner_is_moved_in(self) -> None:
        contacts = corner_contacts(
            wheelbase=0.6, track=0.5, insets=[[0, 0.1], [0, 0], [0, 0], [0, 0]]
        )
        # Halfway along, the left edge lies at (0.15 + 0.25)/2, the right one at 0.25.
        assert float(side_reach(contacts=contacts, cg_x=0.0, cg_y=0.0)) == pytest.approx(0.20)
        assert float(side_reach(contacts=contacts, cg_x=0.3, cg_y=0.0)) == pytest.approx(0.15)

    @given(insets, st.floats(-0.1, 0.1), st.floats(-0.1, 0.1), st.floats(0.1, 0.6))
    def test_agrees_with_the_wheel_loads_of_a_rigid_body(
        self, inward: list, x: float, y: float, height: float
    ) -> None:
        """At the limit the moment about the nearer edge vanishes, found here with vectors."""
        contacts = corner_contacts(wheelbase=0.6, track=0.5, insets=inward)
        reach = float(side_reach(contacts=contacts, cg_x=x, cg_y=y))
        limit = STANDARD_GRAVITY * reach / height
        moments = []
        for front, rear, outwards in ((0, 2, 1.0), (1, 3, -1.0)):
            edge = np.append(contacts[front] - contacts[rear], 0.0)
            arm = np.array([x, y, height]) - np.append(contacts[rear], 0.0)
            force = np.array([0.0, outwards * limit, -STANDARD_GRAVITY])
            moments.append(abs(float(np.dot(np.cross(arm, force), edge / np.linalg.norm(edge)))))
        assert min(moments) == pytest.approx(0.0, abs=1e-9)


class TestTipLimits:
    def test_is_the_static_stability_factor_times_gravity(self) -> None:
        # Published definition: NHTSA, T/(2h); numbers own: T 0.6, h 0.25 → 1.2, slope 50.19°.
        limits = tip_limits(to_front=0.3, to_rear=0.3, to_side=0.6 / 2, height=0.25)
        factor = float(limits.side) / STANDARD_GRAVITY
        assert factor == pytest.approx(1.2)
        assert math.degrees(math.atan(factor)) == pytest.approx(50.19, abs=0.005)

    def test_driving_off_counts_the_rear_axle_and_braking_the_front(self) -> None:
        limits = tip_limits(to_front=0.2, to_rear=0.4, to_side=0.25, height=0.5)
        assert float(limits.forward) == pytest.approx(0.8 * STANDARD_GRAVITY)
        assert float(limits.brake) == pytest.approx(0.4 * STANDARD_GRAVITY)

    def test_what_lies_outside_the_wheels_topples_at_rest(self) -> None:
        assert float(tip_limits(to_front=-0.1, to_rear=0.7, to_side=0.2, height=0.5).brake) < 0

    def test_a_centre_on_the_floor_never_tips(self) -> None:
        limits = tip_limits(to_front=0.3, to_rear=0.3, to_side=0.3, height=[0.0, 0.3])
        assert np.isinf(limits.side).tolist() == [True, False]


def test_the_worst_pose_is_the_least_value_and_the_first_of_equals() -> None:
    worst = worst_pose([[3.0, 2.0, 2.0], [1.0, 5.0, 4.0]])
    assert worst.value.tolist() == [2.0, 1.0]
    assert worst.pose.tolist() == [1, 0]


def test_the_support_polygon_leaves_out_wheels_between_others() -> None:
    wheels = [[0.3, 0.25], [0.0, 0.25], [-0.3, 0.25], [0.3, -0.25], [0.0, -0.25], [-0.3, -0.25]]
    outline = support_polygon(wheels)
    assert len(outline) == 4
    assert {tuple(corner) for corner in outline.tolist()} == {
        (0.3, 0.25), (-0.3, 0.25), (-0.3, -0.25), (0.3, -0.25)
    }  # fmt: skip
