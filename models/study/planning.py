"""The plan of a study: tasks, purchases, calendar, gates and criteria.

Contents: `Task`, `Purchase`, `Express` (of a candidate); `PlanGate`, `Schedule`, `Decision` (of
the study).
"""

from __future__ import annotations

import datetime as dt
from typing import Annotated, Literal

from pydantic import Field

from models.study.basics import ZERO, Name, Section
from models.study.kinds import (
    Choice,
    Clock,
    Day,
    Group,
    Key,
    Label,
    Number,
    Text,
    TruthOrWord,
    Whole,
)
from models.study.numbers import Estimate

Hours = Annotated[Estimate, Number("h", 0.0, 1000.0)]
Days = Annotated[Estimate, Number("d", 0.0, 730.0)]
Date = Annotated[dt.date, Day()]


TaskKind = Literal["work", "practice", "routines"]
TASK_KINDS: tuple[TaskKind, ...] = ("work", "practice", "routines")


class Task(Section):
    """A piece of shop work with a three-point duration."""

    key: Annotated[str, Key(label="Key")]
    name: Name
    kind: Annotated[
        TaskKind,
        Choice(TASK_KINDS, label="Kind", hint="practice: driving; routines: autonomous work."),
    ] = "work"
    crew: Annotated[str, Text(label="Crew", longest=60)]
    hours: Annotated[
        tuple[Hours, Hours, Hours], Group("Shop hours", items=("low", "likely", "high"))
    ]
    after: Annotated[
        tuple[Annotated[str, Key(label="Task")], ...], Group("After", most=100, one="task")
    ] = ()
    needs: Annotated[tuple[Name, ...], Group("Needs", most=100, one="purchase")] = ()


class Express(Section):
    """A quicker delivery for more money."""

    lead_days: Annotated[
        tuple[Days, Days, Days], Group("Lead time, express", items=("low", "likely", "high"))
    ]
    extra_cost: Annotated[
        Estimate, Number("", 0.0, 1e6, label="Express costs more by", hint="For the whole order.")
    ]


class Purchase(Section):
    """Something that has to be bought or is in stock."""

    name: Name
    quantity: Annotated[int, Whole("", 0, 10_000, label="Quantity")] = 1
    in_stock: Annotated[int, Whole("", 0, 10_000, label="In stock")] = 0
    unit_cost: Annotated[Estimate, Number("", 0.0, 1e6, label="Cost of one")] = ZERO
    lead_days: Annotated[
        tuple[Days, Days, Days] | None, Group("Lead time", items=("low", "likely", "high"))
    ] = None
    order_on: Annotated[dt.date | None, Day(label="Order on")] = None
    spares: Annotated[int, Whole("", 0, 10_000, label="Of these, spares", hint="Not built in.")] = 0
    mass_kg: Annotated[Estimate | None, Number("kg", 0.0, 500.0, label="Mass of one")] = None
    express: Express | None = None


class Meeting(Section):
    """A weekly meeting in the shop."""

    weekday: Annotated[
        Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"],
        Choice(("mon", "tue", "wed", "thu", "fri", "sat", "sun"), label="Weekday"),
    ]
    start: Annotated[dt.time, Clock(label="Begins")]
    hours: Annotated[Estimate, Number("h", 0.1, 24.0, label="Lasts")]


class ExtraMeeting(Section):
    """A meeting on one date."""

    date: Date
    start: Annotated[dt.time, Clock(label="Begins")]
    hours: Annotated[Estimate, Number("h", 0.1, 24.0, label="Lasts")]


class PlanGate(Section):
    """A date by which some tasks must have ended."""

    name: Name
    on: Annotated[dt.date, Day(label="On")]
    tasks: Annotated[
        tuple[Annotated[str, Key(label="Task")], ...],
        Group("Done by then", least=1, most=100, one="task"),
    ]


class Schedule(Section):
    """The team's calendar and hands."""

    start: Annotated[dt.date, Day(label="Work begins")]
    ready_by: Annotated[dt.date, Day(label="Ready by")]
    meetings: Annotated[tuple[Meeting, ...], Group("Meetings", most=50, one="meeting")] = ()
    days_off: Annotated[tuple[Date, ...], Group("Days off", most=400, one="day")] = ()
    extra: Annotated[
        tuple[ExtraMeeting, ...], Group("Extra meetings", most=400, one="meeting")
    ] = ()
    crews: Annotated[
        dict[Name, Annotated[int, Whole("", 1, 100, label="Hands")]],
        Group("Crews", "How many tasks each can work on at once.", most=50, one="crew"),
    ] = Field(default_factory=dict)
    give_up_base_on: Annotated[
        dt.date | None,
        Day(label="Give up the old base on", hint="From here on there is no way back."),
    ] = None
    gates: Annotated[tuple[PlanGate, ...], Group("Gates", most=30, one="gate")] = ()
    wanted_chance: Annotated[
        Estimate,
        Number("", 0.01, 0.999, label="Wanted chance", hint="To be ready in time: 0.8 or 80 %."),
    ] = Estimate(0.8)
    practice_hours_wanted: Annotated[
        Estimate | None,
        Number("h", 0.0, 1000.0, label="Driving practice wanted", hint="Before the event."),
    ] = None
    budget: Annotated[Estimate | None, Number("", 0.0, 1e7, label="Budget")] = None
    currency: Annotated[
        str, Text(label="Currency", hint="Stands behind every sum.", longest=12, may_be_empty=True)
    ] = ""


Figure = Annotated[Estimate, Number("", -1e9, 1e9)]


class Gate(Section):
    """What a candidate must pass."""

    metric: Annotated[str, Key(label="Figure")]
    at_least: Annotated[Estimate | None, Number("", -1e9, 1e9, label="At least")] = None
    at_most: Annotated[Estimate | None, Number("", -1e9, 1e9, label="At most")] = None
    is_: Annotated[bool | str | None, TruthOrWord(label="Is")] = Field(default=None, alias="is")


class Criterion(Section):
    """What a candidate is scored on."""

    metric: Annotated[str, Key(label="Figure")]
    weight: Annotated[Estimate, Number("", 0.0, 1000.0, label="Weight")]
    worst: Annotated[Figure, Label(label="Worst, scores 0")]
    best: Annotated[Figure, Label(label="Best, scores 1")]


class Decision(Section):
    """Gates and criteria."""

    gates: Annotated[tuple[Gate, ...], Group("Gates", most=50, one="gate")] = ()
    criteria: Annotated[tuple[Criterion, ...], Group("Criteria", most=50, one="criterion")] = ()
