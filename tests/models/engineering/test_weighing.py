"""Weighing of alternatives against published examples and closed forms."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from models.engineering.weighing import (
    flip_weights,
    linear_values,
    rank_correlation,
    rank_order_centroid,
    rank_shares,
    uniform_weightings,
    weighted_scores,
)

share = st.floats(0.0, 1.0).map(lambda value: round(value, 3))
weight = st.floats(0.05, 10.0)


def tables(criteria: int = 3) -> st.SearchStrategy[list[list[float]]]:
    return st.lists(st.lists(share, min_size=criteria, max_size=criteria), min_size=2, max_size=5)


def test_the_weighted_mean_of_a_textbook_example() -> None:
    # Goodwin and Wright, Decision Analysis for Management Judgment, chapter 3: an office's value
    values, weights = [100, 60, 100, 75, 0, 90], [32, 26, 23, 10, 6, 3]
    assert weighted_scores(values=values, weights=weights) == pytest.approx(80.8)


def test_rank_order_centroid_of_four() -> None:
    # Barron and Barrett, Management Science 42(11), 1996
    assert rank_order_centroid(count=4).round(2).tolist() == [0.52, 0.27, 0.15, 0.06]


@pytest.mark.parametrize("count", [1, 2, 7])
def test_rank_order_centroid_is_the_mean_of_ordered_weightings(count: int) -> None:
    drawn = np.sort(uniform_weightings(criteria=count, count=40_000, seed=3), axis=1)[:, ::-1]
    assert rank_order_centroid(count=count) == pytest.approx(drawn.mean(axis=0), abs=0.004)
    assert rank_order_centroid(count=count).sum() == pytest.approx(1.0)


def test_rank_acceptability_of_three_alternatives() -> None:
    # Closed form of SMAA-2 with two criteria: C (.6, .6) leads A (1, 0) and B (0, 1) where the
    # first weight lies between .4 and .6
    shares = rank_shares(
        values=[[1.0, 0.0], [0.0, 1.0], [0.6, 0.6]],
        weightings=uniform_weightings(criteria=2, count=200_000, seed=5),
    )
    expected = [[0.4, 0.1, 0.5], [0.4, 0.1, 0.5], [0.2, 0.8, 0.0]]
    assert shares == pytest.approx(np.array(expected), abs=4 * math.sqrt(0.25 / 200_000))


def test_the_better_of_two_uncertain_figures() -> None:
    # A ~ N(10, 1), B ~ N(11, 1): P(B first) = Φ(1/√2) = 0.7602
    random = np.random.default_rng(11)
    figures = np.stack([random.normal(10.0, 1.0, 100_000), random.normal(11.0, 1.0, 100_000)], 1)
    values = linear_values(figures=figures[:, :, None], worst=[0.0], best=[20.0])
    shares = rank_shares(values=values, weightings=np.ones((100_000, 1)))
    assert shares[1, 0] == pytest.approx(stats.norm.cdf(1.0 / math.sqrt(2.0)), abs=0.006)
    assert shares[1, 0] == pytest.approx(0.7602, abs=0.006)


def test_weightings_are_even_over_the_simplex() -> None:
    drawn = uniform_weightings(criteria=3, count=50_000, seed=1)
    # One weight of three is Beta(1, 2)
    for column in drawn.T:
        assert stats.kstest(column, stats.beta(1, 2).cdf).pvalue > 1e-3
    assert drawn.sum(axis=1) == pytest.approx(np.ones(50_000))


def test_the_same_seed_gives_the_same_weightings_everywhere() -> None:
    # From the raw output of PCG64, which its definition fixes
    drawn = uniform_weightings(criteria=2, count=2, seed=20)
    raw = np.random.PCG64(20).random_raw(4)
    uniform = (raw >> np.uint64(11)).astype(float) / 2.0**53
    lengths = -np.log1p(-uniform).reshape(2, 2)
    assert drawn == pytest.approx(lengths / lengths.sum(axis=1, keepdims=True), rel=1e-15)


@given(tables(), st.lists(weight, min_size=3, max_size=3))
def test_doubling_every_weight_changes_nothing(
    values: list[list[float]], weights: list[float]
) -> None:
    once = weighted_scores(values=values, weights=weights)
    twice = weighted_scores(values=values, weights=[2.0 * item for item in weights])
    assert twice == pytest.approx(once)
    flips = [item.weight for item in flip_weights(values=values, weights=weights)]
    doubled = flip_weights(values=values, weights=[2.0 * item for item in weights])
    assert [item.weight for item in doubled] == pytest.approx(flips)


@given(tables(), st.lists(weight, min_size=3, max_size=3))
def test_the_flip_weight_put_in_ties_the_two(
    values: list[list[float]], weights: list[float]
) -> None:
    for flip in flip_weights(values=values, weights=weights):
        others = np.delete(np.array(weights), flip.criterion)
        put_in = np.insert(others / others.sum() * (1.0 - flip.weight), flip.criterion, flip.weight)
        scores = weighted_scores(values=values, weights=put_in)
        assert scores[flip.leader] == pytest.approx(scores[flip.rival], abs=1e-9)
        assert scores.max() == pytest.approx(scores[flip.leader], abs=1e-9)


@given(tables(), st.lists(weight, min_size=3, max_size=3))
def test_no_nearer_weight_changes_the_leader(
    values: list[list[float]], weights: list[float]
) -> None:
    shares = np.array(weights) / sum(weights)
    scores = weighted_scores(values=values, weights=shares)
    leader = int(np.argmax(scores))
    runner_up = max(np.delete(scores, leader))
    flips = flip_weights(values=values, weights=weights)
    if scores[leader] - runner_up < 1e-6:
        return
    for criterion, present in enumerate(shares):
        own = [item.weight for item in flips if item.criterion == criterion]
        low = max([item for item in own if item < present], default=0.0)
        high = min([item for item in own if item > present], default=1.0)
        for tried in np.linspace(low, high, 23)[1:-1]:
            others = np.delete(shares, criterion)
            put_in = np.insert(others / others.sum() * (1.0 - tried), criterion, tried)
            moved = weighted_scores(values=values, weights=put_in)
            assert moved[leader] >= moved.max() - 1e-9


@given(tables(), st.integers(0, 2))
def test_a_dominated_alternative_is_never_first(values: list[list[float]], which: int) -> None:
    table = np.array(values)
    worse = table[which % len(table)] - 0.01
    shares = rank_shares(
        values=np.vstack([table, worse]),
        weightings=uniform_weightings(criteria=3, count=500, seed=2),
    )
    assert shares[-1, 0] == 0.0
    assert shares.sum(axis=0) == pytest.approx(np.ones(len(shares)))
    assert shares.sum(axis=1) == pytest.approx(np.ones(len(shares)))


def test_like_alternatives_share_their_ranks() -> None:
    shares = rank_shares(values=[[0.5], [0.5], [0.1]], weightings=[[1.0], [2.0]])
    assert shares.tolist() == [[0.5, 0.5, 0.0], [0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]


def test_ranks_agree_with_sorting_one_by_one() -> None:
    random = np.random.default_rng(4)
    values, weightings = random.random((4, 3)), uniform_weightings(criteria=3, count=300, seed=9)
    counts = np.zeros((4, 4))
    for row in weightings:
        order = sorted(range(4), key=lambda item: -float(values[item] @ row))
        for rank, alternative in enumerate(order):
            counts[alternative, rank] += 1
    assert rank_shares(values=values, weightings=weightings) == pytest.approx(counts / 300)


def test_figures_beyond_worst_and_best_are_clipped() -> None:
    values = linear_values(figures=[[1.0], [3.0], [2.1]], worst=[2.4], best=[1.8])
    assert values.ravel() == pytest.approx([1.0, 0.0, 0.5])


@pytest.mark.parametrize("weights", [[0.0, 0.0], [-1.0, 2.0]])
def test_weights_that_cannot_weigh_are_refused(weights: list[float]) -> None:
    with pytest.raises(ValueError, match="Weights"):
        weighted_scores(values=[1.0, 0.0], weights=weights)


def test_worst_and_best_have_to_differ() -> None:
    with pytest.raises(ValueError, match="same"):
        linear_values(figures=[1.0], worst=[2.0], best=[2.0])


def test_rank_correlation_agrees_with_scipy() -> None:
    random = np.random.default_rng(8)
    table = random.integers(0, 9, (4, 60)).astype(float)
    for one, other in itertools.combinations(table, 2):
        assert rank_correlation(first=one, second=other) == pytest.approx(
            stats.spearmanr(one, other).statistic
        )
    assert np.isnan(rank_correlation(first=np.ones(5), second=np.arange(5.0)))
