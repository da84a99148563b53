"""Rules of a study that join several fields: references, counts, geometry, dates.

Contents: `faults_between_fields`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from models.engineering.materials import MATERIALS
from models.errors import Fault
from models.study.given_checks import field_faults, power_faults, route_faults
from models.study.numbers import chain_of
from models.study.physics import geared_free_speed
from models.study.plan_checks import (
    decision_faults,
    plan_faults,
    repeated,
    schedule_faults,
    unknown,
)
from models.study.schema import CORNERS, Candidate, Part, Prism, Study
from models.study.weight_checks import weight_faults
from models.units import quoted

FASTEST_MPS = 12.0
"""No drive base on a field is geared faster; a figure above it is a slip of input."""
RESERVED_KEYS = frozenset({"order", "new"})


def faults_between_fields(study: Study) -> list[Fault]:
    """Return every rule between fields that a study breaks, in the order of the file."""
    faults = [
        *_motor_faults(study),
        *_material_faults(study),
        *_robot_faults(study),
        *_givens_faults(study),
        *power_faults(study),
        *field_faults(study),
        *_candidate_list_faults(study),
    ]
    for index, candidate in enumerate(study.candidates):
        faults += _candidate_faults(study, candidate, f"candidates[{index}]")
    return [*faults, *route_faults(study), *schedule_faults(study), *decision_faults(study)]


def _motor_faults(study: Study) -> Iterator[Fault]:
    for key, motor in study.motors.items():
        if motor.free_current_a >= motor.stall_current_a:
            yield Fault(
                f"motors.{key}.free_current_a",
                f"The free current, {motor.free_current_a:g} A, has to lie below the stall "
                f"current, {motor.stall_current_a:g} A.",
                given=float(motor.free_current_a),
                limit=f"below {motor.stall_current_a:g} A",
            )


def _material_faults(study: Study) -> Iterator[Fault]:
    known = [*MATERIALS, *study.densities]
    places = [("robot.parts", study.robot.parts)]
    places += [(f"candidates[{i}].parts", one.parts) for i, one in enumerate(study.candidates)]
    for place, parts in places:
        for index, part in enumerate(parts):
            yield from _part_faults(part, f"{place}[{index}]", known)


def _part_faults(part: Part, place: str, known: Sequence[str]) -> Iterator[Fault]:
    stated = [name for name in ("mass_kg", "tube", "plate") if getattr(part, name) is not None]
    if len(stated) != 1:
        given = " and ".join(stated) if stated else "none of them"
        yield Fault(
            place,
            f"The part {quoted(part.name)} needs one of mass_kg, tube or plate; it has {given}.",
            given=given,
            limit="one of mass_kg, tube, plate",
        )
    for name in ("tube", "plate"):
        shape = getattr(part, name)
        if shape is not None and shape.material not in known:
            yield unknown(f"{place}.{name}.material", shape.material, known, "material")
    if part.tube and 2 * part.tube.wall_m >= min(part.tube.width_m, part.tube.height_m):
        least = float(min(part.tube.width_m, part.tube.height_m))
        yield Fault(
            f"{place}.tube.wall_m",
            f"A wall of {part.tube.wall_m:g} m leaves no hollow in a tube {least:g} m across; "
            f"it has to lie below {least / 2:g} m.",
            given=float(part.tube.wall_m),
            limit=f"below {least / 2:g} m",
        )


def _prism_faults(prisms: Iterable[Prism], place: str) -> Iterator[Fault]:
    for index, prism in enumerate(prisms):
        if prism.top_m <= prism.bottom_m:
            yield Fault(
                f"{place}[{index}].top_m",
                f"The top of {quoted(prism.name)}, {prism.top_m:g} m, has to lie above its "
                f"bottom, {prism.bottom_m:g} m.",
                given=float(prism.top_m),
                limit=f"above {prism.bottom_m:g} m",
            )


def _robot_faults(study: Study) -> Iterator[Fault]:
    robot = study.robot
    yield from repeated(robot.parts, "robot.parts", lambda one: one.name, "name")
    yield from repeated(robot.keepouts, "robot.keepouts", lambda one: one.name, "name")
    yield from repeated(robot.poses, "robot.poses", lambda one: one.name, "name")
    yield from _prism_faults(robot.keepouts, "robot.keepouts")
    yield from _keepout_pose_faults(study)
    names = [part.name for part in robot.parts]
    for index, pose in enumerate(robot.poses):
        yield from repeated(pose.loads, f"robot.poses[{index}].loads", lambda one: one.name, "name")
        for name in pose.offsets:
            if name not in names:
                place = f"robot.poses[{index}].offsets.{name}"
                yield unknown(place, name, names, "part of the robot named")
    for key, module in study.module_types.items():
        for way in ("upright", "inverted"):
            yield from _prism_faults(getattr(module, way), f"module_types.{key}.{way}")


def _keepout_pose_faults(study: Study) -> Iterator[Fault]:
    poses = [pose.name for pose in study.robot.poses]
    for index, keepout in enumerate(study.robot.keepouts):
        for step, name in enumerate(keepout.poses):
            place = f"robot.keepouts[{index}].poses[{step}]"
            if name not in poses:
                yield unknown(place, name, poses, "pose")
            elif name in keepout.poses[:step]:
                yield Fault(
                    place,
                    f"{quoted(keepout.name)} names the pose {quoted(name)} twice; name it once.",
                    given=name,
                )


def _givens_faults(study: Study) -> Iterator[Fault]:
    rules, platform = study.rules, study.platform
    low, high = rules.bumper_bottom_m, rules.bumper_top_m
    if low is not None and high is not None and high <= low:
        yield Fault(
            "rules.bumper_top_m",
            f"The bumpers' upper edge, {high:g} m, has to lie above their lower edge, {low:g} m.",
            given=float(high),
            limit=f"above {low:g} m",
        )
    if platform is None:
        return
    yield from repeated(platform.partners, "platform.partners", lambda one: one.name, "name")
    half = float(platform.length_m) / 2
    for index, partner in enumerate(platform.partners):
        if abs(partner.at_m) > half:
            yield Fault(
                f"platform.partners[{index}].at_m",
                f"{quoted(partner.name)} stands {abs(partner.at_m):g} m from the hinge, beyond "
                f"the end of the platform at {half:g} m.",
                given=float(partner.at_m),
                limit=f"{-half:g} m to {half:g} m",
            )


def _candidate_list_faults(study: Study) -> Iterator[Fault]:
    yield from repeated(study.candidates, "candidates", lambda one: one.key, "key")
    baselines = [i for i, one in enumerate(study.candidates) if one.baseline]
    if len(baselines) > 1:
        first, second = baselines[:2]
        yield Fault(
            f"candidates[{second}].baseline",
            f"Both candidates[{first}] and candidates[{second}] are marked as the baseline; "
            "mark one.",
            given=True,
            limit="one baseline",
        )


def _candidate_faults(study: Study, candidate: Candidate, place: str) -> Iterator[Fault]:
    if candidate.key in RESERVED_KEYS:
        yield Fault(
            f"{place}.key",
            f"The key {quoted(candidate.key)} is kept for the program; choose another.",
            given=candidate.key,
        )
    yield from _count_faults(candidate, place)
    yield from _speed_faults(study, candidate, place)
    yield from _module_faults(study, candidate, place)
    yield from weight_faults(study, candidate, place)
    yield from repeated(candidate.parts, f"{place}.parts", lambda one: one.name, "name")
    yield from repeated(candidate.bodies, f"{place}.bodies", lambda one: one.name, "name")
    yield from _prism_faults(candidate.bodies, f"{place}.bodies")
    yield from plan_faults(study, candidate, place)


def _count_faults(candidate: Candidate, place: str) -> Iterator[Fault]:
    wheels, motors = candidate.wheels.count, candidate.drive.motor_count
    if candidate.layout == "tank":
        if wheels % 2:
            yield Fault(
                f"{place}.wheels.count",
                f"A tank has as many wheels left as right; {wheels} is odd.",
                given=wheels,
                limit="an even number",
            )
        if motors % 2:
            yield Fault(
                f"{place}.drive.motor_count",
                f"A tank has as many motors left as right; {motors} is odd.",
                given=motors,
                limit="an even number",
            )
    elif wheels != 4:
        yield Fault(
            f"{place}.wheels.count",
            f"A {candidate.layout} base has 4 wheels here, one at each corner; {wheels} given.",
            given=wheels,
            limit="4",
        )
    elif motors % 4:
        yield Fault(
            f"{place}.drive.motor_count",
            f"Each of the 4 wheels needs the same number of drive motors; {motors} given. "
            "Steering motors are not counted.",
            given=motors,
            limit="4, or a multiple of 4",
        )
    yield from _omni_faults(candidate, place)


def _omni_faults(candidate: Candidate, place: str) -> Iterator[Fault]:
    if candidate.wheels.effective_track_m is not None and candidate.layout != "tank":
        yield Fault(
            f"{place}.wheels.effective_track_m",
            f"Only a tank has a measured track; this candidate is {candidate.layout}. Take it out.",
            given=float(candidate.wheels.effective_track_m),
            limit="tank only",
        )
    axles = candidate.wheels.count // 2
    for index, axle in enumerate(candidate.wheels.omni_axles):
        if axle >= axles:
            yield Fault(
                f"{place}.wheels.omni_axles[{index}]",
                f"{candidate.wheels.count} wheels have axles 0 (front) to {axles - 1}; "
                f"{axle} given.",
                given=axle,
                limit=f"0 to {axles - 1}",
            )
    if candidate.wheels.omni_axles and candidate.wheels.omni_side_grip is None:
        yield Fault(
            f"{place}.wheels.omni_side_grip",
            "Omni wheels need their own grip sideways; state it, such as 0.1.",
        )


def _speed_faults(study: Study, candidate: Candidate, place: str) -> Iterator[Fault]:
    motor = study.motors.get(candidate.drive.motor)
    if motor is None:
        known = study.motors
        yield unknown(f"{place}.drive.motor", candidate.drive.motor, known, "motor")
        return
    speed = geared_free_speed(candidate, motor)
    if speed <= FASTEST_MPS:
        return
    ratio = float(candidate.drive.ratio)
    advice = "Check ratio and wheel diameter"
    if ratio < 1:
        advice = f"A ratio below 1 speeds the wheel up; for {1 / ratio:.3g}:1 type {1 / ratio:.3g}"
    chain = chain_of(candidate.drive.ratio)
    if chain is not None and chain.is_mixed:
        advice = f"The chain is {chain.words}; one pair may be written the other way round"
    yield Fault(
        f"{place}.drive.ratio",
        f"With a wheel of {candidate.wheels.diameter_m * 1000:.4g} mm, a ratio of {ratio:.4g} is "
        f"geared for {speed:.3g} m/s; a study takes {FASTEST_MPS:g} m/s at most. {advice}.",
        given=ratio,
        limit=f"a geared free speed of {FASTEST_MPS:g} m/s at most",
    )


def _module_faults(study: Study, candidate: Candidate, place: str) -> Iterator[Fault]:
    modules = candidate.modules
    if modules is None:
        return
    if candidate.layout != "swerve":
        yield Fault(
            f"{place}.modules",
            f"Steered modules belong to the layout swerve; this candidate is {candidate.layout}. "
            "Remove them or change the layout.",
        )
    kind = study.module_types.get(modules.type)
    if kind is None:
        yield unknown(f"{place}.modules.type", modules.type, study.module_types, "module type")
        return
    for corner in CORNERS:
        way = getattr(modules.corners, corner).orientation
        if not getattr(kind, way):
            yield Fault(
                f"{place}.modules.corners.{corner}.orientation",
                f"The module type {quoted(kind.name)} has no {way} envelope; draw it or turn the "
                "module over.",
                given=way,
            )
    yield from _inset_faults(candidate, place)


def _inset_faults(candidate: Candidate, place: str) -> Iterator[Fault]:
    if candidate.modules is None:
        return
    for axis, span, name in (
        (0, candidate.wheels.wheelbase_m, "wheelbase"),
        (1, candidate.wheels.track_m, "track"),
    ):
        for corner in CORNERS:
            inset = float(getattr(candidate.modules.corners, corner).inset_m[axis])
            if 2 * inset >= span:
                yield Fault(
                    f"{place}.modules.corners.{corner}.inset_m",
                    f"An inset of {inset:g} m moves the wheel past the middle of the {name}, "
                    f"{span:g} m.",
                    given=inset,
                    limit=f"below {span / 2:g} m",
                )
