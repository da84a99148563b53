"""Constants of a characterised drive held against a study: their unit, and whether they can be.

The limits of what is plausible come from drives that their builders characterised: 12/kV lay
within 0.87 to 1.10 of the geared free speed, and repeated runs of one robot up to 12 % apart.

Contents
--------
Written, Unit, UNITS, unit_of_key: constants as somebody wrote them.
Guess, guesses: the speed that kV means in each unit.
Judged, judge: what the constants imply, and whether a mentor would believe them.
judge_candidate, payload_of: the same for a candidate of a study, and as plain data.
"""

from __future__ import annotations

import math
from typing import Any, Literal, NamedTuple

from models.engineering.characterised import (
    SPEED_UNITS,
    Constants,
    SpeedUnit,
    constants_of,
    implied_diameter,
    implied_drag,
    implied_mass,
    implied_ratio,
    implied_speed,
    in_si,
    metres_per_unit,
)
from models.engineering.drive import STANDARD_GRAVITY, Drive, Layout, directions, free_speed
from models.errors import OutOfRangeError
from models.study.schema import Candidate, Study
from models.trade.driving import base_of

Belief = Literal["good", "watch", "bad", "none"]
"""Whether a constant is believed, asked about, called wrong, or says nothing."""

LOWEST_SHARE, HIGHEST_SHARE = 0.85, 1.12
"""12/kV over the geared free speed: what characterised drives show, a little widened."""
USUAL_SHARE = 0.97
NEAR_FACTOR = 1.6
"""A unit further than this from the usual speed is not even guessed."""
OFF_THE_FLOOR = 0.25
LIGHT, HEAVY, FAR_TOO_HEAVY = 0.6, 1.8, 2.5
"""Mass that kA means over the study's own: doubted beyond the first two, wrong beyond the last."""
MOST_DRAG = 0.15
"""Share of the weight; more than this binds somewhere."""
REPEAT_SHARE = 0.12
"""By how much runs of one robot differ."""

TEMPLATES: tuple[tuple[float, float, float], ...] = (
    (0.667, 2.44, 0.27),
    (0.32, 1.51, 0.27),
    (0.22, 1.98, 0.2),
    (1.0, 0.8, 0.15),
    (1.055, 0.135, 0.012),
)
"""kS, kV and kA that stand in many robots' code and were measured on none of them."""
TEMPLATE_VELOCITIES = (0.124, 0.12)
"""kV alone that stands in many robots' code."""


class Unit(NamedTuple):
    """What constants are counted in."""

    speed: SpeedUnit
    share: bool
    """Whether they give a share of 12 V, not volts."""

    @property
    def key(self) -> str:
        """A word for addresses and options.

        >>> Unit("wheel_rev", True).key
        'wheel_rev:share'
        """
        return f"{self.speed}:share" if self.share else self.speed


UNITS: tuple[Unit, ...] = tuple(
    Unit(speed, share) for share in (False, True) for speed in SPEED_UNITS
)


def unit_of_key(key: str) -> Unit | None:
    """Return the unit of a key, none where no unit has it.

    >>> unit_of_key("ft"), unit_of_key("furlong")
    (Unit(speed='ft', share=False), None)
    """
    return next((unit for unit in UNITS if unit.key == key), None)


class Written(NamedTuple):
    """Constants as they stand in somebody's code; only kV is needed."""

    velocity: float
    static: float | None = None
    acceleration: float | None = None


class Guess(NamedTuple):
    """What kV means in one unit."""

    unit: Unit
    speed: float
    """12/kV [m/s]."""
    share: float
    """Of the geared free speed."""

    @property
    def plausible(self) -> bool:
        """Whether such a robot has been seen."""
        return LOWEST_SHARE <= self.share <= HIGHEST_SHARE


