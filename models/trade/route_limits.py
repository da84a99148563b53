"""What to put in the robot's code for each pose, and what a faster drive is worth on the routes.

Contents
--------
pose_limits: acceleration, braking and cornering limit of every pose, and what they cost.
faster_drive: each route with a drive that is a tenth quicker, and with one that takes no time.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from models.engineering.drive import side_hold
from models.engineering.routes import MECHANISM
from models.engineering.routes_tipping import rounded_down, tip_caps, unbound, unbound_braking
from models.engineering.sprint_pieces import acceleration_at
from models.study.schema import Candidate, Study
from models.trade.driving import Base, base_of, in_pose, runs_of, side_grip_of
from models.trade.route_runs import RouteRun

Figures = dict[str, Any]

QUICKER = 0.1
"""Share by which the drive is tried quicker."""

LIMITS = ("accel_mps2", "brake_mps2", "side_mps2")
"""What a pose limits: getting faster and slower straight ahead, and across the way."""


def pose_limits(study: Study) -> dict[str, list[Figures]]:
    """Return for every candidate what its code has to hold it to in each pose.

    Each pose has `accel_mps2`, `brake_mps2` and `side_mps2`: its tip limit less the study's
    margin, rounded down to 0.1 m/s² (None where nothing tips); `unlimited_accel`,
    `unlimited_brake` and `unlimited_side`, what motors and grip would do if nothing tipped;
    `binds`, which of the limits are below that (accel, brake, side). `legs` are the indices of
    the legs driven in it by route, `cost_s` the seconds that a route lasts longer than with this
    pose's tip limits left out of account (None where it cannot be done with them); `binding` is
    whether anything is held back, on a leg at an angle too.
    """
    return {candidate.key: _poses(study, candidate) for candidate in study.candidates}


def _poses(study: Study, candidate: Candidate) -> list[Figures]:
    base = base_of(study, candidate)
    steer = float(base.drive.steer_time)
    held = runs_of(study, candidate, base).routes(steer)
    found = []
    for index, pose in enumerate(study.robot.poses):
        legs = {
            run.route.name: [leg for leg, own in enumerate(run.plan.poses.tolist()) if own == index]
            for run in held
        }
        costs: dict[str, float | None] = dict.fromkeys(legs, 0.0)
        if any(legs.values()):
            eased = runs_of(study, candidate, base, eased={index}).routes(steer)
            for one, other in zip(held, eased, strict=True):
                costs[one.route.name] = _cost(one, other) if legs[one.route.name] else 0.0
        limits = _limits(study, candidate, base, index)
        costly = any(cost is None or cost > 0.0 for cost in costs.values())
        found.append(
            {
                "pose": pose.name,
                **limits,
                "binding": bool(limits["binds"]) or costly,
                "legs": legs,
                "cost_s": costs,
            }
        )
    return found


def _cost(held: RouteRun, eased: RouteRun) -> float | None:
    """Return what being held costs; rounding does not count."""
    cost = float(np.sum(held.times.whole) - np.sum(eased.times.whole))
    if not math.isfinite(cost):
        return None
    return cost if abs(cost) > 1e-9 else 0.0


def _limits(study: Study, candidate: Candidate, base: Base, index: int) -> Figures:
    own = in_pose(candidate, base, index)
    drive, stance, layout, whole = own.drive, own.stance, own.layout, own.poses
    caps = tip_caps(
        contacts=own.contacts,
        cg_x=whole.cg_x[index],
        cg_y=whole.cg_y[index],
        cg_height=whole.cg_z[index],
        way=0.0,
        margin=float(study.yardsticks.tip_margin),
    )
    motion = unbound(drive, stance, layout, angle=0.0)
    hold = side_hold(drive, layout, mass=stance.mass, side_grip=side_grip_of(own))
    able = (
        max(float(acceleration_at(motion, 0.0)[0]), 0.0),
        float(unbound_braking(drive, stance, layout, angle=0.0)),
        float(hold / stance.mass),
    )
    limits = [float(cap) for cap in caps]
    binds = [
        name
        for name, cap, free in zip(("accel", "brake", "side"), limits, able, strict=True)
        if cap < free
    ]
    return {
        **{
            name: float(rounded_down(max(cap, 0.0), step=0.1)) if math.isfinite(cap) else None
            for name, cap in zip(LIMITS, limits, strict=True)
        },
        "unlimited_accel": able[0],
        "unlimited_brake": able[1],
        "unlimited_side": able[2],
        "binds": binds,
    }


def faster_drive(study: Study) -> dict[str, dict[str, Figures]]:
    """Return for every candidate and route what a faster drive would make of it.

    `seconds_if_infinitely_fast`: driving and turning take no time; steering modules, mechanisms
    and actions stay. `seconds_if_a_tenth_quicker` and `saved_s`: all driving and turning takes a
    tenth less. `legs_governed_by_mechanism`: indices of the legs where a faster drive would wait
    longer. Seconds are None where the route cannot be done.
    """
    return {candidate.key: _faster(study, candidate) for candidate in study.candidates}


def _faster(study: Study, candidate: Candidate) -> dict[str, Figures]:
    base = base_of(study, candidate)
    runs = runs_of(study, candidate, base).routes(float(base.drive.steer_time))
    return {run.route.name: _faster_route(run) for run in runs}


def _faster_route(run: RouteRun) -> Figures:
    now = float(np.sum(run.times.whole))
    if not math.isfinite(now):
        return {
            "seconds": None,
            "seconds_if_infinitely_fast": None,
            "seconds_if_a_tenth_quicker": None,
            "saved_s": None,
            "legs_governed_by_mechanism": [],
        }
    quicker = float(np.sum(run.retimed(1.0 - QUICKER).whole))
    return {
        "seconds": now,
        "seconds_if_infinitely_fast": float(np.sum(run.retimed(0.0).whole)),
        "seconds_if_a_tenth_quicker": quicker,
        "saved_s": now - quicker,
        "legs_governed_by_mechanism": np.flatnonzero(run.times.governed_by == MECHANISM).tolist(),
    }
