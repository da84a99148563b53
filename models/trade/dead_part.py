"""What a candidate can still do with a motor or a module dead, and whether it leaves a corner.

Contents
--------
CASES: the parts that are looked at, in page order.
Left, whole_and_dead: figures of the whole drive and of every case.
worst_stuck_angle: the angle at which a stuck module leaves the least.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from models.engineering.dead_part import (
    DeadPart,
    braking_left,
    dead_part,
    drive_left,
    motion_left,
    push_left,
    slide_share,
    top_speed_left,
    turning_left,
)
from models.engineering.drive import LINKED, rolling_drag, wheel_force
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import governing_pieces
from models.engineering.supply import motor_current
from models.engineering.turning import Turning, turn_braking, turn_motion, turning
from models.study.schema import Candidate, Study
from models.trade.driving import Base, base_of, skid_of

CASES = ("whole", "motor off", "module free", "module stuck")
"""The whole drive, one motor off, a module that rolls freely, a module stuck at an angle."""

CORNERS = (
    ("front left", True, True),
    ("front right", True, False),
    ("rear left", False, True),
    ("rear right", False, False),
)
"""Name of a corner; whether it is a front and a left one."""

ANGLE_STEP_DEG = 1


class Left(NamedTuple):
    """What is left in one case; figures that do not exist are none."""

    case: str
    where: str
    """Which wheel counts, the worst of them; "" where they are alike."""
    stuck_deg: float | None
    top_speed: float | None
    """[m/s]"""
    push: float
    """Against something that gives way; 0 where nothing is left [N]."""
    sprint: float | None
    """Over the yardstick distance, passing its end [s]."""
    sprint_stop: float | None
    """Standing still at its end [s]."""
    turn90: float | None
    """[s]"""
    spare_drive: float
    """Force left over at rest, forward or back, once drag is overcome; below 0 it stays [N]."""
    spare_turn: float
    """The same at the wheel surfaces for a turn in place [N]."""

    @property
    def drives(self) -> bool:
        """Whether it gets going forward and back."""
        return self.spare_drive > 0.0

    @property
    def turns(self) -> bool:
        """Whether it turns in place."""
        return self.spare_turn > 0.0

    @property
    def leaves_corner(self) -> bool:
        """Whether it still drives forward and back and turns in place, either way."""
        return self.drives and self.turns


def whole_and_dead(study: Study, candidate: Candidate, *, stuck_deg: float) -> list[Left]:
    """Return what is left of a candidate's drive, whole and in every case that it can have.

    Parameters
    ----------
    study : Study
        The study.
    candidate : Candidate
        The candidate.
    stuck_deg : float
        Angle at which a module is stuck, from straight ahead to the left.

    Returns
    -------
    list of Left
        The whole drive first; module cases for steered bases only. Of the wheels that can be the
        dead one the worst counts: that which leaves the least spare force.
    """
    base = base_of(study, candidate)
    turn = turning(base.drive, base.stance, base.layout, skid=skid_of(base))
    distance = float(study.yardsticks.sprint_distance_m)
    found = []
    for case in CASES:
        parts = list(_parts(base, case, stuck_deg))
        if parts:
            angle = stuck_deg if case == "module stuck" else None
            where, part = min(parts, key=lambda known: _worth(base, turn, known[1]))
            found.append(
                _left(base, turn, part, case=case, where=where, angle=angle, distance=distance)
            )
    return found


def _worth(base: Base, turn: Turning, part: DeadPart) -> tuple[float, float, float]:
    """Return how much is left with a part dead, for choosing the worst: least spare force first."""
    drive, stance, layout = base.drive, base.stance, base.layout
    force = float(push_left(drive, stance, layout, part=part))
    spare = force - float(rolling_drag(drive, stance.mass))
    turns = _spare_turn(base, part, turning_left(drive, stance, layout, part=part, turn=turn))
    bound = float(motion_left(drive, stance, layout, part=part).bound)
    # Forces that differ by rounding only must not decide which wheel is named
    return round(min(spare, turns), 6), round(force, 6), round(bound, 6)


def _parts(base: Base, case: str, stuck_deg: float) -> Iterator[tuple[str, DeadPart]]:
    """Yield the wheels that can be the dead one in a case."""
    linked = base.layout in LINKED
    if case == "whole":
        yield "", dead_part(motors_off=0.0)
        return
    if case == "motor off":
        for name, front in (("", True),) if linked else (("front", True), ("rear", False)):
            yield name, dead_part(motors_off=1.0, front=front)
        return
    if base.layout != "swerve":
        return
    of_wheel = base.drive.supply.motor_count / 4.0
    if case == "module free":
        for name, front in (("front", True), ("rear", False)):
            yield name, dead_part(motors_off=of_wheel, front=front)
        return
    for name, front, left in CORNERS:
        ahead, turns = slide_share(
            base.stance, stuck_angle=np.radians(stuck_deg), front=front, left=left
        )
        yield (
            name,
            dead_part(motors_off=of_wheel, front=front, slides_ahead=ahead, slides_turning=turns),
        )


def _left(
    base: Base,
    turn: Turning,
    part: DeadPart,
    *,
    case: str,
    where: str,
    angle: float | None,
    distance: float,
) -> Left:
    drive, stance, layout = base.drive, base.stance, base.layout
    if layout in LINKED and float(part.motors_off) >= float(drive.supply.motor_count) / 2.0:
        # A side without a motor: the base neither drives straight nor turns in place
        return Left(case, where, angle, None, 0.0, None, None, None, 0.0, 0.0)
    left = drive_left(drive, motors_off=part.motors_off)
    motion = motion_left(drive, stance, layout, part=part)
    pieces = governing_pieces(motion)
    brake = braking_left(drive, stance, layout, part=part)
    passing, stopping = (
        run_over(pieces, distance=distance, braking=braking) for braking in (np.inf, brake)
    )
    asked = turning_left(drive, stance, layout, part=part, turn=turn)
    spun = run_over(
        governing_pieces(turn_motion(left, stance, asked)),
        distance=np.pi / 2.0 / asked.yaw_factor,
        braking=turn_braking(left, stance, asked),
    )
    force = float(push_left(drive, stance, layout, part=part))
    speed = float(top_speed_left(drive, stance, layout, part=part, motion=motion))
    return Left(
        case=case,
        where=where,
        stuck_deg=angle,
        top_speed=speed if speed > 0.0 else None,
        push=force,
        sprint=_finite(passing.time),
        sprint_stop=_finite(stopping.time),
        turn90=_finite(spun.time + drive.steer_time),
        spare_drive=force - float(rolling_drag(drive, stance.mass)),
        spare_turn=_spare_turn(base, part, asked),
    )


def _spare_turn(base: Base, part: DeadPart, asked: Turning) -> float:
    left = drive_left(base.drive, motors_off=part.motors_off)
    most = motor_current(left.supply, emf=0.0, resistance=left.motor.resistance)
    return float(np.minimum(wheel_force(left, most), asked.cap) - asked.resistance)


def _finite(value: object) -> float | None:
    number = float(np.asarray(value))
    return number if np.isfinite(number) else None


def worst_stuck_angle(base: Base) -> tuple[float, str, float] | None:
    """Return the angle and corner at which a stuck module leaves the least, and what is left.

    Parameters
    ----------
    base : Base
        The candidate as arrays.

    Returns
    -------
    tuple or None
        Angle from straight ahead to the left, −90 to 90 [deg], the corner's name, and the least
        spare force of driving and turning in place [N]; none for layouts without modules.
    """
    if base.layout != "swerve":
        return None
    drive, stance, layout = base.drive, base.stance, base.layout
    turn = turning(drive, stance, layout, skid=None)
    angles = np.arange(-90.0, 90.0 + ANGLE_STEP_DEG, ANGLE_STEP_DEG)
    of_wheel = drive.supply.motor_count / 4.0
    drag = rolling_drag(drive, stance.mass)
    left = drive_left(drive, motors_off=of_wheel)
    most = motor_current(left.supply, emf=0.0, resistance=left.motor.resistance)
    worst: tuple[float, str, float] | None = None
    for name, front, at_left in CORNERS:
        ahead, turns = slide_share(
            stance, stuck_angle=np.radians(angles), front=front, left=at_left
        )
        part = dead_part(motors_off=of_wheel, front=front, slides_ahead=ahead, slides_turning=turns)
        straight = push_left(drive, stance, layout, part=part) - drag
        asked = turning_left(drive, stance, layout, part=part, turn=turn)
        spins = np.minimum(wheel_force(left, most), asked.cap) - asked.resistance
        spare = np.minimum(straight, spins)
        least = int(np.argmin(spare))
        if worst is None or float(spare[least]) < worst[2] - 1e-9:
            worst = (float(angles[least]), name, float(spare[least]))
    return worst
