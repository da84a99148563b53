"""Timed runs over the field: routes, their legs and where they start.

Contents: `Start`, `Leg`, `Route`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from models.study.basics import ZERO, FieldPlace, Heading, Name, Pause, Section
from models.study.kinds import Choice, Group, Label, Number, Text, Truth
from models.study.numbers import Estimate


class Start(Section):
    """Where a route begins."""

    at_m: Annotated[tuple[FieldPlace, FieldPlace], Group("Starts at", items=("x", "y"))]
    heading_deg: Heading


class Leg(Section):
    """One move of a route."""

    to_m: Annotated[
        tuple[FieldPlace, FieldPlace] | None,
        Group("Goes to", "Empty where it stays.", items=("x", "y")),
    ] = None
    heading_deg: Annotated[Estimate | None, Number("deg", -720, 720, label="Ends heading")] = None
    prepare_s: Annotated[
        Pause, Label(label="Mechanisms need", hint="The move lasts at least this long.")
    ] = ZERO
    action_s: Annotated[Pause, Label(label="Stands still after it")] = ZERO
    may_reverse: Annotated[bool, Truth(label="May drive backwards")] = True
    pose: Annotated[str | None, Text(label="In the pose", hint="Empty: the travelling pose.")] = (
        None
    )
    passes: Annotated[
        bool, Truth(label="Drives through", hint="Turns on an arc here, without a stop.")
    ] = Field(default=False, alias="pass")
    radius_m: Annotated[
        Estimate | None,
        Number("m", 0.01, 50.0, label="Radius of the turn", hint="Where it drives through."),
    ] = None
    loads: Annotated[
        tuple[Name, ...],
        Group("Loads that run", "Those of the power section.", most=60, one="load"),
    ] = ()  # fmt: skip


class Route(Section):
    """A timed run over the field."""

    name: Name
    kind: Annotated[Literal["autonomous", "cycle"], Choice(("autonomous", "cycle"), label="Kind")]
    start: Start
    legs: Annotated[tuple[Leg, ...], Group("Legs", least=1, most=100, one="leg")]
