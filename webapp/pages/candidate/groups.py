"""The inputs of a candidate in groups that follow the power, and what each does."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class InputGroup:
    """Inputs that stand together under one heading."""

    key: str
    words: str
    names: tuple[str, ...]


GROUPS: tuple[InputGroup, ...] = (
    InputGroup(
        "motor",
        "Motor",
        ("drive.motor", "drive.motor_count", "drive.stator_limit_a", "drive.supply_limit_a",
         "drive.branch_ohm"),
    ),
    InputGroup("gearing", "Gearing", ("drive.ratio", "drive.efficiency")),
    InputGroup(
        "wheels",
        "Wheels",
        ("wheels.count", "wheels.diameter_m", "wheels.wheelbase_m", "wheels.track_m",
         "wheels.effective_track_m", "wheels.centre_drop_m", "wheels.grip", "wheels.side_grip",
         "wheels.rolling_coefficient", "wheels.inertia_kgm2", "wheels.omni_axles",
         "wheels.omni_side_grip"),
    ),
    InputGroup(
        "frame",
        "Frame and modules",
        ("frame.length_m", "frame.width_m", "frame.belly_m", "drive.steer_time_s"),
    ),
)  # fmt: skip
"""The groups whose inputs are single boxes; supply, bodies and parts are shown by themselves."""

ONLY_FOR: dict[str, frozenset[str]] = {
    "drive.steer_time_s": frozenset({"swerve"}),
    "wheels.effective_track_m": frozenset({"tank"}),
    "wheels.centre_drop_m": frozenset({"tank"}),
    "wheels.side_grip": frozenset({"tank"}),
    "wheels.omni_axles": frozenset({"tank"}),
    "wheels.omni_side_grip": frozenset({"tank"}),
}
"""Inputs that only some layouts use; they are shown for others where a value is given."""

EFFECTS: dict[str, tuple[str, str]] = {
    "drive.motor": ("free_speed_mps", "{} free speed"),
    "drive.motor_count": ("push_force_n", "pushes {}"),
    "drive.stator_limit_a": ("push_force_n", "pushes {}"),
    "drive.supply_limit_a": ("min_bus_voltage_v", "bus falls to {} in the sprint"),
    "drive.branch_ohm": ("min_bus_voltage_v", "bus falls to {} in the sprint"),
    "drive.ratio": ("free_speed_mps", "{} free speed"),
    "drive.efficiency": ("top_speed_mps", "{} top speed"),
    "drive.steer_time_s": ("turn90_s", "{} for a quarter turn"),
    "wheels.count": ("turn90_s", "{} for a quarter turn"),
    "wheels.diameter_m": ("free_speed_mps", "{} free speed"),
    "wheels.wheelbase_m": ("tip_brake_mps2", "tips forwards when braking at {}"),
    "wheels.track_m": ("tip_side_mps2", "tips sideways at {}"),
    "wheels.effective_track_m": ("turn90_s", "{} for a quarter turn"),
    "wheels.centre_drop_m": ("turn90_s", "{} for a quarter turn"),
    "wheels.grip": ("push_force_n", "pushes {}"),
    "wheels.side_grip": ("side_hold_force_n", "holds {} sideways"),
    "wheels.rolling_coefficient": ("top_speed_mps", "{} top speed"),
    "wheels.inertia_kgm2": ("sprint_stop_time_s", "{} to sprint and stop"),
    "wheels.omni_side_grip": ("turn90_s", "{} for a quarter turn"),
    "frame.length_m": ("perimeter_m", "{} perimeter"),
    "frame.width_m": ("perimeter_m", "{} perimeter"),
}
"""For each input the figure that it moves most: its key, and the words around its value."""

UNUSED = "this layout does not use it"

REMARK_PLACES: tuple[str, ...] = (
    "layout",
    *(name for group in GROUPS for name in group.names),
    "drive.ratios_on_offer",
    "modules",
    "bodies",
    "parts",
)
"""Names beside which remarks can stand: single boxes, and whole tables."""
