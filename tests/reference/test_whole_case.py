"""Every figure of the reference case against its independent solution.

That solution integrated over time at a relative tolerance of 1e-9 and searched for roots in
brackets. Its peak currents and energies were read at the steps of the integration, which leaves
them a hundred-thousandth short of the kink between two limits; all else agrees far better.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from models.study.reader import parse_study
from models.trade.evaluation import evaluate_study

HERE = Path(__file__).resolve().parent
DOCUMENT = json.loads((HERE / "reference-1.json").read_text(encoding="utf-8"))
EXPECTED = json.loads((HERE / "reference-1.expected.json").read_text(encoding="utf-8"))
READ_AT_STEPS = {"peak_bus_current_a", "min_bus_voltage_v", "sprint_energy_j"}

FIGURES = [
    pytest.param(key, name, value, id=f"{key}-{name}")
    for key, figures in EXPECTED.items()
    for name, value in figures.items()
    if value is not None
]


@pytest.fixture(scope="module")
def found() -> dict[str, dict[str, Any]]:
    payload = evaluate_study(parse_study(DOCUMENT))
    return {
        one["key"]: {
            **one["metrics"],
            **{f"route_s:{name}": run["time_s"] for name, run in one["routes"].items()},
        }
        for one in payload["candidates"]
    }


@pytest.mark.parametrize(("key", "name", "expected"), FIGURES)
def test_a_figure_agrees_with_the_independent_solution(
    found: dict[str, dict[str, Any]], key: str, name: str, expected: float | str | bool
) -> None:
    value = found[key][name]
    if isinstance(expected, str | bool):
        assert value == expected
    else:
        share = 1e-5 if name in READ_AT_STEPS else 1e-6
        assert value == pytest.approx(expected, rel=share, abs=1e-12)
