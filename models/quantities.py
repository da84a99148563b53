"""The one catalogue of metrics: every figure that tables, charts, exports, gates and criteria show.

A metric's unit is a unit key of `models.units` (the ending of a study-file name: `m`, `mps`,
`kg` …), so that a value can be shown in SI or inch-pound units in one place.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Better = Literal["higher", "lower", "yes", "no", "none"]
Kind = Literal["number", "word", "truth"]
MadeBy = Literal["drive", "power", "plan"]
"""Where a figure comes from: the evaluation, the match on a battery, the plan of the work."""

QUESTIONS: tuple[tuple[str, str], ...] = (
    ("fit", "Does it fit?"),
    ("quick", "Is it quicker?"),
    ("shove", "Will it hold in a shove?"),
    ("battery", "Will the battery take it?"),
    ("upright", "Will it stay upright?"),
    ("cycle", "What does a cycle cost?"),
    ("ready", "Can we have it ready?"),
    ("team", "What does the team want?"),
)
"""The questions a team asks, in the order in which the page answers them: (key, words)."""

TIE_SHARE = 0.05
"""Two figures closer than this share are a tie where no uncertainty is stated (design)."""

SURE_SHARE = 0.9
"""Where it is stated, one of them has to be better in this share of the draws, else it is a tie."""


@dataclass(frozen=True)
class Metric:
    """One figure: what it is called, in what unit, which way is better and what it answers."""

    key: str
    name: str
    symbol: str
    unit: str
    better: Better
    question: str
    basis: str
    """Section of the table of the model in DEVELOPERS.md."""
    sentence: str
    kind: Kind = "number"
    headline: bool = False
    """One of the figures that the candidate page keeps in view."""
    more: str = "more"
    """The word for more of it in a difference: 'heavier', 'quicker' is `less` of a time."""
    less: str = "less"
    made_by: MadeBy = "drive"


_ALL = (
    Metric("fits", "Fits around the mechanisms", "", "", "yes", "fit", "6",
           "Every body of the base keeps the clearance that each keep-out asks for.",
           kind="truth", headline=True),
    Metric("worst_clearance_m", "Smallest gap to a keep-out", "c", "m", "higher", "fit", "6",
           "The least distance between a body of the base and a volume that a mechanism needs.",
           more="wider", less="tighter"),
    Metric("worst_clearance_margin_m", "Gap left over after the clearance asked for", "Δc", "m",
           "higher", "fit", "6",
           "The least of gap minus the keep-out's own clearance; below zero it does not fit.",
           more="wider", less="tighter"),
    Metric("overlap_m3", "Volume that two things would share", "V", "m3", "lower", "fit", "6",
           "Plan overlap times common height, summed over bodies and keep-outs.",
           more="more", less="less"),
    Metric("perimeter_m", "Frame perimeter", "p", "m", "lower", "fit", "6",
           "Length of the string around the frame in plan (its convex hull).",
           more="longer", less="shorter"),
    Metric("legal_mass_kg", "Mass that the limit counts", "m", "kg", "lower", "fit", "1",
           "All parts but those that the rules leave out (battery, bumpers).",
           headline=True, more="heavier", less="lighter"),
    Metric("mass_kg", "Moving mass", "M", "kg", "lower", "fit", "1",
           "Everything that the drive has to move, battery and bumpers included.",
           more="heavier", less="lighter"),
    Metric("sprint_stop_time_s", "Sprint and stop", "t", "s", "lower", "quick", "3",
           "From rest over the yardstick distance to a standstill at its end.",
           headline=True, more="slower", less="quicker"),
    Metric("sprint_time_s", "Sprint, passing the end", "t", "s", "lower", "quick", "3",
           "From rest until it passes the end of the yardstick distance.",
           more="slower", less="quicker"),
    Metric("sprint_end_speed_mps", "Speed at the end of the sprint", "v", "mps", "higher",
           "quick", "3", "How fast it passes the end of the yardstick distance.",
           more="faster", less="slower"),
    Metric("accel_time_s", "Time to the yardstick speed", "t", "s", "lower", "quick", "3",
           "From rest to the yardstick speed; none where the top speed lies below it.",
           more="slower", less="quicker"),
    Metric("top_speed_mps", "Top speed, full battery", "v", "mps", "higher", "quick", "3",
           "Where what the motors push equals what rolling costs.", headline=True,
           more="faster", less="slower"),
    Metric("free_speed_mps", "Geared free speed", "v", "mps", "higher", "quick", "3",
           "The datasheet's free speed through the gearing: a bound, never reached under load.",
           more="faster", less="slower"),
    Metric("side_speed_mps", "Sideways free speed", "v", "mps", "higher", "quick", "3",
           "Geared free speed straight sideways; a tank has none.", more="faster",
           less="slower"),
    Metric("turn90_s", "Quarter turn in place", "t", "s", "lower", "quick", "4",
           "Turn by 90° on the spot and stop, steering of modules included.", headline=True,
           more="slower", less="quicker"),
    Metric("turn180_s", "Half turn in place", "t", "s", "lower", "quick", "4",
           "Turn by 180° on the spot and stop, steering of modules included.",
           more="slower", less="quicker"),
    Metric("spin_rate_radps", "Steady spin", "ω", "radps", "higher", "quick", "4",
           "The yaw rate that it settles at when spinning on the spot.",
           more="faster", less="slower"),
    Metric("brake_mps2", "Braking", "a", "mps2", "higher", "quick", "3",
           "Deceleration from the motors, grip or the tipping limit, whichever is least.",
           more="harder", less="softer"),
    Metric("push_force_n", "Pushing force", "F", "n", "higher", "shove", "3",
           "At rest against something that does not move.", headline=True,
           more="stronger", less="weaker"),
    Metric("push_limited_by", "What limits the push", "", "", "none", "shove", "3",
           "Traction, stator limit, supply limit or voltage.", kind="word"),
    Metric("side_hold_force_n", "Holds against a sideways shove", "F", "n", "higher", "shove",
           "3", "The sideways force it resists before it slides.",
           more="stronger", less="weaker"),
    Metric("push_motor_current_a", "Motor current while pushing", "I", "a", "lower", "shove",
           "3", "Winding current of the hardest-worked motor in that push.",
           more="more", less="less"),
    Metric("push_bus_current_a", "Battery current while pushing", "I", "a", "lower", "shove",
           "2", "What the whole robot draws from the battery in that push.",
           more="more", less="less"),
    Metric("min_bus_voltage_v", "Lowest bus voltage in the sprint", "V", "v", "higher",
           "battery", "3", "Below the brownout voltage the controller cuts outputs.",
           headline=True, more="higher", less="lower"),
    Metric("browns_out", "Browns out in the sprint", "", "", "no", "battery", "3",
           "True where the lowest bus voltage lies below the controller's threshold.",
           kind="truth"),
    Metric("peak_bus_current_a", "Greatest battery current in the sprint", "I", "a", "lower",
           "battery", "3", "All motors and accessories together.", more="more", less="less"),
    Metric("sprint_energy_j", "Energy of the sprint", "E", "j", "lower", "battery", "3",
           "What the battery gives until the robot passes the end.", more="more", less="less"),
    Metric("match_min_voltage_v", "Lowest bus voltage in a match", "V", "v", "higher", "battery",
           "10", "Routes and loads from the first second to the last, the battery emptying.",
           more="higher", less="lower", made_by="power"),
    Metric("match_below_warning_s", "Time below the warning voltage in a match", "t", "s", "lower",
           "battery", "10", "All moments together in which the bus lies below it.",
           more="longer", less="shorter", made_by="power"),
    Metric("match_below_brownout_s", "Time below the brownout voltage in a match", "t", "s",
           "lower", "battery", "10", "In all these moments the controller would cut its outputs.",
           more="longer", less="shorter", made_by="power"),
    Metric("match_charge_share", "Charge left after a match", "", "share", "higher", "battery",
           "10",
           "Share of what the battery gives at the match's mean current; 0 is empty.",
           more="more", less="less", made_by="power"),
    Metric("match_mean_current_a", "Mean battery current in a match", "I", "a", "lower", "battery",
           "10", "Drive, accessories and loads over the whole match.", made_by="power"),
    Metric("worst_battery", "Worst battery that still drives it", "", "", "none", "battery", "10",
           "Stays above the brownout voltage in the sprint and in a push, by the least.",
           kind="word", made_by="power"),
    Metric("batteries_for_day", "Batteries needed on a match day", "", "", "lower", "battery", "10",
           "From matches, the time between them, the charge a match takes and the time to charge.",
           made_by="power"),
    Metric("channels_free", "Power channels left", "", "", "higher", "battery", "10",
           "Channels there are, less what stays and what the base takes; below zero it is short.",
           made_by="power"),
    Metric("controllers_free", "Motor controllers left", "", "", "higher", "battery", "10",
           "Controllers there are, less what stays and what the base takes.", made_by="power"),
    Metric("encoders_free", "Encoder inputs left", "", "", "higher", "battery", "10",
           "Inputs there are, less what stays and what the base takes.", made_by="power"),
    Metric("bus_nodes_free", "Bus nodes left", "", "", "higher", "battery", "10",
           "Nodes that the bus takes, less what stays and what the base takes.", made_by="power"),
    Metric("cg_x_m", "Centre of gravity, forward", "X", "m", "none", "upright", "1",
           "Ahead of the middle of the frame (minus: behind it), travelling pose.",
           more="further forward", less="further back"),
    Metric("cg_y_m", "Centre of gravity, left", "Y", "m", "none", "upright", "1",
           "Left of the middle line (minus: right of it), travelling pose.",
           more="further left", less="further right"),
    Metric("cg_z_m", "Centre of gravity, height", "H", "m", "lower", "upright", "1",
           "Above the floor, travelling pose.", more="higher", less="lower"),
    Metric("yaw_inertia_kgm2", "Yaw inertia", "I", "kgm2", "lower", "upright", "1",
           "How hard it is to start and stop a turn.", more="more", less="less"),
    Metric("tip_forward_mps2", "Tips backwards when driving off at", "a", "mps2", "higher",
           "upright", "5", "Forward acceleration at which the front lifts, in the worst pose.",
           more="safer", less="sooner"),
    Metric("tip_brake_mps2", "Tips forwards when braking at", "a", "mps2", "higher", "upright",
           "5", "Deceleration at which the rear lifts, in the worst pose.", headline=True,
           more="safer", less="sooner"),
    Metric("tip_side_mps2", "Tips sideways at", "a", "mps2", "higher", "upright", "5",
           "Sideways acceleration at which one side lifts, in the worst pose.",
           more="safer", less="sooner"),
    Metric("grade_deg", "Steepest slope it drives up", "θ", "deg", "higher", "upright", "5",
           "The least of what traction, motors and tipping allow.",
           more="steeper", less="flatter"),
    Metric("grade_limited_by", "What limits the slope", "", "", "none", "upright", "5",
           "Traction, motor or tip.", kind="word"),
    Metric("ready_probability", "Chance to be ready in time", "P", "share", "higher", "ready",
           "7",
           "Share of the runs in which all tasks have ended by the day it has to be ready.",
           more="likelier", less="less likely", made_by="plan"),
    Metric("ready_date_p90", "Ready by, in nine of ten runs", "", "", "none", "ready", "7",
           "The date of the meeting by which all tasks have ended in 90 % of the runs.",
           kind="word", made_by="plan"),
    Metric("practice_hours", "Driving before the event", "t", "h", "higher", "ready", "7",
           "Practice done and meetings left once it is ready, in half of the runs at least.",
           made_by="plan"),
    Metric("cost", "Cost of what must be bought", "", "", "lower", "ready", "7",
           "Quantity less what is in stock, times the cost of one, all purchases together.",
           more="dearer", less="cheaper", made_by="plan"),
)  # fmt: skip

METRICS: dict[str, Metric] = {metric.key: metric for metric in _ALL}
"""Every metric by key, in the order in which pages list them."""


def metrics_of(question: str) -> tuple[Metric, ...]:
    """Return the metrics that answer one question, in page order.

    >>> [metric.key for metric in metrics_of("shove")][:2]
    ['push_force_n', 'push_limited_by']
    """
    return tuple(metric for metric in _ALL if metric.question == question)


def metrics_made_by(maker: MadeBy) -> tuple[Metric, ...]:
    """Return the metrics that come from one place, in page order.

    >>> metrics_made_by("power")[0].key
    'match_min_voltage_v'
    """
    return tuple(metric for metric in _ALL if metric.made_by == maker)


def headline_metrics() -> tuple[Metric, ...]:
    """Return the eight figures that the candidate page keeps in view.

    >>> len(headline_metrics())
    8
    """
    return tuple(metric for metric in _ALL if metric.headline)
