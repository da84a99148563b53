"""The side-by-side table as plain text."""

from __future__ import annotations

from typing import Any

import pytest

from models.study import parse_study
from models.trade.comparison import compare, value_words
from models.trade.evaluation import evaluate_study
from models.units import UnitSystem
from webapp.text_table import side_by_side


@pytest.fixture
def payload(document: dict[str, Any]) -> dict[str, Any]:
    return evaluate_study(parse_study(document))


@pytest.mark.parametrize("system", list(UnitSystem))
def test_every_figure_of_every_candidate_is_in_it(
    payload: dict[str, Any], document: dict[str, Any], system: UnitSystem
) -> None:
    text = side_by_side(payload, parse_study(document), system, width=160)
    for group in compare(payload).groups:
        assert group.words in text
        for row in group.rows:
            for cell in row.cells:
                assert value_words(row, cell, system) in text


@pytest.mark.parametrize("width", [60, 80, 120])
def test_candidates_that_do_not_fit_beside_each_other_follow_below(
    payload: dict[str, Any], document: dict[str, Any], width: int
) -> None:
    text = side_by_side(payload, parse_study(document), UnitSystem.SI, width=width)
    lines = text.splitlines()
    assert max(len(line) for line in lines) <= width
    for candidate in payload["candidates"]:
        assert any(line.lstrip().startswith(f"{candidate['letter']} ") or
                   f"  {candidate['letter']} " in line for line in lines)  # fmt: skip


def test_it_says_that_figures_are_estimates_and_of_which_model(
    payload: dict[str, Any], document: dict[str, Any]
) -> None:
    text = side_by_side(payload, parse_study(document), UnitSystem.SI, width=100)
    assert f"Model {payload['model_version']}. All figures are estimates." in text
