"""Breakers by their maker's curve: points, log axes, holding, beyond the ends."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.engineering.breakers import trip_time

MULTIPLES, SECONDS = [1.35, 2.0, 3.0, 6.0], [300.0, 28.0, 7.5, 1.1]


def trips(current: float) -> float:
    return float(trip_time(current=current, rating=40.0, multiples=MULTIPLES, seconds=SECONDS))


@pytest.mark.parametrize(("multiple", "seconds"), list(zip(MULTIPLES, SECONDS, strict=True)))
def test_the_curve_passes_its_points(multiple: float, seconds: float) -> None:
    assert trips(40.0 * multiple) == pytest.approx(seconds)


def test_below_its_first_point_it_holds() -> None:
    assert trips(40.0) == np.inf
    assert trips(0.0) == np.inf
    assert trips(40.0 * 1.3499) == np.inf


def test_between_two_points_lies_their_geometric_mean() -> None:
    """Straight on log axes: at √(2·3) times the rating √(28·7.5) s."""
    assert trips(40.0 * 6.0**0.5) == pytest.approx((28.0 * 7.5) ** 0.5)


def test_a_power_law_is_met_everywhere_and_beyond() -> None:
    """I²·t = 400: two points of it give every other."""
    for current in (12.0, 20.0, 47.0, 150.0):
        found = trip_time(current=current, rating=10.0, multiples=[1.0, 8.0], seconds=[4.0, 0.0625])
        assert float(found) == pytest.approx(400.0 / current**2)


def test_one_point_is_the_same_time_for_all_that_is_more() -> None:
    found = trip_time(current=[10.0, 20.0, 80.0], rating=10.0, multiples=[2.0], seconds=[5.0])
    assert found.tolist() == pytest.approx([np.inf, 5.0, 5.0])


@settings(derandomize=True, deadline=None, max_examples=60)
@given(low=st.floats(1.0, 500.0), more=st.floats(1.0, 3.0))
def test_more_current_never_lasts_longer(low: float, more: float) -> None:
    assert trips(low * more) <= trips(low) * (1.0 + 1e-12)
