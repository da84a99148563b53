"""Speed of the arrangement search: 16 orientations × 21 × 21 insets against 30 keep-outs.

    python -m pytest tests/benchmarks/test_arrangements.py --override-ini addopts= -q

Aim: 0.1 s for the search and its ranking.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from models.engineering.arrangement_ranking import Ranked, best_arrangements
from models.engineering.arrangements import (
    Arrangements,
    Surroundings,
    combined,
    corner_options,
    inset_steps,
)
from models.engineering.placement import CORNERS
from models.engineering.prisms import Prisms, prisms

MODULE = [
    prisms(
        [
            [[-0.11, -0.11], [0.06, -0.11], [0.06, 0.06], [-0.11, 0.06]],
            [[-0.11, -0.11], [-0.01, -0.11], [-0.01, -0.01], [-0.11, -0.01]],
        ],
        bottoms=[0.045, 0.1],
        tops=[0.1, 0.19],
    ),
    prisms(
        [[[-0.13, -0.13], [0.06, -0.13], [0.06, 0.06], [-0.13, 0.06]]], bottoms=[0.045], tops=[0.12]
    ),
]
NOTHING = prisms([], bottoms=[], tops=[])


def keepouts(count: int) -> Prisms:
    draw = np.random.default_rng(7)
    plans, bottoms = [], []
    for _ in range(count):
        x, y = draw.uniform([-0.12, -0.12], [0.04, 0.04])
        length, width = draw.uniform(0.03, 0.07, 2)
        plans.append([[x, y], [x + length, y], [x + length, y + width], [x, y + width]])
        bottoms.append(draw.uniform(0.0, 0.2))
    return prisms(plans, bottoms=bottoms, tops=np.array(bottoms) + 0.15)


def search(around: Surroundings, insets: Any) -> tuple[Arrangements, Ranked]:
    options = [
        corner_options(
            corner=corner, envelopes=MODULE, reach=(0.275, 0.255), insets=insets, around=around
        )
        for corner in CORNERS
    ]
    found = combined(
        options, envelopes=MODULE, allowed=[one.free for one in options], mirrored=True
    )
    return found, best_arrangements(found, order="support-area", most=100)


@pytest.mark.parametrize("crowded", [True, False], ids=["30 keep-outs", "no keep-outs"])
def test_search(benchmark: Any, crowded: bool) -> None:
    around = Surroundings(
        keepouts(30) if crowded else NOTHING,
        np.full(30 if crowded else 0, 0.005),
        NOTHING,
        np.array([0.35, 0.33]),
        1.2,
    )
    insets = inset_steps(largest=0.1, step=0.005)
    found, ranked = benchmark(search, around, insets)
    assert found.total > 0
    assert len(ranked.choice) == 100
