"""Published and independent checks of schedules.

The source stands beside each check. Published paths are of estimates in series and in a network,
each task with a crew of its own, so that nothing but the predecessors sets the dates.
"""

from __future__ import annotations

from itertools import pairwise
from math import erf, sqrt

import networkx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import beta

from models.engineering.calendar import HOUR
from models.engineering.schedule import (
    Plan,
    chain_shares,
    finish_times,
    least_tails,
    simulate,
    work_order,
)
from models.engineering.schedule_sampling import pert_mean, pert_times, pert_variance, uniforms

RUNS = 10_000
Estimate = tuple[float, float, float]

SERIES: list[Estimate] = [(5, 8, 17), (3, 5, 7), (4, 6, 8), (3, 4, 5)]
"""T1: Taylor, Introduction to Management Science, ch. 8: mean 24, variance 5, P(≤ 28) 0.9632."""
NETWORK: dict[str, Estimate] = {
    "A": (1, 2, 3), "B": (2, 3, 4), "C": (1, 2, 3), "D": (2, 4, 6),
    "E": (1, 4, 7), "F": (1, 2, 9), "G": (3, 4, 11), "H": (1, 2, 3),
}  # fmt: skip
"""T2: Heizer and Render, Operations Management (memory, recomputed): 15 on A-C-E-G-H, variance
3.11, P(≤ 16) 0.7146."""
BEFORE = {"A": "", "B": "", "C": "A", "D": "B", "E": "C", "F": "C", "G": "DE", "H": "FG"}
PATH = "ACEGH"


def normal(value: float) -> float:
    return (1.0 + erf(value / sqrt(2.0))) / 2.0


def textbook_variance(estimates: list[Estimate]) -> float:
    return sum(((high - low) / 6.0) ** 2 for low, _, high in estimates)


def drawn(estimates: list[Estimate], runs: int = RUNS) -> np.ndarray:
    return np.array(
        [
            pert_times(*points, chances=uniforms(seed=1, word=f"t{k}", count=runs), unit_ms=HOUR)
            for k, points in enumerate(estimates)
        ]
    )


def own_crews(after: list[list[int]]) -> Plan:
    """A plan in which every task has a crew of its own."""
    count = len(after)
    return Plan(
        crews=tuple(range(count)),
        hands=(1,) * count,
        after=tuple(map(tuple, after)),
        needs=((),) * count,
    )


def no_parts(runs: int) -> np.ndarray:
    return np.zeros((0, runs), dtype=np.int64)


def finish(plan: Plan, durations: np.ndarray) -> np.ndarray:
    order = work_order(plan)
    usable = no_parts(durations.shape[1])
    return finish_times(plan, durations=durations, usable=usable, order=order)


def series() -> np.ndarray:
    """Shop hours until a series of tasks has ended, in each run."""
    plan = own_crews([[], [0], [1], [2]])
    return finish(plan, drawn(SERIES)) / HOUR


def network_plan() -> Plan:
    keys = list(NETWORK)
    return own_crews([[keys.index(one) for one in BEFORE[key]] for key in keys])


def test_the_textbooks_own_arithmetic() -> None:
    """T1, T2: means, variances and normal probabilities as printed."""
    assert sum(float(pert_mean(*points)) for points in SERIES) == pytest.approx(24.0)
    assert textbook_variance(SERIES) == pytest.approx(5.0, abs=1e-9)
    assert normal((28 - 24) / sqrt(5.0)) == pytest.approx(0.9632, abs=5e-5)
    path = [NETWORK[key] for key in PATH]
    assert sum(float(pert_mean(*points)) for points in path) == pytest.approx(15.0)
    assert textbook_variance(path) == pytest.approx(3.11, abs=5e-3)
    assert normal((16 - 15) / sqrt(textbook_variance(path))) == pytest.approx(0.7146, abs=2e-4)


def test_a_series_has_the_published_mean() -> None:
    """T1: 24, within half a per cent."""
    assert series().mean() == pytest.approx(24.0, rel=0.005)


def test_a_series_has_the_variance_of_the_beta_distribution() -> None:
    """T1: 41/7; the printed 5 is the textbooks' ((high − low)/6)², which the beta form exceeds."""
    expected = sum(float(pert_variance(*points)) for points in SERIES)
    assert expected == pytest.approx(41.0 / 7.0)
    assert series().var() == pytest.approx(expected, rel=0.05)


