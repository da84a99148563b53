"""Rules about where the weight lies: there is some, above the floor, and between the wheels.

A robot whose weight lies beyond its wheels falls over; no figure of how it drives would mean
anything.

Contents: `weight_faults`.
"""

from __future__ import annotations

from collections.abc import Iterator
from statistics import fmean
from typing import NamedTuple

from models.engineering.materials import MATERIALS
from models.errors import Fault
from models.study.physics import part_mass
from models.study.schema import Candidate, Part, Pose, Study


class _Centre(NamedTuple):
    """Mass and its centre [kg, m]."""

    mass: float
    forward: float
    left: float
    up: float


def weight_faults(study: Study, candidate: Candidate, place: str) -> Iterator[Fault]:
    """Yield a fault where mass, height or place of the weight leaves nothing to compute with."""
    parts = (*study.robot.parts, *candidate.parts)
    if not all(_can_be_weighed(study, part) for part in parts):
        return
    for index, pose in enumerate(study.robot.poses):
        centre = _centre(study, candidate, pose)
        if centre.mass <= 0:
            yield Fault(
                f"{place}.parts",
                "Neither the robot's parts nor the candidate's have any mass; give at least one.",
                given=centre.mass,
                limit="above 0 kg",
            )
            return
        if centre.up <= 0:
            yield Fault(
                f"{place}.parts",
                f"In the pose “{pose.name}” the centre of gravity lies {centre.up:.3g} m above "
                "the floor; heights count upwards from the floor.",
                given=centre.up,
                limit="above 0 m",
            )
            return
        if index == 0:
            yield from _stance_faults(candidate, pose, centre, place)


def _can_be_weighed(study: Study, part: Part) -> bool:
    """Return whether the part's own rules hold, so that its mass can be computed."""
    shape = part.tube or part.plate
    if shape is not None and shape.material not in {*MATERIALS, *study.densities}:
        return False
    return not (part.tube and 2 * part.tube.wall_m >= min(part.tube.width_m, part.tube.height_m))


def _centre(study: Study, candidate: Candidate, pose: Pose) -> _Centre:
    total, moments = 0.0, [0.0, 0.0, 0.0]
    for part in study.robot.parts:
        mass = part_mass(study, part)
        total += mass
        offset = pose.offsets.get(part.name, (0.0, 0.0, 0.0))
        for axis in range(3):
            moments[axis] += mass * (part.centre_m[axis] + offset[axis])
    for part in candidate.parts:
        mass = part_mass(study, part)
        total += mass
        for axis in range(3):
            moments[axis] += mass * part.centre_m[axis]
    for load in pose.loads:
        total += float(load.mass_kg)
        for axis in range(3):
            moments[axis] += float(load.mass_kg * load.centre_m[axis])
    if total <= 0:
        return _Centre(total, 0.0, 0.0, 0.0)
    return _Centre(total, *(float(moment / total) for moment in moments))


def _stance_faults(
    candidate: Candidate, pose: Pose, centre: _Centre, place: str
) -> Iterator[Fault]:
    """Yield a fault where the robot, as it travels, does not stand on its wheels."""
    for value, low, high, words in (
        (centre.forward, *_axles(candidate), ("rear axle", "front axle")),
        (centre.left, *_sides(candidate), ("right wheels", "left wheels")),
    ):
        if low < value < high:
            continue
        beyond = words[1] if value >= high else words[0]
        yield Fault(
            f"{place}.parts",
            f"In the pose “{pose.name}” the centre of gravity lies {abs(value):.3g} m from the "
            f"middle, beyond the {beyond} at {abs(high if value >= high else low):.3g} m: it "
            "falls over. Check where its parts lie.",
            given=value,
            limit=f"between {low:.4g} m and {high:.4g} m",
        )


def _axles(candidate: Candidate) -> tuple[float, float]:
    """Return where rear and front axle stand, insets of modules taken in the mean [m]."""
    half = float(candidate.wheels.wheelbase_m) / 2
    if candidate.modules is None:
        return -half, half
    at = candidate.modules.corners
    front = fmean((at.front_left.inset_m[0], at.front_right.inset_m[0]))
    rear = fmean((at.rear_left.inset_m[0], at.rear_right.inset_m[0]))
    return rear - half, half - front


def _sides(candidate: Candidate) -> tuple[float, float]:
    """Return where right and left wheels stand, insets of modules taken in the mean [m]."""
    half = float(candidate.wheels.track_m) / 2
    if candidate.modules is None:
        return -half, half
    at = candidate.modules.corners
    left = fmean((at.front_left.inset_m[1], at.rear_left.inset_m[1]))
    right = fmean((at.front_right.inset_m[1], at.rear_right.inset_m[1]))
    return right - half, half - left
