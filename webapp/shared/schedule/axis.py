"""The axis of dates that all pictures of the plan share, and what is marked on it.

Places are percentages of the picture's width, so that one drawing serves a phone, a screen and
paper with letters of one size.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from webapp.shared.schedule.words import date_of, short_day

MOST_LABELS = 6
LEAST_BEYOND = 28
"""So many days behind the day it must be ready are shown, or as many as lie before it."""
MOST_TICKED_DAYS = 200
"""On a longer axis single meetings are too narrow to be drawn."""
LINE_HEIGHT = 19
"""Height of one line of labels above the bars, in pixels."""
RULER = 34
"""Height of the ruler with dates and meetings, in pixels."""
LETTER = 7.0
"""Width of a letter of a label, about, in pixels …"""
NARROWEST = 300.0
"""… on the narrowest picture, so that labels fit on every one."""


@dataclass(frozen=True)
class Strip:
    """Something from one place to another on the axis."""

    x: float
    width: float
    title: str = ""


@dataclass(frozen=True)
class Marker:
    """A day that decides: a line through the picture with its words on a line of their own."""

    css: str
    x: float
    words: str
    anchor: str
    line_y: int
    """Where the words stand, in pixels from the top."""
    title: str = ""
    gap: int = 6

    @property
    def dx(self) -> int:
        """How far the words stand from their line, in pixels."""
        return self.gap if self.anchor == "start" else -self.gap


@dataclass(frozen=True)
class Tick:
    """A date on the ruler."""

    x: float
    words: str
    anchor: str


@dataclass(frozen=True)
class Axis:
    """Dates from left to right."""

    first: dt.date
    days: int
    near: str
    """The date whose year goes without saying."""

    def place(self, day: dt.date, time: dt.time | None = None, *, end: bool = False) -> float:
        """Return where a day begins or ends, or a moment of it lies, in per cent of the width."""
        along = float((day - self.first).days) + (1.0 if end else 0.0)
        if time is not None:
            along += (time.hour * 60 + time.minute) / 1440
        return round(min(max(100 * along / self.days, 0.0), 100.0), 3)

    def shows(self, day: dt.date | None) -> bool:
        """Return whether a day lies within the picture."""
        return day is not None and (day - self.first).days < self.days

    def at(self, moment: str | None) -> float | None:
        """Return where a moment "2031-03-25T18:30" lies; None where there is none in sight."""
        if not moment:
            return None
        when = dt.datetime.fromisoformat(moment)
        return self.place(when.date(), when.time()) if self.shows(when.date()) else None

    def end_of(self, day: str | None) -> float | None:
        """Return where a date ends; None where there is none in sight."""
        found = date_of(day)
        if found is None or not self.shows(found):
            return None
        return self.place(found, end=True)


def axis_of(schedule: dict[str, Any]) -> Axis:
    """Return the axis from the Monday before work begins to the Sunday after all is shown.

    A date far behind the day it must be ready is left out of sight, so that the rest can be read.
    """
    start = dt.date.fromisoformat(schedule["start"])
    until = date_of(schedule["shown_until"]) or start
    deadline = dt.date.fromisoformat(schedule["ready_by"])
    first = start - dt.timedelta(days=start.weekday())
    beyond = max(deadline - start, dt.timedelta(days=LEAST_BEYOND))
    last = max(min(until, deadline + beyond), deadline, start + dt.timedelta(days=6))
    days = (last - first).days + 1
    return Axis(first, days + (-days) % 7, schedule["ready_by"])


def week_ticks(axis: Axis) -> list[Tick]:
    """Return the Mondays that are written on the ruler, six at most."""
    weeks = axis.days // 7
    step = -(-weeks // MOST_LABELS)
    ticks = []
    for week in range(0, weeks, step):
        day = axis.first + dt.timedelta(weeks=week)
        ticks.append(Tick(axis.place(day), short_day(day.isoformat(), axis.near), "start"))
    return ticks


def week_lines(axis: Axis) -> list[float]:
    """Return where weeks begin, but for the first."""
    weeks = axis.days // 7
    return [axis.place(axis.first + dt.timedelta(weeks=week)) for week in range(1, weeks)]


def meeting_strips(axis: Axis, schedule: dict[str, Any]) -> list[Strip]:
    """Return the meetings, each as wide as it is long."""
    strips: list[Strip] = []
    if axis.days > MOST_TICKED_DAYS:
        return strips
    for meeting in schedule["meetings"]:
        day = date_of(meeting["date"])
        if day is None or not axis.shows(day):
            continue
        time = dt.time.fromisoformat(meeting["start"])
        x = axis.place(day, time)
        wide = round(100 * float(meeting["hours"]) / 24 / axis.days, 3)
        words = (
            f"{short_day(meeting['date'], axis.near)}, {meeting['start']}, {meeting['hours']:g} h"
        )
        strips.append(Strip(x, wide, words))
    return strips


def off_strips(axis: Axis, schedule: dict[str, Any]) -> list[Strip]:
    """Return the days off that lie on the axis."""
    strips = []
    for text in schedule["days_off"]:
        day = date_of(text)
        if day is not None and 0 <= (day - axis.first).days < axis.days:
            strips.append(
                Strip(
                    axis.place(day), round(100 / axis.days, 3), f"{short_day(text, axis.near)} off"
                )
            )
    return strips


def markers(
    axis: Axis, schedule: dict[str, Any], gates: Iterable[dict[str, Any]] = ()
) -> list[Marker]:
    """Return the days that decide in the order of their dates, each on a line of its own."""
    listed = [("mark-ready", schedule["ready_by"], "ready by", "Ready by")]
    if schedule["give_up_base_on"]:
        words = "no way back after"
        listed.append(("mark-give-up", schedule["give_up_base_on"], words, "Old base given up"))
    for number, gate in enumerate(gates, 1):
        listed.append(("mark-gate", gate["on"], f"gate {number},", gate["name"]))
    listed.sort(key=lambda one: str(one[1]))
    found: list[Marker] = []
    for css, day, words, title in listed:
        x = axis.end_of(day)
        if x is None:
            continue
        label = f"{words} {short_day(day, axis.near)}"
        fits = LETTER * len(label) < NARROWEST * (100 - x) / 100
        anchor = "start" if fits or x < NARROWEST / 10 else "end"
        place = RULER + LINE_HEIGHT * len(found) + 14
        found.append(Marker(css, x, label, anchor, place, title))
    return found


def head_height(marks: list[Marker]) -> int:
    """Return the height of the ruler with the lines of labels under it, in pixels."""
    return RULER + LINE_HEIGHT * len(marks) + 4
