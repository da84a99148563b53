"""Routes with poses, a margin and passed points against time integration.

`tests/independent_routes.py` shares no code with the program. Twelve seeds of each layout were
tried by hand; the ones kept have between them every pose, no margin and one, backwards driving,
corners that cap the speed and corners that do not, and a leg entered at its top speed.
"""

from __future__ import annotations

import math

import pytest

from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study
from tests.independent_routes import Routes
from tests.random_studies import random_passes

CASES = [("tank", 0), ("tank", 3), ("swerve", 1), ("swerve", 2), ("mecanum", 0), ("omni", 1)]


@pytest.mark.parametrize(("layout", "seed"), CASES)
def test_a_route_with_passed_points_agrees_with_time_integration(layout: str, seed: int) -> None:
    document = random_passes(seed, layout)
    found = evaluate_study(parse_study(document))["candidates"][0]["routes"]["through"]
    expected = Routes(document, document["candidates"][0]).route_time(document["routes"][1])
    assert sum(leg["pass"] for leg in found["legs"]) >= 2
    if math.isnan(expected):
        assert found["time_s"] is None
    else:
        assert found["time_s"] == pytest.approx(expected, rel=1e-6)
