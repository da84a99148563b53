"""How long matches on batteries take.

Run by itself: `python -m pytest tests/benchmarks/test_power.py --benchmark-only`.
"""

from __future__ import annotations

from typing import Any

from models.seed import example_document
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.match import match_of
from models.trade.power_figures import power_figures


def five_candidates(batteries: int) -> Study:
    """The example with five candidates; the section's own battery counts as one."""
    case = example_document()
    case["candidates"] = case["candidates"][:5]
    case["power"]["batteries"] = case["power"]["batteries"][: batteries - 1]
    case.pop("decision", None)
    return parse_study(case)


def test_five_candidates_on_three_batteries(benchmark: Any) -> None:
    payload = benchmark(match_of, five_candidates(3))
    assert payload["match_s"] == 150
    assert all(len(one["classes"]) == 3 for one in payload["candidates"])


def test_the_figures_of_five_candidates(benchmark: Any) -> None:
    found = benchmark(power_figures, five_candidates(4))
    assert all(one["match_min_voltage_v"] > 0 for one in found.values())
