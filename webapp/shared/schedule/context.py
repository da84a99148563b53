"""What the schedule shows: the answer in words, candidates side by side, one in detail."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from models.study.schema import Study
from models.units import UnitSystem
from webapp.shared.candidates import CandidateMark, marks_of
from webapp.shared.links import StudyLinks
from webapp.shared.schedule.answer import answer_lines, candidate_lines
from webapp.shared.schedule.axis import (
    Axis,
    Marker,
    Strip,
    Tick,
    axis_of,
    head_height,
    markers,
    meeting_strips,
    off_strips,
    week_lines,
    week_ticks,
)
from webapp.shared.schedule.money import PurchaseRow, cost_words, purchase_rows, total_words
from webapp.shared.schedule.pictures import (
    Bar,
    BarGroup,
    CrewLoad,
    bar_groups,
    crew_loads,
    curves,
    ready_bar,
)
from webapp.shared.schedule.words import (
    chance_words,
    day_words,
    hours_words,
    share_words,
    short_day,
)

ALL = "all"
"""Stands for every candidate, for a print of all plans."""
LEAST_BLAME = 0.05
STATE_WORDS = {
    "nothing to do": "ready from the start",
    "no tasks": "no tasks yet",
    "no schedule": "no calendar yet",
    "contradiction": "tasks wait for each other",
}


@dataclass(frozen=True)
class Cell:
    """One candidate's figure in the table."""

    words: str
    under: str = ""
    mark: str = ""
    """"good" or "bad" where a limit is kept or missed."""


@dataclass(frozen=True)
class Row:
    """One figure of all candidates."""

    label: str
    cells: list[Cell]


@dataclass(frozen=True)
class Ground:
    """What lies under the bars: the ruler, meetings, days off and the days that decide."""

    ticks: list[Tick]
    weeks: list[float]
    meetings: list[Strip]
    off: list[Strip]
    markers: list[Marker]
    head: int


@dataclass(frozen=True)
class BlameRow:
    """What sets the end in which share of the runs."""

    words: str
    share: str
    width: float


@dataclass(frozen=True)
class GateView:
    """A go/no-go day of one candidate."""

    name: str
    day: str
    asked: str
    chance: str
    passed: bool | None
    then: str
    """What passing and missing it say about being ready in time."""


@dataclass(frozen=True)
class CandidatePlan:
    """One candidate in detail."""

    mark: CandidateMark
    same_base: str
    lines: list[str]
    notes: list[str]
    simulated: bool
    groups: list[BarGroup]
    ready: Bar | None
    blame: list[BlameRow]
    loads: list[CrewLoad]
    gates: list[GateView]
    purchases: list[PurchaseRow]
    totals: str


def schedule_context(
    payload: dict[str, Any],
    study: Study,
    links: StudyLinks,
    units: UnitSystem,
    *,
    candidate: str | None = None,
) -> dict[str, Any]:
    """Return the context of shared/schedule/schedule.html."""
    marks = {mark.key: mark for mark in marks_of(study)}
    by_key = {one["key"]: one for one in payload["candidates"]}
    chosen = chosen_key(payload, study, candidate)
    shown = list(by_key) if chosen == ALL else [chosen]
    schedule = payload["schedule"]
    context: dict[str, Any] = {
        "plan_marks": list(marks.values()),
        "plan_key": chosen,
        "plan_links": [(mark, links.schedule(key)) for key, mark in marks.items()],
        "plan_all": links.schedule(ALL),
        "plan_schedule": schedule,
        "plan_editing": links.can_edit,
    }
    if schedule is None:
        return context
    axis = axis_of(schedule)
    candidates = payload["candidates"]
    return {
        **context,
        "plan_lines": answer_lines(candidates, schedule, marks),
        "plan_rows": _rows(candidates, schedule),
        "plan_runs": f"{payload['runs']:,}",
        "plan_ready_by": day_words(schedule["ready_by"], near=""),
        "plan_hours": hours_words(schedule["meeting_hours"]),
        "plan_ground": _ground(axis, schedule, _asked_gates(study)),
        "plan_wanted": round(100 - 100 * float(schedule["wanted_chance"]), 2),
        "plan_wanted_words": chance_words(schedule["wanted_chance"]),
        "plan_curves": curves(axis, candidates, marks),
        "plan_curve_rows": _curve_rows(candidates, marks, schedule["ready_by"]),
        "plan_shown": [
            _detail(by_key[key], study, axis=axis, schedule=schedule, marks=marks, units=units)
            for key in shown
        ],
    }


