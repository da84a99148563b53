"""The pictures of a plan: bars by date, the chances over the dates, the load of each crew.

Everything is a rectangle or a line at percentages of the width; a curve stands in a square of
100 by 100 that is stretched. So the pictures need neither scripts nor styles of their own.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

from webapp.shared.candidates import CandidateMark
from webapp.shared.schedule.axis import Axis
from webapp.shared.schedule.words import (
    chance_words,
    date_of,
    day_words,
    hours_words,
    short_day,
)

LEAST_BAR = 0.7
"""Width under which a bar would not be seen, in per cent."""
MOST_NUMBERED_WEEKS = 12
HALF_WAY = 0.5
CURVE_LETTERS_FROM, CURVE_LETTERS_TO = 0.25, 0.85
"""Between these chances the letters stand on the curves, each at a height of its own."""


@dataclass(frozen=True)
class Bar:
    """One row of the bar plan."""

    name: str
    words: str
    css: str
    solid: tuple[float, float] | None
    """From where to where it is likely worked on (x, width)."""
    loose: tuple[float, float] | None
    """Where its end may lie: from the early to the late one (x, width)."""
    likely: float | None
    """Where its end most likely lies."""
    beyond: bool = False
    """The late end lies beyond the picture."""


@dataclass(frozen=True)
class BarGroup:
    """The bars of one crew, or of the parts."""

    name: str
    words: str
    bars: list[Bar]


@dataclass(frozen=True)
class Curve:
    """One candidate's chance over the dates."""

    mark: CandidateMark
    path: str
    letter_x: float
    letter_y: float
    words: str


@dataclass(frozen=True)
class WeekBar:
    """One week of one crew: hours offered and hours worked."""

    x: float
    width: float
    capacity_height: float
    hours_height: float
    number: str
    title: str


@dataclass(frozen=True)
class CrewLoad:
    """One crew's weeks."""

    crew: str
    words: str
    weeks: list[WeekBar]
    rows: list[tuple[str, str, str]] = field(default_factory=list)
    """The same as a table: week, hours worked, hours offered."""


def bar_groups(axis: Axis, candidate: dict[str, Any], schedule: dict[str, Any]) -> list[BarGroup]:
    """Return the bars of a candidate: parts that have to come, then each crew's tasks."""
    groups = []
    parts = [one for one in candidate["purchases"] if one["arrival_p50"]]
    if parts:
        groups.append(BarGroup("Parts on their way", "", [_part_bar(axis, one) for one in parts]))
    for crew in dict.fromkeys(task["crew"] for task in candidate["tasks"]):
        own = [task for task in candidate["tasks"] if task["crew"] == crew]
        hands = schedule["crews"].get(crew, 1)
        words = f"{hands} tasks at once" if hands > 1 else "one task at a time"
        groups.append(BarGroup(crew, words, [_task_bar(axis, task) for task in own]))
    return groups


def ready_bar(axis: Axis, candidate: dict[str, Any]) -> Bar:
    """Return the last row: when everything has ended."""
    early, likely, late = (axis.end_of(candidate[f"date_{name}"]) for name in ("p10", "p50", "p90"))
    words = f"half of the runs by {day_words(candidate['date_p50'], axis.near)}"
    if candidate["date_p90"]:
        words += f", nine in ten by {day_words(candidate['date_p90'], axis.near)}"
    return Bar("Everything done", words, "bar-ready", None, _span(early, late), likely,
               beyond=late is None)  # fmt: skip


def _task_bar(axis: Axis, task: dict[str, Any]) -> Bar:
    start = axis.at(task["start_p50_at"])
    early, likely, late = (axis.at(task[f"end_{name}_at"]) for name in ("p10", "p50", "p90"))
    words = f"ends {day_words(task['end_p50'], axis.near)}"
    if task["end_p90"] != task["end_p50"]:
        words += (
            f", late {short_day(task['end_p90'], axis.near)}" if task["end_p90"] else ", late open"
        )
    solid = None if start is None else _span(start, likely if likely is not None else 100.0)
    css = {"practice": "bar-practice", "routines": "bar-routines"}.get(task["kind"], "bar-work")
    loose = _span(early, late)
    return Bar(task["name"], words, css, solid, loose, likely, beyond=late is None)


def _part_bar(axis: Axis, part: dict[str, Any]) -> Bar:
    early, likely, late = (axis.end_of(part[f"arrival_{name}"]) for name in ("p10", "p50", "p90"))
    order = date_of(part["order_on"])
    words = f"likely here {day_words(part['arrival_p50'], axis.near)}"
    if part["arrival_p90"] != part["arrival_p50"]:
        words += f", late {short_day(part['arrival_p90'], axis.near)}"
    if order is not None:
        words = f"ordered {short_day(part['order_on'], axis.near)}, {words}"
    solid = None if order is None else _span(axis.place(order), likely)
    return Bar(part["name"], words, "bar-part", solid, _span(early, late), likely,
               beyond=late is None)  # fmt: skip


