"""Everything that a plan and a side drawing of one candidate in one pose need, in metres.

Axes are the robot's: x forward, y left, z up, origin on the floor under the middle of the frame.

Contents
--------
Scene and what it is made of: SceneWheel, SceneBody, SceneKeepout, ScenePart, SceneGap.
fit_scene: from a study, a candidate and a pose to the scene.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from models.engineering.mass import mass_properties
from models.engineering.prisms import escape_moves, nearest_points
from models.engineering.stability import support_polygon
from models.study.schema import Candidate, Pose, Study
from models.trade.assembly import (
    Body,
    FitTable,
    bodies_of,
    fit_table,
    frame_outline,
    height_in_pose,
    part_table,
    pose_named,
    posed_centres,
    posed_masses,
    poses_of,
    wheel_contacts,
)

FloatArray = NDArray[np.float64]
Outline = tuple[tuple[float, float], ...]

WHEEL_WIDTH_SHARE = 0.3
"""Drawn width of a wheel as a share of its diameter: a study does not say how wide wheels are."""

_CROSSED_DEG = (-45.0, 45.0, 45.0, -45.0)
"""Rolling direction of omni wheels at 45°, each along the tangent, in corner order."""


@dataclass(frozen=True)
class SceneWheel:
    """A wheel on the floor."""

    centre: tuple[float, float]
    diameter_m: float
    width_m: float
    """For the drawing only."""
    angle_deg: float
    """Rolling direction against straight ahead, counter-clockwise."""
    outline: Outline
    bottom_m: float
    top_m: float


@dataclass(frozen=True)
class SceneBody:
    """A body of the base, or one prism of a module."""

    name: str
    outline: Outline
    bottom_m: float
    top_m: float
    corner: str | None
    """For a module's prism: which corner."""
    orientation: str | None
    """For a module's prism: upright or inverted."""
    conflict: bool
    """True where it conflicts with any keep-out."""


@dataclass(frozen=True)
class SceneKeepout:
    """A volume that a mechanism needs."""

    name: str
    outline: Outline
    bottom_m: float
    top_m: float
    clearance_m: float
    clearance_outline: Outline
    """The outline moved outwards by the clearance."""
    conflict: bool
    applies: bool
    """True where it counts in the pose shown."""
    swept: bool
    """True where a mechanism only passes through it."""


@dataclass(frozen=True)
class ScenePart:
    """A part's box as the pose places it; sides of 0 where no size is given."""

    name: str
    of_robot: bool
    centre: tuple[float, float, float]
    size: tuple[float, float, float]
    outline: Outline
    bottom_m: float
    top_m: float
    moved: bool
    """True where the pose moves it."""
    carried: bool = False
    """True for a load of the pose."""


@dataclass(frozen=True)
class SceneGap:
    """How one body stands to one keep-out, with the ends of its measure line."""

    body: str
    keepout: str
    gap_m: float
    clearance_m: float
    margin_m: float
    overlap_m3: float
    conflict: bool
    from_point: tuple[float, float, float]
    """On the body."""
    to_point: tuple[float, float, float]
    """On the keep-out."""
    overlap_outlines: tuple[Outline, ...]
    """What the two share in plan, where they share volume."""
    escape_m: float
    """The shortest straight move that gives the clearance asked for, 0 where it is kept."""
    escape_towards: str
    """Direction of that move: forward, back, left, right, up, down; '' where none is needed."""
    applies: bool
    """True where the keep-out counts in the pose shown."""


@dataclass(frozen=True)
class Scene:
    """One candidate in one pose."""

    candidate: str
    candidate_name: str
    layout: str
    pose: str
    frame_length_m: float
    frame_width_m: float
    frame: Outline
    wheels: tuple[SceneWheel, ...]
    bodies: tuple[SceneBody, ...]
    keepouts: tuple[SceneKeepout, ...]
    parts: tuple[ScenePart, ...]
    cg_m: tuple[float, float, float]
    support: Outline
    """Outline of the wheels' contact points."""
    stands: bool
    """True where the centre of gravity lies inside the support."""
    gaps: tuple[SceneGap, ...]
    """Least margin first; empty where the fit is not known."""
    fit_known: bool
    height_m: float
    height_limit_m: float
    lowest: tuple[float, float, float]
    """Least x, y, z of everything drawn."""
    highest: tuple[float, float, float]
    """Greatest x, y, z of everything drawn, the height limit not counted."""


