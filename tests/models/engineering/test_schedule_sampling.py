"""Three-point estimates as random numbers: held to another program's beta, and kept for good."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import beta, kstest

from models.engineering.calendar import HOUR
from models.engineering.schedule_sampling import (
    SLICES,
    pert_mean,
    pert_quantiles,
    pert_shape,
    pert_times,
    pert_variance,
    uniforms,
)
from models.errors import OutOfRangeError


# scipy's inverse of the beta distribution is the independent way
@pytest.mark.parametrize("shape", [1.0, 1.01, 1.5, 2.0, 3.0, 4.3, 4.99, 5.0])
def test_the_inverse_is_that_of_the_beta_distribution(shape: float) -> None:
    expected = beta(shape, 6.0 - shape).ppf(np.linspace(0.0, 1.0, SLICES + 1))
    assert pert_quantiles(shape) == pytest.approx(expected, abs=2e-6)


@pytest.mark.parametrize("points", [(1.0, 1.0, 4.0), (2.0, 3.0, 6.0), (0.0, 9.0, 9.0)])
def test_draws_follow_the_distribution(points: tuple[float, float, float]) -> None:
    chances = uniforms(seed=3, word="any", count=200_000)
    hours = pert_times(*points, chances=chances, unit_ms=HOUR) / HOUR
    low, _, high = points
    shape = float(pert_shape(*points))
    law = beta(shape, 6.0 - shape, loc=low, scale=high - low)
    assert hours.mean() == pytest.approx(float(pert_mean(*points)), rel=2e-3)
    assert hours.var() == pytest.approx(float(pert_variance(*points)), rel=1e-2)
    assert float(law.var()) == pytest.approx(float(pert_variance(*points)))
    assert kstest(hours[:20_000], law.cdf).pvalue > 0.01


@settings(deadline=None, max_examples=50)
@given(
    st.lists(st.floats(0.0, 100.0), min_size=3, max_size=3).map(sorted),
    st.floats(0.0, 50.0),
    st.floats(1.0, 3.0),
    st.floats(0.0, 1.0),
)
def test_a_longer_estimate_draws_no_shorter_time(
    points: list[float], more: float, factor: float, share: float
) -> None:
    """Later by a sum, by a factor or in its likely value; to a millisecond of rounding."""
    low, likely, high = points
    chances = np.linspace(0.0, 1.0, 101, endpoint=False)
    times = pert_times(low, likely, high, chances=chances, unit_ms=HOUR)
    for longer in (
        (low + more, likely + more, high + more),
        (low * factor, likely * factor, high * factor),
        (low, likely + share * (high - likely), high),
    ):
        assert np.all(pert_times(*longer, chances=chances, unit_ms=HOUR) >= times - 2)
    assert np.all(times >= round(low * HOUR))
    assert np.all(times <= round(high * HOUR))


def test_a_greater_high_value_alone_spreads_to_both_sides() -> None:
    """As the definition has it: from (0, 1, 1) to (0, 1, 2) the least times get shorter."""
    chances = np.array([0.05, 0.95])
    near, far = (pert_times(0.0, 1.0, high, chances=chances, unit_ms=HOUR) for high in (1.0, 2.0))
    assert far[0] < near[0]
    assert far[1] > near[1]


def test_the_same_seed_and_word_give_these_numbers_everywhere() -> None:
    """Pinned: own output, so that a change of the stream or the table cannot go unseen."""
    first = uniforms(seed=1, word="task frame", count=3)
    assert first.tolist() == [0.08901908456843044, 0.5719625946249927, 0.6239486186466785]
    times = pert_times(6.0, 9.0, 16.0, chances=first, unit_ms=HOUR)
    assert times.tolist() == [26215855, 35578987, 36596017]


def test_other_words_and_seeds_have_other_numbers() -> None:
    base = uniforms(seed=1, word="frame", count=1000)
    for other in (
        uniforms(seed=2, word="frame", count=1000),
        uniforms(seed=1, word="wire", count=1000),
    ):
        assert abs(np.corrcoef(base, other)[0, 1]) < 0.1


def test_more_runs_begin_with_the_same_runs() -> None:
    few, many = (uniforms(seed=5, word="frame", count=count) for count in (10, 1000))
    assert many[:10].tolist() == few.tolist()


def test_an_estimate_without_range_is_certain() -> None:
    assert pert_times(2.5, 2.5, 2.5, chances=np.zeros(2), unit_ms=HOUR).tolist() == [9_000_000] * 2


def test_an_estimate_that_does_not_rise_is_refused() -> None:
    with pytest.raises(OutOfRangeError, match=r"low ≤ likely ≤ high; 3\.0, 2\.0, 4\.0"):
        pert_shape(3.0, 2.0, 4.0)
    with pytest.raises(OutOfRangeError, match="from 1 to 5; 6"):
        pert_quantiles(6.0)
