"""How long a push lasts and what gives up first; who moves whom in a shoving match.

Contents
--------
PushLimit, Endurance, endurance_of: currents of a push against what they may be, and for how long.
Opponent, opponent_of: the other robot.
Encounter, MatchFigures, match_of: a shoving match, head-on and from the side.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from models.engineering.battery import discharge_time
from models.engineering.breakers import trip_time
from models.engineering.drive import rolling_drag, side_hold
from models.engineering.pushing import push, push_currents
from models.engineering.shoving import (
    MATCH_WORDS,
    from_the_side,
    grip_force,
    head_on,
    shove_motion,
    winding_time,
)
from models.engineering.sprint import run_over
from models.engineering.sprint_pieces import acceleration_at, governing_pieces, limit_speed
from models.engineering.supply import bus_voltage, motor_current
from models.engineering.sweeps import slip_current
from models.engineering.traction import GOVERNING
from models.study.schema import Candidate, Study
from models.trade.battery import battery_in_use
from models.trade.driving import Base, side_grip_of

AMBIENT_C = 25.0
"""Of a winding that begins a push cold [°C]."""

SHOVED_M = 1.0
"""How far the loser is moved for the time that a match gives [m]."""


class PushLimit(NamedTuple):
    """One thing that can give up in a push."""

    key: str
    """main breaker, branch breaker, battery, winding."""
    current: float
    """What it carries [A]."""
    rating: float | None
    """What it is made for, none where that is no current or is not given [A]."""
    holds_s: float | None
    """How long it lasts, infinite where it holds, none where it is not given [s]."""
    missing: str
    """What the study would have to say; "" where nothing is missing."""


class Endurance(NamedTuple):
    """A push against something that does not move: currents, and what gives up first."""

    force: float
    """[N]"""
    limited_by: str
    front_motor: float
    """Of one motor of the front half [A]."""
    rear_motor: float
    """[A]"""
    front_bus: float
    """That one of them takes through its branch [A]."""
    rear_bus: float
    """[A]"""
    most_motor: float
    """What a motor's limits let it carry at rest [A]."""
    slip_motor: float
    """At which the wheels break away, all loaded alike [A]."""
    stall_current: float
    """Of the datasheet [A]."""
    stator_limit: float | None
    """[A]"""
    total: float
    """From the battery [A]."""
    voltage: float
    """Of the bus [V]."""
    brownout_v: float
    limits: tuple[PushLimit, ...]

    @property
    def browns_out(self) -> bool:
        """Whether the controller cuts the outputs at once."""
        return self.voltage < self.brownout_v

    @property
    def first(self) -> PushLimit | None:
        """What gives up first, of what is given; none where all that is given holds."""
        timed = [one for one in self.limits if one.holds_s is not None]
        ending = [one for one in timed if math.isfinite(one.holds_s or 0.0)]
        return min(ending, key=lambda one: one.holds_s or 0.0, default=None)

    @property
    def missing(self) -> tuple[PushLimit, ...]:
        """What is not given, so that it may give up earlier."""
        return tuple(one for one in self.limits if one.holds_s is None)


class Opponent(NamedTuple):
    """The other robot of a shoving match."""

    mass: float
    """[kg]"""
    grip: float
    """Alike in every direction [ratio]."""
    push_force: float | None
    """What it pushes with; none: as much as its grip passes [N]."""

    @property
    def hold(self) -> float:
        """What it resists before its wheels slide [N]."""
        return float(grip_force(grip=self.grip, mass=self.mass))

    @property
    def push(self) -> float:
        """What it pushes with, never more than its grip passes [N]."""
        return self.hold if self.push_force is None else min(self.push_force, self.hold)

    @property
    def slips(self) -> bool:
        """Whether its wheels spin as it pushes."""
        return self.push_force is None or self.push_force >= self.hold


class Encounter(NamedTuple):
    """One way of meeting: who moves whom, and how fast."""

    outcome: str
    """One of `MATCH_WORDS`."""
    ours: float
    """What this robot pushes or holds with [N]."""
    theirs: float
    """What the other pushes or holds with [N]."""
    acceleration: float | None
    """Of both at first, none in a stalemate [m/s²]."""
    speed: float | None
    """Steady; none in a stalemate and where the other's motors would have to be known [m/s]."""
    metre_s: float | None
    """To move the other one metre [s]."""


class MatchFigures(NamedTuple):
    """A shoving match with one opponent."""

    slips: bool
    """Whether this robot's wheels spin as it pushes."""
    head_on: Encounter
    shoved_from_side: Encounter
    """It stands; the other pushes its side."""
    shoves_side: Encounter
    """It pushes the other's side, which stands."""


def endurance_of(study: Study, candidate: Candidate, base: Base) -> Endurance:
    """Return the currents of a push against something that does not move, and how long it lasts.

    Parameters
    ----------
    study : Study
        The study.
    candidate : Candidate
        The candidate.
    base : Base
        The candidate as arrays.

    Returns
    -------
    Endurance
        What the study does not say is none.
    """
    drive, stance, layout = base.drive, base.stance, base.layout
    found = push(drive, stance, layout)
    currents = push_currents(drive, stance, layout)
    total = float(currents.total)
    most = motor_current(drive.supply, emf=0.0, resistance=drive.motor.resistance)
    branch = float(np.maximum(currents.front_bus, currents.rear_bus))
    power = study.power
    limits = (
        _breaker("main breaker", total, power.main_breaker_a, power.main_breaker_curve),
        _breaker("branch breaker", branch, power.branch_breaker_a, power.branch_breaker_curve),
        _battery(study, total),
        _winding(study, candidate, base, float(found.motor_current)),
    )
    stator = float(drive.supply.stator_limit)
    return Endurance(
        force=float(found.force),
        limited_by=GOVERNING[int(found.limited_by)],
        front_motor=float(currents.front_motor),
        rear_motor=float(currents.rear_motor),
        front_bus=float(currents.front_bus),
        rear_bus=float(currents.rear_bus),
        most_motor=max(float(most), 0.0),
        slip_motor=float(slip_current(drive, stance, layout)),
        stall_current=float(drive.motor.stall_current),
        stator_limit=stator if math.isfinite(stator) else None,
        total=total,
        voltage=float(bus_voltage(drive.supply, total_current=total)),
        brownout_v=float(power.brownout_v),
        limits=limits,
    )