def chosen_key(payload: dict[str, Any], study: Study, wanted: str | None) -> str:
    """Return the candidate to show in detail: the asked one, else the likeliest besides today's."""
    keys = [one["key"] for one in payload["candidates"]]
    if wanted == ALL or wanted in keys:
        return str(wanted)
    new = [
        one
        for one in payload["candidates"]
        if one["state"] == "simulated" and one["key"] != study.baseline.key
    ]
    if new:
        return str(max(new, key=lambda one: one["ready_probability"])["key"])
    return str(next((key for key in keys if key != study.baseline.key), keys[0]))


def _asked_gates(study: Study) -> list[dict[str, Any]]:
    gates = study.schedule.gates if study.schedule else ()
    return [{"name": gate.name, "on": gate.on.isoformat()} for gate in gates]


def _ground(axis: Axis, schedule: dict[str, Any], gates: Sequence[dict[str, Any]]) -> Ground:
    marked = markers(axis, schedule, gates)
    return Ground(
        week_ticks(axis),
        week_lines(axis),
        meeting_strips(axis, schedule),
        off_strips(axis, schedule),
        marked,
        head_height(marked),
    )


def _rows(candidates: list[dict[str, Any]], schedule: dict[str, Any]) -> list[Row]:
    near = schedule["ready_by"]
    by = short_day(near, near)
    rows = [
        Row(f"Ready by {by}", [_chance_cell(one, schedule) for one in candidates]),
        Row("Half of the runs by", [_date_cell(one, "date_p50", near) for one in candidates]),
        Row("Nine in ten runs by", [_date_cell(one, "date_p90", near) for one in candidates]),
        Row("Driver practice before it", [_practice_cell(one) for one in candidates]),
        Row("Begin work at the latest", [_start_cell(one, near) for one in candidates]),
        Row("Order at the latest", [_order_cell(one, near) for one in candidates]),
    ]
    names = list(dict.fromkeys(gate["name"] for one in candidates for gate in one["gates"]))
    for name in names:
        gates = [_gate_of(one, name) for one in candidates]
        on = next((gate["on"] for gate in gates if gate), None)
        label = f"Go or no-go {short_day(on, near)}: {name}"
        rows.append(Row(label, [_gate_cell(gate, schedule) for gate in gates]))
    if schedule["give_up_base_on"]:
        label = f"Ready before the old base goes, {short_day(schedule['give_up_base_on'], near)}"
        rows.append(Row(label, [_give_up_cell(one) for one in candidates]))
    rows.append(Row("Money", [_money_cell(one) for one in candidates]))
    return rows


def _unknown(one: dict[str, Any]) -> Cell | None:
    return None if one["state"] == "simulated" else Cell("–")


def _chance_cell(one: dict[str, Any], schedule: dict[str, Any]) -> Cell:
    if one["state"] != "simulated":
        return Cell(STATE_WORDS[one["state"]])
    wanted = float(schedule["wanted_chance"])
    reached = one["ready_probability"] >= wanted
    under = f"{chance_words(wanted)} asked for"
    return Cell(chance_words(one["ready_probability"]), under, "good" if reached else "bad")


def _date_cell(one: dict[str, Any], name: str, near: str) -> Cell:
    return _unknown(one) or Cell(day_words(one[name], near))


def _practice_cell(one: dict[str, Any]) -> Cell:
    practice = one["practice"]
    if practice is None:
        return Cell("–")
    under = ""
    mark = ""
    if practice["wanted"] is not None and practice["chance"] is not None:
        chance = chance_words(practice["chance"])
        under = f"{chance} for the {hours_words(practice['wanted'])} wanted"
        mark = "good" if practice["hours_p50"] >= practice["wanted"] else "bad"
    return Cell(hours_words(practice["hours_p50"]), under, mark)


def _start_cell(one: dict[str, Any], near: str) -> Cell:
    latest = one["latest_start"]
    if one["state"] != "simulated" or latest is None:
        return Cell("–")
    if latest["date"] is None:
        return Cell("too late already", f"{chance_words(latest['chance'])} from the first day")
    return Cell(day_words(latest["date"], near))


