"""Every figure of every candidate over many draws of the uncertain inputs.

The same engineering functions as for one candidate, with an axis for the draws. A figure that no
ranged input moves keeps its one value.

Contents
--------
drawn_figures: figures of all candidates over the draws, by candidate and metric.
ranges_of: the 10, 50 and 90 % points of such figures.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import free_speed, side_hold
from models.engineering.mass import legal_mass
from models.engineering.placement import CORNERS, corner_outline
from models.engineering.prism_series import paired_clearances, prism_series
from models.engineering.prisms import Prisms
from models.engineering.pushing import grade, push
from models.engineering.routes import whole_cycles
from models.engineering.sprint import Run, run_over, state_at_speed
from models.engineering.sprint_pieces import Pieces, governing_pieces
from models.engineering.stability import side_reach, tip_limits
from models.engineering.supply_sweeps import supply_over_many_runs
from models.engineering.traction import braking, top_speed, travel_motion
from models.engineering.turning import (
    turn_braking,
    turn_motion,
)
from models.study.schema import Candidate, Keepout, Prism, Study
from models.trade.assembly import fit_table
from models.trade.drawn_base import (
    DrawnBase,
    corner_places,
    drawn_base,
    full_motion,
    possible_draws,
    side_grip_over,
    turning_over,
)
from models.trade.drawn_routes import drawn_routes
from models.trade.draws import Draws
from models.trade.plan_costs import cost_of, to_buy

FloatArray = NDArray[np.float64]
Drawn = dict[str, dict[str, FloatArray]]
"""By candidate and metric, shape (draws,); not a number where a figure does not exist. Figures of
the routes stand as `route_s:name`, `route_margin_s:name`, `route_cycles:name`."""

QUARTER, HALF = np.pi / 2.0, np.pi
LOW, MIDDLE, HIGH = 0.1, 0.5, 0.9


def drawn_figures(study: Study, draws: Draws) -> Drawn:
    """Return the figures of all candidates over the draws; words are left out.

    Parameters
    ----------
    study : Study
        The very study that the draws are of.
    draws : Draws
        Its uncertain inputs.

    Returns
    -------
    dict
        By candidate and metric, shape (draws,); a truth is 1 or 0.
    """
    found: Drawn = {}
    for one in sorted(study.candidates, key=lambda one: one.same_base_as is not None):
        base = one.same_base_as
        found[one.key] = found[base] if base in found else candidate_draws(study, one, draws)
    return {one.key: {**found[one.key], **_cost(study, one, draws)} for one in study.candidates}


def _cost(study: Study, candidate: Candidate, draws: Draws) -> dict[str, FloatArray]:
    """Return what has to be bought, none where nothing is known of it."""
    if cost_of(candidate, baseline=candidate is study.baseline) is None:
        return {}
    each = [to_buy(one) * draws.of(one.unit_cost) for one in candidate.purchases]
    return {
        "cost": np.broadcast_to(np.sum(np.broadcast_arrays(0.0, *each), axis=0), (draws.count,))
    }


def ranges_of(drawn: Mapping[str, Mapping[str, FloatArray]]) -> dict[str, dict[str, Any]]:
    """Return the 10, 50 and 90 % points of every figure that varies, by candidate and metric.

    Parameters
    ----------
    drawn : mapping
        Figures over the draws.

    Returns
    -------
    dict
        Lists of three figures; `exists`, the share of the draws in which there is such a figure,
        follows as a fourth.
    """
    return {
        key: {metric: _range(values) for metric, values in own.items() if _varies(values)}
        for key, own in drawn.items()
    }


def _varies(values: FloatArray) -> bool:
    there = values[np.isfinite(values)]
    return bool(len(there)) and (len(there) < len(values) or bool(np.ptp(there) > 0.0))


def _range(values: FloatArray) -> list[float]:
    there = values[np.isfinite(values)]
    points = np.quantile(there, (LOW, MIDDLE, HIGH)).tolist()
    return [*points, len(there) / len(values)]


def candidate_draws(study: Study, candidate: Candidate, draws: Draws) -> dict[str, FloatArray]:
    """Return the figures of one candidate over the draws.

    Parameters
    ----------
    study : Study
        The study.
    candidate : Candidate
        One of its candidates.
    draws : Draws
        Of the study's uncertain inputs.

    Returns
    -------
    dict
        By metric, shape (draws,); not a number in draws of which there can be no such robot.
    """
    possible = possible_draws(study, candidate, draws)
    if not possible.all():
        draws = draws.typed_where(~possible)
    base = drawn_base(study, candidate, draws)
    found = {
        **_mass(base),
        **_driving(study, base, draws),
        **_forces(base),
        **_turns(base),
        **_tips(base),
        "perimeter_m": 2.0
        * (draws.of(candidate.frame.length_m) + draws.of(candidate.frame.width_m)),
        **_fit(study, candidate, draws),
        **_routes(study, candidate, base, draws),
    }
    return {
        key: np.where(possible, values, np.nan)
        if not possible.all()
        else np.broadcast_to(np.asarray(values, dtype=np.float64), (draws.count,))
        for key, values in found.items()
    }


def _mass(base: DrawnBase) -> dict[str, FloatArray]:
    stance = base.stance
    return {
        "mass_kg": stance.mass,
        "legal_mass_kg": legal_mass(masses=base.masses, exempt=base.exempt),
        "cg_x_m": stance.cg_x,
        "cg_y_m": base.poses.cg_y[:, 0],
        "cg_z_m": stance.cg_height,
        "yaw_inertia_kgm2": stance.yaw_inertia,
    }


def _driving(study: Study, base: DrawnBase, draws: Draws) -> dict[str, FloatArray]:
    drive, stance, layout = base.drive, base.stance, base.layout
    distance = draws.of(study.yardsticks.sprint_distance_m)
    motion = full_motion(travel_motion(drive, stance, layout, angle=0.0), draws.count)
    pieces = governing_pieces(motion)
    passing = run_over(pieces, distance=distance, braking=np.inf)
    brake = braking(drive, stance, layout, angle=0.0)
    stopping = run_over(pieces, distance=distance, braking=brake)
    taken = supply_over_many_runs(drive, stance, layout, motion=motion, pieces=pieces, run=passing)
    target = draws.of(study.yardsticks.target_speed_mps)
    top = np.broadcast_to(top_speed(drive, stance, layout, motion=motion), (draws.count,))
    voltage = taken.least_voltage
    below = voltage < draws.of(study.power.brownout_v)
    return {
        "sprint_time_s": passing.time,
        "sprint_end_speed_mps": passing.speed,
        "sprint_stop_time_s": stopping.time,
        "accel_time_s": _existing(state_at_speed(pieces, speed=target).time),
        "peak_bus_current_a": taken.peak_current,
        "min_bus_voltage_v": voltage,
        "browns_out": np.where(np.isnan(voltage), np.nan, below),
        "sprint_energy_j": taken.energy,
        "top_speed_mps": np.where(top > 0.0, top, np.nan),
        "brake_mps2": _existing(brake),
    }


def _existing(values: FloatArray) -> FloatArray:
    """Return figures with what never happens as not a number."""
    return np.where(np.isfinite(values), values, np.nan)


def _forces(base: DrawnBase) -> dict[str, FloatArray]:
    drive, stance, layout = base.drive, base.stance, base.layout
    shove = push(drive, stance, layout)
    steepest = np.degrees(grade(drive, stance, layout).angle)
    return {
        "free_speed_mps": free_speed(drive, layout, 0.0),
        "side_speed_mps": free_speed(drive, layout, QUARTER),
        "push_force_n": shove.force,
        "push_motor_current_a": shove.motor_current,
        "push_bus_current_a": shove.total_current,
        "side_hold_force_n": side_hold(
            drive, layout, mass=stance.mass, side_grip=side_grip_over(base)
        ),
        "grade_deg": np.where(steepest > 0.0, steepest, np.nan),
    }


def _turns(base: DrawnBase) -> dict[str, FloatArray]:
    count = len(base.stance.mass)
    turn = turning_over(base)
    pieces = governing_pieces(full_motion(turn_motion(base.drive, base.stance, turn), count))
    slowing = turn_braking(base.drive, base.stance, turn)

    def timed(angle: float) -> Run:
        return run_over(pieces, distance=angle / turn.yaw_factor, braking=slowing)

    spin = np.where(_tends_to(pieces) > 0.0, _tends_to(pieces) * turn.yaw_factor, np.nan)
    steer = base.drive.steer_time
    return {
        "turn90_s": _existing(timed(QUARTER).time + steer),
        "turn180_s": _existing(timed(HALF).time + steer),
        "spin_rate_radps": spin,
    }


def _tends_to(pieces: Pieces) -> FloatArray:
    return pieces.upper[:, -1]


def _tips(base: DrawnBase) -> dict[str, FloatArray]:
    whole = base.poses
    to_side = side_reach(contacts=base.contacts[:, None], cg_x=whole.cg_x, cg_y=whole.cg_y)
    limits = tip_limits(
        to_front=base.axles.front, to_rear=base.axles.rear, to_side=to_side, height=whole.cg_z
    )
    worst = (_existing(np.min(limit, axis=1)) for limit in limits)
    return dict(zip(("tip_forward_mps2", "tip_brake_mps2", "tip_side_mps2"), worst, strict=True))


def _routes(
    study: Study, candidate: Candidate, base: DrawnBase, draws: Draws
) -> dict[str, FloatArray]:
    """Return times of the routes, what they leave of the autonomous period, cycles in a match."""
    times = drawn_routes(study, candidate, draws, base)
    autonomous, match = draws.of(study.rules.autonomous_s), draws.of(study.rules.match_s)
    found = {}
    for route in study.routes:
        time = times[route.name]
        found[f"route_s:{route.name}"] = time
        if route.kind == "autonomous":
            found[f"route_margin_s:{route.name}"] = autonomous - time
        else:
            whole = whole_cycles(
                match=match, autonomous=autonomous, cycle=np.where(time > 0.0, time, np.inf)
            )
            there = np.isfinite(time) & (time > 0.0)
            found[f"route_cycles:{route.name}"] = np.where(there, whole, np.nan)
    return found


def _fit(study: Study, candidate: Candidate, draws: Draws) -> dict[str, FloatArray]:
    """Return how it fits; drawn only where something that takes up room has a range."""
    found = fit_table(study, candidate)
    if found is None:
        return {}
    vary = _fit_varies(study, candidate, draws)
    if not vary:
        one = found.clearances
        rows = [(np.min(one.gap), np.min(one.margin), np.sum(one.overlap), not one.conflict.any())]
        table = np.broadcast_to(np.array(rows, dtype=np.float64), (draws.count, 4))
    else:
        table = _drawn_fit(study, candidate, draws)
    keys = ("worst_clearance_m", "worst_clearance_margin_m", "overlap_m3", "fits")
    return dict(zip(keys, table.T, strict=True))


ROOM = ("bodies", "wheels.wheelbase_m", "wheels.track_m", "modules")
"""Parts of a candidate that decide what room it takes."""


def _fit_varies(study: Study, candidate: Candidate, draws: Draws) -> bool:
    index = study.candidates.index(candidate)
    own = tuple(f"candidates[{index}].{part}" for part in ROOM)
    types = () if candidate.modules is None else (f"module_types.{candidate.modules.type}.",)
    starts = (*own, *types, "robot.keepouts")
    return any(one.place.startswith(starts) for one in draws.inputs)


def _drawn_fit(study: Study, candidate: Candidate, draws: Draws) -> FloatArray:
    """Return gap, margin, overlap and truth for every draw, shape (draws, 4)."""
    bodies = drawn_bodies(study, candidate, draws)
    keepouts = [_prism(one, draws) for one in study.robot.keepouts]
    asked = [draws.of(one.clearance_m) for one in study.robot.keepouts]
    gap = np.full(draws.count, np.inf)
    margin, overlap = gap.copy(), np.zeros(draws.count)
    conflict = np.zeros(draws.count, dtype=bool)
    for body in bodies:
        for keepout, clearance in zip(keepouts, asked, strict=True):
            found = paired_clearances(body, keepout, asked=clearance)
            gap = np.minimum(gap, found.gap)
            margin = np.minimum(margin, found.margin)
            overlap = overlap + found.overlap
            conflict |= found.conflict
    return np.stack([gap, margin, overlap, ~conflict], axis=1)


def drawn_bodies(study: Study, candidate: Candidate, draws: Draws) -> list[Prisms]:
    """Return what takes up room around the mechanisms, each over the draws.

    Parameters
    ----------
    study : Study
        The study.
    candidate : Candidate
        One of its candidates.
    draws : Draws
        Of the study's uncertain inputs.

    Returns
    -------
    list of Prisms
        One for each body or module prism, of as many prisms as there are draws or of one.
    """
    found = [_prism(one, draws) for one in candidate.bodies]
    if candidate.modules is None:
        return found
    module = study.module_types[candidate.modules.type]
    contacts = corner_places(candidate, draws)
    for index, corner in enumerate(CORNERS):
        orientation = getattr(candidate.modules.corners, corner).orientation
        for one in getattr(module, orientation):
            drawn = _outline(one, draws)
            outline = corner_outline(outline=drawn, corner=corner, contact=contacts[:, index])
            found.append(_made(outline, one, draws))
    return found


def _outline(prism: Prism | Keepout, draws: Draws) -> FloatArray:
    """Return an outline over the draws, shape (draws or 1, corners, 2)."""
    flat = [draws.of(value) for point in prism.outline_m for value in point]
    spread = np.broadcast_arrays(*flat)
    return np.stack(spread, axis=-1).reshape(-1, len(prism.outline_m), 2)


def _prism(prism: Prism | Keepout, draws: Draws) -> Prisms:
    return _made(_outline(prism, draws), prism, draws)


def _made(outlines: FloatArray, prism: Prism | Keepout, draws: Draws) -> Prisms:
    return prism_series(outlines, bottoms=draws.of(prism.bottom_m), tops=draws.of(prism.top_m))