def sum_chance(estimates: list[Estimate], until: float, steps: int = 400) -> float:
    """The chance that a sum of PERT estimates is at most a value, by convolving their densities.

    Each density is put on a grid as the chance of each cell, from scipy's beta distribution.
    """
    width = 1.0 / steps
    mass, offset = np.ones(1), 0.0
    for low, likely, high in estimates:
        shape = 1.0 + 4.0 * (likely - low) / (high - low)
        edges = np.arange(0.0, high - low + width / 2, width) / (high - low)
        mass = np.convolve(mass, np.diff(beta(shape, 6.0 - shape).cdf(edges)))
        offset += low + width / 2
    values = offset + width * np.arange(len(mass))
    return float(mass[values <= until].sum())


def test_the_chance_of_a_series_is_that_of_the_densities() -> None:
    """T1: 0.938 by convolution. The printed 0.9632 takes the smaller variance and a normal curve,
    which the long task's tail to 17 h denies: normal approximation does not apply to it."""
    expected = sum_chance(SERIES, 28.0)
    assert expected == pytest.approx(0.938, abs=1e-3)
    assert (series() <= 28.0).mean() == pytest.approx(expected, abs=0.01)


def test_a_path_of_a_network_has_the_published_mean_and_chance() -> None:
    """T2: 15 within half a per cent and 0.7146 within 0.01, on the critical path alone."""
    durations = drawn(list(NETWORK.values()))
    path = durations[[list(NETWORK).index(key) for key in PATH]].sum(axis=0) / HOUR
    assert path.mean() == pytest.approx(15.0, rel=0.005)
    assert (path <= 16.0).mean() == pytest.approx(0.7146, abs=0.01)


def test_a_network_ends_no_sooner_than_its_longest_path_on_average() -> None:
    """T2: a second path makes the mean greater than 15 and P(≤ 16) smaller (merge bias)."""
    hours = finish(network_plan(), drawn(list(NETWORK.values()))) / HOUR
    assert 15.0 < hours.mean() < 15.5
    assert (hours <= 16.0).mean() < 0.7146


def test_a_network_of_mean_durations_has_the_published_chain() -> None:
    """T2: 15 on A-C-E-G-H."""
    plan, order = network_plan(), work_order(network_plan())
    means = [[round(float(pert_mean(*points)))] for points in NETWORK.values()]
    runs = simulate(plan, durations=np.array(means), usable=no_parts(1), order=order)
    chain = chain_shares(plan, runs, usable=no_parts(1), order=order)
    assert runs.ends.max() == 15
    on = [key for key, share in zip(NETWORK, chain.tasks, strict=True) if share == 1.0]
    assert on == list(PATH)


# An independent way: networkx's longest path through a graph of tasks, with fixed durations.
@st.composite
def networks(draw: st.DrawFn) -> tuple[list[list[int]], list[int]]:
    count = draw(st.integers(1, 12))
    after = [
        sorted(draw(st.sets(st.integers(0, index - 1), max_size=3))) if index else []
        for index in range(count)
    ]
    return after, draw(st.lists(st.integers(1, 50), min_size=count, max_size=count))


def longest(after: list[list[int]], durations: list[int]) -> tuple[int, set[int]]:
    """The longest path's length, and the tasks that lie on some longest path, by networkx."""
    graph = networkx.DiGraph()
    for task, before in enumerate(after):
        graph.add_edge("start", task, weight=0)
        graph.add_edge(task, "end", weight=durations[task])
        for other in before:
            graph.add_edge(other, task, weight=durations[other])
    length = networkx.dag_longest_path_length(graph)
    on: set[int] = set()
    for path in networkx.all_simple_paths(graph, "start", "end"):
        if sum(graph[one][two]["weight"] for one, two in pairwise(path)) == length:
            on.update(path[1:-1])
    return length, on


@settings(max_examples=80, deadline=None)
@given(networks())
def test_fixed_durations_end_with_the_longest_path(
    case: tuple[list[list[int]], list[int]],
) -> None:
    after, durations = case
    plan = own_crews(after)
    order = work_order(plan)
    column = np.array(durations, dtype=np.int64)[:, None]
    runs = simulate(plan, durations=column, usable=no_parts(1), order=order)
    length, on = longest(after, durations)
    chain = chain_shares(plan, runs, usable=no_parts(1), order=order)
    assert runs.ends.max() == length
    assert finish(plan, column).tolist() == [length]
    assert {task for task, share in enumerate(chain.tasks) if share == 1.0} == on
    assert least_tails(plan, durations=column, order=order).max() == length