def fit_scene(study: Study, candidate: Candidate, pose_name: str | None = None) -> Scene:
    """Return the scene of a candidate in a pose, the travelling one for None.

    Raises `NotFoundError` where the robot has no pose of that name.
    """
    pose = pose_named(study, pose_name)
    table = fit_table(study, candidate)
    gaps = _gaps(table, pose) if table else ()
    carried = posed_masses(study, candidate, [pose])
    whole = mass_properties(
        masses=carried.masses[0], centres=carried.centres[0], sizes=carried.sizes
    )
    support = support_polygon(wheel_contacts(candidate))
    wheels, parts = _wheels(candidate), _parts(study, candidate, pose)
    frame = frame_outline(candidate)
    bodies = _bodies(bodies_of(study, candidate), table)
    keepouts = _keepouts(study, table, pose)
    lowest, highest = _extent(frame, [*wheels, *bodies, *keepouts, *parts])
    return Scene(
        candidate=candidate.key,
        candidate_name=candidate.name,
        layout=candidate.layout,
        pose=pose.name,
        frame_length_m=float(candidate.frame.length_m),
        frame_width_m=float(candidate.frame.width_m),
        frame=_outline(frame),
        wheels=wheels,
        bodies=bodies,
        keepouts=keepouts,
        parts=parts,
        cg_m=(float(whole.cg_x), float(whole.cg_y), float(whole.cg_z)),
        support=_outline(support),
        stands=bool(shapely.Polygon(support).covers(shapely.Point(whole.cg_x, whole.cg_y))),
        gaps=gaps,
        fit_known=table is not None,
        height_m=height_in_pose(study, candidate, pose),
        height_limit_m=float(study.rules.height_limit_m),
        lowest=lowest,
        highest=highest,
    )


def _outline(corners: FloatArray) -> Outline:
    return tuple((float(x), float(y)) for x, y in corners)


def _wheels(candidate: Candidate) -> tuple[SceneWheel, ...]:
    diameter = float(candidate.wheels.diameter_m)
    width = WHEEL_WIDTH_SHARE * diameter
    contacts = wheel_contacts(candidate)
    crossed = candidate.layout == "omni"
    angles = _CROSSED_DEG if crossed else (0.0,) * len(contacts)
    lifts = _lifts(candidate, len(contacts))
    return tuple(
        SceneWheel(
            centre=(float(x), float(y)),
            diameter_m=diameter,
            width_m=width,
            angle_deg=angle,
            outline=_turned_rectangle((x, y), diameter, width, angle),
            bottom_m=lift,
            top_m=lift + diameter,
        )
        for (x, y), angle, lift in zip(contacts, angles, lifts, strict=True)
    )


