"""What the explorer's form asks for: texts as typed, and the numbers that they mean."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Literal, cast

from models.errors import OutOfRangeError, SwitchoverError, UnitError
from models.quantities import TIE_SHARE
from models.study.numbers import NumberRefusedError, read_ratio
from models.study.schema import Candidate, Study
from models.trade.battery import batteries_of, battery_in_use
from models.trade.exploring import (
    FASTEST_MPS,
    SLOWEST_MPS,
    Bench,
    Design,
    design_of,
    free_speed_at,
    teeth_of,
)
from models.trade.limit_finder import USUAL_MARGIN_V
from models.units import UnitSystem, display_unit, parse_number, show
from webapp.shared.formunits import form_unit, shown_text

Against = Literal["diameter", "stator", "supply"]
AGAINST_WORDS: Mapping[Against, str] = {
    "supply": "supply limit",
    "stator": "stator limit",
    "diameter": "wheel diameter",
}
"""What the map can have on its other axis; the first is the usual one."""

NO_LIMIT_WORDS = ("", "none", "no", "-", "–")
LONGEST = 80
MOST_SHARE, MOST_MARGIN = 0.5, 6.0
LEAST_LIMIT, MOST_LIMIT = 1.0, 5000.0
LEAST_WHEEL, MOST_WHEEL = 0.01, 1.0


@dataclass(frozen=True)
class Typed:
    """The form as it was sent, kept as typed; None where the address says nothing."""

    candidate: str | None = None
    ratio: str | None = None
    diameter: str | None = None
    stator: str | None = None
    supply: str | None = None
    against: str | None = None
    tie: str | None = None
    battery: str | None = None
    margin: str | None = None


@dataclass(frozen=True)
class Asked:
    """What the form means."""

    design: Design
    against: Against
    share: float
    battery: str
    margin_v: float


class AskedWrongError(SwitchoverError):
    """Something in the form cannot be used; names the field and says what to do."""

    def __init__(self, faults: Mapping[str, str]) -> None:
        self.faults = dict(faults)
        super().__init__(" ".join(faults.values()))


def texts_of(
    study: Study, candidate: Candidate, typed: Typed, system: UnitSystem
) -> dict[str, str]:
    """Return what the boxes of the form show: as typed, else the candidate's own."""
    own = own_texts(candidate, system)
    given = {name: getattr(typed, name) for name in own}
    texts = {name: own[name] if text is None else text[:LONGEST] for name, text in given.items()}
    texts["tie"] = f"{100.0 * TIE_SHARE:g}" if typed.tie is None else typed.tie[:LONGEST]
    texts["margin"] = f"{USUAL_MARGIN_V:g}" if typed.margin is None else typed.margin[:LONGEST]
    names = [battery.name for battery in batteries_of(study)]
    known = typed.battery in names
    texts["battery"] = cast("str", typed.battery) if known else battery_in_use(study).name
    texts["against"] = typed.against if typed.against in AGAINST_WORDS else "supply"
    return texts


def own_texts(candidate: Candidate, system: UnitSystem) -> dict[str, str]:
    """Return the candidate's own four numbers as they stand in the boxes."""
    drive, wheels = candidate.drive, candidate.wheels
    unit = form_unit("candidates[].wheels.diameter_m", system)
    return {
        "ratio": teeth_of(drive.ratio) or f"{float(drive.ratio):.6g}",
        "diameter": shown_text(float(wheels.diameter_m), unit),
        "stator": "" if drive.stator_limit_a is None else f"{float(drive.stator_limit_a):g}",
        "supply": "" if drive.supply_limit_a is None else f"{float(drive.supply_limit_a):g}",
    }


def texts_for(design: Design, system: UnitSystem) -> dict[str, str]:
    """Return a design as the boxes would show it, for links to it."""
    unit = form_unit("candidates[].wheels.diameter_m", system)
    limits = (design.stator_a, design.supply_a)
    stator, supply = (f"{limit:.6g}" if math.isfinite(limit) else "none" for limit in limits)
    return {
        "ratio": f"{design.ratio:.6g}",
        "diameter": shown_text(design.diameter_m, unit),
        "stator": stator,
        "supply": supply,
    }


