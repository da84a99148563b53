"""What a row of the comparison means: how the figure is computed and what it leaves out."""

from __future__ import annotations

from typing import NamedTuple


class Meaning(NamedTuple):
    """Words behind one figure, and the chart that shows more of it."""

    how: str
    leaves_out: str
    chart: str = ""
    """Key of a chart on the charts page, "" where none shows it."""


_SPRINT = (
    "At every speed the robot accelerates with the least of three forces: what the motors give "
    "under their limits and the sagging battery, what the wheels grip, and what tips it over."
)
_NO_DRIVER = "Driver, wheel slip after breaking loose, and a battery that tires during the match."
_BALANCE = "The mechanisms' own swing, a push from outside, and bumps in the floor."
_BATTERY = (
    "Battery and main wiring are one resistance; each motor has its own branch wiring; the "
    "controllers lose nothing."
)
_PRISMS = (
    "Bodies and keep-outs are upright prisms: an outline in plan between a bottom and a top. "
    "Gap = √(distance in plan² + distance in height²)."
)
_FLEX = "Flexing parts, cables, bolt heads, and how exactly the shop builds it."
_MATCH = (
    "The autonomous route once, then whole cycles, each leg with the loads that run in it; after "
    "each drive the battery rests at a lower voltage."
)
_NO_RECOVERY = "The battery's recovery in pauses, its warming up, and other robots in the way."
_CUT = "The cut itself: a controller that cuts outputs takes less and is slower."
_SLOTS = "What there is, less what stays on the robot and what the base takes."
_PLAN = "Illness, exams, second thoughts, and tasks that nobody has listed."
_ADAPTERS = "Splitters and hubs, and places that cannot be reached."