def _lifts(candidate: Candidate, count: int) -> list[float]:
    """Return how high each wheel hangs over the floor when the robot rests on dropped wheels."""
    axles, drop = count // 2, float(candidate.wheels.centre_drop_m)
    if candidate.layout != "tank" or axles % 2 == 0:
        return [0.0] * count
    return [0.0 if index // 2 == axles // 2 else drop for index in range(count)]


def _turned_rectangle(
    centre: tuple[float, float], length: float, width: float, angle_deg: float
) -> Outline:
    turn = np.deg2rad(angle_deg)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    half = np.array([[1.0, 1.0], [-1.0, 1.0], [-1.0, -1.0], [1.0, -1.0]]) * [length / 2, width / 2]
    return _outline(half @ rotation.T + np.array(centre))


def _bodies(bodies: tuple[Body, ...], table: FitTable | None) -> tuple[SceneBody, ...]:
    bad = _conflicts(table, len(bodies), axis=1)
    return tuple(
        SceneBody(
            name=body.name,
            outline=body.outline,
            bottom_m=body.bottom_m,
            top_m=body.top_m,
            corner=body.corner,
            orientation=body.orientation,
            conflict=conflict,
        )
        for body, conflict in zip(bodies, bad, strict=True)
    )


def _conflicts(table: FitTable | None, count: int, *, axis: int) -> list[bool]:
    """Return which bodies (axis 1 taken together) or keep-outs (axis 0) conflict with any other."""
    if table is None:
        return [False] * count
    return [bool(any(flags)) for flags in np.moveaxis(table.clearances.conflict, axis, 1)]


def _keepouts(study: Study, table: FitTable | None, pose: Pose) -> tuple[SceneKeepout, ...]:
    keepouts = study.robot.keepouts
    bad = _conflicts(table, len(keepouts), axis=0)
    return tuple(
        SceneKeepout(
            name=keepout.name,
            outline=_outline(np.asarray(keepout.outline_m, dtype=np.float64)),
            bottom_m=float(keepout.bottom_m),
            top_m=float(keepout.top_m),
            clearance_m=float(keepout.clearance_m),
            clearance_outline=_grown(keepout.outline_m, float(keepout.clearance_m)),
            conflict=conflict,
            applies=pose.name in poses_of(study, keepout),
            swept=keepout.swept,
        )
        for keepout, conflict in zip(keepouts, bad, strict=True)
    )


def _grown(outline: Outline, by: float) -> Outline:
    """Return an outline moved outwards, corners rounded as a distance demands."""
    grown = shapely.Polygon(outline).buffer(by, quad_segs=4)
    return _outline(shapely.get_coordinates(grown.exterior)[:-1])


def _parts(study: Study, candidate: Candidate, pose: Pose) -> tuple[ScenePart, ...]:
    table = part_table(study, candidate)
    centres = posed_centres(table, [pose])[0]
    moved = np.any(centres != table.centres, axis=1)
    own = tuple(
        _box(
            name,
            centres[index],
            table.sizes[index],
            of_robot=bool(table.of_robot[index]),
            moved=bool(moved[index]),
        )
        for index, name in enumerate(table.names)
    )
    return own + tuple(
        _box(load.name, np.array(load.centre_m), np.array(load.size_m), carried=True)
        for load in pose.loads
    )


def _box(name: str, centre: FloatArray, size: FloatArray, **about: bool) -> ScenePart:
    return ScenePart(
        name=name,
        of_robot=about.get("of_robot", False),
        centre=_triple(centre),
        size=_triple(size),
        outline=_turned_rectangle((centre[0], centre[1]), size[0], size[1], 0.0),
        bottom_m=float(centre[2] - size[2] / 2.0),
        top_m=float(centre[2] + size[2] / 2.0),
        moved=about.get("moved", False),
        carried=about.get("carried", False),
    )


def _triple(values: FloatArray) -> tuple[float, float, float]:
    return float(values[0]), float(values[1]), float(values[2])


def _gaps(table: FitTable, pose: Pose) -> tuple[SceneGap, ...]:
    ends = nearest_points(table.body_prisms, table.keepout_prisms)
    moves = escape_moves(
        table.body_prisms,
        table.keepout_prisms,
        asked=table.asked,
        level=[body.corner is not None for body in table.bodies],
    )
    rows = [
        SceneGap(
            body=body.name,
            keepout=table.keepout_names[column],
            gap_m=float(table.clearances.gap[row, column]),
            clearance_m=float(table.asked[column]),
            margin_m=float(table.clearances.margin[row, column]),
            overlap_m3=float(table.clearances.overlap[row, column]),
            conflict=bool(table.clearances.conflict[row, column]),
            from_point=_with_height(table, row, column, ends.first[row, column], of_body=True),
            to_point=_with_height(table, row, column, ends.second[row, column], of_body=False),
            overlap_outlines=_shared(table, row, column),
            escape_m=float(moves.distance[row, column]),
            escape_towards=str(moves.towards[row, column]),
            applies=pose.name in table.poses[column],
        )
        for row, body in enumerate(table.bodies)
        for column in range(len(table.keepout_names))
    ]
    return tuple(sorted(rows, key=lambda gap: (gap.margin_m, -gap.overlap_m3)))


def _with_height(
    table: FitTable, row: int, column: int, point: FloatArray, *, of_body: bool
) -> tuple[float, float, float]:
    """Return an end of a measure line: at the common height, or where the heights come closest."""
    body = (table.body_prisms.bottom[row], table.body_prisms.top[row])
    keepout = (table.keepout_prisms.bottom[column], table.keepout_prisms.top[column])
    low, high = max(body[0], keepout[0]), min(body[1], keepout[1])
    if high >= low:
        height = (low + high) / 2.0
    else:
        own = body if of_body else keepout
        height = own[1] if own[1] <= high else own[0]
    return float(point[0]), float(point[1]), float(height)


def _shared(table: FitTable, row: int, column: int) -> tuple[Outline, ...]:
    if table.clearances.overlap[row, column] <= 0.0:
        return ()
    shared = shapely.intersection(table.body_prisms.plan[row], table.keepout_prisms.plan[column])
    return tuple(
        _outline(shapely.get_coordinates(part.exterior)[:-1])
        for part in shapely.get_parts(shared)
        if part.geom_type == "Polygon"
    )


def _extent(
    frame: FloatArray, drawn: Sequence[SceneWheel | SceneBody | SceneKeepout | ScenePart]
) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    plan = np.vstack([frame, *(np.array(item.outline) for item in drawn)])
    bottoms = [0.0, *(item.bottom_m for item in drawn)]
    tops = [item.top_m for item in drawn]
    low, high = plan.min(axis=0), plan.max(axis=0)
    return (
        (float(low[0]), float(low[1]), min(bottoms)),
        (float(high[0]), float(high[1]), max(tops)),
    )