def _breaker(
    key: str, current: float, rating: float | None, curve: Sequence[Sequence[float]]
) -> PushLimit:
    if rating is None:
        return PushLimit(key, current, None, None, f"the {key}'s rating")
    if not curve:
        return PushLimit(key, current, float(rating), None, f"the {key}'s curve")
    holds = trip_time(
        current=current,
        rating=float(rating),
        multiples=[float(point[0]) for point in curve],
        seconds=[float(point[1]) for point in curve],
    )
    return PushLimit(key, current, float(rating), float(holds), "")


def _battery(study: Study, current: float) -> PushLimit:
    battery = battery_in_use(study)
    if battery.capacity_ah is None:
        return PushLimit("battery", current, None, None, "the battery's capacity")
    hours = float(discharge_time(current=current, capacity=battery.capacity_ah))
    return PushLimit("battery", current, None, hours * 3600.0 * battery.charge, "")


def _winding(study: Study, candidate: Candidate, base: Base, current: float) -> PushLimit:
    motor = study.motors[candidate.drive.motor]
    if motor.winding_heat_j_per_k is None or motor.winding_limit_c is None:
        missing = "the motor winding's heat capacity and limit"
        return PushLimit("winding", current, None, None, missing)
    holds = winding_time(
        current=current,
        resistance=base.drive.motor.resistance,
        heat_capacity=float(motor.winding_heat_j_per_k),
        limit=float(motor.winding_limit_c),
        ambient=AMBIENT_C,
    )
    return PushLimit("winding", current, None, float(holds), "")


def opponent_of(study: Study, base: Base) -> Opponent:
    """Return the study's opponent; where it names none, one of the mass and grip of a candidate.

    Parameters
    ----------
    study : Study
        The study.
    base : Base
        The candidate whose likeness stands in, as arrays.

    Returns
    -------
    Opponent
        Pushing as hard as its grip passes where no push is typed.
    """
    given = study.yardsticks.opponent
    if given is None:
        return Opponent(float(base.stance.mass), float(base.drive.grip), None)
    force = None if given.push_force_n is None else float(given.push_force_n)
    return Opponent(float(given.mass_kg), float(given.grip), force)


def match_of(base: Base, opponent: Opponent) -> MatchFigures:
    """Return who moves whom, head-on and from either's side.

    Head-on both push; from the side one pushes and the other stands, its wheels across the shove
    as far as its layout allows. Where the other robot is the stronger its motors, which nobody
    knows here, would set the speed, so that only the acceleration at first is given.

    Parameters
    ----------
    base : Base
        The candidate as arrays.
    opponent : Opponent
        The other robot.

    Returns
    -------
    MatchFigures
        Of one candidate.
    """
    drive, stance, layout = base.drive, base.stance, base.layout
    found = push(drive, stance, layout)
    force, drag = float(found.force), float(rolling_drag(drive, stance.mass))
    hold = float(side_hold(drive, layout, mass=stance.mass, side_grip=side_grip_of(base)))
    both = float(stance.mass) + opponent.mass
    meeting = head_on(
        push_force=force, drag=drag, other_push=opponent.push, other_hold=opponent.push
    )
    shoving = head_on(push_force=force, drag=drag, other_push=0.0, other_hold=opponent.hold)
    shoved = from_the_side(hold=hold, other_push=opponent.push)
    return MatchFigures(
        slips=GOVERNING[int(found.limited_by)] == "traction",
        head_on=_encounter(base, opponent, int(meeting.outcome), force, opponent.push,
                           accelerates=float(meeting.spare) / both),
        shoved_from_side=_encounter(base, opponent, int(shoved.outcome), hold, opponent.push,
                                    accelerates=float(shoved.spare) / both),
        shoves_side=_encounter(base, opponent, int(shoving.outcome), force, opponent.hold,
                               accelerates=float(shoving.spare) / both),
    )  # fmt: skip


def _encounter(
    base: Base,
    opponent: Opponent,
    outcome: int,
    ours: float,
    theirs: float,
    *,
    accelerates: float,
) -> Encounter:
    word = MATCH_WORDS[outcome]
    if outcome == 0:
        return Encounter(word, ours, theirs, None, None, None)
    if outcome == 2:
        return Encounter(word, ours, theirs, accelerates, None, None)
    motion = shove_motion(
        base.drive, base.stance, base.layout, other_mass=opponent.mass, against=theirs
    )
    run = run_over(governing_pieces(motion), distance=SHOVED_M, braking=np.inf)
    return Encounter(
        word,
        ours,
        theirs,
        float(acceleration_at(motion, 0.0)[0]),
        float(limit_speed(motion)),
        float(run.time) if np.isfinite(run.time) else None,
    )
