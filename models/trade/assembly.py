"""From a study and one of its candidates to the arrays that the engineering functions take.

Contents
--------
PartTable, part_table, posed_centres, pose_named: masses with places, per pose.
PosedMasses, posed_masses: the same with what is carried in each pose.
keepouts_apply, keepouts_in, poses_of: which keep-outs count in which pose.
wheel_contacts, corner_wheels: where the wheels touch the floor.
Body, bodies_of, FitTable, fit_table: what has to fit, and how it stands.
height_in_pose, frame_outline, outside_frame: how tall it stands, its frame, what sticks out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from models.engineering.placement import (
    CORNERS,
    Corner,
    axle_contacts,
    corner_contacts,
    corner_outline,
)
from models.engineering.prisms import LENGTH_TOLERANCE, Clearances, Prisms, clearances, prisms
from models.errors import NotFoundError
from models.study.physics import part_mass
from models.study.schema import Candidate, Keepout, Pose, Prism, Study
from models.study.schema import Corner as CornerSetting

FloatArray = NDArray[np.float64]


class PartTable(NamedTuple):
    """The robot's parts, then the candidate's, as arrays over parts."""

    names: tuple[str, ...]
    masses: FloatArray
    """Quantity multiplied in, shape (n,) [kg]."""
    centres: FloatArray
    """Before any pose's offset, shape (n, 3) [m]."""
    sizes: FloatArray
    """Boxes, 0 where none is given, shape (n, 3) [m]."""
    exempt: NDArray[np.bool_]
    of_robot: NDArray[np.bool_]
    """True for what stays on the robot whatever base is under it."""


@dataclass(frozen=True)
class Body:
    """One thing of the base that takes up room: a body of its own or a prism of a module."""

    name: str
    """As lists and sentences call it: 'rear-left plate', 'gearbox left'."""
    outline: tuple[tuple[float, float], ...]
    bottom_m: float
    top_m: float
    corner: Corner | None = None
    orientation: str | None = None


@dataclass(frozen=True)
class FitTable:
    """Every body of a candidate against every keep-out of the robot."""

    bodies: tuple[Body, ...]
    keepout_names: tuple[str, ...]
    asked: FloatArray
    """Clearance of each keep-out [m]."""
    body_prisms: Prisms
    keepout_prisms: Prisms
    clearances: Clearances
    poses: tuple[tuple[str, ...], ...]
    """For each keep-out the poses in which it counts, in the robot's order."""


class PosedMasses(NamedTuple):
    """Parts and loads in every pose; a load has no mass where it is not carried."""

    masses: FloatArray
    """Shape (poses, n) [kg]."""
    centres: FloatArray
    """Shape (poses, n, 3) [m]."""
    sizes: FloatArray
    """Shape (n, 3) [m]."""


def part_table(study: Study, candidate: Candidate) -> PartTable:
    """Return the robot's parts and the candidate's as arrays."""
    parts = (*study.robot.parts, *candidate.parts)
    stays = len(study.robot.parts)
    return PartTable(
        names=tuple(part.name for part in parts),
        masses=np.array([part_mass(study, part) for part in parts], dtype=np.float64),
        centres=np.array([part.centre_m for part in parts], dtype=np.float64).reshape(-1, 3),
        sizes=np.array([part.size_m for part in parts], dtype=np.float64).reshape(-1, 3),
        exempt=np.array([part.exempt for part in parts], dtype=bool),
        of_robot=np.arange(len(parts)) < stays,
    )


def posed_centres(table: PartTable, poses: Sequence[Pose]) -> FloatArray:
    """Return the centres of all parts in every pose, shape (poses, n, 3) [m].

    A pose moves every part of that name, the robot's and the candidate's alike.
    """
    offsets = np.zeros((len(poses), len(table.names), 3))
    for row, pose in zip(offsets, poses, strict=True):
        for name, offset in pose.offsets.items():
            row[[index for index, part in enumerate(table.names) if part == name]] = offset
    return np.asarray(table.centres + offsets)


