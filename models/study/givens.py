"""What all candidates are held against: rules, power, yardsticks, the platform on the field.

Contents: `Rules`, `Power`, `Yardsticks`, `Partner`, `Platform`.
"""

from __future__ import annotations

from typing import Annotated

from models.study.basics import ZERO, Name, Section
from models.study.kinds import Group, Number, Whole
from models.study.numbers import Estimate


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


class Power(Section):
    """Battery, main wiring and what the controller tolerates."""

    open_circuit_v: Annotated[
        Estimate,
        Number(
            "v",
            1.0,
            60.0,
            label="Open-circuit voltage",
            hint="A full 12 V lead-acid battery rests at about 12.7 V.",
        ),
    ]
    internal_resistance_ohm: Annotated[
        Estimate,
        Number(
            "ohm",
            0.0,
            1.0,
            label="Battery's internal resistance",
            hint="Good 10 to 15 mΩ, tired 16 to 19, practice 20 to 28 (common practice).",
        ),
    ]
    main_wiring_ohm: Annotated[
        Estimate,
        Number(
            "ohm",
            0.0,
            1.0,
            label="Main wiring and breaker",
            hint="Both leads, plugs and the main breaker; nothing typed counts as 0.",
        ),
    ] = ZERO
    capacity_ah: Annotated[Estimate | None, Number("ah", 0.1, 200.0, label="Capacity")] = None
    brownout_v: Annotated[
        Estimate,
        Number(
            "v",
            0.0,
            60.0,
            label="Brownout voltage",
            hint="Below this bus voltage the controller cuts its outputs.",
        ),
    ]
    main_breaker_a: Annotated[
        Estimate | None, Number("a", 1.0, 1000.0, label="Main breaker's rating")
    ] = None
    accessory_current_a: Annotated[
        Estimate,
        Number(
            "a",
            0.0,
            200.0,
            label="Accessories' current",
            hint="Controller, radio, pumps, lights; nothing typed counts as 0.",
        ),
    ] = ZERO
    channels: Annotated[
        int | None, Whole("", 1, 100, label="Power channels", hint="Branches for motors.")
    ] = None  # fmt: skip


class Yardsticks(Section):
    """The distance, speed and slope that all candidates are measured on."""

    sprint_distance_m: Annotated[Estimate, Number("m", 0.1, 100.0, label="Sprint distance")]
    target_speed_mps: Annotated[Estimate, Number("mps", 0.05, 12.0, label="Target speed")]
    ramp_deg: Annotated[Estimate | None, Number("deg", 0.0, 60.0, label="Ramp on the field")] = None


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
