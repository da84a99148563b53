"""What all candidates are held against: rules, yardsticks, the field and the platform on it.

Contents: `Rules`, `Opponent`, `Yardsticks`, `Obstacle`, `PlayingField`, `Partner`, `Platform`.
"""

from __future__ import annotations

from typing import Annotated

from models.study.basics import ZERO, Name, Section
from models.study.kinds import Group, Number
from models.study.numbers import Estimate
from models.study.outlines import Outline

LONGEST_FIELD_M = 100.0


class Rules(Section):
    """What the event allows."""

    mass_limit_kg: Annotated[
        Estimate,
        Number(
            "kg",
            0.5,
            1000.0,
            label="Mass limit",
            hint="Of what the rules count; battery and bumpers are usually left out.",
        ),
    ]
    perimeter_limit_m: Annotated[Estimate, Number("m", 0.2, 20.0, label="Perimeter limit")]
    height_limit_m: Annotated[Estimate, Number("m", 0.05, 10.0, label="Height limit")]
    autonomous_s: Annotated[Estimate, Number("s", 0.0, 600.0, label="Autonomous period")]
    match_s: Annotated[
        Estimate,
        Number("s", 1.0, 3600.0, label="Whole match", hint="The autonomous period included."),
    ]
    bumper_thickness_m: Annotated[
        Estimate | None,
        Number(
            "m",
            0.0,
            0.5,
            label="Bumpers stick out by",
            hint="Pad and backing, from the frame outwards; empty where there are none.",
        ),
    ] = None
    bumper_bottom_m: Annotated[
        Estimate | None,
        Number("m", 0.0, 2.0, label="Bumpers' lower edge", hint="Above the floor."),
    ] = None
    bumper_top_m: Annotated[
        Estimate | None,
        Number("m", 0.0, 2.0, label="Bumpers' upper edge", hint="Above the floor."),
    ] = None  # fmt: skip


class Opponent(Section):
    """Another robot that pushes against this one."""

    mass_kg: Annotated[
        Estimate,
        Number("kg", 0.0, 500.0, above_minimum=True, label="Mass", hint="With its battery."),
    ]
    grip: Annotated[Estimate, Number("", 0.05, 3.0, label="Grip")]
    push_force_n: Annotated[
        Estimate | None,
        Number("n", 0.0, 100_000.0, label="Push", hint="Empty: all that its tyres hold."),
    ] = None


class Yardsticks(Section):
    """The distance, speed and slope that all candidates are measured on."""

    sprint_distance_m: Annotated[Estimate, Number("m", 0.1, 100.0, label="Sprint distance")]
    target_speed_mps: Annotated[Estimate, Number("mps", 0.05, 12.0, label="Target speed")]
    ramp_deg: Annotated[Estimate | None, Number("deg", 0.0, 60.0, label="Ramp on the field")] = None
    tip_margin: Annotated[
        Estimate,
        Number("", 0.0, 0.9, label="Kept below the tip limit",
               hint="Share of the tipping acceleration that is not used; 0.2 or 20 %."),
    ] = ZERO  # fmt: skip
    opponent: Opponent | None = None


class Obstacle(Section):
    """Something on the field that a route has to go round."""

    name: Name
    outline_m: Annotated[
        tuple[tuple[float, float], ...],
        Outline(
            label="Outline",
            hint="Corners as x, y from the field's corner; in either sense.",
            furthest_m=LONGEST_FIELD_M,
            axes="x, y",
        ),
    ]


class PlayingField(Section):
    """The field in plan: x runs along its length from one corner, y across it."""

    length_m: Annotated[
        Estimate,
        Number("m", 0.5, LONGEST_FIELD_M, label="Length of the field", hint="Along x, from 0."),
    ]
    width_m: Annotated[
        Estimate,
        Number("m", 0.5, LONGEST_FIELD_M, label="Width of the field", hint="Along y, from 0."),
    ]
    obstacles: Annotated[
        tuple[Obstacle, ...], Group("Obstacles", most=60, one="obstacle")
    ] = ()  # fmt: skip


class Partner(Section):
    """Another robot that stands on the platform."""

    name: Name
    mass_kg: Annotated[Estimate, Number("kg", 0.0, 500.0, label="Mass")]
    at_m: Annotated[
        Estimate,
        Number(
            "m",
            -10.0,
            10.0,
            label="Stands at",
            hint="From the hinge; minus on the other side of it.",
        ),
    ]


class Platform(Section):
    """A platform that is hinged in its middle and level only where the loads balance."""

    length_m: Annotated[
        Estimate, Number("m", 0.1, 20.0, label="Length", hint="Along the way up, end to end.")
    ]
    mass_kg: Annotated[
        Estimate | None,
        Number("kg", 0.0, 2000.0, label="Mass", hint="Counts only in what the hinge carries."),
    ] = None
    hold_moment_nm: Annotated[
        Estimate | None,
        Number(
            "nm",
            0.0,
            5000.0,
            label="Moment that it holds level",
            hint="Friction or a latch of the hinge: the least moment that tips it. "
            "Weight times its distance from the hinge.",
        ),
    ] = None
    partners: Annotated[
        tuple[Partner, ...], Group("Partners", "On it at the same time.", most=10, one="partner")
    ] = ()