def posed_masses(study: Study, candidate: Candidate, poses: Sequence[Pose]) -> PosedMasses:
    """Return the masses of parts and loads with their places in every pose.

    The loads of all poses follow the parts; each weighs nothing in the poses without it.
    """
    table = part_table(study, candidate)
    centres = posed_centres(table, poses)
    owners = [(row, load) for row, pose in enumerate(poses) for load in pose.loads]
    carried = np.zeros((len(poses), len(owners)))
    for column, (row, load) in enumerate(owners):
        carried[row, column] = load.mass_kg
    places = np.array([load.centre_m for _, load in owners], dtype=np.float64).reshape(-1, 3)
    boxes = np.array([load.size_m for _, load in owners], dtype=np.float64).reshape(-1, 3)
    own = np.broadcast_to(table.masses, (len(poses), len(table.masses)))
    return PosedMasses(
        masses=np.concatenate([own, carried], axis=1),
        centres=np.concatenate(
            [centres, np.broadcast_to(places, (len(poses), *places.shape))], axis=1
        ),
        sizes=np.concatenate([table.sizes, boxes]),
    )


def poses_of(study: Study, keepout: Keepout) -> tuple[str, ...]:
    """Return the names of the poses in which a keep-out counts, all where it names none."""
    return tuple(
        pose.name for pose in study.robot.poses if not keepout.poses or pose.name in keepout.poses
    )


def keepouts_apply(study: Study) -> NDArray[np.bool_]:
    """Return which keep-out counts in which pose, shape (keep-outs, poses).

    Every keep-out counts in at least one pose. Who asks for a fit in any pose takes them all.
    """
    names = [pose.name for pose in study.robot.poses]
    counts = [
        [name in poses_of(study, keepout) for name in names] for keepout in study.robot.keepouts
    ]
    return np.array(counts, dtype=bool).reshape(-1, len(names))


def keepouts_in(study: Study, pose: Pose | None) -> tuple[Keepout, ...]:
    """Return the keep-outs that count in a pose; for None those of any pose, which is all."""
    if pose is None:
        return study.robot.keepouts
    return tuple(one for one in study.robot.keepouts if pose.name in poses_of(study, one))


def pose_named(study: Study, name: str | None) -> Pose:
    """Return a pose by name, the travelling pose for None; raises `NotFoundError`."""
    if name is None:
        return study.robot.poses[0]
    for pose in study.robot.poses:
        if pose.name == name:
            return pose
    message = f"The robot has no pose called “{name}”."
    raise NotFoundError(message)


def corner_wheels(candidate: Candidate) -> FloatArray:
    """Return the contact points of the four corner wheels, in `CORNERS` order, shape (4, 2) [m]."""
    insets = None
    if candidate.modules is not None:
        settings = (_corner(candidate, corner).inset_m for corner in CORNERS)
        insets = tuple((float(along), float(across)) for along, across in settings)
    wheels = candidate.wheels
    return _corner_places(float(wheels.wheelbase_m), float(wheels.track_m), insets)


@lru_cache(maxsize=512)
def _corner_places(
    wheelbase: float, track: float, insets: tuple[tuple[float, float], ...] | None
) -> FloatArray:
    """Return the contact points of four corners; asked for a dozen times in one evaluation."""
    places = corner_contacts(wheelbase=wheelbase, track=track, insets=insets)
    places.setflags(write=False)
    return places


def wheel_contacts(candidate: Candidate) -> FloatArray:
    """Return the contact points of all wheels, shape (n, 2) [m].

    A tank's wheels stand in pairs on evenly spaced axles; other bases have one at each corner.
    """
    wheels = candidate.wheels
    if candidate.layout == "tank":
        return axle_contacts(
            axle_count=wheels.count // 2, wheelbase=wheels.wheelbase_m, track=wheels.track_m
        )
    return corner_wheels(candidate)


def _corner(candidate: Candidate, corner: Corner) -> CornerSetting:
    if candidate.modules is None:  # pragma: no cover  # callers look first
        message = f"{candidate.name} has no modules."
        raise NotFoundError(message)
    setting: CornerSetting = getattr(candidate.modules.corners, corner)
    return setting


