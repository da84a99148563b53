"""The platform hinged in its middle: moments about the hinge, by themselves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from models.engineering.platform import STANDARD_GRAVITY, Level, level_place

PARTNERS = ([38.0, 61.0], [0.7, -0.2])


def standing(hold: float = 30.0, mass: float = 55.0) -> Level:
    return level_place(
        mass=mass, partner_masses=PARTNERS[0], partner_places=PARTNERS[1],
        platform_mass=40.0, hold_moment=hold,
    )  # fmt: skip


def moment(place: float, mass: float = 55.0) -> float:
    arms = sum(m * s for m, s in zip(*PARTNERS, strict=True))
    return (mass * place + arms) * STANDARD_GRAVITY


# Independent: the place at which the moment reaches what the hinge holds, by bracketing.
@pytest.mark.parametrize(("held", "side"), [(-30.0, -1.0), (0.0, 0.0), (30.0, 1.0)])
def test_the_band_ends_where_the_hinge_gives_way(held: float, side: float) -> None:
    edge = brentq(lambda place: moment(place) - held, -5.0, 5.0, xtol=1e-13)
    level = standing()
    assert float(level.place + side * level.room) == pytest.approx(edge, abs=1e-12)


def test_alone_it_stands_over_the_hinge() -> None:
    alone = level_place(
        mass=[50.0, 60.0], partner_masses=[], partner_places=[], platform_mass=0.0, hold_moment=10.0
    )
    assert alone.place.tolist() == [0.0, 0.0]
    assert alone.room == pytest.approx(10.0 / (np.array([50.0, 60.0]) * STANDARD_GRAVITY))


def test_a_free_hinge_leaves_no_room() -> None:
    assert float(standing(hold=0.0).room) == 0.0


def test_the_hinge_carries_everything() -> None:
    assert float(standing().hinge_load) == pytest.approx((55 + 38 + 61 + 40) * STANDARD_GRAVITY)