def read_asked(candidate: Candidate, texts: Mapping[str, str], system: UnitSystem) -> Asked:
    """Return what the texts mean; a box left as the candidate has it means exactly that.

    Raises `AskedWrongError` with a sentence for each box that cannot be read.
    """
    faults: dict[str, str] = {}
    own, own_text = design_of(candidate), own_texts(candidate, system)

    def read(name: str, exact: float | None, reader: Callable[[str], float]) -> float:
        text = texts[name].strip()
        if exact is not None and text == own_text[name]:
            return exact
        try:
            return reader(text)
        except (UnitError, NumberRefusedError, OutOfRangeError) as error:
            faults[name] = str(error)
            return math.nan

    design = Design(
        read("ratio", own.ratio, _ratio),
        read("diameter", own.diameter_m, lambda text: _diameter(text, system)),
        read("stator", own.stator_a, _limit),
        read("supply", own.supply_a, _limit),
    )
    share = read("tie", None, _share)
    margin = read("margin", None, _margin)
    if faults:
        raise AskedWrongError(faults)
    against = cast("Against", texts["against"])
    return Asked(design, against, share, texts["battery"], margin)


def check_speed(bench: Bench, design: Design, system: UnitSystem) -> None:
    """Refuse a ratio and wheel that are geared for a speed that no study takes."""
    speed = free_speed_at(bench, design)
    if SLOWEST_MPS <= speed <= FASTEST_MPS:
        return
    low, high = (show(limit, "mps", system) for limit in (SLOWEST_MPS, FASTEST_MPS))
    raise AskedWrongError(
        {
            "ratio": f"{design.ratio:.4g}:1 with this wheel is geared for "
            f"{show(speed, 'mps', system)}; the explorer takes {low} to {high}. "
            "Check ratio and wheel."
        }
    )


def _ratio(text: str) -> float:
    if not any(letter.isdecimal() for letter in text):
        raise OutOfRangeError(f"“{text}” is not a ratio; type 6.75, or tooth counts, 50:14, 45:15.")
    ratio = float(read_ratio(text))
    if not 0.01 <= ratio <= 1000.0:
        raise OutOfRangeError(f"A ratio lies between 0.01 and 1000; {ratio:g} does not.")
    return ratio


def _diameter(text: str, system: UnitSystem) -> float:
    unit = display_unit("m", system, small=True)
    diameter = parse_number(text, "m", default_unit_text=unit)
    if not LEAST_WHEEL <= diameter <= MOST_WHEEL:
        low, high = (show(limit, "m", system, small=True) for limit in (LEAST_WHEEL, MOST_WHEEL))
        raise OutOfRangeError(f"A wheel measures {low} to {high}; “{text}” does not.")
    return diameter


def _limit(text: str) -> float:
    if text.lower() in NO_LIMIT_WORDS:
        return math.inf
    limit = parse_number(text, "a")
    if not LEAST_LIMIT <= limit <= MOST_LIMIT:
        raise OutOfRangeError(
            f"A current limit lies between 1 A and 5000 A; “{text}” does not. "
            "Leave the box empty for none."
        )
    return limit


def _share(text: str) -> float:
    bare = text.rstrip("% ")
    share = parse_number(bare, "") / 100.0
    if not 0.0 <= share <= MOST_SHARE:
        raise OutOfRangeError(f"A tie lies within 0 % to 50 % of the quickest; “{text}” does not.")
    return share


def _margin(text: str) -> float:
    margin = parse_number(text, "v")
    if not 0.0 <= margin <= MOST_MARGIN:
        raise OutOfRangeError(f"The margin lies between 0 V and 6 V; “{text}” does not.")
    return margin
