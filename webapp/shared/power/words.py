"""What the power page says in sentences: who browns out and by how much, what a day asks for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from models.trade.battery import OWN_FIGURES
from models.trade.day import DayCount
from models.trade.match import NO_BATTERY
from models.trade.phrases import capitalised, listed
from models.units import UnitSystem, quoted, show
from webapp.shared.candidates import CandidateMark

TESTS = (
    ("sprint_min_v", "the sprint"),
    ("push_min_v", "a push"),
    ("match_min_v", "the match"),
)
"""In what the bus voltage is looked at: key of a class row, words."""

KINDS = {
    "match": "for matches",
    "tired": "tired",
    "practice": "for practice",
    "own": "the team's own",
}
WHEN = {
    "always": "all match long",
    "autonomous": "in the autonomous period",
    "driver": "in the driver period",
}


@dataclass(frozen=True)
class Driven:
    """One candidate on the page."""

    mark: CandidateMark
    figures: dict[str, Any]
    """What `match_of` returned for it."""
    row: dict[str, Any]
    """Its row of the battery that is shown."""
    day: DayCount | None

    @property
    def called(self) -> str:
        """How sentences call it."""
        return f"today's {self.mark.letter}" if self.mark.baseline else self.mark.letter

    def below(self, brownout: float) -> list[tuple[str, float]]:
        """Return in what the bus falls below brownout, and by how much."""
        return [(words, brownout - self.row[key]) for key, words in TESTS
                if self.row[key] is not None and self.row[key] < brownout]  # fmt: skip

    def closest(self, brownout: float) -> tuple[str, float] | None:
        """Return in what the bus comes closest to brownout, and what is left."""
        spare = [(words, self.row[key] - brownout) for key, words in TESTS
                 if self.row[key] is not None]  # fmt: skip
        return min(spare, key=lambda one: one[1]) if spare else None


def battery_called(name: str) -> str:
    """Return how sentences call a battery.

    >>> battery_called("tired one"), battery_called("As given")
    ('“tired one”', 'the battery as given')
    """
    return "the battery as given" if name == OWN_FIGURES else quoted(name)


def battery_shown(name: str) -> str:
    """Return a battery's name as a table shows it."""
    return "Battery as given" if name == OWN_FIGURES else name


def _called(ones: Sequence[Driven]) -> str:
    return listed([one.called for one in ones])


def lead_words(
    ones: Sequence[Driven], battery: str, brownout: float, system: UnitSystem
) -> list[str]:
    """Return who browns out, in what and by how many volts; then who does not."""
    down: dict[str, list[Driven]] = {}
    for one in ones:
        below = one.below(brownout)
        if below:
            down.setdefault(listed([words for words, _ in below]), []).append(one)
    holds = [one for one in ones if not one.below(brownout)]
    limit = show(brownout, "v", system, decimals=1)
    on = f"On {battery_called(battery)}"
    if not down:
        found = [f"{on} none of these browns out: the bus stays above {limit}."]
    else:
        said = [
            f"{_called(who)} {'browns' if len(who) == 1 else 'brown'} out in {what}, "
            f"{_depth(who, brownout, system)}"
            for what, who in down.items()
        ]
        found = [f"{on}, {'; '.join(said)}. Brownout is at {limit}."]
    near = [(one, spare) for one in holds if (spare := one.closest(brownout)) is not None]
    if near:
        nearest, (where, left) = min(near, key=lambda pair: pair[1][1])
        verb = "stays" if len(holds) == 1 else "stay"
        words = f"{capitalised(_called(holds))} {verb} above" if down else "The closest call"
        tail = f"{show(left, 'v', system, decimals=2)} to spare in {where}"
        if not down:
            found.append(f"{words} is {nearest.called}, with {tail}.")
        elif len(holds) == 1:
            found.append(f"{words}, with {tail}.")
        else:
            found.append(f"{words}; the closest is {nearest.called}, with {tail}.")
    return found


def _depth(who: Sequence[Driven], brownout: float, system: UnitSystem) -> str:
    """Return how far below brownout the bus falls at the worst, in hundredths: they decide here."""
    worst = sorted(max(gap for _, gap in one.below(brownout)) for one in who)
    least, most = (show(gap, "v", system, decimals=2) for gap in (worst[0], worst[-1]))
    at_worst = " at the worst" if len(who[0].below(brownout)) > 1 else ""
    if least == most:
        return f"{most} below{at_worst}"
    return f"{least.removesuffix(' V')} to {most} below{at_worst}"


