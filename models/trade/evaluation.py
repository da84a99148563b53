"""Every figure of every candidate of a study: the one place where they are put together.

Contents
--------
MODEL_VERSION: which equations made the figures.
evaluate_study: a study as plain figures, ready for tables, charts, exports and JSON.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from models.engineering.drive import free_speed, side_hold
from models.engineering.mass import legal_mass
from models.engineering.prisms import hull_perimeter
from models.engineering.pushing import GRADE_WORDS
from models.engineering.sprint_pieces import Pieces
from models.engineering.stability import side_reach, tip_limits, worst_pose
from models.engineering.traction import GOVERNING
from models.quantities import METRICS
from models.study.remarks import remarks_on
from models.study.schema import Candidate, Study
from models.trade.assembly import Body, FitTable, bodies_of, fit_table, frame_outline
from models.trade.driving import Base, Performance, base_of, performance_of
from models.trade.fit_notes import fit_notes
from models.trade.ground import ramp_figures, rule_figures
from models.trade.route_figures import route_figures

MODEL_VERSION = "1.2"
"""Raised whenever a figure of the same study changes; the change log says which, by how much."""

TIPS = ("tip_forward_mps2", "tip_brake_mps2", "tip_side_mps2")

Value = float | str | bool | None


def evaluate_study(study: Study, *, keys: Collection[str] | None = None) -> dict[str, Any]:
    """Return every figure of a study's candidates as plain finite values.

    Parameters
    ----------
    study : Study
        The study, already checked.
    keys : collection of str, optional
        The candidates to evaluate; all where left out.

    Returns
    -------
    dict
        `study`, `model_version`, `baseline` and `candidates`, each with `metrics`, `routes`,
        `poses`, `worst_pose`, `fit`, `limits`, `segments`, `rules`, `ramp` and `notes`. What does
        not exist for a candidate is None.
    """
    remarks: dict[str | None, list[str]] = {}
    for remark in remarks_on(study):
        remarks.setdefault(remark.candidate_key, []).append(str(remark))
    baseline = study.baseline.key
    candidates = []
    for index, candidate in enumerate(study.candidates):
        if keys is not None and candidate.key not in keys:
            continue
        evaluated = _evaluate(study, candidate)
        notes = [*evaluated.pop("notes"), *remarks.get(candidate.key, []), *remarks.get(None, [])]
        candidates.append(
            {
                "key": candidate.key,
                "name": candidate.name,
                "layout": candidate.layout,
                "baseline": candidate.key == baseline,
                "letter": chr(ord("A") + index),
                **evaluated,
                "notes": list(dict.fromkeys(notes)),
            }
        )
    return {
        "study": study.name,
        "model_version": MODEL_VERSION,
        "baseline": baseline,
        "candidates": candidates,
    }


def finite(value: Any) -> float | None:
    """Return a number as a plain float, None where it is not finite."""
    number = float(value)
    return number if math.isfinite(number) else None


def _evaluate(study: Study, candidate: Candidate) -> dict[str, Any]:
    base = base_of(study, candidate)
    done = performance_of(study, candidate, base)
    fit = fit_table(study, candidate)
    bodies = bodies_of(study, candidate) if fit is None else fit.bodies
    tips, poses = _poses(study, candidate, base, bodies)
    metrics: dict[str, Value] = {
        **_mass_metrics(base),
        **_sprint_metrics(study, done),
        **_force_metrics(base, done),
        **_turn_metrics(done),
        **{key: tips[key][0] for key in TIPS},
        "perimeter_m": finite(hull_perimeter(frame_outline(candidate))),
        **_fit_metrics(fit),
    }
    routes = {run.route.name: route_figures(study, candidate, run) for run in done.routes}
    return {
        "metrics": {key: metrics[key] for key in METRICS if key in metrics},
        "routes": routes,
        "poses": poses,
        "worst_pose": {key: tips[key][1] for key in TIPS},
        "fit": _fit_rows(fit),
        "limits": _limits(study, metrics, poses),
        "segments": segments_of(done.pieces),
        "rules": rule_figures(study, candidate),
        "ramp": ramp_figures(study, candidate, base),
        "notes": [*_notes(study, base, done), *fit_notes(study, candidate)],
    }


def _mass_metrics(base: Base) -> dict[str, Value]:
    stance, parts = base.stance, base.parts
    return {
        "mass_kg": finite(stance.mass),
        "legal_mass_kg": finite(legal_mass(masses=parts.masses, exempt=parts.exempt)),
        "cg_x_m": finite(stance.cg_x),
        "cg_y_m": finite(base.poses.cg_y[0]),
        "cg_z_m": finite(stance.cg_height),
        "yaw_inertia_kgm2": finite(stance.yaw_inertia),
    }


def _sprint_metrics(study: Study, done: Performance) -> dict[str, Value]:
    taken = done.taken
    least = None if taken is None else finite(taken.least_voltage)
    return {
        "sprint_time_s": finite(done.passing.time),
        "sprint_end_speed_mps": finite(done.passing.speed),
        "sprint_stop_time_s": finite(done.stopping.time),
        "accel_time_s": finite(done.accel_time),
        "peak_bus_current_a": None if taken is None else finite(taken.peak_current),
        "min_bus_voltage_v": least,
        "browns_out": None if least is None else least < float(study.power.brownout_v),
        "sprint_energy_j": None if taken is None else finite(taken.energy),
        "top_speed_mps": done.top_speed if done.top_speed > 0.0 else None,
        "brake_mps2": finite(done.brake),
    }


def _force_metrics(base: Base, done: Performance) -> dict[str, Value]:
    drive, layout, mass = base.drive, base.layout, base.stance.mass
    steepest = float(np.degrees(done.grade.angle))
    return {
        "free_speed_mps": finite(free_speed(drive, layout, 0.0)),
        "side_speed_mps": finite(free_speed(drive, layout, np.pi / 2.0)),
        "push_force_n": finite(done.push.force),
        "push_limited_by": GOVERNING[int(done.push.limited_by)],
        "push_motor_current_a": finite(done.push.motor_current),
        "push_bus_current_a": finite(done.push.total_current),
        "side_hold_force_n": finite(side_hold(drive, layout, mass=mass, side_grip=done.side_grip)),
        "grade_deg": steepest if steepest > 0.0 else None,
        "grade_limited_by": GRADE_WORDS[int(done.grade.limited_by)],
    }


def _turn_metrics(done: Performance) -> dict[str, Value]:
    spins = done.spin_speed > 0.0
    return {
        "turn90_s": finite(done.turn_times[0]),
        "turn180_s": finite(done.turn_times[1]),
        "spin_rate_radps": finite(done.spin_speed * done.turn.yaw_factor) if spins else None,
    }


def _poses(
    study: Study, candidate: Candidate, base: Base, bodies: Sequence[Body]
) -> tuple[dict[str, tuple[float | None, str]], list[dict[str, Any]]]:
    """Return the worst pose of each way to tip, and every pose's figures."""
    whole = base.poses
    to_side = side_reach(contacts=base.contacts, cg_x=whole.cg_x, cg_y=whole.cg_y)
    limits = tip_limits(
        to_front=base.axles.front, to_rear=base.axles.rear, to_side=to_side, height=whole.cg_z
    )
    heights = _heights(candidate, base, bodies)
    poses = [
        {
            "name": pose.name,
            "cg_m": [float(whole.cg_x[i]), float(whole.cg_y[i]), float(whole.cg_z[i])],
            "height_m": float(heights[i]),
            **{key: finite(limit[i]) for key, limit in zip(TIPS, limits, strict=True)},
        }
        for i, pose in enumerate(study.robot.poses)
    ]
    worst = {}
    for key, limit in zip(TIPS, limits, strict=True):
        least = worst_pose(limit)
        worst[key] = (finite(least.value), study.robot.poses[int(least.pose)].name)
    return worst, poses


