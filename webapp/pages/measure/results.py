"""What the readings of each test mean, in words and beside the model; what can be taken over."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from models.engineering.simple_tests import (
    Reading,
    balance_on_scales,
    battery_from_loads,
    braking_from_tape,
    grip_at_least,
    height_from_tilt,
    speed_from_tape,
    tilt_grip,
    track_from_time,
    track_from_turns,
)
from models.errors import OutOfRangeError
from models.study.schema import Candidate, Study
from models.trade.assembly import corner_wheels
from models.trade.battery import battery_in_use
from models.trade.driving import Base, base_of
from models.trade.measuring import Place, battery_places, part_places, wheel_places
from models.trade.turning_curves import turn_figures
from models.units import UnitSystem, show, show_bare
from webapp.pages.measure.asked import Answers

Said = tuple[str, str]
"""Its weight (good, watch, bad, none) and a sentence."""

TIME_ERROR_S, SPEED_SHARE = 0.3, 0.03
"""Of a spin that is timed by hand while the wheel speed is logged."""
GOOD_OHM, TIRED_OHM, PRACTICE_OHM = 0.015, 0.019, 0.028
"""Upper ends of the usual classes of batteries (common practice, no source)."""
FRESH_GRIP = 1.8
LEAST_SKID, MOST_SKID = 1.2, 2.4
"""Effective over geometric track of skidding bases (common practice, no source)."""


@dataclass(frozen=True)
class Row:
    """One figure, measured and by the model."""

    name: str
    measured: str
    model: str


@dataclass(frozen=True)
class Outcome:
    """What a test's readings mean."""

    said: list[Said] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    fault: str = ""
    """Why the readings cannot be worked out, "" where they can."""
    reading: Reading | None = None
    """What can be taken over; of the scales, what comes on top of a part's mass."""
    how: str = ""
    """For the note of the number that is taken over."""
    not_taken: str = ""
    """Why it cannot be taken over, "" where it can."""


def ranged(
    reading: tuple[Any, Any, Any], unit: str, system: UnitSystem, *, small: bool = False
) -> str:
    """Return a result with its range; alone where it has none.

    >>> ranged((1.2, 1.1, 1.3), "", UnitSystem.SI), ranged((1.2, 1.2, 1.2), "", UnitSystem.SI)
    ('1.20 (1.10 to 1.30)', '1.20')
    """
    value, low, high = (float(one) for one in reading)
    text = show(value, unit, system, small=small)
    if low == high:
        return text
    ends = (
        show_bare(one, unit, system, small=small) if math.isfinite(one) else "∞"
        for one in (low, high)
    )
    return f"{text} ({' to '.join(ends)})"


def places_of(study: Study, test: str) -> list[Place]:
    """Return where a test's result can go."""
    if test == "tilt":
        return wheel_places(study, "grip", "")
    if test == "constants":
        return wheel_places(study, "rolling_coefficient", "")
    if test == "spin":
        return wheel_places(study, "effective_track_m", "m", ("tank",))
    if test == "battery":
        return battery_places(study)
    return part_places(study) if test == "scales" else []


def outcome_of(
    test: str,
    answers: Answers,
    study: Study,
    candidate: Candidate,
    *,
    system: UnitSystem,
    metrics: Mapping[str, Any],
) -> Outcome:
    """Return what complete readings mean for a candidate of the study.

    Parameters
    ----------
    test : str
        Which one, but the constants.
    answers : Answers
        Its readings, complete.
    study, candidate : Study, Candidate
        Against whose model they are held.
    system : UnitSystem
        In which figures are shown.
    metrics : mapping
        The candidate's figures by the model.
    """
    try:
        if test == "tilt":
            return _tilt(answers, candidate, system)
        if test == "battery":
            return _battery(answers, study, system)
        if test == "runs":
            return _runs(answers, system, metrics)
        base = base_of(study, candidate)
        if test == "scales":
            return _scales(answers, candidate, base, system)
        return _spin(answers, candidate, base, system)
    except OutOfRangeError as error:
        return Outcome(fault=str(error))


