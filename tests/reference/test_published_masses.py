"""Published checks of masses and inertia: section tables, densities, textbook bodies.

The source stands beside each check; values recalled rather than read say so.
"""

from __future__ import annotations

import numpy as np
import pytest

from models.engineering.mass import (
    box_yaw_inertia,
    mass_properties,
    parallel_axis,
    tube_mass,
)
from models.engineering.materials import MATERIALS

INCH = 0.0254
POUND = 0.45359237
STEEL_OF_THE_TABLE = 0.2833 * POUND / INCH**3


def tube_in_pounds_a_foot(width_in: float, height_in: float, wall_in: float) -> float:
    mass = tube_mass(
        density=STEEL_OF_THE_TABLE,
        width=width_in * INCH,
        height=height_in * INCH,
        wall=wall_in * INCH,
        length=12 * INCH,
    )
    return float(mass) / POUND


class TestTube:
    @pytest.mark.parametrize(
        ("section_in", "area_in2", "pounds_a_foot"),
        [
            ((1, 2, 0.065), 0.3731, 1.2685),
            ((1, 2, 0.120), 0.6624, 2.2522),
            ((1, 3, 0.134), 1.0002, 3.4006),
        ],
    )
    def test_agrees_with_a_suppliers_table_of_sharp_corner_sections(
        self, section_in: tuple[float, float, float], area_in2: float, pounds_a_foot: float
    ) -> None:
        # Published: a steel supplier's section table, 0.2833 lb/in³.
        assert tube_in_pounds_a_foot(*section_in) == pytest.approx(pounds_a_foot, rel=2e-4)
        assert tube_in_pounds_a_foot(*section_in) / 12 / 0.2833 == pytest.approx(area_in2, rel=2e-4)

    @pytest.mark.parametrize(
        ("side_in", "wall_in", "pounds_a_foot"), [(2, 0.125, 3.06), (3, 0.25, 8.81)]
    )
    def test_rolled_tube_with_round_corners_is_two_to_ten_percent_lighter(
        self, side_in: float, wall_in: float, pounds_a_foot: float
    ) -> None:
        # Published: a steel supplier's table of rolled square tube.
        sharp = tube_in_pounds_a_foot(side_in, side_in, wall_in)
        assert 0.02 < 1 - pounds_a_foot / sharp < 0.10
        # Outer corners of radius 2t, inner of radius t, take 3 (4 − π) t² off the section.
        corners = 3 * (4 - np.pi) * wall_in**2 * 12 * 0.2833
        assert sharp - corners == pytest.approx(pounds_a_foot, rel=4.5e-3)


class TestMaterials:
    def test_densities_are_the_handbook_ones(self) -> None:
        # Published: Gere, Mechanics of Materials, 5th edition.
        assert MATERIALS["steel"].density == 7850
        assert MATERIALS["aluminium"].density == 2700


class TestInertia:
    def test_box_about_its_middle_and_about_a_corner(self) -> None:
        # Own derivation from m (a² + b²)/12 and the parallel-axis theorem.
        middle = box_yaw_inertia(mass=50, size_x=0.8, size_y=0.7)
        corner = parallel_axis(inertia=middle, mass=50, distance=np.hypot(0.4, 0.35))
        assert float(middle) == pytest.approx(4.70833, abs=5e-6)
        assert float(corner) == pytest.approx(18.8333, abs=5e-5)

    @pytest.mark.parametrize(("axis_at", "expected"), [(0.0, 0.673), (0.5, 0.223)])
    def test_rod_with_a_ball_at_its_end(self, axis_at: float, expected: float) -> None:
        # OpenStax University Physics volume 1, section 10.5 (values from memory): rod 2.0 kg,
        # 0.5 m; ball 1.0 kg, radius 0.2 m; a box of side r·√2.4 has a ball's inertia.
        ball = 0.2 * np.sqrt(2.4)
        whole = mass_properties(
            masses=[2.0, 1.0],
            centres=[[0.25, 0, 0], [0.7, 0, 0]],
            sizes=[[0.5, 0, 0], [ball, ball, 0]],
        )
        about = parallel_axis(
            inertia=whole.yaw_inertia, mass=whole.mass, distance=whole.cg_x - axis_at
        )
        assert float(about) == pytest.approx(expected, abs=5e-4)
