"""What if: single changes of a plan, tried without saving, and the list of what helps."""

from __future__ import annotations

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest

from models.errors import StudyRefusedError
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.plan_changes import what_helps, what_if, with_change
from models.trade.plan_costs import cost_figures
from models.trade.readiness import plan_of

RUNS = 2000
SUNDAYS = {"kind": "meeting", "weekday": "sun", "start": "13:00", "hours": 4}
Document = dict[str, Any]


@pytest.fixture
def changed(reference_document: Document) -> Callable[[Callable[[Document], None]], Study]:
    """Make the reference study with something else."""

    def change(edit: Callable[[Document], None]) -> Study:
        document = deepcopy(reference_document)
        edit(document)
        return parse_study(document)

    return change


def steered(document: Document) -> Document:
    return next(one for one in document["candidates"] if one["key"] == "swerve")


def chance(study: Study) -> float:
    (plan,) = plan_of(study, RUNS, keys=["swerve"])["candidates"]
    return float(plan["ready_probability"])


@pytest.mark.parametrize(
    ("change", "edit"),
    [
        (SUNDAYS, lambda one: one["schedule"]["meetings"].append(
            {"weekday": "sun", "start": "13:00", "hours": 4})),
        ({"kind": "extra", "date": "2026-03-15", "start": "13:00", "hours": 4},
         lambda one: one["schedule"]["extra"].append(
            {"date": "2026-03-15", "start": "13:00", "hours": 4})),
        ({"kind": "person", "crew": "workshop"},
         lambda one: one["schedule"]["crews"].update(workshop=3)),
        ({"kind": "express", "purchase": "modules", "lead_days": [1, 2, 3]},
         lambda one: steered(one)["purchases"][1].update(lead_days=[1, 2, 3])),
        ({"kind": "order", "purchase": "controllers", "order_on": "2026-03-02"},
         lambda one: steered(one)["purchases"][2].update(order_on="2026-03-02")),
        ({"kind": "ready_by", "date": "2026-03-27"},
         lambda one: one["schedule"].update(ready_by="2026-03-27")),
        ({"kind": "drop", "task": "practice"}, lambda one: steered(one)["tasks"].pop()),
    ],
    ids=lambda value: value["kind"] if isinstance(value, dict) else "",
)  # fmt: skip
def test_a_change_tried_is_the_change_made(
    reference: Study,
    changed: Callable[..., Study],
    change: dict[str, Any],
    edit: Callable[[Document], Any],
) -> None:
    found = what_if(reference, "swerve", change, runs=RUNS)
    assert found["before"] == chance(reference)
    assert found["after"] == chance(changed(edit))
    assert found["after"] >= found["before"]
    assert found["change"] == change


def test_it_is_said_in_one_line(reference: Study) -> None:
    found = what_if(reference, "swerve", SUNDAYS)
    assert found["words"] == "One more meeting every Sunday, 4 h: 34 % → 68 %."
    assert (found["date_p50_before"], found["date_p50_after"]) == ("2026-03-26", "2026-03-24")


def test_several_changes_at_once(reference: Study) -> None:
    person = {"kind": "person", "crew": "workshop"}
    both = what_if(reference, "swerve", SUNDAYS, person, runs=RUNS)
    assert both["title"] == "One more meeting every Sunday, 4 h and one more person in workshop"
    assert both["after"] >= what_if(reference, "swerve", SUNDAYS, runs=RUNS)["after"]


def test_nothing_is_changed_by_trying(reference: Study) -> None:
    before = reference.model_dump_json()
    what_if(reference, "swerve", SUNDAYS, {"kind": "drop", "task": "mount"}, runs=50)
    assert reference.model_dump_json() == before


def test_what_follows_a_dropped_task_follows_what_was_before_it(reference: Study) -> None:
    made = with_change(reference, "swerve", {"kind": "drop", "task": "mount"}).study
    wire = next(task for task in made.candidate("swerve").tasks if task.key == "wire")
    assert wire.after == ("strip", "frame", "modules")


def test_an_express_of_its_own_says_what_it_costs(changed: Callable[..., Study]) -> None:
    def edit(document: Document) -> None:
        express = {"lead_days": [1, 2, 4], "extra_cost": 60}
        steered(document)["purchases"][1]["express"] = express

    found = what_if(changed(edit), "swerve", {"kind": "express", "purchase": "modules"}, runs=RUNS)
    assert found["extra_cost"] == 60.0
    assert found["gain"] > 0.2


