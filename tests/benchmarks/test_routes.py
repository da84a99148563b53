"""How long routes take to time: with poses, a margin and passed points, and without.

Run by itself: `python -m pytest tests/benchmarks/test_routes.py --benchmark-only`.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest

from models.seed import example_document
from models.study.reader import parse_study
from models.trade.driving import base_of, runs_of
from models.trade.evaluation import evaluate_study
from models.trade.route_limits import faster_drive, pose_limits

CANDIDATES = ["tank", "steered"]


def document(*, plain: bool) -> dict[str, Any]:
    """The shipped example, or the same without poses, margin and passed points."""
    study = copy.deepcopy(example_document())
    if plain:
        study["yardsticks"].pop("tip_margin", None)
        for route in study["routes"]:
            for leg in route["legs"]:
                for name in ("pose", "pass", "radius_m"):
                    leg.pop(name, None)
    return dict(study)


@pytest.mark.parametrize("key", CANDIDATES)
@pytest.mark.parametrize("plain", [True, False], ids=["plain", "poses-and-passes"])
def test_all_runs_of_one_candidate(benchmark: Any, key: str, plain: bool) -> None:
    study = parse_study(document(plain=plain))
    candidate = study.candidate(key)
    base = base_of(study, candidate)
    runs = benchmark(lambda: runs_of(study, candidate, base).routes(0.1))
    assert all(run.times.whole.sum() > 0 for run in runs)


@pytest.mark.parametrize("key", CANDIDATES)
@pytest.mark.parametrize("plain", [True, False], ids=["plain", "poses-and-passes"])
def test_all_figures_of_one_candidate(benchmark: Any, key: str, plain: bool) -> None:
    study = parse_study(document(plain=plain))
    payload = benchmark(evaluate_study, study, keys=[key])
    assert payload["candidates"][0]["metrics"]["sprint_time_s"] > 0


def test_what_poses_are_held_to(benchmark: Any) -> None:
    study = parse_study(document(plain=False))
    assert len(benchmark(pose_limits, study)) == len(study.candidates)


def test_what_a_faster_drive_is_worth(benchmark: Any) -> None:
    study = parse_study(document(plain=False))
    assert len(benchmark(faster_drive, study)) == len(study.candidates)
