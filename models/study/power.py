"""Where the current comes from and goes to: batteries, loads, breakers, cables, slots, a day.

Contents: `Battery`, `CurrentLoad`, `Cable`, `EventDay`, `Power`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from models.study.basics import ZERO, Name, Section
from models.study.kinds import Choice, Group, Label, Number, Text, Whole
from models.study.numbers import Estimate

BatteryKind = Literal["match", "tired", "practice", "own"]
BATTERY_KINDS: tuple[BatteryKind, ...] = ("match", "tired", "practice", "own")
LoadTime = Literal["always", "autonomous", "driver", "legs"]
LOAD_TIMES: tuple[LoadTime, ...] = ("always", "autonomous", "driver", "legs")

Multiple = Annotated[Estimate, Number("", 0.01, 1000.0, label="Multiple of its rating")]
Seconds = Annotated[Estimate, Number("s", 0.0001, 1e6, label="Holds for")]
CurvePoint = Annotated[
    tuple[Multiple, Seconds], Group("Point", items=("multiple of its rating", "seconds"))
]


class Battery(Section):
    """A class of batteries, or one that was measured."""

    name: Name
    kind: Annotated[BatteryKind, Choice(BATTERY_KINDS, label="Kind")]
    internal_resistance_ohm: Annotated[
        Estimate,
        Number(
            "ohm",
            0.0,
            1.0,
            label="Internal resistance",
            hint="At room temperature, well charged.",
        ),
    ]
    open_circuit_v: Annotated[
        Estimate | None,
        Number("v", 1.0, 60.0, label="Open-circuit voltage", hint="Full; empty: the section's."),
    ] = None
    capacity_ah: Annotated[
        Estimate | None,
        Number("ah", 0.1, 200.0, label="Capacity", hint="Empty: the section's."),
    ] = None
    charge: Annotated[
        Estimate, Number("", 0.0, 1.0, label="Charge", hint="Share of a full one: 0.85 or 85 %.")
    ] = Estimate(1.0)
    temperature_c: Annotated[
        Estimate | None,
        Number("c", -40.0, 80.0, label="Temperature", hint="Empty: room temperature."),
    ] = None  # fmt: skip


class CurrentLoad(Section):
    """Something beside the drive that takes current: a lift, a pump, a fan."""

    name: Name
    current_a: Annotated[Estimate, Number("a", 0.0, 500.0, label="Current", hint="While it runs.")]
    duty: Annotated[
        Estimate, Number("", 0.0, 1.0, label="Share of the time", hint="1: without a pause.")
    ] = Estimate(1.0)
    during: Annotated[
        LoadTime,
        Choice(LOAD_TIMES, label="During", hint="legs: only in legs of a route that name it."),
    ] = "always"


class Cable(Section):
    """A cable by its gauge or its copper's area."""

    name: Name
    runs: Annotated[
        Literal["main", "branch"],
        Choice(("main", "branch"), label="Runs", hint="main: all current; branch: one motor's."),
    ]
    gauge_awg: Annotated[int | None, Whole("", 0, 40, label="Gauge, AWG")] = None
    area_mm2: Annotated[
        Estimate | None,
        Number("mm2", 0.01, 500.0, label="Copper's area", hint="Instead of the gauge."),
    ] = None
    length_m: Annotated[
        Estimate,
        Number("m", 0.001, 50.0, label="Length", hint="One way; the way back counts too."),
    ]
    temperature_c: Annotated[
        Estimate | None,
        Number("c", -40.0, 200.0, label="Copper's temperature", hint="Empty: 20 °C."),
    ] = None  # fmt: skip


class EventDay(Section):
    """How a day's matches follow each other, for the count of batteries."""

    matches: Annotated[int, Whole("", 1, 100, label="Matches")]
    minutes_between: Annotated[
        Estimate,
        Number("min", 1.0, 1440.0, label="Between matches", hint="From start to start."),
    ]
    charge_hours: Annotated[
        Estimate, Number("h", 0.1, 48.0, label="A charge takes", hint="With cooling down.")
    ]
    batteries_owned: Annotated[int, Whole("", 1, 100, label="Batteries owned")]
    charge_kept_share: Annotated[
        Estimate | None,
        Number("", 0.0, 0.95, label="Charge kept", hint="Share still in it when it comes off."),
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
    warning_v: Annotated[
        Estimate | None,
        Number("v", 0.0, 60.0, label="Warn below", hint="A bus voltage that is still safe."),
    ] = None
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
    main_breaker_curve: Annotated[
        tuple[CurvePoint, ...],
        Group(
            "Main breaker's curve",
            "From its maker's data: multiple of its rating, seconds that it holds.",
            most=30,
            one="point",
        ),
    ] = ()
    branch_breaker_a: Annotated[
        Estimate | None, Number("a", 1.0, 500.0, label="Branch breakers' rating")
    ] = None
    branch_breaker_curve: Annotated[
        tuple[CurvePoint, ...],
        Group(
            "Branch breakers' curve",
            "From the maker's data: multiple of the rating, seconds that it holds.",
            most=30,
            one="point",
        ),
    ] = ()
    channels: Annotated[
        int | None, Whole("", 1, 100, label="Power channels", hint="Branches for motors.")
    ] = None
    controllers: Annotated[
        int | None, Whole("", 0, 200, label="Motor controllers", hint="That there are.")
    ] = None
    encoders: Annotated[
        int | None, Whole("", 0, 200, label="Encoder inputs", hint="That there are.")
    ] = None
    bus_nodes: Annotated[
        int | None, Whole("", 0, 200, label="Bus nodes", hint="That the bus takes.")
    ] = None
    batteries: Annotated[tuple[Battery, ...], Group("Batteries", most=20, one="battery")] = ()
    battery: Annotated[
        str | None,
        Text(label="Battery in use", hint="Nothing chosen: the figures of this section."),
    ] = None
    loads: Annotated[
        tuple[CurrentLoad, ...], Group("Loads beside the drive", most=60, one="load")
    ] = ()
    cables: Annotated[tuple[Cable, ...], Group("Cables", most=40, one="cable")] = ()
    day: Annotated[EventDay | None, Label(label="Day of matches")] = None  # fmt: skip