class Judged(NamedTuple):
    """What constants imply in the model, and what is to be believed of them."""

    written: Written
    guesses: tuple[Guess, ...]
    chosen: Guess | None
    """The unit asked for or the likeliest one; none where no unit comes near."""
    asked: bool
    """Whether the unit was stated, not guessed."""
    template: bool
    geared: float
    """Free speed by datasheet, ratio and wheel [m/s]."""
    model: Constants
    """What the model itself would show."""
    found: Constants | None
    """The written ones in SI units; those not written are NaN inside, see the other fields."""
    ratio: float | None
    """That kV means."""
    diameter: float | None
    """That kV means [m]."""
    mass: float
    """Of the study [kg]."""
    implied_mass: float | None
    """That kA means [kg]."""
    drag: float | None
    """That kS means; below zero where there is none to be read [N]."""
    velocity_belief: Belief
    acceleration_belief: Belief
    static_belief: Belief

    @property
    def others(self) -> tuple[Guess, ...]:
        """Other units in which kV would be plausible too."""
        return tuple(one for one in self.guesses if one.plausible and one != self.chosen)

    @property
    def rolling(self) -> float | None:
        """Drag as a share of the weight, none where there is none to be read."""
        if self.drag is None or self.drag <= 0.0:
            return None
        return self.drag / (self.mass * STANDARD_GRAVITY)

    @property
    def wrong(self) -> bool:
        """Whether something about them is called wrong."""
        beliefs = (self.velocity_belief, self.acceleration_belief, self.static_belief)
        return self.template or self.chosen is None or "bad" in beliefs


def is_template(written: Written) -> bool:
    """Return whether constants are well-known template values, kV and all others that are given.

    >>> is_template(Written(2.44, 0.667, 0.27)), is_template(Written(2.44)), is_template(
    ...     Written(0.124))
    (True, False, True)
    """
    if any(math.isclose(written.velocity, one, rel_tol=1e-9) for one in TEMPLATE_VELOCITIES):
        return True
    given = (written.static, written.acceleration)
    if given == (None, None):
        return False
    return any(
        math.isclose(written.velocity, velocity, rel_tol=1e-9)
        and all(
            mine is None or math.isclose(mine, theirs, rel_tol=1e-9)
            for mine, theirs in zip(given, (static, acceleration), strict=True)
        )
        for static, velocity, acceleration in TEMPLATES
    )


def guesses(drive_of: Drive, layout: Layout, velocity: float) -> tuple[Guess, ...]:
    """Return the speed that kV means in every unit, against the geared free speed.

    Parameters
    ----------
    drive_of : Drive
        The drive of one candidate.
    layout : Layout
        Its layout.
    velocity : float
        kV as written.
    """
    geared = float(free_speed(drive_of, layout, 0.0))
    found = []
    for unit in UNITS:
        constants = in_si(
            static=0.0, velocity=velocity, acceleration=0.0, share=unit.share,
            metres=_metres(drive_of, layout, unit),
        )  # fmt: skip
        speed = float(implied_speed(constants.velocity))
        found.append(Guess(unit, speed, speed / geared))
    return tuple(found)


def _metres(drive_of: Drive, layout: Layout, unit: Unit) -> float:
    return float(
        metres_per_unit(
            unit.speed, wheel_radius=drive_of.wheel_radius, ratio=drive_of.ratio,
            speed_factor=directions(layout, 0.0).speed,
        )
    )  # fmt: skip


def _likeliest(every: tuple[Guess, ...]) -> Guess | None:
    """Return the unit whose speed lies nearest to the usual one; volts before shares of 12 V."""
    nearest = min(every, key=lambda one: round(abs(math.log(one.share / USUAL_SHARE)), 9))
    return nearest if abs(math.log(nearest.share / USUAL_SHARE)) <= math.log(NEAR_FACTOR) else None