def _tilt(answers: Answers, candidate: Candidate, system: UnitSystem) -> Outcome:
    reading = tilt_grip(
        angle=math.radians(answers["angle"]), error=math.radians(answers["angle_error"])
    )
    own = candidate.wheels.grip
    said: list[Said] = [("none", f"Grip {ranged(reading, '', system)}.")]
    value = float(reading.value)
    if own.low <= value <= own.high and own.has_range:
        said.append(
            (
                "good",
                f"Within what the study has for {candidate.name}, {own.low:g} to {own.high:g}.",
            )
        )
    elif abs(value - own) > 0.1 * own:
        less = "less" if value < own else "more"
        said.append(
            ("watch", f"The study has {float(own):.3g} for {candidate.name}: this is {less}.")
        )
    if value > FRESH_GRIP:
        said.append(
            (
                "watch",
                "More than fresh tread on carpet usually shows (up to 1.8): did an edge catch?",
            )
        )
    said.append(
        ("none", "This is the grip at the edge of sliding. Wheels that spin already hold less.")
    )
    how = (
        f"Tilt test, slid at {answers.text('angle', system)}, give or take "
        f"{answers.text('angle_error', system)}."
    )
    rows = [Row("Grip", ranged(reading, "", system), f"{float(own):.3g}")]
    return Outcome(said, rows, reading=reading, how=how)


def _readings(answers: Answers, names: Sequence[str]) -> list[float]:
    return [answers.get(name) or 0.0 for name in names]


def _scales(answers: Answers, candidate: Candidate, base: Base, system: UnitSystem) -> Outcome:
    corners = corner_wheels(candidate)
    names = ["fl", "fr", "rl", "rr"]
    forward, left = list(corners[:, 0]), list(corners[:, 1])
    if answers.has("ml") or answers.has("mr"):
        names += ["ml", "mr"]
        half = float(candidate.wheels.track_m) / 2.0
        forward += [0.0, 0.0]
        left += [half, -half]
    error = answers["scale_error"]
    found = balance_on_scales(
        loads=_readings(answers, names), forward=forward, left=left, error=error
    )
    own = base.stance
    rows = [
        Row("Mass", ranged(found.mass, "kg", system), show(float(own.mass), "kg", system)),
        Row("Centre of gravity, forward of the middle",
            ranged(found.forward, "m", system, small=True),
            show(float(own.cg_x), "m", system, small=True)),
        Row("To the left of the middle", ranged(found.left, "m", system, small=True),
            show(float(base.poses.cg_y[0]), "m", system, small=True)),
    ]  # fmt: skip
    said: list[Said] = [_mass_words(found.mass, float(own.mass), candidate, system)]
    tilted = [name for name in ("up_fl", "up_fr", "rise") if answers.has(name)]
    if len(tilted) == 3:
        rear, front = float(np.mean(corners[2:, 0])), float(np.mean(corners[:2, 0]))
        mass, base_length = float(found.mass.value), front - rear
        height = height_from_tilt(
            mass=mass,
            front_level=mass * (float(found.forward.value) - rear) / base_length,
            front_raised=answers["up_fl"] + answers["up_fr"],
            wheelbase=base_length,
            rise=answers["rise"],
            wheel_radius=float(candidate.wheels.diameter_m) / 2.0,
            error=error * math.sqrt(2.0),
        )
        rows.append(Row("Its height", ranged(height, "m", system, small=True),
                        show(float(own.cg_height), "m", system, small=True)))  # fmt: skip
        said.append(_height_words(height, float(own.cg_height), system))
    elif tilted:
        said.append(("watch", "For the height, type both front readings and how high it stood."))
    else:
        said.append(("none", "Type the readings with the front raised for its height."))
    apart = Reading(*(one - float(own.mass) for one in found.mass))
    how = (
        f"Scales under {len(names)} wheels read {show(float(found.mass.value), 'kg', system)} "
        f"together; the difference from all other parts of {candidate.name}."
    )
    return Outcome(said, rows, reading=apart, how=how)


