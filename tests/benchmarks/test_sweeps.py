"""How long the explorer takes: 20,000 designs, what nothing beats, the tie, the limits.

Run by itself: `python -m pytest tests/benchmarks/test_sweeps.py --benchmark-only`.
"""

from __future__ import annotations

from typing import Any

import pytest

from models.engineering.sweep_search import never_beaten
from models.seed import example_document
from models.study.reader import parse_study
from models.trade.exploring import (
    ExploreSettings,
    along_ratio,
    bench_of,
    design_of,
    explore,
    figures_at,
    offers_of,
    sweep,
    sweep_axes,
)
from models.trade.limit_finder import LimitsWanted, find_limits

KEYS = ("tank", "steered", "mecanum")


def subject(key: str) -> tuple[Any, Any, Any, Any]:
    study = parse_study(example_document())
    candidate = study.candidate(key)
    bench, design = bench_of(study, candidate), design_of(candidate)
    return study, candidate, bench, design


@pytest.mark.parametrize("key", KEYS)
def test_a_sweep_of_twenty_thousand_designs(benchmark: Any, key: str) -> None:
    study, candidate, bench, design = subject(key)
    axes = sweep_axes(bench, design, offers_of(study, candidate), {})
    whole = benchmark(sweep, bench, axes)
    assert len(whole.designs) == 20_000


@pytest.mark.parametrize("key", KEYS)
def test_everything_that_the_explorer_says(benchmark: Any, key: str) -> None:
    study, candidate, _, _ = subject(key)
    found = benchmark(explore, study, candidate, ExploreSettings())
    assert found["unbeaten_count"] > 0


def test_what_nothing_beats_of_twenty_thousand(benchmark: Any) -> None:
    study, candidate, bench, design = subject("steered")
    figures = sweep(bench, sweep_axes(bench, design, offers_of(study, candidate), {})).figures
    kept = benchmark(never_beaten, figures.stop_time, figures.push_force, figures.least_voltage)
    assert kept.any()


def test_the_tie_along_the_ratio(benchmark: Any) -> None:
    study, candidate, bench, design = subject("steered")
    found = benchmark(along_ratio, bench, design, offers_of(study, candidate), 0.05)
    assert found["tie_band"]["intervals"]


def test_the_limits_of_one_design(benchmark: Any) -> None:
    _, _, bench, design = subject("steered-fast")
    found = benchmark(find_limits, bench, design, LimitsWanted(1.0))
    assert found["status"] == "found"


def test_one_design_alone(benchmark: Any) -> None:
    _, _, bench, design = subject("steered")
    figures = benchmark(
        figures_at, bench, ratio=design.ratio, diameter_m=design.diameter_m,
        stator_a=design.stator_a, supply_a=design.supply_a,
    )  # fmt: skip
    assert figures.stop_time[0] > 0