def _order_cell(one: dict[str, Any], near: str) -> Cell:
    """Return the part that has to be ordered first, or the one for which no day is early enough."""
    if one["state"] != "simulated":
        return Cell("–")
    coming = [part for part in one["purchases"] if part["order_on"]]
    if not coming:
        return Cell("nothing to order")
    dated = [part for part in coming if part["latest_order_on"]]
    if not dated:
        return Cell("no day is early enough", "the rest takes too long")
    first = min(dated, key=lambda part: str(part["latest_order_on"]))
    return Cell(day_words(first["latest_order_on"], near), first["name"])


def _gate_of(one: dict[str, Any], name: str) -> dict[str, Any] | None:
    return next((gate for gate in one["gates"] if gate["name"] == name), None)


def _gate_cell(gate: dict[str, Any] | None, schedule: dict[str, Any]) -> Cell:
    if gate is None or gate["chance"] is None:
        return Cell("–")
    reached = gate["chance"] >= float(schedule["wanted_chance"])
    return Cell(chance_words(gate["chance"]), "", "good" if reached else "bad")


def _give_up_cell(one: dict[str, Any]) -> Cell:
    if one["state"] != "simulated" or one["give_up"] is None:
        return Cell("–")
    return Cell(chance_words(one["give_up"]["chance"]))


def _money_cell(one: dict[str, Any]) -> Cell:
    words, under, mark = cost_words(one["costs"], one["purchases"])
    return Cell(words, under, mark)


def _curve_rows(
    candidates: list[dict[str, Any]], marks: dict[str, CandidateMark], near: str
) -> list[tuple[CandidateMark, list[str]]]:
    return [
        (
            marks[one["key"]],
            [day_words(one[f"date_{name}"], near) for name in ("p10", "p50", "p90")],
        )
        for one in candidates
        if one["state"] == "simulated"
    ]


def _detail(
    one: dict[str, Any],
    study: Study,
    *,
    axis: Axis,
    schedule: dict[str, Any],
    marks: dict[str, CandidateMark],
    units: UnitSystem,
) -> CandidatePlan:
    simulated = one["state"] == "simulated"
    kept = study.candidate(one["key"]).same_base_as
    return CandidatePlan(
        mark=marks[one["key"]],
        same_base=study.candidate(kept).name if kept else "",
        lines=candidate_lines(one, schedule),
        notes=list(one["notes"]),
        simulated=simulated,
        groups=bar_groups(axis, one, schedule) if simulated else [],
        ready=ready_bar(axis, one) if simulated else None,
        blame=_blame(one) if simulated else [],
        loads=crew_loads(axis, one) if simulated else [],
        gates=_gates(one, schedule),
        purchases=purchase_rows(one, units, axis.near),
        totals=total_words(one, units),
    )


def _blame(one: dict[str, Any]) -> list[BlameRow]:
    rows = []
    small = 0
    for each in one["blame_list"]:
        share = float(each["share"])
        if share < LEAST_BLAME:
            small += 1
            continue
        subject = f"the wait for {each['name']}" if each["kind"] == "purchase" else each["name"]
        words = f"{subject[0].upper()}{subject[1:]}"
        rows.append(BlameRow(words, share_words(share), round(100 * share, 1)))
    if small and rows:
        words = f"{small} other{'s' if small > 1 else ''}"
        rows.append(BlameRow(words, "seldom", 0.0))
    return rows


def _gates(one: dict[str, Any], schedule: dict[str, Any]) -> list[GateView]:
    names = {task["key"]: task["name"] for task in one["tasks"]}
    found = []
    for gate in one["gates"]:
        asked = ", ".join(names.get(key, key) for key in gate["tasks"])
        known = gate["chance"] is not None
        passed = gate["chance"] >= float(schedule["wanted_chance"]) if known else None
        words = f"passed in {chance_words(gate['chance'])} of the runs" if known else "asks nothing"
        day = day_words(gate["on"], schedule["ready_by"])
        found.append(GateView(gate["name"], day, asked, words, passed, _gate_tells(gate)))
    return found


def _gate_tells(gate: dict[str, Any]) -> str:
    met, missed = gate["ready_if_met"], gate["ready_if_missed"]
    if met is None and missed is None:
        return ""
    if missed is None:
        return f"Passed, it is ready in time in {chance_words(met)} of the runs."
    if met is None:
        return f"Missed, it is ready in time in {chance_words(missed)} of the runs."
    return (
        f"Passed, it is ready in time in {chance_words(met)} of the runs; "
        f"missed, in {chance_words(missed)}."
    )
