"""Speed of the plan: 10,000 runs of 60 tasks and 12 purchases for each of five candidates.

    python -m pytest tests/benchmarks/test_plan.py --override-ini addopts= -q

Aim: 1 s for drawing and scheduling all runs (measured on one core: 0.26 s). All that the page
shows of them, with 13 latest dates for each candidate, takes 1.6 s of one core at this size and
0.2 s for the example study. Nothing is kept from one round to the next.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from models.engineering.schedule_sampling import pert_quantiles
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.plan_changes import what_helps
from models.trade.plan_runs import Draws, calendar_of, luck_of, outcome_of, work_of
from models.trade.readiness import plan_figures, plan_of
from webapp.shared.example import example_document

CREWS = {"workshop": 3, "wiring": 2, "code": 2, "drivers": 1}
TASKS, PURCHASES, CANDIDATES = 60, 12, 5


def tasks(draw: np.random.Generator) -> list[dict[str, Any]]:
    """Tasks each of which follows up to three before it and needs up to two purchases."""
    found: list[dict[str, Any]] = []
    for index in range(TASKS):
        low, likely, high = np.sort(draw.uniform(0.5, 5.0, 3)).round(2).tolist()
        before = draw.choice(index, size=min(index, int(draw.integers(0, 4))), replace=False)
        needs = draw.choice(PURCHASES, size=int(draw.integers(0, 3)), replace=False)
        found.append(
            {
                "key": f"t{index}",
                "name": f"Task {index}",
                "crew": list(CREWS)[index % 4],
                "hours": [low, likely, high],
                "after": [f"t{one}" for one in before],
                "needs": [f"part {one}" for one in needs],
            }
        )
    return found


def purchases(draw: np.random.Generator) -> list[dict[str, Any]]:
    found = []
    for index in range(PURCHASES):
        lead = np.sort(draw.uniform(2, 20, 3)).round(1).tolist()
        found.append({"name": f"part {index}", "quantity": 2, "lead_days": lead})
    return found


@pytest.fixture(scope="module")
def crowded() -> Study:
    """The example study with five candidates of 60 tasks, no two with the same hours."""
    draw = np.random.default_rng(7)
    document = example_document()
    document["schedule"] |= {
        "start": "2027-02-01", "ready_by": "2027-06-30", "crews": CREWS, "gates": [],
    }  # fmt: skip
    document["schedule"].pop("give_up_base_on", None)
    first = next(one for one in document["candidates"] if not one.get("same_base_as"))
    document["candidates"] = [
        {
            **first,
            "key": f"c{number}",
            "name": f"Candidate {number}",
            "baseline": number == 0,
            "tasks": tasks(draw),
            "purchases": purchases(draw),
        }
        for number in range(CANDIDATES)
    ]
    return parse_study(document)


def forgotten() -> None:
    """Forget what is kept between calls, so that every round starts from nothing."""
    luck_of.cache_clear()
    pert_quantiles.cache_clear()


def schedules(study: Study) -> list[float]:
    """Draw and schedule all runs of all candidates, no more."""
    forgotten()
    assert study.schedule is not None
    meetings = calendar_of(study.schedule)
    draws = Draws(runs=10_000, seed=1)
    return [
        float(outcome_of(work_of(study.schedule, one, draws), meetings).finish.mean())
        for one in study.candidates
    ]


def test_drawing_and_scheduling(benchmark: Any, crowded: Study) -> None:
    assert min(benchmark(schedules, crowded)) > 0


def test_the_whole_plan(benchmark: Any, crowded: Study) -> None:
    payload = benchmark.pedantic(plan_of, (crowded,), setup=forgotten, rounds=5)
    chances = [one["ready_probability"] for one in payload["candidates"]]
    assert all(0 < chance <= 1 for chance in chances)


def test_the_figures_of_the_catalogue(benchmark: Any, crowded: Study) -> None:
    assert len(benchmark.pedantic(plan_figures, (crowded,), setup=forgotten, rounds=5)) == 5


def test_what_helps_one_candidate(benchmark: Any, crowded: Study) -> None:
    assert isinstance(benchmark.pedantic(what_helps, (crowded, "c1"), rounds=3), list)
