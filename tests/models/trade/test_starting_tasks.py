"""Lists of tasks to start from: each is a plan that holds, whatever it is put behind."""

from __future__ import annotations

from typing import Any

import pytest

from models.seed import example_document, task_templates
from models.study.reader import parse_study
from models.study.sections import apply_edits
from models.trade.plan_changes import what_if
from models.trade.readiness import plan_of
from models.trade.starting_tasks import alternative_edits, template_edits

KEYS = sorted(task_templates())
ASKED = {
    "design", "order", "assemble", "wire", "program", "tune", "bumpers", "inspection", "spare",
    "practice", "routines", "machine",
}  # fmt: skip


@pytest.fixture
def document() -> dict[str, Any]:
    return example_document()


@pytest.mark.parametrize("template", KEYS)
@pytest.mark.parametrize("hands", [1, 3])
def test_a_list_can_be_worked_off_by_few_and_by_many(
    document: dict[str, Any], template: str, hands: int
) -> None:
    candidate = document["candidates"][1]
    candidate["tasks"], candidate["purchases"] = [], []
    crews = {task["crew"] for task in task_templates()[template]["tasks"]}
    document["schedule"]["crews"] |= dict.fromkeys(crews, hands)
    edits = template_edits(document, candidate["key"], task_templates()[template])
    study = parse_study(apply_edits(document, edits))
    plan = plan_of(study, runs=200, keys=[candidate["key"]])["candidates"][0]
    assert plan["state"] == "simulated"
    assert plan["date_p90"] > study.schedule.start.isoformat()
    assert set(plan["blame"]) >= {task["key"] for task in plan["tasks"]}


@pytest.mark.parametrize("template", KEYS)
def test_a_list_has_what_a_change_takes_with_rising_ranges(template: str) -> None:
    one = task_templates()[template]
    assert {task["key"] for task in one["tasks"]} >= ASKED
    kinds = {task["key"]: task.get("kind", "work") for task in one["tasks"]}
    assert (kinds["practice"], kinds["routines"]) == ("practice", "routines")
    needed = {name for task in one["tasks"] for name in task.get("needs", ())}
    assert needed <= {purchase["name"] for purchase in one["purchases"]}
    for points in [
        *(task["hours"] for task in one["tasks"]),
        *(purchase["lead_days"] for purchase in one["purchases"]),
    ]:
        low, likely, high = (point["value"] for point in points)
        assert 0 < low < likely < high
        assert {point["source"] for point in points} == {"practice"}


def test_a_calendar_without_crews_is_left_alone(document: dict[str, Any]) -> None:
    document["schedule"]["crews"] = {}
    edits = template_edits(document, "mecanum", task_templates()["gearing"])
    assert list(edits) == ["candidates/mecanum"]


def test_what_is_there_is_not_changed(document: dict[str, Any]) -> None:
    key = document["candidates"][1]["key"]
    before = [dict(task) for task in document["candidates"][1]["tasks"]]
    edits = template_edits(document, key, task_templates()["steered"])
    assert edits[f"candidates/{key}"]["tasks"][: len(before)] == before
    assert document["candidates"][1]["tasks"] == before


def test_another_use_has_the_baselines_base_and_its_own_chance(document: dict[str, Any]) -> None:
    baseline = parse_study(document).baseline
    with_use = apply_edits(document, alternative_edits(document, baseline.key))
    key = with_use["candidates"][-1]["key"]
    edits = template_edits(with_use, key, task_templates()["gearing"])
    study = parse_study(apply_edits(with_use, edits))
    added = study.candidate(key)
    assert (added.layout, added.drive) == (baseline.layout, baseline.drive)
    tried = what_if(study, key, {"kind": "drop", "task": added.tasks[0].key}, runs=200)
    assert 0 <= tried["before"] <= tried["after"] <= 1
