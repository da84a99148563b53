"""Contact points, footprints and mirrored module outlines."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.engineering.placement import (
    CORNERS,
    axle_contacts,
    axle_distances,
    corner_contacts,
    corner_outline,
    footprint,
)
from models.errors import OutOfRangeError

insets = st.lists(st.tuples(st.floats(0, 0.1), st.floats(0, 0.1)), min_size=4, max_size=4)


class TestCornerContacts:
    def test_without_insets_they_are_the_rectangle(self) -> None:
        contacts = corner_contacts(wheelbase=0.6, track=0.5)
        expected = [[0.3, 0.25], [0.3, -0.25], [-0.3, 0.25], [-0.3, -0.25]]
        assert contacts.tolist() == expected

    @given(insets)
    def test_every_inset_moves_towards_the_middle(self, inward: list) -> None:
        plain = corner_contacts(wheelbase=0.6, track=0.5)
        moved = corner_contacts(wheelbase=0.6, track=0.5, insets=inward)
        assert np.abs(plain) - np.abs(moved) == pytest.approx(np.array(inward), abs=1e-12)
        assert (np.sign(moved) == np.sign(plain)).all()

    def test_an_inset_past_the_middle_is_refused(self) -> None:
        with pytest.raises(OutOfRangeError, match=r"0\.3 m"):
            corner_contacts(wheelbase=0.6, track=0.7, insets=[[0.3, 0], [0, 0], [0, 0], [0, 0]])

    def test_arrangements_are_a_leading_axis(self) -> None:
        inward = np.zeros((5, 4, 2))
        inward[:, 0, 0] = np.linspace(0, 0.1, 5)
        contacts = corner_contacts(wheelbase=0.6, track=0.5, insets=inward)
        assert contacts.shape == (5, 4, 2)
        assert footprint(contacts).wheelbase[-1] == pytest.approx(0.55)


class TestAxleContacts:
    def test_axles_are_evenly_spaced_from_the_front(self) -> None:
        contacts = axle_contacts(axle_count=4, wheelbase=0.6, track=0.5)
        assert contacts[::2, 0] == pytest.approx([0.3, 0.1, -0.1, -0.3])
        assert contacts[::2, 1] == pytest.approx([0.25] * 4)
        assert contacts[1::2, 1] == pytest.approx([-0.25] * 4)

    def test_one_axle_is_refused(self) -> None:
        with pytest.raises(OutOfRangeError, match="1 was given"):
            axle_contacts(axle_count=1, wheelbase=0.6, track=0.5)


class TestFootprint:
    def test_of_a_rectangle_is_the_rectangle(self) -> None:
        size = footprint(corner_contacts(wheelbase=0.6, track=0.5))
        assert [float(value) for value in size] == pytest.approx([0.6, 0.5, 0.3, -0.3])

    @given(insets)
    def test_takes_the_mean_of_each_axle(self, inward: list) -> None:
        size = footprint(corner_contacts(wheelbase=0.6, track=0.5, insets=inward))
        along = np.array(inward)[:, 0]
        across = np.array(inward)[:, 1]
        assert float(size.wheelbase) == pytest.approx(0.6 - along.sum() / 2)
        assert float(size.track) == pytest.approx(0.5 - across.sum() / 2)
        assert float(size.front_x) == pytest.approx(0.3 - along[:2].mean())

    @given(insets, st.floats(-0.2, 0.2))
    def test_the_axle_distances_add_up_to_the_wheelbase(self, inward: list, cg_x: float) -> None:
        size = footprint(corner_contacts(wheelbase=0.6, track=0.5, insets=inward))
        away = axle_distances(front_x=size.front_x, rear_x=size.rear_x, cg_x=cg_x)
        assert float(away.front + away.rear) == pytest.approx(float(size.wheelbase))


class TestCornerOutline:
    DRAWN = ((-0.11, -0.10), (0.06, -0.10), (0.06, 0.05), (-0.11, 0.05))

    def test_the_front_left_corner_is_as_drawn(self) -> None:
        placed = corner_outline(outline=self.DRAWN, corner="front_left", contact=[0.3, 0.25])
        assert placed == pytest.approx(np.array(self.DRAWN) + np.array([0.3, 0.25]))

    def test_the_outer_side_stays_outside_at_every_corner(self) -> None:
        contacts = corner_contacts(wheelbase=0.6, track=0.5)
        for corner, contact in zip(CORNERS, contacts, strict=True):
            placed = np.abs(corner_outline(outline=self.DRAWN, corner=corner, contact=contact))
            assert placed.max(axis=0) == pytest.approx([0.36, 0.30])
            assert placed.min(axis=0) == pytest.approx([0.19, 0.15])

    @given(insets)
    def test_mirrored_insets_give_a_mirrored_base(self, inward: list) -> None:
        swapped = [inward[1], inward[0], inward[3], inward[2]]
        ours = corner_contacts(wheelbase=0.6, track=0.5, insets=inward)
        theirs = corner_contacts(wheelbase=0.6, track=0.5, insets=swapped)
        for left, right in ((0, 1), (2, 3)):
            one = corner_outline(outline=self.DRAWN, corner=CORNERS[left], contact=ours[left])
            other = corner_outline(outline=self.DRAWN, corner=CORNERS[right], contact=theirs[right])
            assert other == pytest.approx(one * [1, -1])