def judge(
    drive_of: Drive, layout: Layout, *, mass: float, written: Written, unit: Unit | None = None
) -> Judged:
    """Return what constants imply for a drive, and what is to be believed of them.

    Parameters
    ----------
    drive_of : Drive
        The drive, one candidate's.
    layout : Layout
        Its layout.
    mass : float
        That it moves by the study [kg].
    written : Written
        The constants; kV above zero.
    unit : Unit, optional
        In which they are written; where left out, the likeliest one.

    Raises
    ------
    OutOfRangeError
        Where kV is not above zero, or a number is not finite.
    """
    numbers = [one for one in written if one is not None]
    if not all(map(math.isfinite, numbers)) or written.velocity <= 0.0:
        raise OutOfRangeError("kV is a number above 0; kS and kA are numbers from 0 on.")
    every = guesses(drive_of, layout, written.velocity)
    stated = next((one for one in every if one.unit == unit), None)
    chosen = _likeliest(every) if stated is None else stated
    found = ratio = diameter = moved = drag = None
    if chosen is not None:
        found = in_si(
            static=math.nan if written.static is None else written.static,
            velocity=written.velocity,
            acceleration=math.nan if written.acceleration is None else written.acceleration,
            metres=_metres(drive_of, layout, chosen.unit),
            share=chosen.unit.share,
        )
        ratio = float(implied_ratio(drive_of, layout, velocity_constant=found.velocity))
        diameter = float(implied_diameter(drive_of, layout, velocity_constant=found.velocity))
        if written.acceleration is not None:
            moved = float(implied_mass(drive_of, layout, acceleration_constant=found.acceleration))
        if written.static is not None:
            drag = float(implied_drag(drive_of, layout, static_constant=found.static))
    return Judged(
        written=written,
        guesses=every,
        chosen=chosen,
        asked=unit is not None,
        template=is_template(written),
        geared=float(free_speed(drive_of, layout, 0.0)),
        model=constants_of(drive_of, layout, mass=mass),
        found=found,
        ratio=ratio,
        diameter=diameter,
        mass=mass,
        implied_mass=moved,
        drag=drag,
        velocity_belief="bad" if chosen is None or not chosen.plausible else "good",
        acceleration_belief=_mass_belief(moved, mass),
        static_belief=_drag_belief(drag, mass),
    )


def _mass_belief(moved: float | None, mass: float) -> Belief:
    if moved is None:
        return "none"
    share = moved / mass
    if share < OFF_THE_FLOOR or share > FAR_TOO_HEAVY:
        return "bad"
    return "good" if LIGHT <= share <= HEAVY else "watch"


def _drag_belief(drag: float | None, mass: float) -> Belief:
    if drag is None or drag <= 0.0:
        return "none"
    return "good" if drag <= MOST_DRAG * mass * STANDARD_GRAVITY else "watch"


def judge_candidate(
    study: Study, candidate: Candidate, written: Written, unit: Unit | None = None
) -> Judged:
    """Return what constants imply for a candidate of a study; see `judge`."""
    base = base_of(study, candidate)
    return judge(base.drive, base.layout, mass=float(base.stance.mass), written=written, unit=unit)


def rolling_range(judged: Judged, candidate_drive: Drive, layout: Layout) -> tuple[float, ...]:
    """Return value, low and high of the rolling resistance that kS means.

    The range is what repeated runs differ by; see `REPEAT_SHARE`. Empty where none can be read.
    """
    if judged.rolling is None or judged.found is None:
        return ()
    weight = judged.mass * STANDARD_GRAVITY
    shares = (1.0, 1.0 - REPEAT_SHARE, 1.0 + REPEAT_SHARE)
    drags = (
        float(implied_drag(candidate_drive, layout, static_constant=judged.found.static * share))
        for share in shares
    )
    return tuple(max(drag, 0.0) / weight for drag in drags)


def payload_of(judged: Judged) -> dict[str, Any]:
    """Return the whole judgement as plain data, what does not exist as None."""
    constants = None
    if judged.found is not None:
        names = ("kS_v", "kV_v_per_mps", "kA_v_per_mps2")
        constants = {
            name: None if math.isnan(float(value)) else float(value)
            for name, value in zip(names, judged.found, strict=True)
        }
    return {
        "unit": None if judged.chosen is None else judged.chosen.unit.key,
        "unit_stated": judged.asked,
        "units": [
            {"unit": one.unit.key, "speed_mps": one.speed, "share_of_geared": one.share,
             "plausible": one.plausible}
            for one in judged.guesses
        ],
        "template": judged.template,
        "geared_free_speed_mps": judged.geared,
        "constants": constants,
        "model": {
            "kS_v": float(judged.model.static),
            "kV_v_per_mps": float(judged.model.velocity),
            "kA_v_per_mps2": float(judged.model.acceleration),
        },
        "implied": {
            "ratio": judged.ratio,
            "wheel_diameter_m": judged.diameter,
            "moving_mass_kg": judged.implied_mass,
            "drag_n": judged.drag,
            "rolling_coefficient": judged.rolling,
        },
        "moving_mass_kg": judged.mass,
        "beliefs": {
            "kV": judged.velocity_belief,
            "kA": judged.acceleration_belief,
            "kS": judged.static_belief,
        },
    }  # fmt: skip