def _span(start: float | None, end: float | None) -> tuple[float, float] | None:
    """Return start and width; what has no end runs out of the picture, but is seen in any case."""
    if start is None:
        return None
    stop = 100.0 if end is None else end
    width = max(stop - start, LEAST_BAR)
    return round(min(start, 100.0 - LEAST_BAR), 3), round(min(width, 100.0), 3)


def curves(
    axis: Axis, candidates: list[dict[str, Any]], marks: dict[str, CandidateMark]
) -> list[Curve]:
    """Return the S-curve of every candidate that has one."""
    drawn = [one for one in candidates if one["curve"]]
    found = []
    for index, one in enumerate(drawn):
        points = _curve_points(axis, one["curve"])
        step = (CURVE_LETTERS_TO - CURVE_LETTERS_FROM) / max(len(drawn) - 1, 1)
        height = CURVE_LETTERS_TO - index * step if len(drawn) > 1 else HALF_WAY
        x, y = _point_at(points, 100 * height)
        path = "M" + "L".join(f"{px:g} {100 - py:g}" for px, py in points)
        words = f"{marks[one['key']].letter}: {chance_words(one['ready_probability'])}"
        found.append(Curve(marks[one["key"]], path, x, round(100 - y, 2), words))
    return found


def _curve_points(axis: Axis, curve: list[dict[str, Any]]) -> list[tuple[float, float]]:
    """Return chances in per cent; they rise over each meeting day and rest between."""
    points = [(0.0, 0.0)]
    before = 0.0
    for each in curve:
        day = date_of(each["date"])
        chance = round(100 * float(each["chance"]), 2)
        if day is None or not axis.shows(day):
            break
        points += [(axis.place(day), before), (axis.place(day, end=True), chance)]
        before = chance
    points.append((100.0, before))
    thinned = [points[0]]
    for place, point in enumerate(points[1:], 1):
        following = points[place + 1] if place + 1 < len(points) else None
        if following is None or not thinned[-1][1] == point[1] == following[1]:
            thinned.append(point)
    return thinned


def _point_at(points: list[tuple[float, float]], height: float) -> tuple[float, float]:
    """Return where a curve first reaches a height, its end where it never does."""
    for (x0, y0), (x1, y1) in pairwise(points):
        if y0 <= height <= y1 and y1 > y0:
            return round(x0 + (x1 - x0) * (height - y0) / (y1 - y0), 2), height
    return points[-1][0] - 2.0, points[-1][1]


def crew_loads(axis: Axis, candidate: dict[str, Any]) -> list[CrewLoad]:
    """Return the weeks of every crew that has a task, up to the last in which one works."""
    last = max(
        (number for crew in candidate["crews"] for number, week in enumerate(crew["weeks"])
         if week["hours"] > 0.05),
        default=-1,
    )  # fmt: skip
    return [
        _crew_load(axis, crew, crew["weeks"][: last + 1])
        for crew in candidate["crews"]
        if last >= 0
    ]


def _crew_load(axis: Axis, crew: dict[str, Any], weeks: list[dict[str, Any]]) -> CrewLoad:
    slot = 100 / len(weeks)
    numbered = len(weeks) <= MOST_NUMBERED_WEEKS
    busiest = max([1.0, *(float(week["capacity_hours"]) for week in weeks)])
    bars, rows = [], []
    for number, week in enumerate(weeks):
        worked, offered = float(week["hours"]), float(week["capacity_hours"])
        label = f"week of {short_day(week['from'], axis.near)}"
        bars.append(
            WeekBar(
                x=round(number * slot + 0.12 * slot, 3),
                width=round(0.76 * slot, 3),
                capacity_height=round(100 * offered / busiest, 2),
                hours_height=round(100 * min(worked, busiest) / busiest, 2),
                number=f"{worked:.0f}" if worked >= HALF_WAY and numbered else "",
                title=f"{label}: {hours_words(worked)} of {hours_words(offered)}",
            )
        )
        rows.append((short_day(week["from"], axis.near), hours_words(worked), hours_words(offered)))
    worked = sum(float(week["hours"]) for week in weeks)
    offered = sum(float(week["capacity_hours"]) for week in weeks)
    fullest = max(weeks, key=_fullness)
    words = f"{hours_words(worked)} of {hours_words(offered)} on offer"
    if _fullness(fullest) > 0:
        words += (
            f"; fullest in the week of {short_day(fullest['from'], axis.near)}, "
            f"{hours_words(fullest['hours'])} of {hours_words(fullest['capacity_hours'])}"
        )
    return CrewLoad(crew["crew"], words, bars, rows)


def _fullness(week: dict[str, Any]) -> float:
    offered = float(week["capacity_hours"])
    return float(week["hours"]) / offered if offered > 0 else 0.0
