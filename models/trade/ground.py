"""How a candidate stands to the ground: bumpers, underside, the ramp on the field, the platform.

Contents
--------
rule_figures: bumper size, ground clearance, approach, departure and break-over angle.
ramp_figures: the climb and the standstill on the yardstick ramp, pose by pose, and the platform.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from models.engineering.climbing import CLIMB_WORDS, climb, hold_still
from models.engineering.drive import Stance
from models.engineering.placement import footprint
from models.engineering.platform import level_place
from models.engineering.prisms import hull_perimeter
from models.engineering.ramp_angles import axle_breakover, clear_angle
from models.engineering.stability import side_reach
from models.engineering.turning import mean_side_grip
from models.study.schema import Candidate, Study
from models.trade.assembly import bodies_of, frame_outline, wheel_contacts
from models.trade.driving import Base

FloatArray = NDArray[np.float64]
Figures = dict[str, Any]


class _Edge(NamedTuple):
    """A lower edge that sticks out ahead and behind: its name, reach and height."""

    name: str
    reach_m: float
    height_m: float


def rule_figures(study: Study, candidate: Candidate) -> Figures:
    """Return what the rules and the ramp ask of frame and bumpers; None for what is not known.

    The angles count from the axles' mean positions, heights from the wheels of that axle, so that
    a robot that rocks over dropped centre wheels is taken with its nose (or tail) down.
    """
    ramp = study.yardsticks.ramp_deg
    figures: Figures = {
        "bumper": _bumper(study, candidate),
        "ramp_deg": None if ramp is None else float(ramp),
        "ground_clearance_m": _number(candidate.frame.belly_m),
        "hangs_lower": _hangs_lower(study, candidate),
        **_end_angles(study, candidate),
        **_breakover(candidate),
    }
    figures["passes"] = {
        key: _passes(figures[key], figures["ramp_deg"])
        for key in ("approach_deg", "departure_deg", "breakover_deg")
    }
    return figures


def _number(value: float | None) -> float | None:
    return None if value is None else float(value)


def _passes(angle: float | None, ramp: float | None) -> bool | None:
    return None if angle is None or ramp is None else angle >= ramp


def _bumper(study: Study, candidate: Candidate) -> Figures | None:
    """Return the outer size of the bumpers, None where no thickness is given."""
    thick = _number(study.rules.bumper_thickness_m)
    if not thick:
        return None
    length = float(candidate.frame.length_m) + 2.0 * thick
    width = float(candidate.frame.width_m) + 2.0 * thick
    return {
        "thickness_m": thick,
        "length_m": length,
        "width_m": width,
        "perimeter_m": hull_perimeter(frame_outline(candidate) * [
            length / float(candidate.frame.length_m), width / float(candidate.frame.width_m)
        ]),
        "bottom_m": _number(study.rules.bumper_bottom_m),
        "top_m": _number(study.rules.bumper_top_m),
    }  # fmt: skip


def _hangs_lower(study: Study, candidate: Candidate) -> list[Figures]:
    """Return the bodies of the base that hang lower than the belly, the lowest first.

    What stands over a wheel's contact point is the wheel's own, and no part of the underside.
    """
    belly = _number(candidate.frame.belly_m)
    if belly is None:
        return []
    wheels = shapely.MultiPoint(wheel_contacts(candidate))
    lower = [
        body
        for body in bodies_of(study, candidate)
        if body.bottom_m < belly - 1e-9 and not shapely.Polygon(body.outline).intersects(wheels)
    ]
    return [
        {"name": body.name, "bottom_m": body.bottom_m}
        for body in sorted(lower, key=lambda body: body.bottom_m)
    ]


def _edges(study: Study, candidate: Candidate) -> list[_Edge]:
    half = float(candidate.frame.length_m) / 2.0
    edges = []
    if candidate.frame.belly_m is not None:
        edges.append(_Edge("frame", half, float(candidate.frame.belly_m)))
    thick, bottom = study.rules.bumper_thickness_m, study.rules.bumper_bottom_m
    if thick and bottom is not None:
        edges.append(_Edge("bumper", half + float(thick), float(bottom)))
    return edges


def _end_angles(study: Study, candidate: Candidate) -> Figures:
    """Return approach and departure angle and what touches first."""
    foot = footprint(wheel_contacts(candidate)[[0, 1, -2, -1]])
    drops = _drops(candidate)
    found: Figures = {}
    for name, axle, hang in (
        ("approach", float(foot.front_x), drops[0]),
        ("departure", -float(foot.rear_x), drops[-1]),
    ):
        angles = [
            (
                float(
                    np.degrees(
                        clear_angle(
                            overhang=max(edge.reach_m - axle, 0.0),
                            height=max(edge.height_m - hang, 0.0),
                            wheel_radius=float(candidate.wheels.diameter_m) / 2.0,
                        )
                    )
                ),
                edge.name,
            )
            for edge in _edges(study, candidate)
        ]
        least = min(angles, default=(None, None), key=lambda one: one[0] or 0.0)
        found |= {f"{name}_deg": least[0], f"{name}_by": least[1]}
    return found


def _axle_places(candidate: Candidate) -> FloatArray:
    """Return where the axles stand, the mean of left and right, from the front [m]."""
    contacts = wheel_contacts(candidate)
    return np.asarray(contacts[:, 0].reshape(-1, 2).mean(axis=1))


def _drops(candidate: Candidate) -> list[float]:
    """Return how high each axle's wheels hang while the robot rests on dropped centre wheels."""
    axles, drop = len(_axle_places(candidate)), float(candidate.wheels.centre_drop_m)
    if candidate.layout != "tank" or axles % 2 == 0:
        return [0.0] * axles
    return [0.0 if index == axles // 2 else drop for index in range(axles)]


def _breakover(candidate: Candidate) -> Figures:
    if candidate.frame.belly_m is None:
        return {"breakover_deg": None, "breakover_without_centre_deg": None}
    places = _axle_places(candidate)
    crest = axle_breakover(
        positions=places,
        drops=_drops(candidate),
        belly=float(candidate.frame.belly_m),
        wheel_radius=float(candidate.wheels.diameter_m) / 2.0,
    )
    without = float(np.degrees(crest.without_centre))
    return {
        "breakover_deg": float(np.degrees(crest.angle)),
        "breakover_without_centre_deg": without if len(places) > 2 else None,
    }


def ramp_figures(study: Study, candidate: Candidate, base: Base) -> Figures:
    """Return how the candidate climbs and holds on the yardstick ramp, and where it balances.

    `poses` has one entry for each pose, with what is carried in it; it is empty where the study
    has no ramp. `platform` is None where the study has none.
    """
    stances = _stances(base)
    ramp = _number(study.yardsticks.ramp_deg)
    return {
        "ramp_deg": ramp,
        "poses": [] if ramp is None else _on_ramp(study, base, stances, ramp),
        "platform": _platform(study, candidate, base),
    }


def _stances(base: Base) -> Stance:
    """Return the stance over the poses."""
    whole = base.poses
    return Stance(
        mass=whole.mass,
        cg_x=whole.cg_x,
        cg_height=whole.cg_z,
        yaw_inertia=whole.yaw_inertia,
        to_front=base.axles.front,
        to_rear=base.axles.rear,
        track=base.stance.track,
    )


def _on_ramp(study: Study, base: Base, stances: Stance, ramp: float) -> list[Figures]:
    slope = float(np.radians(ramp))
    up = climb(base.drive, stances, base.layout, slope=slope)
    whole = base.poses
    hold = hold_still(
        base.drive,
        stances,
        base.layout,
        slope=slope,
        to_side=side_reach(contacts=base.contacts, cg_x=whole.cg_x, cg_y=whole.cg_y),
        side_grip=_side_grip(base),
    )
    count = len(study.robot.poses)
    spread = {
        name: np.broadcast_to(value, (count,))
        for name, value in (*up._asdict().items(), *hold._asdict().items())
    }
    return [
        _pose_figures(study, pose.name, {key: row[index] for key, row in spread.items()}, slope)
        for index, pose in enumerate(study.robot.poses)
    ]


def _side_grip(base: Base) -> FloatArray:
    if base.loads is None or base.side_grips is None:
        return base.drive.side_grip
    return mean_side_grip(loads=base.loads, side_grips=base.side_grips)


def _pose_figures(study: Study, name: str, one: Mapping[str, Any], slope: float) -> Figures:
    pose = next(pose for pose in study.robot.poses if pose.name == name)
    angles = ("slip", "slip_across", "tip_up", "tip_down", "tip_across")
    degrees = {f"{key}_deg": float(np.degrees(one[key])) for key in angles}
    ways = {
        "up": ("slip", "tip_up"),
        "down": ("slip", "tip_down"),
        "across": ("slip_across", "tip_across"),
    }
    holds = {way: bool(all(one[key] >= slope for key in keys)) for way, keys in ways.items()}
    return {
        "name": name,
        "carried_kg": float(sum(load.mass_kg for load in pose.loads)),
        "climbs": bool(one["speed"] > 0.0),
        "speed_mps": float(one["speed"]) if one["speed"] > 0.0 else None,
        "limited_by": CLIMB_WORDS[int(one["limited_by"])],
        "motor_current_a": None if np.isnan(one["current"]) else float(one["current"]),
        "force_n": float(one["force"]),
        "grip_used": float(one["grip_used"]) if one["grip_used"] < 1e6 else None,
        "front_load_n": float(one["front_load"]),
        "rear_load_n": float(one["rear_load"]),
        **degrees,
        "holds": holds,
    }


def _platform(study: Study, candidate: Candidate, base: Base) -> Figures | None:
    """Return where the robot has to stand on the platform, in every pose."""
    given = study.platform
    if given is None:
        return None
    partners = given.partners
    at = level_place(
        mass=base.poses.mass,
        partner_masses=[float(one.mass_kg) for one in partners],
        partner_places=[float(one.at_m) for one in partners],
        platform_mass=float(given.mass_kg or 0.0),
        hold_moment=float(given.hold_moment_nm or 0.0),
    )
    places = _axle_places(candidate)
    half = float(given.length_m) / 2.0
    poses = []
    for index, pose in enumerate(study.robot.poses):
        middle = float(at.place[index] - base.poses.cg_x[index])
        ends: Sequence[float] = (middle + float(places[0]), middle + float(places[-1]))
        poses.append(
            {
                "name": pose.name,
                "cg_at_m": float(at.place[index]),
                "middle_at_m": middle,
                "room_m": float(at.room[index]),
                "hinge_load_n": float(at.hinge_load[index]),
                "on_it": max(map(abs, ends)) <= half,
            }
        )
    return {
        "length_m": float(given.length_m),
        "hold_moment_nm": _number(given.hold_moment_nm),
        "partners": [
            {"name": one.name, "mass_kg": float(one.mass_kg), "at_m": float(one.at_m)}
            for one in partners
        ],
        "poses": poses,
    }
