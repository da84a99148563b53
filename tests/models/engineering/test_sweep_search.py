"""What nothing beats and where a figure ties with its best, against plain counting."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from models.engineering.sweep_search import never_beaten, tie_band

FloatArray = NDArray[np.float64]


def beaten_by_none(three: FloatArray) -> list[bool]:
    """Every design against every other, by the definition."""
    cost = three * [1.0, -1.0, -1.0]
    known = np.all(np.isfinite(cost), axis=1)
    return [
        bool(known[i])
        and not any(
            known[j] and np.all(cost[j] <= cost[i]) and np.any(cost[j] < cost[i])
            for j in range(len(cost))
        )
        for i in range(len(cost))
    ]


@pytest.mark.parametrize("levels", [2, 4, 9, 40])
@pytest.mark.parametrize("seed", range(12))
def test_what_nothing_beats_with_many_ties(seed: int, levels: int) -> None:
    draw = np.random.default_rng(seed)
    three = draw.integers(0, levels, (int(draw.integers(1, 90)), 3)).astype(float)
    three[draw.random(three.shape) < 0.03] = np.nan
    assert never_beaten(*three.T).tolist() == beaten_by_none(three)


def test_what_nothing_beats_among_real_numbers() -> None:
    three = np.random.default_rng(8).uniform(0.0, 1.0, (500, 3))
    assert never_beaten(*three.T).tolist() == beaten_by_none(three)


def test_alike_designs_beat_each_other_not_and_rounding_is_no_difference() -> None:
    volts = [8.0, 8.0 + 1e-13, 7.0]
    assert never_beaten([1.0, 1.0, 1.0], [500.0] * 3, volts).tolist() == [True, True, False]


def test_where_nothing_gets_going_nothing_is_kept() -> None:
    nothing = [np.nan, np.nan]
    assert never_beaten(nothing, [1.0, 2.0], nothing).tolist() == [False, False]


def test_the_shape_of_a_grid_is_kept() -> None:
    time = np.array([[1.0, 2.0], [1.5, 0.5]])
    assert never_beaten(time, np.ones((2, 2)), np.ones((2, 2))).tolist() == [
        [False, False],
        [False, True],
    ]


def bowl(x: FloatArray) -> FloatArray:
    return 2.0 + (np.log(x) - np.log(5.0)) ** 2


def valleys(x: FloatArray) -> FloatArray:
    """Two valleys, one at 3 a little less deep than that at 9."""
    return np.minimum(1.02 + (x - 3.0) ** 2, 1.0 + 0.5 * (x - 9.0) ** 2)


def ripples(x: FloatArray) -> FloatArray:
    return 2.0 + 0.05 * np.sin(6.0 * x) + 0.01 * (x - 7.0) ** 2


@pytest.mark.parametrize("share", [0.005, 0.02, 0.05, 0.2])
@pytest.mark.parametrize("curve", [bowl, valleys, ripples])
def test_inside_every_figure_is_within_the_share_and_outside_none(curve, share: float) -> None:  # type: ignore[no-untyped-def]
    band = tie_band(curve, low=2.0, high=20.0, share=share)
    assert band is not None
    places = np.linspace(2.0, 20.0, 40_001)
    figures = curve(places)
    allowed = float(figures.min()) * (1.0 + share)
    assert band.least <= figures.min() + 1e-12
    inside = np.zeros(len(places), dtype=bool)
    for low, high in band.intervals:
        within = (places >= low) & (places <= high)
        inside |= within
        assert np.all(figures[within] <= allowed + 1e-9)
    assert np.all(figures[~inside] > allowed - 1e-6)


def test_two_valleys_are_two_stretches() -> None:
    band = tie_band(valleys, low=2.0, high=20.0, share=0.05)
    assert band is not None
    (low, high), (later, last) = band.intervals
    assert low < 3.0 < high < later < 9.0 < last
    assert band.best == pytest.approx(9.0, abs=1e-6)


def test_a_band_that_reaches_the_edge_ends_there() -> None:
    band = tie_band(lambda x: 1.0 + 0.001 * x, low=2.0, high=20.0, share=0.05)
    assert band is not None
    assert band.intervals == ((2.0, 20.0),)


def test_without_a_share_only_the_best_is_left() -> None:
    band = tie_band(bowl, low=2.0, high=20.0, share=0.0)
    assert band is not None
    assert all(low <= high for low, high in band.intervals)
    assert all(high - low < 1e-6 for low, high in band.intervals)


def test_places_without_a_figure_are_outside() -> None:
    band = tie_band(lambda x: np.where(x < 6.0, np.nan, bowl(x)), low=2.0, high=20.0, share=0.05)
    assert band is not None
    ((low, _),) = band.intervals
    assert low == pytest.approx(6.0, abs=1e-9)
    assert low >= 6.0
    assert tie_band(lambda x: np.full(x.shape, np.nan), low=2.0, high=20.0, share=0.05) is None