@pytest.mark.parametrize(
    ("change", "place", "words"),
    [
        ({"kind": "paint"}, "kind", "no change “paint”"),
        (SUNDAYS | {"weekday": "son"}, "weekday", "Did you mean sun"),
        (SUNDAYS | {"hours": 99}, "hours", "99 h is out of range"),
        ({"kind": "extra", "date": "soon", "start": "13:00", "hours": 4}, "date", "not a date"),
        ({"kind": "person", "crew": "workshp"}, "crew", "did you mean workshop"),
        ({"kind": "express", "purchase": "tube"}, "purchase", "Tube is in stock"),
        ({"kind": "express", "purchase": "modules"}, "lead_days", "No express is known"),
        ({"kind": "express", "purchase": "glue"}, "purchase", "no purchase “glue”"),
        ({"kind": "order", "purchase": "modules"}, "order_on", "State the day"),
        ({"kind": "drop", "task": "wir"}, "task", "did you mean wire"),
        ({"kind": "ready_by", "date": "2026-01-01"}, "date", "before work begins"),
        ({"kind": "ready_by"}, "date", "not a date"),
    ],
)
def test_a_change_that_cannot_be_made_says_why(
    reference: Study, change: dict[str, Any], place: str, words: str
) -> None:
    with pytest.raises(StudyRefusedError) as error:
        what_if(reference, "swerve", change, runs=10)
    assert [fault.place for fault in error.value.faults] == [place]
    assert words in error.value.faults[0].message


def test_without_tasks_or_calendar_there_is_nothing_to_try(
    reference: Study, changed: Callable[..., Study]
) -> None:
    with pytest.raises(StudyRefusedError, match="no tasks yet"):
        what_if(reference, "mecanum", SUNDAYS)
    without = changed(lambda document: document.pop("schedule"))
    with pytest.raises(StudyRefusedError, match="no calendar yet"):
        what_if(without, "swerve", SUNDAYS)


class TestWhatHelps:
    def test_the_most_helpful_comes_first(self, reference: Study) -> None:
        found = what_helps(reference, "swerve", RUNS)
        kinds = [entry["change"]["kind"] for entry in found]
        made = [entry["gain"] for entry in found if entry["change"]["kind"] != "drop"]
        assert made == sorted(made, reverse=True)
        assert kinds[0] == "ready_by"
        assert kinds.index("drop") == len(made)

    def test_each_gain_is_what_the_change_gives(self, reference: Study) -> None:
        for entry in what_helps(reference, "swerve", RUNS)[:4]:
            assert entry["after"] == what_if(
                reference, "swerve", entry["change"], runs=RUNS
            )["after"]  # fmt: skip

    def test_a_meeting_is_like_those_of_its_kind_of_day(self, reference: Study) -> None:
        tried = {
            entry["change"]["weekday"]: entry["change"]
            for entry in what_helps(reference, "swerve", RUNS)
            if entry["change"]["kind"] == "meeting"
        }
        assert tried["sun"] == {"kind": "meeting", "weekday": "sun", "start": "10:00", "hours": 7.0}
        assert tried["mon"]["hours"] == 3.0
        assert "sat" not in tried

    def test_what_does_not_help_is_left_out(self, reference: Study) -> None:
        changes = [entry["change"] for entry in what_helps(reference, "swerve", RUNS)]
        assert {"kind": "drop", "task": "code"} not in changes
        assert {"kind": "person", "crew": "wiring"} not in changes


class TestCosts:
    def test_what_is_in_stock_costs_nothing_more(self, reference: Study) -> None:
        costs = cost_figures(reference.candidate("swerve"), reference.schedule, baseline=False)
        assert costs["to_buy"] == 4 * 310 + 4 * 110
        assert costs["all"] == 4 * 18 + 4 * 310 + 8 * 110
        assert costs["over_by"] is None
        assert costs["mass_kg"] is None

    @pytest.mark.parametrize(
        ("budget", "over", "left"), [(1500, 180.0, None), (2000, None, 320.0), (1680, None, 0.0)]
    )
    def test_the_budget_is_a_limit(
        self, changed: Callable[..., Study], budget: float, over: float | None, left: float | None
    ) -> None:
        study = changed(lambda document: document["schedule"].update(budget=budget))
        costs = cost_figures(study.candidate("swerve"), study.schedule, baseline=False)
        assert (costs["over_by"], costs["left"]) == (over, left)

    def test_spares_are_paid_for_and_not_carried(self, changed: Callable[..., Study]) -> None:
        def edit(document: Document) -> None:
            steered(document)["purchases"][1].update(quantity=5, spares=1, mass_kg=2.5)

        study = changed(edit)
        costs = cost_figures(study.candidate("swerve"), study.schedule, baseline=False)
        assert costs["to_buy"] == 5 * 310 + 4 * 110
        assert costs["mass_kg"] == 10.0
        assert costs["mass_not_given"] == ["tube", "controllers"]

    def test_a_change_without_purchases_has_no_known_cost(self, reference: Study) -> None:
        mecanum = cost_figures(reference.candidate("mecanum"), reference.schedule, baseline=False)
        assert mecanum["to_buy"] is None
        tank = cost_figures(reference.candidate("tank"), reference.schedule, baseline=True)
        assert tank["to_buy"] == 0.0