def _heights(candidate: Candidate, base: Base, bodies: Sequence[Body]) -> NDArray[np.float64]:
    """Return the height of the highest thing in every pose: part, body or wheel [m]."""
    fixed = max([float(candidate.wheels.diameter_m), *(body.top_m for body in bodies)])
    parts = base.centres[:, :, 2] + base.parts.sizes[:, 2] / 2.0
    return np.asarray(np.maximum(np.max(parts, axis=1, initial=0.0), fixed))


def _fit_metrics(fit: FitTable | None) -> dict[str, Value]:
    if fit is None:
        return {
            "worst_clearance_m": None,
            "worst_clearance_margin_m": None,
            "overlap_m3": None,
            "fits": None,
        }
    found = fit.clearances
    return {
        "worst_clearance_m": finite(np.min(found.gap)),
        "worst_clearance_margin_m": finite(np.min(found.margin)),
        "overlap_m3": finite(np.sum(found.overlap)),
        "fits": not bool(np.any(found.conflict)),
    }


def _fit_rows(fit: FitTable | None) -> list[dict[str, Any]]:
    """Return every pair of body and keep-out, the worst first."""
    if fit is None:
        return []
    found = fit.clearances
    rows = [
        {
            "body": body.name,
            "keepout": name,
            "gap_m": float(found.gap[i, j]),
            "clearance_m": float(fit.asked[j]),
            "margin_m": float(found.margin[i, j]),
            "overlap_m3": float(found.overlap[i, j]),
            "conflict": bool(found.conflict[i, j]),
            "poses": list(fit.poses[j]),
        }
        for i, body in enumerate(fit.bodies)
        for j, name in enumerate(fit.keepout_names)
    ]
    return sorted(rows, key=lambda row: (not row["conflict"], -row["overlap_m3"], row["margin_m"]))


