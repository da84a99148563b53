"""Invented studies of every layout against time integration and bracketed roots.

`tests/independent_solution.py` shares no code with the program. A hundred times as many seeds were
tried by hand while this was written; the ones kept here have between them every limit, grip and
tip bounds, insets, a dropped centre axle, omni wheels on an axle and runs that reach top speed.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study
from tests.independent_solution import Solution
from tests.random_studies import random_study

CASES = [
    ("tank", 1), ("tank", 2), ("tank", 7), ("tank", 9), ("tank", 16),
    ("swerve", 1), ("swerve", 2), ("swerve", 6), ("swerve", 36),
    ("mecanum", 0), ("mecanum", 5), ("mecanum", 36),
    ("omni", 0), ("omni", 4), ("omni", 34),
]  # fmt: skip


@pytest.mark.parametrize(("layout", "seed"), CASES)
def test_an_invented_study_agrees_with_the_independent_solution(layout: str, seed: int) -> None:
    document = random_study(seed, layout)
    found = evaluate_study(parse_study(document))["candidates"][0]
    solution = Solution(document, document["candidates"][0])
    expected = solution.metrics()
    figures: dict[str, Any] = {name: found["metrics"][name] for name in expected}
    words = {name: v for name, v in expected.items() if isinstance(v, str | bool) or v is None}
    numbers = {name: value for name, value in expected.items() if name not in words}
    assert {name: figures[name] for name in words} == words
    assert {name: figures[name] for name in numbers} == pytest.approx(numbers, rel=1e-6, abs=1e-9)
    route = solution.route_time(document["routes"][0])
    time = found["routes"]["run"]["time_s"]
    assert time is None if math.isnan(route) else time == pytest.approx(route, rel=1e-6)
