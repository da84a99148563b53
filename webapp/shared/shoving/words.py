"""What the shoving page says in sentences: who moves whom, what gives up, what is left."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from models.trade.comparison import closeness
from models.trade.dead_part import Left
from models.trade.phrases import capitalised, listed
from models.trade.shoving import Encounter, Endurance, MatchFigures, Opponent, PushLimit
from models.units import UnitSystem, show
from webapp.shared.candidates import CandidateMark

STALEMATE, WINS, LOSES = "stalemate", "it moves the other", "the other moves it"
EVEN = "too close to call"

LIMIT_NAMES = {
    "main breaker": "the main breaker",
    "branch breaker": "a branch breaker",
    "battery": "the battery",
    "winding": "a motor's winding",
}
CASE_NAMES = {
    "whole": "Whole",
    "motor off": "One motor off",
    "module free": "One module rolling freely",
    "module stuck": "One module stuck",
}


@dataclass(frozen=True)
class Shover:
    """One candidate on the page."""

    mark: CandidateMark
    push: Endurance
    match: MatchFigures
    left: tuple[Left, ...]
    worst: tuple[float, str, float] | None

    @property
    def called(self) -> str:
        """How sentences call it."""
        return f"today's {self.mark.letter}" if self.mark.baseline else self.mark.letter


def outcome(met: Encounter) -> str:
    """Return how a meeting ends, as too close to call where the forces are a tie."""
    if closeness(met.ours, met.theirs, "n") != "apart":
        return EVEN
    return met.outcome


def lasts(seconds: float | None) -> str:
    """Return how long something holds, in words.

    >>> lasts(7.46), lasts(95.0), lasts(math.inf), lasts(None)
    ('7.5 s', '95 s', 'holds', 'not given')
    """
    if seconds is None:
        return "not given"
    if not math.isfinite(seconds):
        return "holds"
    if seconds >= 600.0:
        return f"{seconds / 60.0:.0f} min"
    return f"{seconds:.1f} s" if seconds < 10.0 else f"{seconds:.0f} s"


def called(shovers: Sequence[Shover]) -> str:
    """Return several candidates as a list in a sentence."""
    return listed([one.called for one in shovers])


def lead_words(shovers: Sequence[Shover], opponent: Opponent, system: UnitSystem) -> str:
    """Return who moves the opponent head-on, and whom it moves."""
    sorts = {
        word: [one for one in shovers if outcome(one.match.head_on) == word]
        for word in (WINS, EVEN, STALEMATE, LOSES)
    }
    force = show(opponent.push, "n", system)
    parts = []
    if sorts[WINS]:
        verb = "moves" if len(sorts[WINS]) == 1 else "move"
        parts.append(f"{called(sorts[WINS])} {verb} it back")
    if sorts[EVEN]:
        verb = "is" if len(sorts[EVEN]) == 1 else "are"
        parts.append(f"{called(sorts[EVEN])} {verb} too close to call")
    if sorts[STALEMATE]:
        verb = "stands" if len(sorts[STALEMATE]) == 1 else "stand"
        parts.append(f"{called(sorts[STALEMATE])} {verb} even with it")
    if sorts[LOSES]:
        verb = "is" if len(sorts[LOSES]) == 1 else "are"
        parts.append(f"{called(sorts[LOSES])} {verb} moved back")
    return f"Head-on against {force} of push {'; '.join(parts)}."


def side_words(shovers: Sequence[Shover]) -> str:
    """Return whom the opponent moves from the side."""
    sorts = {
        word: [one for one in shovers if outcome(one.match.shoved_from_side) == word]
        for word in (LOSES, STALEMATE, EVEN)
    }
    if len(sorts[LOSES]) == len(shovers):
        return "From the side it moves every one of these."
    parts = [f"it moves {called(sorts[LOSES])}" if sorts[LOSES] else "it moves none of these"]
    if sorts[STALEMATE] and sorts[LOSES]:
        verb = "holds" if len(sorts[STALEMATE]) == 1 else "hold"
        parts.append(f"{called(sorts[STALEMATE])} {verb}")
    if sorts[EVEN]:
        verb = "is" if len(sorts[EVEN]) == 1 else "are"
        parts.append(f"{called(sorts[EVEN])} {verb} too close to call")
    return f"From the side {'; '.join(parts)}."


def first_words(shovers: Sequence[Shover]) -> str:
    """Return what gives up first in a push, and when, for the one with the least time."""
    browned = [one for one in shovers if one.push.browns_out]
    sentences = []
    if browned:
        verb = "pulls" if len(browned) == 1 else "pull"
        sentences.append(
            f"{capitalised(called(browned))} {verb} the bus below the brownout voltage at once: "
            "the controller cuts the outputs."
        )
    timed = [(one.push.first, one) for one in shovers if one.push.first is not None]
    if timed:
        first = min((limit for limit, _ in timed), key=lambda limit: limit.holds_s or 0.0)
        alike = [
            other
            for limit, other in timed
            if limit.key == first.key
            and closeness(limit.holds_s or 0.0, first.holds_s or 0.0, "s") != "apart"
        ]
        verb = "pushes" if len(alike) == 1 else "push"
        sentences.append(
            f"{capitalised(called(alike))} {verb} for {lasts(first.holds_s)} before "
            f"{LIMIT_NAMES[first.key]} gives up: that is the shortest."
        )
    missing = sorted({limit.missing for one in shovers for limit in one.push.missing})
    if missing:
        sentences.append(f"Not given, so that it may be shorter: {listed(missing)}.")
    return " ".join(sentences)


def encounter_words(met: Encounter, system: UnitSystem, *, still: str = "stalemate") -> str:
    """Return how one meeting ends, in a few words for a cell; `still` where nothing moves."""
    if outcome(met) == EVEN:
        apart = met.ours - met.theirs
        side = "to spare" if apart > 0 else "short"
        amount = show(abs(apart), "n", system, digits=2)
        return EVEN if abs(apart) < 1.0 else f"{EVEN}, {amount} {side}"
    if met.outcome == STALEMATE:
        return still
    if met.outcome == LOSES:
        return f"is moved, {show(met.acceleration, 'mps2', system, digits=2)} at first"
    speed = show(met.speed, "mps", system, digits=2)
    metre = "" if met.metre_s is None else f", {met.metre_s:.1f} s for the first metre"
    return f"moves it, up to {speed}{metre}"


def limit_words(limit: PushLimit, system: UnitSystem) -> tuple[str, str]:
    """Return how long something holds in a push, and what it carries."""
    carries = show(limit.current, "a", system)
    if limit.rating is not None:
        carries = f"{carries} of {show(limit.rating, 'a', system)}"
    return lasts(limit.holds_s), carries


def grip_words(one: Shover, opponent: Opponent) -> str:
    """Return who slips in the meeting of the two."""
    if one.match.slips and opponent.slips:
        return "both spin their wheels"
    if one.match.slips:
        return "its own wheels spin"
    if opponent.slips:
        return "the other's wheels spin"
    return "neither spins: the motors decide"


def merged(lefts: Sequence[Left]) -> list[tuple[str, Left]]:
    """Return the cases by name, those that leave the same as one."""
    named: list[tuple[str, Left]] = []
    for left in lefts:
        name = CASE_NAMES[left.case]
        if named and named[-1][1]._replace(case="", where="") == left._replace(case="", where=""):
            before, other = named.pop()
            named.append((f"{before}, or {name.removeprefix('One ').lower()}", other))
        else:
            named.append((name, left))
    return named


def left_words(one: Shover, system: UnitSystem) -> str:
    """Return what a dead part costs one candidate, and whether it leaves a corner."""
    whole = one.left[0]
    sentences = []
    for name, left in merged(one.left[1:]):
        share = left.push / whole.push if whole.push > 0.0 else 0.0
        part = name.lower().replace(",", "")
        if left.stuck_deg is not None:
            part = f"{part} at {left.stuck_deg:g}°"
        if left.leaves_corner:
            sentence = f"with {part} {100 * share:.0f} % of the push is left, enough for a corner"
        else:
            lost = [
                word
                for word, able in (("drive", left.drives), ("turn in place", left.turns))
                if not able
            ]
            sentence = f"with {part} there is no way to {listed(lost, last='or')}"
        sentences.append(sentence)
    text = [f"{'; '.join(sentences)}."] if sentences else []
    if one.worst is not None:
        angle, corner, spare = one.worst
        words = (
            f"there is {show(spare, 'n', system, digits=2)} left to leave a corner"
            if spare > 0.0
            else "there is no leaving a corner"
        )
        text.append(
            f"The worst angle is {abs(angle):.0f}° ({corner}): {words}. Driven along the stuck "
            "wheel's own direction it drags nothing."
        )
    return " ".join(text)


def dead_words(shovers: Sequence[Shover], system: UnitSystem) -> list[str]:
    """Return what a dead part costs, a sentence for each that differs."""
    said: dict[str, list[str]] = {}
    for one in shovers:
        said.setdefault(left_words(one, system), []).append(one.called)
    return [f"{capitalised(listed(who))}: {what}" for what, who in said.items() if what]