def worst_words(ones: Sequence[Driven], brownout: float) -> str:
    """Return down to which battery each candidate stays above brownout in sprint and push."""
    by_battery: dict[str, list[Driven]] = {}
    for one in ones:
        by_battery.setdefault(str(one.figures["worst_battery"]), []).append(one)
    none = by_battery.pop(NO_BATTERY, [])
    parts = [f"{battery_called(name)} for {_called(who)}" for name, who in by_battery.items()]
    sentences = []
    if parts:
        sentences.append(
            "The worst battery that still stays above brownout in the sprint and in a push: "
            f"{'; '.join(parts)}."
        )
    if none:
        verb = "has" if len(none) == 1 else "have"
        sentences.append(f"{capitalised(_called(none))} {verb} none.")
    dips = [one for one in ones if _dips(one, brownout)]
    if dips:
        sentences.append(
            f"As the battery empties the match still pulls {_called(dips)} below on it."
            if len(dips) == 1
            else f"As they empty, the match still pulls {_called(dips)} below on theirs."
        )
    return " ".join(sentences)


def _dips(one: Driven, brownout: float) -> bool:
    """Return whether its worst battery browns out in a match after all."""
    for row in one.figures["classes"]:
        if row["battery"] == one.figures["worst_battery"] and row["match_min_v"] is not None:
            return bool(row["match_min_v"] < brownout)
    return False


def left_words(ones: Sequence[Driven], warned: bool, system: UnitSystem) -> str:
    """Return what is left after a match, and for how long the bus lies low."""
    known = [one for one in ones if one.row["left_share"] is not None]
    sentences = []
    if known:
        empty = [one for one in known if one.row["left_share"] <= 0.0]
        rest = [one for one in known if one not in empty]
        if rest:
            shares = sorted(one.row["left_share"] for one in rest)
            least, most = (show(share, "share", system, decimals=0) for share in
                           (shares[0], shares[-1]))  # fmt: skip
            span = least if least == most else f"{least} to {most}"
            sentences.append(f"A match leaves {span} of the charge")
        if empty:
            verb = "empties" if len(empty) == 1 else "empty"
            words = f"{_called(empty)} {verb} the battery before its end"
            if len(empty) == len(ones):
                words = "each of these empties the battery before its end"
            sentences.append(f"but {words}" if sentences else capitalised(words))
    able = [one for one in ones if one.figures["match"]["able"]]
    if not able:
        return str(ones[0].figures["match"]["reason"])
    text = f"{', '.join(sentences)}." if sentences else (
        "What a match leaves is not known: give the battery's capacity."
    )  # fmt: skip
    if not warned or not able:
        return text
    longest = max(able, key=lambda one: one.figures["match"]["below_warning_s"])
    match = longest.figures["match"]
    if match["below_warning_s"] <= 0.0:
        return f"{text} None of them falls below the warning voltage in it."
    time = show(match["below_warning_s"], "s", system, decimals=1)
    text += f" {capitalised(longest.called)} is longest below the warning voltage, {time} in all"
    if match["below_brownout_s"] > 0.0:
        text += f", {show(match['below_brownout_s'], 's', system, decimals=1)} of it below brownout"
    return f"{text}."


def day_words(ones: Sequence[Driven]) -> str:
    """Return how many batteries a day asks for against those owned."""
    counted = [(one, one.day) for one in ones if one.day is not None]
    if not counted:
        return ""
    owned = counted[0][1].owned
    short = [one for one, day in counted if day.needed > owned]
    needs = sorted({day.needed for _, day in counted})
    span = f"{needs[0]}" if len(needs) == 1 else f"{needs[0]} to {needs[-1]}"
    asked = f"A day needs {span} {'battery' if needs == [1] else 'batteries'}"
    has = f"{owned} {'is' if owned == 1 else 'are'} there"
    if not short:
        return f"{asked}; {has}, which is enough."
    if len(short) == len(counted):
        return f"{asked}; {has}, too few for any of these."
    return f"{asked}; {has}, too few for {_called(short)}."


def where_words(match: dict[str, Any], system: UnitSystem) -> str:
    """Return where in a match the bus is lowest."""
    where = match["min_where"]
    at = f"at {show(match['min_at_s'], 's', system, decimals=0)}"
    if where["leg"] is None:
        return f"{at}, between runs"
    return f"{at}, leg {where['leg']} of “{where['route']}”, {where['part']}"


def protection_words(brownout: float, warning: float | None, system: UnitSystem) -> list[str]:
    """Return what the controller does below brownout, and what of it is not followed."""
    limit = show(brownout, "v", system, decimals=1)
    first = (
        f"Below {limit} the controller cuts the motors' outputs until the bus has "
        "recovered: the drive stutters, mechanisms drop out, and time is lost that no figure here "
        "shows. Should the bus fall much further, radio and controller start anew, and the robot "
        "stands for many seconds."
    )
    second = (
        "The simulation does not follow the cut. It lets the motors draw on, so the voltages below "
        f"{limit} say how far beyond the limit a drive asks, and the seconds below it when and for "
        "how long the controller would step in."
    )
    found = [first, second]
    if warning is not None:
        found.append(
            f"Between {show(warning, 'v', system, decimals=1)} and {limit} nothing is cut; it is "
            "the reserve that a colder, older or emptier battery takes first."
        )
    return found