def _limits(
    study: Study, metrics: Mapping[str, Value], poses: Sequence[Mapping[str, Any]]
) -> dict[str, dict[str, float | None]]:
    """Return what the rules limit, and the margin; the height is the travelling pose's."""
    rules = study.rules
    given = {
        "legal_mass": (metrics["legal_mass_kg"], rules.mass_limit_kg),
        "perimeter": (metrics["perimeter_m"], rules.perimeter_limit_m),
        "height": (poses[0]["height_m"], rules.height_limit_m),
    }
    limits: dict[str, dict[str, float | None]] = {}
    for name, (value, limit) in given.items():
        number = float(value) if isinstance(value, int | float) else None
        bound = None if limit is None else float(limit)
        margin = None if number is None or bound is None else bound - number
        limits[name] = {"value": number, "limit": bound, "margin": margin}
    return limits


def segments_of(pieces: Pieces) -> list[dict[str, Any]]:
    """Return which limit governs a run from rest, from which speed to which.

    With the time and distance from the start at which each begins.
    """
    segments: list[dict[str, Any]] = []
    time = distance = 0.0
    for i in range(pieces.lower.shape[-1]):
        low, high = float(pieces.lower[i]), float(pieces.upper[i])
        if high <= low:
            continue
        word = GOVERNING[int(pieces.governed_by[i])]
        if segments and segments[-1]["limit"] == word:
            segments[-1]["to_mps"] = high
        else:
            segments.append(
                {
                    "limit": word,
                    "from_mps": low,
                    "to_mps": high,
                    "from_s": finite(time),
                    "from_m": finite(distance),
                }
            )
        time += float(pieces.time[i])
        distance += float(pieces.distance[i])
    return segments


def _notes(study: Study, base: Base, done: Performance) -> list[str]:
    """Return plain sentences on figures that are missing and why."""
    notes = []
    if not np.isfinite(done.passing.time):
        notes.append("The drive cannot overcome its rolling drag, so it does not get going.")
    elif not np.isfinite(done.accel_time):
        target = float(study.yardsticks.target_speed_mps)
        notes.append(f"It never reaches the yardstick speed of {target:g} m/s.")
    if not np.isfinite(done.turn_times[0]):
        turn = done.turn
        needs, has = float(turn.resistance), float(turn.cap)
        what = "grip" if has <= needs else "drive"
        notes.append(
            f"The {what} cannot overcome the {needs:.0f} N that turning in place costs at the "
            "wheels, so it cannot turn in place."
        )
    if done.taken is not None and float(done.taken.least_voltage) < float(study.power.brownout_v):
        notes.append(
            f"The bus falls to {float(done.taken.least_voltage):.1f} V in the sprint, below the "
            f"controller's {float(study.power.brownout_v):.1f} V."
        )
    if _mixed(base):
        notes.append(
            "Wheels of different side grip: the side hold is what all axles resist together; "
            "the axle with the least grip slides first."
        )
    return notes


def _mixed(base: Base) -> bool:
    grips = base.side_grips
    return grips is not None and float(np.ptp(grips)) > 0.0
