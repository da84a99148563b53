"""What a candidate drives on: motors and gearing, wheels, frame, steered modules, connections.

Contents: `Layout`, `Orientation`, `CORNERS`, `RatiosOnOffer`, `Uses`, `Drive`, `Wheels`, `Frame`,
`Corner`, `Corners`, `Modules`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from models.study.basics import ZERO, Section
from models.study.kinds import Choice, Group, Key, Number, Ratio, Whole
from models.study.numbers import Estimate

Layout = Literal["tank", "swerve", "mecanum", "omni"]
Orientation = Literal["upright", "inverted"]
CORNERS = ("front_left", "front_right", "rear_left", "rear_right")

RatiosOnOffer = Annotated[
    tuple[Annotated[Estimate, Ratio("", 0.01, 1000.0, label="Ratio")], ...],
    Group(
        "Ratios on offer",
        "What can be bought or built; plain ratios or tooth counts.",
        most=60,
        one="ratio",
    ),
]


class Uses(Section):
    """How many of each kind of connection something takes."""

    channels: Annotated[int | None, Whole("", 0, 200, label="Power channels")] = None
    controllers: Annotated[int | None, Whole("", 0, 200, label="Motor controllers")] = None
    encoders: Annotated[int | None, Whole("", 0, 200, label="Encoder inputs")] = None
    bus_nodes: Annotated[int | None, Whole("", 0, 200, label="Bus nodes")] = None


class Drive(Section):
    """Motors and gearing of a candidate."""

    motor: Annotated[str, Key(label="Motor")]
    motor_count: Annotated[
        int, Whole("", 2, 24, label="Drive motors", hint="Steering motors are not counted.")
    ]
    ratio: Annotated[
        Estimate,
        Ratio(
            "",
            0.01,
            1000.0,
            label="Ratio",
            hint="Motor turns per wheel turn, or tooth counts such as 50:14, 17:27, 45:15.",
        ),
    ]
    efficiency: Annotated[
        Estimate,
        Number(
            "",
            0.0,
            1.0,
            above_minimum=True,
            label="Gearing efficiency",
            hint="Spur gears pass 0.94 to 0.98 a stage.",
        ),
    ]
    stator_limit_a: Annotated[
        Estimate | None,
        Number(
            "a",
            1.0,
            5000.0,
            label="Stator current limit",
            hint="Of one motor's winding; empty for none.",
        ),
    ] = None
    supply_limit_a: Annotated[
        Estimate | None,
        Number(
            "a",
            1.0,
            5000.0,
            label="Supply current limit",
            hint="What one controller takes from the battery; empty for none.",
        ),
    ] = None
    branch_ohm: Annotated[
        Estimate,
        Number(
            "ohm",
            0.0,
            1.0,
            label="Branch wiring of one motor",
            hint="Both leads; nothing typed counts as 0.",
        ),
    ] = ZERO
    steer_time_s: Annotated[
        Estimate,
        Number("s", 0.0, 5.0, label="Time to steer", hint="Steered modules only."),
    ] = ZERO
    ratios_on_offer: RatiosOnOffer = ()  # fmt: skip


class Wheels(Section):
    """Wheels of a candidate and where they stand."""

    count: Annotated[int, Whole("", 4, 16, label="Wheels")]
    diameter_m: Annotated[
        Estimate, Number("m", 0.01, 1.0, label="Wheel diameter", hint="Worn tread is smaller.")
    ]
    wheelbase_m: Annotated[
        Estimate, Number("m", 0.02, 5.0, label="Wheelbase", hint="First to last axle.")
    ]
    track_m: Annotated[
        Estimate, Number("m", 0.02, 5.0, label="Track", hint="Middle of left to right wheels.")
    ]
    effective_track_m: Annotated[
        Estimate | None,
        Number(
            "m",
            0.02,
            10.0,
            label="Effective track",
            hint="Tank only, measured: difference of the sides' speeds over the turn rate.",
        ),
    ] = None
    centre_drop_m: Annotated[Estimate, Number("m", 0.0, 0.05, label="Centre wheels dropped by")] = (
        ZERO
    )
    grip: Annotated[
        Estimate,
        Number("", 0.05, 3.0, label="Grip", hint="Peak friction along; 0.9 to 1.3 is usual."),
    ]
    side_grip: Annotated[
        Estimate | None,
        Number("", 0.0, 3.0, label="Grip sideways", hint="Empty: as along."),
    ] = None
    rolling_coefficient: Annotated[
        Estimate,
        Number("", 0.0, 0.5, label="Rolling resistance", hint="Share of the weight; 0.02 to 0.04."),
    ] = ZERO
    inertia_kgm2: Annotated[
        Estimate,
        Number("kgm2", 0.0, 1.0, label="Inertia of one wheel", hint="Nothing typed counts as 0."),
    ] = ZERO
    omni_axles: Annotated[
        tuple[Annotated[int, Whole("", 0, 7, label="Axle")], ...],
        Group("Axles with omni wheels", "Counted from the front, which is 0.", most=8, one="axle"),
    ] = ()
    omni_side_grip: Annotated[
        Estimate | None, Number("", 0.0, 3.0, label="Omni wheels' grip sideways")
    ] = None  # fmt: skip


class Frame(Section):
    """The frame in plan, without bumpers."""

    length_m: Annotated[Estimate, Number("m", 0.05, 5.0, label="Frame length")]
    width_m: Annotated[Estimate, Number("m", 0.05, 5.0, label="Frame width")]
    belly_m: Annotated[
        Estimate | None,
        Number(
            "m",
            0.0,
            1.0,
            label="Belly over the floor",
            hint="Lowest edge of the frame between the wheels; empty where it is not known.",
        ),
    ] = None


Inset = Annotated[Estimate, Number("m", 0.0, 1.0)]


class Corner(Section):
    """How one corner's module sits."""

    orientation: Annotated[Orientation, Choice(("upright", "inverted"), label="Orientation")]
    inset_m: Annotated[
        tuple[Inset, Inset],
        Group("Moved inwards by", "From the corner of wheelbase × track.",
              items=("along", "across")),
    ] = (ZERO, ZERO)  # fmt: skip


class Corners(Section):
    """The four corners of a steered base."""

    front_left: Corner
    front_right: Corner
    rear_left: Corner
    rear_right: Corner


class Modules(Section):
    """Which module type a steered base has, and how each corner's sits."""

    type: Annotated[str, Key(label="Module type")]
    corners: Corners
