"""How long a choice takes: draws of the uncertain inputs, weightings, what matters.

Run by itself: `python -m pytest tests/benchmarks/test_choice.py --benchmark-only`.
"""

from __future__ import annotations

from typing import Any

import pytest

from models.engineering.weighing import rank_shares, uniform_weightings
from models.seed import example_document
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.choosing import basis_of, decision_of, matters_of
from models.trade.drawn_figures import drawn_figures
from models.trade.draws import draw_inputs

DRAWS, WEIGHTINGS = 2000, 50_000


@pytest.fixture(scope="module")
def study() -> Study:
    """The shipped example with the five candidates that have a base of their own."""
    document = example_document()
    document["candidates"] = [one for one in document["candidates"] if "same_base_as" not in one][
        :5
    ]
    return parse_study(document)


def test_all_figures_over_2000_draws_of_5_candidates(benchmark: Any, study: Study) -> None:
    """Aim: 1.5 s."""
    drawn = benchmark(lambda: drawn_figures(study, draw_inputs(study, count=DRAWS)))
    assert len(drawn) == 5


def test_ranks_over_50000_weightings(benchmark: Any, study: Study) -> None:
    """Aim: 0.3 s."""
    basis = basis_of(study)
    found = benchmark(lambda: decision_of(study, basis, weightings=WEIGHTINGS))
    assert found["weightings"] == WEIGHTINGS


def test_ranks_of_5_candidates_on_6_criteria(benchmark: Any) -> None:
    values = uniform_weightings(criteria=6, count=5 * DRAWS, seed=2).reshape(DRAWS, 5, 6)
    weightings = uniform_weightings(criteria=6, count=WEIGHTINGS, seed=1)
    shares = benchmark(lambda: rank_shares(values=values, weightings=weightings))
    assert shares.shape == (5, 5)


def test_what_matters_for_the_score(benchmark: Any, study: Study) -> None:
    basis = basis_of(study)
    found = benchmark(lambda: matters_of(study, basis, "score", "steered"))
    assert found["rows"]
