"""The plan of a study: the reference, a calendar worked out on paper, what holds for any plan."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.errors import OutOfRangeError
from models.quantities import metrics_made_by
from models.study.reader import parse_study
from models.study.schema import Study
from models.trade.plan_runs import Draws, calendar_of, day_number, outcome_of, work_of
from models.trade.readiness import plan_figures, plan_of

Document = dict[str, Any]


def one(payload: dict[str, Any], key: str) -> dict[str, Any]:
    return next(candidate for candidate in payload["candidates"] if candidate["key"] == key)


def task(key: str, hours: Any, crew: str = "workshop", **more: Any) -> dict[str, Any]:
    points = hours if isinstance(hours, list) else [hours] * 3
    return {"key": key, "name": key.capitalize(), "crew": crew, "hours": points, **more}


@pytest.fixture
def planned(document: Document) -> Callable[..., Study]:
    """Make a study with a paper calendar and the tasks and purchases given.

    Three meetings of 3 h a week, Monday, Wednesday and Friday, from Monday 3 March 2031; Friday
    7 March is a day off.
    """

    def make(
        tasks: list[dict[str, Any]],
        purchases: list[dict[str, Any]] | None = None,
        **schedule: Any,
    ) -> Study:
        document["schedule"] = {
            "start": "2031-03-03",
            "ready_by": "2031-03-14",
            "meetings": [
                {"weekday": day, "start": "18:00", "hours": 3} for day in ("mon", "wed", "fri")
            ],
            "days_off": ["2031-03-07"],
            "crews": {"workshop": 1, "wiring": 1, "code": 1, "drivers": 1},
        } | schedule
        document["candidates"][1] |= {"tasks": tasks, "purchases": purchases or []}
        return parse_study(deepcopy(document))

    return make


class TestReference:
    """What an independent solution found: 0.33906, and 22, 26 and 28 March."""

    @pytest.mark.parametrize("seed", [1, 2, 3])
    @pytest.mark.parametrize("key", ["swerve", "swerve-tall"])
    def test_chance_and_dates(self, reference: Study, key: str, seed: int) -> None:
        plan = one(plan_of(reference, seed=seed, keys=[key]), key)
        # three standard errors of both samples, of 10,000 runs and as many at least
        assert plan["ready_probability"] == pytest.approx(0.33906, abs=0.02)
        dates = [plan[f"date_p{percent}"] for percent in (10, 50, 90)]
        assert dates == ["2026-03-22", "2026-03-26", "2026-03-28"]

    def test_more_runs_come_nearer(self, reference: Study) -> None:
        plan = one(plan_of(reference, 200_000, keys=["swerve"]), "swerve")
        assert plan["ready_probability"] == pytest.approx(0.33906, abs=0.005)

    def test_the_baseline_is_ready_and_an_empty_plan_says_nothing(self, reference: Study) -> None:
        payload = plan_of(reference, 100)
        assert one(payload, "tank")["ready_probability"] == 1.0
        assert one(payload, "tank")["date_p90"] == "2026-03-02"
        mecanum = one(payload, "mecanum")
        assert mecanum["ready_probability"] is None
        assert mecanum["state"] == "no tasks"
        assert "No tasks" in mecanum["notes"][0]

    def test_the_payload_is_json_without_odd_numbers(self, reference: Study) -> None:
        json.dumps(plan_of(reference, 500), allow_nan=False)

    def test_the_same_study_gives_the_same_figures(self, reference: Study) -> None:
        assert plan_of(reference, 500) == plan_of(reference, 500)
        assert plan_of(reference, 500) != plan_of(reference, 500, seed=2)

    def test_these_figures_on_every_machine(self, reference: Study) -> None:
        """Pinned: own output of 10,000 runs with seed 1."""
        plan = one(plan_of(reference), "swerve")
        assert plan["ready_probability"] == 0.3374
        assert plan["blame"]["controllers"] == 0.1264
        assert plan["practice"]["hours_p90"] == pytest.approx(4.647513333, abs=1e-6)

    def test_equal_tasks_have_equal_luck(self, reference: Study) -> None:
        payload = plan_of(reference, 500)
        chances = {one(payload, key)["ready_probability"] for key in ("swerve", "swerve-tall")}
        assert len(chances) == 1


class TestOnPaper:
    """Fixed durations on the paper calendar: Mon 3, Wed 5, Mon 10, Wed 12, Fri 14 March …"""

    def test_tasks_go_on_from_meeting_to_meeting_over_a_day_off(
        self, planned: Callable[..., Study]
    ) -> None:
        # 4 h: Monday's 3 and one on Wednesday; then 5 h: two on Wednesday, three on Monday the 10th
        study = planned([task("frame", 4), task("mount", 5, after=["frame"])])
        tasks = one(plan_of(study, 10), "quick")["tasks"]
        assert tasks[0]["start_p50_at"] == "2031-03-03T18:00"
        assert tasks[0]["end_p50_at"] == "2031-03-05T19:00"
        assert tasks[1]["start_p50_at"] == "2031-03-05T19:00"
        assert tasks[1]["end_p50_at"] == "2031-03-10T21:00"

    def test_a_part_between_two_meetings_waits_for_the_next(
        self, planned: Callable[..., Study]
    ) -> None:
        # ordered on Monday at 0:00, 2.9 days: Wednesday 21:36, behind that meeting; Friday is off
        part = {"name": "modules", "quantity": 4, "lead_days": [2.9, 2.9, 2.9]}
        study = planned(
            [task("frame", 2), task("modules", 4, needs=["modules"], after=["frame"])], [part]
        )
        plan = one(plan_of(study, 10), "quick")
        assert plan["purchases"][0]["arrival_p50"] == "2031-03-05"
        assert plan["purchases"][0]["usable_p50"] == "2031-03-10"
        assert plan["tasks"][1]["start_p50_at"] == "2031-03-10T18:00"
        assert plan["date_p50"] == "2031-03-12"
        assert plan["blame"] == {"modules": 1.0, "modules (purchase)": 1.0, "frame": 0.0}

    def test_a_part_that_comes_before_the_meeting_is_used_in_it(
        self, planned: Callable[..., Study]
    ) -> None:
        part = {"name": "wheels", "lead_days": [2.75, 2.75, 2.75]}  # Wednesday 18:00
        study = planned([task("mount", 3, needs=["wheels"])], [part])
        assert one(plan_of(study, 10), "quick")["date_p50"] == "2031-03-05"

    def test_what_is_in_stock_is_not_waited_for(self, planned: Callable[..., Study]) -> None:
        part = {"name": "tube", "quantity": 4, "in_stock": 4, "lead_days": [30, 30, 30]}
        spares = {"name": "bolts", "quantity": 9, "in_stock": 8, "spares": 1,
                  "lead_days": [30, 30, 30]}  # fmt: skip
        study = planned([task("frame", 3, needs=["tube", "bolts"])], [part, spares])
        assert one(plan_of(study, 10), "quick")["date_p50"] == "2031-03-03"

    def test_two_hands_work_at_once_and_one_takes_turns(
        self, planned: Callable[..., Study]
    ) -> None:
        tasks = [task("left", 3), task("right", 3), task("top", 3)]
        ends = []
        for hands in (1, 2, 3):
            study = planned(tasks, crews={"workshop": hands})
            ends.append(one(plan_of(study, 10), "quick")["date_p50"])
        assert ends == ["2031-03-10", "2031-03-05", "2031-03-03"]

    def test_a_task_that_fills_its_meetings_ends_in_the_last(
        self, planned: Callable[..., Study]
    ) -> None:
        # nine times 40 minutes are six hours: the end of Wednesday's meeting, not a later one
        tasks = [task(f"step{number}", "40 min") for number in range(9)]
        assert one(plan_of(planned(tasks), 10), "quick")["date_p50"] == "2031-03-05"

    def test_a_task_of_no_time_still_waits_for_its_part(
        self, planned: Callable[..., Study]
    ) -> None:
        part = {"name": "form", "lead_days": [1, 1, 1]}  # Tuesday: usable on Wednesday
        study = planned([task("sign", 0, needs=["form"])], [part], ready_by="2031-03-04")
        plan = one(plan_of(study, 10), "quick")
        assert plan["date_p50"] == "2031-03-05"
        assert plan["ready_probability"] == 0.0

    def test_an_extra_meeting_counts_on_its_date_even_if_that_is_off(
        self, planned: Callable[..., Study]
    ) -> None:
        extra = [{"date": "2031-03-07", "start": "10:00", "hours": 2}]
        study = planned([task("frame", 7)], extra=extra)
        assert one(plan_of(study, 10), "quick")["date_p50"] == "2031-03-07"

    def test_gates_and_the_day_to_give_up_the_base(self, planned: Callable[..., Study]) -> None:
        gates = [
            {"name": "rolls", "on": "2031-03-05", "tasks": ["frame"]},
            {"name": "drives", "on": "2031-03-05", "tasks": ["frame", "mount"]},
        ]
        study = planned(
            [task("frame", 4), task("mount", 5, after=["frame"])],
            gates=gates,
            give_up_base_on="2031-03-10",
        )
        plan = one(plan_of(study, 10), "quick")
        assert [gate["chance"] for gate in plan["gates"]] == [1.0, 0.0]
        assert plan["gates"][1]["ready_if_missed"] == 1.0
        assert plan["gates"][1]["ready_if_met"] is None
        assert plan["give_up"] == {"on": "2031-03-10", "chance": 1.0}

    def test_practice_is_what_is_driven_and_what_is_left(
        self, planned: Callable[..., Study]
    ) -> None:
        # meetings until 14 March: 5 × 3 h; built after 7 h, driven 4 h, 4 h left
        tasks = [task("build", 7), task("drive", 4, "drivers", after=["build"], kind="practice")]
        plan = one(plan_of(planned(tasks, practice_hours_wanted=8), 10), "quick")
        assert plan["practice"]["hours_p50"] == 8.0
        assert plan["practice"]["chance"] == 1.0
        late = one(plan_of(planned(tasks, ready_by="2031-03-10"), 10), "quick")
        assert late["practice"]["hours_p50"] == 2.0

    def test_the_latest_days_are_those_of_paper(self, planned: Callable[..., Study]) -> None:
        # 6 h until Friday 14: the part has to be there on Wednesday 12 at 18:00, two days after
        # the order; the frame of 3 h before that on Monday 10
        part = {"name": "modules", "lead_days": [2, 2, 2]}
        tasks = [task("frame", 3), task("fit", 6, needs=["modules"])]
        plan = one(plan_of(planned(tasks, [part]), 10), "quick")
        assert plan["purchases"][0]["latest_order_on"] == "2031-03-10"
        # begun on the 11th only two meetings are left; ordered on the 10th it comes on the 12th
        assert plan["latest_start"] == {"date": "2031-03-10", "chance": 1.0}

    def test_hours_of_a_crew_by_week(self, planned: Callable[..., Study]) -> None:
        plan = one(plan_of(planned([task("frame", 8)]), 10), "quick")
        (crew,) = plan["crews"]
        weeks = [(week["week"], week["hours"], week["capacity_hours"]) for week in crew["weeks"]]
        assert weeks == [("2031-W10", 6.0, 6.0), ("2031-W11", 2.0, 9.0)]


class TestWithoutEnd:
    def test_a_plan_past_the_last_meeting_says_so(self, planned: Callable[..., Study]) -> None:
        study = planned(
            [task("frame", 5)],
            meetings=[],
            days_off=[],
            extra=[{"date": "2031-03-04", "start": "18:00", "hours": 4}],
        )
        plan = one(plan_of(study, 10), "quick")
        assert plan["date_p50"] is None
        assert plan["ready_probability"] == 0.0
        assert plan["never_ready"] == 1.0
        assert "the last meeting of the calendar is on 2031-03-04" in plan["notes"][0]
        assert plan["tasks"][0]["end_p50"] is None
        assert plan["tasks"][0]["start_p50"] == "2031-03-04"

    def test_a_calendar_that_begins_after_its_last_meeting(
        self, planned: Callable[..., Study]
    ) -> None:
        extra = [{"date": "2031-03-01", "start": "18:00", "hours": 4}]
        payload = plan_of(planned([task("frame", 1)], meetings=[], extra=extra), 10)
        plan = one(payload, "quick")
        assert plan["state"] == "no schedule"
        assert plan["ready_probability"] is None
        assert plan["notes"] == ["The calendar has no meeting from 2031-03-03 on; give it one."]
        assert payload["schedule"]["meetings"] == []

    def test_the_week_goes_on_after_the_ready_date(self, planned: Callable[..., Study]) -> None:
        plan = one(plan_of(planned([task("frame", 100)]), 10), "quick")
        # 34 meetings: 2 and 32 in ten weeks of three and two more days
        assert plan["date_p50"] == "2031-05-21"

    def test_without_calendar_nothing_is_known(self, document: Document) -> None:
        payload = plan_of(parse_study(document), 10)
        assert payload["schedule"] is None
        assert {candidate["state"] for candidate in payload["candidates"]} == {"no schedule"}

    @pytest.mark.parametrize("runs", [0, 10**9])
    def test_runs_have_limits(self, document: Document, runs: int) -> None:
        with pytest.raises(OutOfRangeError, match="ask for 1 to 200,000"):
            plan_of(parse_study(document), runs)

    def test_crews_that_wait_across_are_told_by_their_loop(
        self, planned: Callable[..., Study]
    ) -> None:
        tasks = [
            task("a1", 1, "one", after=["b3"]), task("a2", 1, "one"), task("a3", 1, "one"),
            task("b1", 1, "two", after=["a3"]), task("b2", 1, "two"), task("b3", 1, "two"),
        ]  # fmt: skip
        plan = one(plan_of(planned(tasks, crews={"one": 2, "two": 2}), 10), "quick")
        assert plan["state"] == "contradiction"
        assert plan["ready_probability"] is None
        for key in ("a1", "a3", "b1", "b3"):
            assert key in plan["notes"][0]


@st.composite
def plans(draw: st.DrawFn) -> list[dict[str, Any]]:
    tasks = []
    for index in range(draw(st.integers(1, 6))):
        points = sorted(draw(st.lists(st.integers(0, 9), min_size=3, max_size=3)))
        earlier = [other["key"] for other in tasks]
        tasks.append(
            task(
                f"t{index}",
                points,
                draw(st.sampled_from(["workshop", "wiring"])),
                after=sorted(draw(st.sets(st.sampled_from(earlier), max_size=2)))
                if earlier
                else [],
                needs=draw(st.sampled_from([[], ["wheels"]])),
            )
        )
    return tasks


PART = {"name": "wheels", "lead_days": [1, 3, 8]}


SHARED = [HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
"""The study is made anew for each example, so the fixture may be shared."""


class TestWhateverThePlan:
    @settings(deadline=None, max_examples=25, suppress_health_check=SHARED)
    @given(tasks=plans(), day=st.integers(0, 20), hours=st.integers(1, 10), hands=st.integers(1, 2))
    def test_one_more_meeting_makes_no_run_later(
        self,
        planned: Callable[..., Study],
        tasks: list[dict[str, Any]],
        day: int,
        hours: int,
        hands: int,
    ) -> None:
        crews = {"workshop": hands, "wiring": 1}
        date = (dt.date(2031, 3, 3) + dt.timedelta(days=day)).isoformat()
        extra = [{"date": date, "start": "16:00", "hours": hours}]
        days = []
        for more in ([], extra):
            study = planned(tasks, [PART], crews=crews, extra=more)
            assert study.schedule is not None
            work = work_of(study.schedule, study.candidates[1], Draws(runs=50, seed=1))
            outcome = outcome_of(work, calendar_of(study.schedule))
            days.append(outcome.meetings.days[outcome.ready_in()])
        assert (days[1] <= days[0]).all()

    @settings(deadline=None, max_examples=15, suppress_health_check=SHARED)
    @given(tasks=plans(), wanted=st.sampled_from([0.3, 0.8, 0.95]), hands=st.integers(1, 2))
    def test_the_latest_days_give_the_wanted_chance_and_a_day_later_does_not(
        self, planned: Callable[..., Study], tasks: list[dict[str, Any]], wanted: float, hands: int
    ) -> None:
        crews = {"workshop": hands, "wiring": 1}

        def plan(part: dict[str, Any], **schedule: Any) -> dict[str, Any]:
            study = planned(tasks, [part], crews=crews, wanted_chance=wanted, **schedule)
            return one(plan_of(study, 200), "quick")

        def after(day: str) -> str:
            return (dt.date.fromisoformat(day) + dt.timedelta(days=1)).isoformat()

        found = plan(PART)
        order = found["purchases"][0]["latest_order_on"]
        if order is not None:
            assert plan(PART | {"order_on": order})["ready_probability"] >= wanted
            if order != "2031-03-14":
                assert plan(PART | {"order_on": after(order)})["ready_probability"] < wanted
        start = found["latest_start"]["date"]
        if start is not None:
            begun = plan(PART, start=start)
            assert begun["ready_probability"] == found["latest_start"]["chance"] >= wanted
            if start != "2031-03-14":
                assert plan(PART, start=after(start))["ready_probability"] < wanted


def test_the_curve_ends_where_all_are_ready(reference: Study) -> None:
    plan = one(plan_of(reference, 1000), "swerve")
    chances = [point["chance"] for point in plan["curve"]]
    assert chances == sorted(chances)
    assert chances[-1] == 1.0 > chances[-2]
    by_date = {point["date"]: point["chance"] for point in plan["curve"]}
    assert by_date["2026-03-24"] == plan["ready_probability"]


def test_a_calendar_lists_its_meetings_until_the_last_that_is_shown(reference: Study) -> None:
    schedule = plan_of(reference, 200)["schedule"]
    meetings = [meeting["date"] for meeting in schedule["meetings"]]
    assert schedule["meeting_hours"] == 43.0
    assert meetings[0] == "2026-03-03"
    assert "2026-03-12" not in meetings
    assert "2026-03-22" in meetings
    assert meetings[-1] <= schedule["shown_until"]


def test_figures_for_the_catalogue(reference: Study) -> None:
    figures = plan_figures(reference)
    assert figures["swerve"]["ready_probability"] == 0.3374
    assert figures["swerve"]["cost"] == 4 * 310 + 4 * 110
    assert figures["tank"] == {
        "ready_probability": 1.0,
        "ready_date_p90": "2026-03-02",
        "practice_hours": 43.0,
        "cost": 0.0,
    }
    assert set(figures["mecanum"].values()) == {None}
    assert figures.keys() == {candidate.key for candidate in reference.candidates}


def test_every_run_counts_from_the_first_day(reference: Study) -> None:
    assert reference.schedule is not None
    assert day_number(reference.schedule.start) == calendar_of(reference.schedule).days[0] - 1


def test_the_catalogue_has_the_figures_of_the_plan(reference: Study) -> None:
    names = {metric.key for metric in metrics_made_by("plan")}
    assert set(plan_figures(reference, 10)["tank"]) == names
