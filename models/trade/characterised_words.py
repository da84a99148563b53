"""What a mentor would say to characterised constants."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from models.engineering.characterised import SpeedUnit
from models.trade.characterised import (
    FAR_TOO_HEAVY,
    Belief,
    Judged,
    Unit,
)
from models.trade.phrases import listed
from models.units import UnitSystem, show

SPEED_WORDS: dict[SpeedUnit, str] = {
    "m": "per m/s",
    "in": "per in/s",
    "ft": "per ft/s",
    "wheel_rev": "per wheel rev/s",
    "wheel_rad": "per wheel rad/s",
    "motor_rev": "per motor rev/s",
    "motor_rpm": "per motor rpm",
}


class Said(NamedTuple):
    """One sentence and how much weight it has."""

    kind: Belief
    text: str


def unit_words(unit: Unit) -> str:
    """Return a unit in words.

    >>> unit_words(Unit("ft", True)), unit_words(Unit("m", False))
    ('share of 12 V per ft/s', 'V per m/s')
    """
    return f"{'share of 12 V' if unit.share else 'V'} {SPEED_WORDS[unit.speed]}"


def mentor_words(judged: Judged, system: UnitSystem) -> list[Said]:
    """Return what a mentor would say, the unit first, then kV, kA and kS."""
    said = list(_unit(judged, system))
    if judged.template:
        said.append(
            Said(
                "bad",
                "These are well-known template values, found in the code of many robots: they are "
                "treated as not measured. Characterise your own drive.",
            )
        )
    if judged.chosen is not None:
        held = [*_velocity(judged, system), *_acceleration(judged, system)]
        held += _static(judged, system)
        said += [one for one in held if not judged.template or one.kind == "bad"]
    return said


def _unit(judged: Judged, system: UnitSystem) -> Iterator[Said]:
    geared = show(judged.geared, "mps", system)
    chosen = judged.chosen
    if chosen is None:
        yield Said(
            "bad",
            f"In no usual unit does 12/kV come near the geared free speed of {geared}: check kV, "
            "the ratio and the wheel, or say which unit it is in.",
        )
        return
    speed = show(chosen.speed, "mps", system)
    if judged.asked:
        yield Said("none", f"In {unit_words(chosen.unit)}, as stated, 12/kV is {speed}.")
    elif chosen.plausible:
        yield Said("none", f"Taken as {unit_words(chosen.unit)}, since 12/kV is then {speed}.")
    else:
        yield Said(
            "watch",
            f"Taken as {unit_words(chosen.unit)}, the nearest of all: 12/kV is then {speed}. "
            "Is that the unit?",
        )
    others = [f"{unit_words(one.unit)} ({show(one.speed, 'mps', system)})" for one in judged.others]
    if others and not judged.asked:
        yield Said("watch", f"It could be {listed(others, last='or')} too. Which is it?")


def _velocity(judged: Judged, system: UnitSystem) -> Iterator[Said]:
    chosen = judged.chosen
    if chosen is None or judged.ratio is None:
        return
    geared = show(judged.geared, "mps", system)
    if judged.velocity_belief == "good":
        percent = f"{100.0 * chosen.share:.0f} %"
        yield Said(
            "good",
            f"12/kV is {percent} of the geared free speed of {geared}: motor, ratio and wheel "
            "agree with it.",
        )
        return
    way = "above" if chosen.share > 1.0 else "below"
    percent = f"{100.0 * abs(chosen.share - 1.0):.0f} %"
    asked = (
        "is the ratio right?"
        if way == "above"
        else "is the ratio right, and did everything turn freely?"
    )
    diameter = show(judged.diameter, "m", system, small=True)
    yield Said(
        "bad",
        f"12/kV is {percent} {way} the geared free speed of {geared}: {asked} It would take a "
        f"ratio of {judged.ratio:.2f}:1, or wheels of {diameter}.",
    )


def _acceleration(judged: Judged, system: UnitSystem) -> Iterator[Said]:
    moved = judged.implied_mass
    if moved is None:
        return
    own = show(judged.mass, "kg", system)
    implied = show(moved, "kg", system, digits=2)
    share = moved / judged.mass
    if moved <= 0.0:
        yield Said(
            "bad",
            "Your kA is less than the rotors and wheels alone ask for: was it off the floor?",
        )
    elif judged.acceleration_belief == "good":
        yield Said("good", f"Your kA means a {implied} robot; the study's moves {own}.")
    elif judged.acceleration_belief == "bad" and share <= FAR_TOO_HEAVY:
        yield Said(
            "bad",
            f"Your kA means a {implied} robot: was it off the floor? The study's moves {own}.",
        )
    elif share < 1.0:
        yield Said(
            "watch",
            f"Your kA means a {implied} robot, the study's moves {own}: were parts missing, or "
            "was the run too short to tell?",
        )
    else:
        yield Said(
            judged.acceleration_belief,
            f"Your kA means a {implied} robot, the study's moves {own}: did a current limit, a "
            "ramp in the code or slipping wheels hold it back?",
        )


def _static(judged: Judged, system: UnitSystem) -> Iterator[Said]:
    drag = judged.drag
    if drag is None:
        return
    if judged.rolling is None:
        yield Said(
            "none",
            "kS is no more than the motors' free current asks for: there is no drag to be read "
            "from it.",
        )
        return
    share = f"{100.0 * judged.rolling:.1f} % of the weight"
    shown = show(drag, "n", system)
    if judged.static_belief == "good":
        yield Said("good", f"Your kS means a drag of {shown}, {share}.")
    else:
        yield Said(
            "watch",
            f"Your kS means a drag of {shown}, {share}: does a chain, a bearing or a wheel bind?",
        )
