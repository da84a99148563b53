"""Masses, centre of gravity and yaw inertia against closed forms and mirror images."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.engineering.mass import (
    legal_mass,
    mass_properties,
    plate_mass,
    tube_mass,
)
from models.engineering.materials import density_of
from models.errors import OutOfRangeError


class TestTube:
    def test_a_wall_of_half_the_side_is_a_solid_bar(self) -> None:
        bar = tube_mass(density=1000, width=0.02, height=0.04, wall=0.01, length=1.0)
        assert float(bar) == pytest.approx(0.8)

    def test_a_wall_thicker_than_that_is_refused_with_both_figures(self) -> None:
        with pytest.raises(OutOfRangeError, match=r"0\.011 m.*0\.01 m"):
            tube_mass(density=1000, width=0.02, height=0.04, wall=0.011, length=1.0)

    def test_takes_arrays_of_designs(self) -> None:
        masses = tube_mass(
            density=2700, width=0.025, height=0.05, wall=[0.001, 0.002], length=[[1.0], [2.0]]
        )
        assert masses.shape == (2, 2)
        assert masses[1] == pytest.approx(2 * masses[0])


class TestPlate:
    def test_is_volume_times_density_times_what_is_left(self) -> None:
        mass = plate_mass(density=1200, width=0.5, length=0.4, thickness=0.006, solid_fraction=0.5)
        assert float(mass) == pytest.approx(0.72)

    @pytest.mark.parametrize("fraction", [0.0, -0.1, 1.1])
    def test_refuses_a_share_outside_zero_to_one(self, fraction: float) -> None:
        with pytest.raises(OutOfRangeError, match=f"; {fraction:g} was given"):
            plate_mass(
                density=1200, width=0.5, length=0.4, thickness=0.006, solid_fraction=fraction
            )


class TestMaterials:
    def test_a_density_that_the_study_states_goes_first(self) -> None:
        assert density_of("steel", {"steel": 7700.0}) == 7700.0

    def test_an_unknown_material_names_those_that_are_known(self) -> None:
        with pytest.raises(OutOfRangeError, match=r"oak.*aluminium.*balsa"):
            density_of("oak", {"balsa": 160.0})


coordinates = st.floats(-1.0, 1.0)
a_part = st.tuples(
    st.floats(0.1, 20.0),
    st.tuples(coordinates, coordinates, coordinates),
    st.tuples(st.floats(0, 0.5), st.floats(0, 0.5), st.floats(0, 0.5)),
)
some_parts = st.lists(a_part, min_size=1, max_size=6)


class TestMassProperties:
    @given(some_parts)
    def test_a_mirrored_robot_has_mirrored_properties(self, parts: list) -> None:
        masses, centres, sizes = (list(column) for column in zip(*parts, strict=True))
        whole = mass_properties(masses=masses, centres=centres, sizes=sizes)
        mirrored = mass_properties(
            masses=masses, centres=np.array(centres) * [1, -1, 1], sizes=sizes
        )
        assert float(mirrored.cg_y) == pytest.approx(-float(whole.cg_y), abs=1e-12)
        assert float(mirrored.cg_x) == pytest.approx(float(whole.cg_x), abs=1e-12)
        assert float(mirrored.yaw_inertia) == pytest.approx(float(whole.yaw_inertia), abs=1e-9)

    @given(some_parts, coordinates, coordinates)
    def test_moving_everything_moves_the_centre_and_keeps_the_inertia(
        self, parts: list, forward: float, left: float
    ) -> None:
        masses, centres, sizes = (list(column) for column in zip(*parts, strict=True))
        whole = mass_properties(masses=masses, centres=centres, sizes=sizes)
        moved = mass_properties(
            masses=masses, centres=np.array(centres) + np.array([forward, left, 0]), sizes=sizes
        )
        assert float(moved.cg_x - whole.cg_x) == pytest.approx(forward, abs=1e-12)
        assert float(moved.cg_y - whole.cg_y) == pytest.approx(left, abs=1e-12)
        assert float(moved.yaw_inertia) == pytest.approx(float(whole.yaw_inertia), abs=1e-9)

    @given(a_part, st.floats(0.1, 0.9))
    def test_a_box_cut_in_two_stays_the_same_box(self, part: tuple, share: float) -> None:
        mass, centre, size = part
        front, rear = size[0] * share, size[0] * (1 - share)
        halves = mass_properties(
            masses=[mass * share, mass * (1 - share)],
            centres=[
                [centre[0] + (size[0] - front) / 2, *centre[1:]],
                [centre[0] - (size[0] - rear) / 2, *centre[1:]],
            ],
            sizes=[[front, *size[1:]], [rear, *size[1:]]],
        )
        whole = mass_properties(masses=[mass], centres=[centre], sizes=[size])
        assert float(halves.yaw_inertia) == pytest.approx(float(whole.yaw_inertia), abs=1e-9)
        assert float(halves.cg_x) == pytest.approx(centre[0], abs=1e-12)

    def test_poses_are_a_leading_axis(self) -> None:
        lift = np.array([[[0, 0, 0.1], [0, 0, 0.5]], [[0, 0, 0.1], [0, 0, 0.9]]])
        whole = mass_properties(masses=[30.0, 10.0], centres=lift, sizes=np.zeros((2, 3)))
        assert whole.mass.tolist() == [40.0, 40.0]
        assert whole.cg_z == pytest.approx([0.2, 0.3])

    def test_no_mass_at_all_is_refused(self) -> None:
        with pytest.raises(OutOfRangeError, match="0 kg"):
            mass_properties(masses=[0.0], centres=[[0, 0, 0]], sizes=[[0, 0, 0]])


def test_the_legal_mass_leaves_out_what_is_exempt() -> None:
    masses = legal_mass(masses=[[40.0, 6.0], [50.0, 6.0]], exempt=[False, True])
    assert masses.tolist() == [40.0, 50.0]
