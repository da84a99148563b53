"""The reference study with the figures of its independent solution, as an evaluation would give."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest

from models.quantities import METRICS
from models.study.reader import parse_study
from models.study.schema import Study

REFERENCE = Path(__file__).resolve().parents[2] / "reference"
TIPS = ("tip_forward_mps2", "tip_brake_mps2", "tip_side_mps2")


@pytest.fixture
def reference_document() -> dict[str, Any]:
    """The reference study as its file has it; every test gets its own copy."""
    return json.loads((REFERENCE / "reference-1.json").read_text(encoding="utf-8"))


@pytest.fixture
def reference(reference_document: dict[str, Any]) -> Study:
    """The reference study, read."""
    return parse_study(reference_document)


@pytest.fixture
def figures() -> dict[str, dict[str, Any]]:
    """The independent solution's metrics by candidate."""
    return json.loads((REFERENCE / "reference-1.expected.json").read_text(encoding="utf-8"))


def _run(kind: str, time_s: float) -> dict[str, Any]:
    autonomous = kind == "autonomous"
    return {
        "kind": kind,
        "time_s": time_s,
        "reason": None,
        "margin_s": 15 - time_s if autonomous else None,
        "cycles": None if autonomous else int((150 - 15) // time_s),
        "legs": [],
    }


def _limit(value: float, limit: float) -> dict[str, float]:
    return {"value": value, "limit": limit, "margin": limit - value}


@pytest.fixture
def evaluated(figures: dict[str, dict[str, Any]]) -> Callable[[Study], dict[str, Any]]:
    """Make the evaluation of a study whose candidates are among the reference's."""

    def evaluate(study: Study) -> dict[str, Any]:
        candidates = []
        for index, candidate in enumerate(study.candidates):
            given = figures[candidate.key]
            metrics = {key: given.get(key) for key in METRICS}
            metrics["legal_mass_kg"] = given["mass_kg"]
            metrics["browns_out"] = given["min_bus_voltage_v"] < study.power.brownout_v
            candidates.append(
                {
                    "key": candidate.key,
                    "name": candidate.name,
                    "layout": candidate.layout,
                    "letter": "ABCDEFGH"[index],
                    "baseline": candidate.key == study.baseline.key,
                    "metrics": metrics,
                    "routes": {
                        route.name: _run(route.kind, given[f"route_s:{route.name}"])
                        for route in study.routes
                    },
                    "worst_pose": dict.fromkeys(TIPS, study.robot.poses[-1].name),
                    "limits": {
                        "legal_mass": _limit(given["mass_kg"], study.rules.mass_limit_kg),
                        "perimeter": _limit(given["perimeter_m"], study.rules.perimeter_limit_m),
                        "height": _limit(1.05, study.rules.height_limit_m),
                    },
                }
            )
        return {"study": study.name, "baseline": study.baseline.key, "candidates": candidates}

    return evaluate


@pytest.fixture
def payload(reference: Study, evaluated: Callable[[Study], dict[str, Any]]) -> dict[str, Any]:
    """The evaluation of the reference study."""
    return evaluated(reference)


@pytest.fixture
def with_figures(payload: dict[str, Any]) -> Callable[..., dict[str, Any]]:
    """Make the reference's evaluation with some figures of one candidate replaced."""

    def replace(key: str, **metrics: Any) -> dict[str, Any]:
        changed = deepcopy(payload)
        next(one for one in changed["candidates"] if one["key"] == key)["metrics"].update(metrics)
        return changed

    return replace
