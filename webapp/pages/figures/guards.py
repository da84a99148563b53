"""By which functions each figure is worked out, and which checks hold it to something outside.

A test holds that every metric has an entry and that every function and check exists.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple


class Check(NamedTuple):
    """A test that guards a figure, and what it holds the figure to."""

    file: str
    test: str
    words: str


class Guard(NamedTuple):
    """What stands behind one figure."""

    functions: tuple[str, ...]
    """In `models.engineering`, as module.function; the first has the equation that names it."""
    checks: tuple[Check, ...]
    source: str = ""
    """Where the functions name none, or there are none."""


class Extra(NamedTuple):
    """A row of the comparison that is made for each study, outside the catalogue."""

    name: str
    question: str
    sentence: str


_REFERENCE = "tests/reference"
_TRADE = "tests/models/trade"
_ENGINEERING = "tests/models/engineering"

WHOLE = Check(
    f"{_REFERENCE}/test_whole_case.py",
    "test_a_figure_agrees_with_the_independent_solution",
    "A whole study, solved apart by time integration and root finding, within 0.1 %.",
)
INVENTED = Check(
    f"{_REFERENCE}/test_independent.py",
    "test_an_invented_study_agrees_with_the_independent_solution",
    "Invented studies of every layout, solved a second way by another program, to a millionth.",
)
GEOMETRY = Check(
    f"{_REFERENCE}/test_geometry.py",
    "test_mass_centre_and_yaw_inertia_while_travelling",
    "Sums by hand over the parts of a whole study.",
)
TIPS = Check(
    f"{_REFERENCE}/test_geometry.py",
    "test_tipping_in_the_worst_pose",
    "Moments about the edges in every pose of a whole study.",
)
STABILITY = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_the_static_stability_factor",
    "The static stability factor T/2h as NHTSA defines it.",
)
SLOPE = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_axle_loads_on_a_slope_while_accelerating",
    "Axle loads on a slope, Jazar, Vehicle Dynamics, eq. 2.121.",
)
CLEARANCES = Check(
    f"{_REFERENCE}/test_geometry.py",
    "test_clearances_and_overlaps",
    "Polygon distances and areas of a whole study, worked out apart.",
)
PERIMETER = Check(
    f"{_REFERENCE}/test_geometry.py", "test_frame_perimeter", "The frame of a whole study by hand."
)
CAR = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_grip_alone_bounds_the_sprint_of_a_car",
    "A car held by grip alone, 0 to 100 km/h in 2.83 s: Jazar, Vehicle Dynamics, chapter 2.",
)
EV = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_limited_force_then_constant_power",
    "An electric car, 0 to 26.8 m/s: Larminie and Lowry, Electric Vehicle Technology Explained.",
)
LINEAR = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_a_linear_motor_without_other_limits",
    "The closed form of a motor without any other limit.",
)
TRACTION = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_traction_limits_of_rear_front_and_all_wheels",
    "Traction limits of rear, front and all-wheel drive.",
)
MEASURED = Check(
    f"{_REFERENCE}/test_measured_drives.py",
    "test_the_measured_speed_lies_near_the_geared_one",
    "Drives that their builders measured: 12/kV lies at 0.87 to 1.10 of it.",
)
WAYS = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_speed_and_force_along_a_way",
    "Speed and force of rollers along a way, by the balance of power.",
)
SKID = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_a_wide_base_resists_turning_by_lateral_slip_alone",
    "The turning moment of wide tracked vehicles: Wong, Theory of Ground Vehicles (memory).",
)
MECANUM = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_a_mecanum_base_moves_as_published",
    "A mecanum base: Lynch and Park, Modern Robotics, chapter 13.",
)
SAG = Check(
    f"{_REFERENCE}/test_published_motion.py", "test_the_bus_sags", "A battery's sag, Ohm's law."
)
MOTOR = Check(
    f"{_REFERENCE}/test_published_motion.py",
    "test_power_peaks_at_half_speed_and_half_torque",
    "Motors of a published course on designing with them (MIT 2.007).",
)
MATCH = Check(
    f"{_TRADE}/test_match.py",
    "test_agrees_with_an_integrator",
    "A whole match by a general integrator of differential equations.",
)
LEDGER = Check(
    f"{_TRADE}/test_match.py", "test_of_every_match_closes", "The energies of a match add up."
)
BELOW = Check(
    f"{_ENGINEERING}/test_match_runs.py",
    "test_time_below_a_threshold",
    "Time below a limit, by hand.",
)
PEUKERT = Check(
    f"{_REFERENCE}/test_published_power.py",
    "test_the_rated_form_of_peukerts_law",
    "Peukert's law in its rated form, 8.71 h (memory).",
)
HIGH = Check(
    f"{_REFERENCE}/test_published_power.py",
    "test_a_battery_at_high_currents",
    "An 18 Ah battery down to 10.5 V at 0.9 to 60 A (memory).",
)
WORST = Check(
    f"{_TRADE}/test_match.py",
    "test_the_worst_that_stays_above_is_named",
    "Each battery's sprint and push, one by one.",
)
DAY = Check(
    f"{_TRADE}/test_power_sides.py",
    "test_is_the_least_that_plays_every_match",
    "A day played match by match with so many batteries, and with one less.",
)
SLOTS = Check(
    f"{_TRADE}/test_power_sides.py",
    "test_are_there_less_what_stays_and_what_the_base_takes",
    "Counts by hand.",
)
PERT = Check(
    f"{_REFERENCE}/test_published_schedule.py",
    "test_a_path_of_a_network_has_the_published_mean_and_chance",
    "A network's mean and chance: Heizer and Render, Operations Management (memory).",
)
SERIES = Check(
    f"{_REFERENCE}/test_published_schedule.py",
    "test_the_chance_of_a_series_is_that_of_the_densities",
    "A series of tasks against the convolution of their densities.",
)
READY = Check(
    f"{_TRADE}/test_readiness.py",
    "test_figures_for_the_catalogue",
    "The plan of a whole study, run by run.",
)
ROUTE = Check(
    f"{_REFERENCE}/test_independent_routes.py",
    "test_a_route_with_passed_points_agrees_with_time_integration",
    "Invented routes by time integration.",
)
MARGINS = Check(
    f"{_TRADE}/test_evaluation.py",
    "test_limits_and_margins_add_up",
    "Value, limit and margin add up.",
)

_FIT = ("prisms.clearances", "prisms.gaps")
_MASS = ("mass.mass_properties",)
_SPRINT = ("sprint.run_over", "traction.travel_motion")
_SUPPLY = ("supply.bus_voltage", "supply.bus_current", "sprint_supply.supply_over_run")
_BUS = ("match_bus.bus_state",)
_PLAN = ("schedule.simulate", "schedule_sampling.pert_shape")
_PERT = (
    "PERT's beta distribution: Malcolm, Roseboom, Clark and Fazar, Operations Research 7 (1959)."
)
_COUNT = "Own count; what a base takes where nothing is typed: common practice, no source."

GUARDS: Mapping[str, Guard] = {
    "fits": Guard(_FIT, (WHOLE, CLEARANCES)),
    "worst_clearance_m": Guard(("prisms.gaps",), (WHOLE, CLEARANCES)),
    "worst_clearance_margin_m": Guard(_FIT, (WHOLE, CLEARANCES)),
    "overlap_m3": Guard(("prisms.overlap_volumes",), (WHOLE, CLEARANCES)),
    "perimeter_m": Guard(("prisms.hull_perimeter",), (WHOLE, PERIMETER)),
    "legal_mass_kg": Guard(("mass.legal_mass",), (MARGINS, GEOMETRY)),
    "mass_kg": Guard(_MASS, (WHOLE, GEOMETRY)),
    "sprint_stop_time_s": Guard((*_SPRINT, "traction.braking"), (WHOLE, INVENTED, EV)),
    "sprint_time_s": Guard(_SPRINT, (WHOLE, INVENTED, CAR, EV, LINEAR)),
    "sprint_end_speed_mps": Guard(
        ("sprint.state_at_speed", "traction.travel_motion"), (WHOLE, INVENTED, LINEAR)
    ),
    "accel_time_s": Guard(
        ("sprint.state_at_speed", "traction.travel_motion"), (WHOLE, INVENTED, CAR, EV)
    ),
    "top_speed_mps": Guard(("traction.top_speed",), (WHOLE, INVENTED)),
    "free_speed_mps": Guard(("drive.free_speed",), (WHOLE, MEASURED)),
    "side_speed_mps": Guard(("drive.free_speed", "drive.directions"), (WHOLE, WAYS, MECANUM)),
    "turn90_s": Guard(
        ("turning.turn_motion", "turning.skid_turn", "turning.turning"), (WHOLE, INVENTED, SKID)
    ),
    "turn180_s": Guard(
        ("turning.turn_motion", "turning.skid_turn", "turning.turning"), (WHOLE, INVENTED, SKID)
    ),
    "spin_rate_radps": Guard(("turning.turning", "turning.skid_turn"), (WHOLE, INVENTED, MECANUM)),
    "brake_mps2": Guard(("traction.braking",), (WHOLE, INVENTED)),
    "push_force_n": Guard(("pushing.push",), (WHOLE, INVENTED, TRACTION)),
    "push_limited_by": Guard(("pushing.push",), (WHOLE, INVENTED)),
    "side_hold_force_n": Guard(("drive.side_hold",), (WHOLE, INVENTED)),
    "push_motor_current_a": Guard(("pushing.push_currents",), (WHOLE, INVENTED, MOTOR)),
    "push_bus_current_a": Guard(("pushing.push_currents", "supply.bus_current"), (WHOLE, INVENTED)),
    "min_bus_voltage_v": Guard(_SUPPLY, (WHOLE, INVENTED, SAG)),
    "browns_out": Guard(
        ("supply.bus_voltage",),
        (
            Check(
                f"{_TRADE}/test_evaluation.py",
                "test_a_brownout_is_the_bus_below_the_threshold",
                "The threshold moved above and below the lowest voltage.",
            ),
        ),
    ),
    "peak_bus_current_a": Guard(("supply.bus_current", _SUPPLY[2]), (WHOLE, INVENTED)),
    "sprint_energy_j": Guard((_SUPPLY[2],), (WHOLE, INVENTED)),
    "match_min_voltage_v": Guard((*_BUS, "match_bus.lowest"), (MATCH, SAG)),
    "match_below_warning_s": Guard((*_BUS, "match_bus.time_below"), (MATCH, BELOW)),
    "match_below_brownout_s": Guard((*_BUS, "match_bus.time_below"), (MATCH, BELOW)),
    "match_charge_share": Guard(
        ("battery.usable_capacity", "battery.discharge_time"), (MATCH, PEUKERT, HIGH)
    ),
    "match_mean_current_a": Guard((*_BUS, "match_bus.sums_over"), (MATCH, LEDGER)),
    "worst_battery": Guard(("supply.bus_voltage",), (WORST,)),
    "batteries_for_day": Guard((), (DAY,), "Own count, stated in the words above."),
    "ready_probability": Guard(_PLAN, (PERT, SERIES, READY), _PERT),
    "ready_date_p90": Guard((*_PLAN, "calendar.meeting_of_end"), (SERIES, READY), _PERT),
    "practice_hours": Guard(_PLAN, (READY,), _PERT),
    "cost": Guard(
        (),
        (READY,),
        "A sum of what the study states.",
    ),
    "channels_free": Guard((), (SLOTS,), _COUNT),
    "controllers_free": Guard((), (SLOTS,), _COUNT),
    "encoders_free": Guard((), (SLOTS,), _COUNT),
    "bus_nodes_free": Guard((), (SLOTS,), _COUNT),
    "cg_x_m": Guard(_MASS, (WHOLE, GEOMETRY)),
    "cg_y_m": Guard(_MASS, (WHOLE, GEOMETRY)),
    "cg_z_m": Guard(_MASS, (WHOLE, GEOMETRY)),
    "yaw_inertia_kgm2": Guard(_MASS, (WHOLE, GEOMETRY)),
    "tip_forward_mps2": Guard(("stability.tip_limits",), (WHOLE, TIPS, STABILITY)),
    "tip_brake_mps2": Guard(("stability.tip_limits",), (WHOLE, TIPS, STABILITY)),
    "tip_side_mps2": Guard(
        ("stability.tip_limits", "stability.side_reach"), (WHOLE, TIPS, STABILITY)
    ),
    "grade_deg": Guard(("pushing.grade",), (WHOLE, SLOPE)),
    "grade_limited_by": Guard(("pushing.grade",), (WHOLE,)),
    "route_s": Guard(
        ("routes.linked_leg_times", "routes.free_leg_times"), (WHOLE, INVENTED, ROUTE)
    ),
    "route_margin_s": Guard((), (ROUTE,), "A difference of two times."),
    "route_cycles": Guard(("routes.whole_cycles",), (ROUTE,)),
    "legal_mass_margin_kg": Guard(("mass.legal_mass",), (MARGINS,)),
    "perimeter_margin_m": Guard(("prisms.hull_perimeter",), (MARGINS,)),
    "height_m": Guard((), (MARGINS,), "The greatest of the tops that the study states."),
    "height_margin_m": Guard((), (MARGINS,), "A difference of two heights."),
}
"""What stands behind every metric of the catalogue and every extra row, by key."""

EXTRAS: Mapping[str, Extra] = {
    "legal_mass_margin_kg": Extra(
        "Mass left under the limit", "fit", "What the rules' mass limit leaves."
    ),
    "perimeter_margin_m": Extra(
        "Perimeter left under the limit", "fit", "What the rules' perimeter limit leaves."
    ),
    "height_m": Extra("Height", "fit", "The highest point, mechanisms as in the travelling pose."),
    "height_margin_m": Extra(
        "Height left under the limit", "fit", "What the rules' height limit leaves."
    ),
    "route_s": Extra(
        "Time of a route", "cycle", "One row for each route of the study, by its name."
    ),
    "route_margin_s": Extra(
        "Time left in the autonomous period", "cycle", "One row for each autonomous route."
    ),
    "route_cycles": Extra(
        "Cycles in a match", "cycle", "One row for each scoring cycle of the study."
    ),
}
"""Rows that each study adds to the catalogue, in the order of the comparison."""