MEANINGS: dict[str, Meaning] = {
    "fits": Meaning(
        f"{_PRISMS} It fits where every body keeps every clearance and shares no volume.", _FLEX
    ),
    "worst_clearance_m": Meaning(f"{_PRISMS} The least of all pairs.", _FLEX),
    "worst_clearance_margin_m": Meaning(
        "Gap less the clearance that the keep-out asks for, the least of all pairs.", _FLEX
    ),
    "overlap_m3": Meaning(
        "Area that two outlines share in plan × the height they have in common, added up.", _FLEX
    ),
    "perimeter_m": Meaning(
        "Length of the convex hull of the frame in plan.", "Bumpers and anything outside the frame."
    ),
    "legal_mass_kg": Meaning(
        "Sum of the robot's and the candidate's parts, those that the rules exempt left out.",
        "Whatever is not listed as a part: fasteners, cables, labels.",
    ),
    "mass_kg": Meaning(
        "Sum of all parts, exempt ones too.", "A game piece on board, unless listed as a part."
    ),
    "sprint_stop_time_s": Meaning(
        f"{_SPRINT} Then it brakes so that it stands still at the end of the distance; the moment "
        "to brake is found so that both distances add up.",
        _NO_DRIVER,
        "speed",
    ),
    "sprint_time_s": Meaning(f"{_SPRINT} Time = ∫ dv/a until the end.", _NO_DRIVER, "distance"),
    "sprint_end_speed_mps": Meaning(
        f"{_SPRINT} Read where x = ∫ v·dv/a ends.", _NO_DRIVER, "speed"
    ),
    "accel_time_s": Meaning(f"{_SPRINT} Time = ∫ dv/a up to that speed.", _NO_DRIVER, "speed"),
    "top_speed_mps": Meaning(
        "The speed at which the motors' force, on a full battery, equals the rolling drag.",
        "Sag after minutes of driving, and drag of gears that run warm or dirty.",
        "force",
    ),
    "free_speed_mps": Meaning(
        "Datasheet free speed × wheel radius ÷ ratio (× the layout's own factor).",
        "All load: a real robot stays below it.",
        "force",
    ),
    "side_speed_mps": Meaning(
        "The geared free speed with the layout's factor for driving straight sideways.",
        "All load, and rollers that slip.",
    ),
    "turn90_s": Meaning(
        "A sprint of the turning robot over 90° with its yaw inertia. Tank wheels have to skid: "
        "the turn is the one that wastes least power. Steered modules first steer.",
        "A drifting centre of the turn, and how a driver stops it.",
    ),
    "turn180_s": Meaning("As the quarter turn, over 180°.", "As the quarter turn."),
    "spin_rate_radps": Meaning(
        "Where the motors' force equals what turning costs; for tank wheels the skid.",
        "Sag after seconds of spinning.",
    ),
    "brake_mps2": Meaning(
        "The least of motor braking with drag, grip × gravity, and what lifts the rear wheels.",
        "Controllers that limit braking below the stator limit.",
    ),
    "push_force_n": Meaning(
        "At rest: the least of what the motors give under their limits and what the wheels grip; "
        "steered, mecanum and omni axles each with the load they carry.",
        "Tread that wears or heats, and a push that lifts the robot.",
        "force",
    ),
    "push_limited_by": Meaning(
        "The limit that is met first when the push begins.", "What gives way after seconds."
    ),
    "side_hold_force_n": Meaning(
        "Grip across the wheels × weight; steered with wheels crossed; rollers hold 1/√2 of it.",
        "A push above the wheels that tips or turns it.",
    ),
    "push_motor_current_a": Meaning(
        "Winding current that this push needs; of the greatest-loaded motor where axles differ.",
        "Heat: how long the motor bears it.",
    ),
    "push_bus_current_a": Meaning(
        f"{_BATTERY} Motor power at rest is heat only, so the battery gives far less current than "
        "the windings carry.",
        "Heat, and breakers that trip after seconds.",
    ),
    "min_bus_voltage_v": Meaning(
        f"{_BATTERY} The lowest voltage on the way.",
        "A tired battery; mechanisms that run meanwhile, beyond the accessory current.",
        "voltage",
    ),
    "browns_out": Meaning(
        "Compares the lowest voltage with the controller's threshold.",
        "A tired battery; mechanisms that run meanwhile.",
        "voltage",
    ),
    "peak_bus_current_a": Meaning(
        f"{_BATTERY} The greatest current on the way.",
        "Short peaks when controllers switch.",
        "current",
    ),
    "sprint_energy_j": Meaning(
        "∫ voltage × current dt from rest until it passes the end.",
        "Braking gives nothing back; the losses inside the battery.",
        "current",
    ),
    "match_min_voltage_v": Meaning(_MATCH, _NO_RECOVERY),
    "match_below_warning_s": Meaning(f"{_MATCH} All moments below the warning voltage.", _CUT),
    "match_below_brownout_s": Meaning(f"{_MATCH} All moments below the brownout voltage.", _CUT),
    "match_charge_share": Meaning(
        "Charge at the beginning less ∫ I dt over what the battery gives at the mean current: "
        "Peukert's law up to 1 C, a table above it.",
        "Recovery between pulses, so that the true rest is a little more.",
    ),
    "match_mean_current_a": Meaning("∫ I dt over the match, divided by its length.", _NO_RECOVERY),
    "worst_battery": Meaning(
        "Of the study's batteries that stay above the brownout voltage in the sprint and in a "
        "push the one that comes closest to it.",
        "How each battery ages, and what a match leaves of its charge.",
    ),
    "batteries_for_day": Meaning(
        "One more than charging time ÷ (matches on a charge × minutes between matches), rounded "
        "up, and never more than matches ÷ matches on a charge.",
        "Practice, tests in the pit, and a battery that fails.",
    ),
    "ready_probability": Meaning(
        "10,000 runs; in each, every task and delivery takes a time drawn from its three points, "
        "and each crew works through its list in the hours of the calendar's meetings.",
        _PLAN,
    ),
    "ready_date_p90": Meaning(
        "The earliest date by which nine of ten of these runs are ready; none where the calendar "
        "ends before.",
        _PLAN,
    ),
    "practice_hours": Meaning(
        "Hours of practice tasks done by the ready date, and of all meetings from ready until "
        "then; half of the runs have more.",
        "Whether the drivers come, and what else the robot is needed for.",
    ),
    "cost": Meaning(
        "(Quantity − in stock) × cost of one, spares included, over all purchases.",
        "Shipping, express, tools, and what is broken on the way.",
    ),
    "channels_free": Meaning(_SLOTS, _ADAPTERS),
    "controllers_free": Meaning(_SLOTS, _ADAPTERS),
    "encoders_free": Meaning(_SLOTS, _ADAPTERS),
    "bus_nodes_free": Meaning(_SLOTS, _ADAPTERS),
    "cg_x_m": Meaning("Σ mass × place ÷ Σ mass, in the travelling pose.", "Parts not listed."),
    "cg_y_m": Meaning("Σ mass × place ÷ Σ mass, in the travelling pose.", "Parts not listed."),
    "cg_z_m": Meaning("Σ mass × height ÷ Σ mass, in the travelling pose.", "Parts not listed."),
    "yaw_inertia_kgm2": Meaning(
        "Σ of each part's own m(a² + b²)/12 and its mass × distance² from the centre of gravity.",
        "Parts given without a size count as points.",
    ),
    "tip_forward_mps2": Meaning(
        "Gravity × distance of the rear axle behind the centre of gravity ÷ its height, least of "
        "all poses.",
        _BALANCE,
    ),
    "tip_brake_mps2": Meaning(
        "Gravity × distance of the front axle ahead of the centre of gravity ÷ its height, least "
        "of all poses.",
        _BALANCE,
    ),
    "tip_side_mps2": Meaning(
        "Gravity × distance to the nearer side of the support polygon ÷ height of the centre of "
        "gravity, least of all poses.",
        _BALANCE,
    ),
    "grade_deg": Meaning(
        "The least slope of three: where the wheels slip, where the motors stall, where it tips.",
        "A run-up, bumps at the foot of the ramp, and frames that touch it.",
    ),
    "grade_limited_by": Meaning("The one of the three that comes first.", "As the slope itself."),
    "route_s": Meaning(
        "Leg by leg: the longer of driving, turning and moving mechanisms, then the action at "
        "rest. A tank turns, drives and turns again, backwards where that is quicker.",
        "Traffic, misses, and a driver who is not perfect.",
    ),
    "route_margin_s": Meaning(
        "The autonomous period less the time of the route.", "Code that waits for sensors."
    ),
    "route_cycles": Meaning(
        "Whole cycles in what the autonomous period leaves of the match.",
        "Traffic, misses, defence, and what the end of the match is kept for.",
    ),
    "legal_mass_margin_kg": Meaning(
        "The rules' mass limit less the mass that it counts.", "The error of the inspector's scale."
    ),
    "perimeter_margin_m": Meaning(
        "The rules' perimeter limit less the frame's convex hull.",
        "Anything that sticks out of the frame.",
    ),
    "height_m": Meaning(
        "The top of the highest part, body or wheel, travelling pose.",
        "Parts given without a size count as points.",
    ),
    "height_margin_m": Meaning("The rules' height limit less that height.", "As the height."),
}
"""Words behind every row, by the metric's key (a route's: what stands before its name)."""


def meaning_of(metric_key: str) -> Meaning:
    """Return the words behind a row; raises `KeyError` where none are written.

    >>> meaning_of("route_s:two crates").leaves_out
    'Traffic, misses, and a driver who is not perfect.'
    """
    return MEANINGS[metric_key.split(":", maxsplit=1)[0]]