def bodies_of(study: Study, candidate: Candidate) -> tuple[Body, ...]:
    """Return what takes up room around the mechanisms: the candidate's bodies, then its modules.

    Wheels are no bodies of their own: a module's envelope or a drawn body stands for them, since
    a study says how large a wheel is but not how wide.
    """
    own = tuple(_own_body(prism) for prism in candidate.bodies)
    if candidate.modules is None:
        return own
    module = study.module_types[candidate.modules.type]
    contacts = corner_wheels(candidate)
    return own + tuple(
        _module_body(
            prism.name,
            prism.outline_m,
            (float(prism.bottom_m), float(prism.top_m)),
            corner=corner,
            orientation=orientation,
            contact=contact,
        )
        for corner, contact in zip(CORNERS, map(tuple, contacts.tolist()), strict=True)
        for orientation in (_corner(candidate, corner).orientation,)
        for prism in getattr(module, orientation)
    )


def _own_body(prism: Prism) -> Body:
    outline = tuple((float(x), float(y)) for x, y in prism.outline_m)
    return Body(prism.name, outline, float(prism.bottom_m), float(prism.top_m))


@lru_cache(maxsize=4096)
def _module_body(
    name: str,
    outline: tuple[tuple[float, float], ...],
    heights: tuple[float, float],
    *,
    corner: Corner,
    orientation: str,
    contact: tuple[float, float],
) -> Body:
    """Return a module's prism at its corner; asked for several times in one evaluation."""
    drawn = corner_outline(outline=outline, corner=corner, contact=contact)
    return Body(
        name=f"{corner.replace('_', '-')} {name}",
        outline=tuple((x, y) for x, y in drawn.tolist()),
        bottom_m=heights[0],
        top_m=heights[1],
        corner=corner,
        orientation=orientation,
    )


def fit_table(study: Study, candidate: Candidate) -> FitTable | None:
    """Return every body against every keep-out; None where either is missing and fit unknown.

    A candidate's bodies do not move with the poses, so a keep-out that is in the way in one pose
    is in the way whenever it counts: it fits where no keep-out of any pose is in conflict.
    """
    bodies, keepouts = bodies_of(study, candidate), study.robot.keepouts
    if not bodies or not keepouts:
        return None
    ours = prisms(
        [body.outline for body in bodies],
        bottoms=[body.bottom_m for body in bodies],
        tops=[body.top_m for body in bodies],
    )
    theirs = prisms(
        [keepout.outline_m for keepout in keepouts],
        bottoms=[keepout.bottom_m for keepout in keepouts],
        tops=[keepout.top_m for keepout in keepouts],
    )
    asked = np.array([keepout.clearance_m for keepout in keepouts], dtype=np.float64)
    return FitTable(
        bodies=bodies,
        keepout_names=tuple(keepout.name for keepout in keepouts),
        asked=asked,
        body_prisms=ours,
        keepout_prisms=theirs,
        clearances=clearances(ours, theirs, asked=asked),
        poses=tuple(poses_of(study, keepout) for keepout in keepouts),
    )


def height_in_pose(study: Study, candidate: Candidate, pose: Pose) -> float:
    """Return the height of the highest thing in a pose: part, body or wheel [m].

    A part without a size counts as a point at its centre. Keep-outs are room, not metal, and
    what is carried is not the robot's.
    """
    table = part_table(study, candidate)
    centres = posed_centres(table, [pose])[0]
    tops = [float(candidate.wheels.diameter_m)]
    tops += [float(top) for top in centres[:, 2] + table.sizes[:, 2] / 2.0]
    tops += [body.top_m for body in bodies_of(study, candidate)]
    return max(tops)


def frame_outline(candidate: Candidate) -> FloatArray:
    """Return the corners of the frame in plan, counter-clockwise from front left [m].

    The frame perimeter is the string around these and nothing else: what sticks out of the frame
    is told by `outside_frame`, since rules differ on which of it counts.
    """
    signs = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]])
    half = np.array([candidate.frame.length_m, candidate.frame.width_m], dtype=np.float64) / 2.0
    return np.asarray(signs * half)


def outside_frame(study: Study, candidate: Candidate) -> tuple[tuple[str, float], ...]:
    """Return the bodies that reach out of the frame in plan and by how much, furthest first [m]."""
    half = frame_outline(candidate)[0]
    reach = {
        body.name: float(np.max(np.abs(np.array(body.outline)) - half))
        for body in bodies_of(study, candidate)
    }
    beyond = [(name, by) for name, by in reach.items() if by > LENGTH_TOLERANCE]
    return tuple(sorted(beyond, key=lambda item: -item[1]))