def _mass_words(mass: Reading, own: float, candidate: Candidate, system: UnitSystem) -> Said:
    apart = float(mass.value) - own
    if float(mass.low) <= own <= float(mass.high):
        return "good", f"As heavy as the study's parts for {candidate.name}, within the error."
    words = "heavier" if apart > 0 else "lighter"
    return (
        "watch",
        f"{show(abs(apart), 'kg', system)} {words} than the study's parts for {candidate.name} "
        f"({show(own, 'kg', system)}).",
    )


def _height_words(height: Reading, own: float, system: UnitSystem) -> Said:
    if float(height.low) <= own <= float(height.high):
        return "good", "Its height is the study's, within the error."
    if float(height.value) <= 0.0:
        return "bad", "Its height comes out below the floor: are the raised readings swapped?"
    apart = show(abs(float(height.value) - own), "m", system, small=True)
    words = "higher" if float(height.value) > own else "lower"
    return "watch", f"Its centre of gravity lies {apart} {words} than the study's parts have it."


def _runs(answers: Answers, system: UnitSystem, metrics: Mapping[str, Any]) -> Outcome:
    speed = speed_from_tape(
        length=answers["length"], time=answers["time"], time_error=answers["time_error"]
    )
    top = _number(metrics.get("top_speed_mps"))
    rows = [Row("Speed", ranged(speed, "mps", system), _or_none(top, "mps", system))]
    said: list[Said] = [("none", f"It drove {ranged(speed, 'mps', system)} on average.")]
    if top is not None:
        if float(speed.low) > top:
            said.append(("bad", f"The model's top speed is {show(top, 'mps', system)}: check ratio "
                         "and wheel."))  # fmt: skip
        elif float(speed.high) < 0.85 * top:
            said.append(("watch", f"The model's top speed is {show(top, 'mps', system)}: was it at "
                         "full speed at the first line, and the battery full?"))  # fmt: skip
        else:
            said.append(("good", f"The model's top speed of {show(top, 'mps', system)} agrees."))
    if answers.has("stop"):
        brake = braking_from_tape(
            speed=speed, length=answers["stop"], length_error=answers["stop_error"]
        )
        own = _number(metrics.get("brake_mps2"))
        rows.append(Row("Braking", ranged(brake, "mps2", system), _or_none(own, "mps2", system)))
        least = float(grip_at_least(brake.value))
        said.append(("none", f"It braked with {ranged(brake, 'mps2', system)}, which takes a grip "
                     f"of {least:.2f} at least."))  # fmt: skip
        if own is not None and float(brake.low) > own:
            said.append(("watch", f"That is more than the model's {show(own, 'mps2', system)}: "
                         "is the grip typed too low?"))  # fmt: skip
    why = "Speed and stop are what the model works out; they are for comparing, not for typing in."
    return Outcome(said, rows, not_taken=why)


def _number(value: Any) -> float | None:
    return float(value) if isinstance(value, int | float) else None


def _or_none(value: float | None, unit: str, system: UnitSystem) -> str:
    return "none" if value is None else show(value, unit, system)


def _battery(answers: Answers, study: Study, system: UnitSystem) -> Outcome:
    ohms, volts = battery_from_loads(
        first_voltage=answers["v1"],
        first_current=answers["i1"],
        second_voltage=answers["v2"],
        second_current=answers["i2"],
        voltage_error=answers["v_error"],
        current_share=answers["i_share"],
    )
    value = float(ohms.value)
    if value <= 0.0:
        raise OutOfRangeError(
            "The voltage has to be lower under the heavy load; check which reading is which."
        )
    own = battery_in_use(study)
    rows = [
        Row("Internal resistance", ranged(ohms, "ohm", system, small=True),
            show(own.internal_resistance_ohm, "ohm", system, small=True)),
        Row("Open-circuit voltage", ranged(volts, "v", system),
            show(own.open_circuit_v, "v", system)),
    ]  # fmt: skip
    said: list[Said] = [_battery_words(value)]
    if float(ohms.high) - float(ohms.low) > 0.6 * value:
        said.append(("watch", "The range is wide: load it heavier, or read the volts finer."))
    how = (
        f"From {answers.text('v1', system)} at {answers.text('i1', system)} and "
        f"{answers.text('v2', system)} at {answers.text('i2', system)}."
    )
    return Outcome(said, rows, reading=ohms, how=how)


def _battery_words(ohms: float) -> Said:
    text = f"{1000.0 * ohms:.1f} mΩ"
    if ohms <= GOOD_OHM:
        return "good", f"{text} is a good battery (10 to 15 mΩ, common practice)."
    if ohms <= TIRED_OHM:
        return "watch", f"{text} is a tired battery (16 to 19 mΩ, common practice)."
    if ohms <= PRACTICE_OHM:
        return "watch", f"{text} is one for practice (20 to 28 mΩ, common practice)."
    return "bad", f"{text} is more than batteries for practice have: loose posts, or a long lead?"


def _spin(answers: Answers, candidate: Candidate, base: Base, system: UnitSystem) -> Outcome:
    counted = answers.has("wheel")
    turns = answers.text("turns", system)
    if counted:
        reading = track_from_turns(
            wheel_turns=answers["wheel"],
            wheel_diameter=float(candidate.wheels.diameter_m),
            turns=answers["turns"],
            turn_error=answers["turn_error"],
            wheel_error=answers["wheel_error"],
        )
        how = f"Spin count, {turns} turns for {answers.text('wheel', system)} of a wheel."
    else:
        reading = track_from_time(
            surface_speed=answers["surface"],
            time=answers["spin_time"],
            turns=answers["turns"],
            time_error=TIME_ERROR_S,
            speed_share=SPEED_SHARE,
        )
        how = (
            f"Timed spin, {turns} turns in {answers.text('spin_time', system)} at "
            f"{answers.text('surface', system)}."
        )
    geometric = float(base.stance.track)
    model = turn_figures(base, degrees=[90.0]).effective_track
    rows = [
        Row("Effective track", ranged(reading, "m", system, small=True),
            show(model, "m", system, small=True)),
        Row("Track by the tape", "", show(geometric, "m", system, small=True)),
    ]  # fmt: skip
    said = _spin_words(reading, geometric, candidate)
    if not counted:
        said.append(
            ("none", f"The range takes {TIME_ERROR_S:g} s and {100 * SPEED_SHARE:g} % of the wheel "
             "speed as the errors.")
        )  # fmt: skip
    why = "" if candidate.layout == "tank" else (
        "Only a skidding base takes an effective track; for this layout the model needs none."
    )  # fmt: skip
    return Outcome(said, rows, reading=reading, how=how, not_taken=why)


def _spin_words(reading: Reading, geometric: float, candidate: Candidate) -> list[Said]:
    share = float(reading.value) / geometric
    text = f"The robot turns as if its track were {share:.2f} times what the tape says"
    if candidate.layout != "tank":
        return [("none", f"{text}.")]
    if share < 1.0:
        return [("bad", f"{text}: less than it is cannot be. Were turns counted on one side only?")]
    if share < LEAST_SKID:
        return [("watch", f"{text}; skidding bases show 1.2 to 2.4 (common practice).")]
    if share > MOST_SKID:
        return [("watch", f"{text}, more than the usual 1.2 to 2.4: did it stay in its place?")]
    return [("good", f"{text}, as skidding bases do (1.2 to 2.4, common practice).")]
