"""Words for sentences about candidates: names, lists, gains and losses.

Contents
--------
Names: how a candidate is called, in full the first time.
listed: 'a, b and c'.
GAINS: how a better or worse figure reads inside a sentence.
FEATS: how being best at a figure reads.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple


class Gain(NamedTuple):
    """How one figure reads when it is better or worse than the baseline's; {} is the amount."""

    better: str
    """After a candidate's name."""
    worse: str
    tie: str
    """As the subject of 'is a tie'."""


GAINS: dict[str, Gain] = {
    "sprint_stop_time_s": Gain(
        "needs {} less for the sprint and stop",
        "needs {} more for the sprint and stop",
        "the sprint and stop",
    ),
    "turn90_s": Gain(
        "turns a quarter {} sooner", "needs {} more for a quarter turn", "the quarter turn"
    ),
    "push_force_n": Gain("pushes {} harder", "pushes {} less hard", "the push"),
    "side_hold_force_n": Gain(
        "holds {} more against a sideways shove",
        "holds {} less against a sideways shove",
        "the hold against a sideways shove",
    ),
    "min_bus_voltage_v": Gain(
        "leaves the bus {} higher at its lowest",
        "pulls the bus {} lower",
        "the lowest bus voltage",
    ),
    "tip_side_mps2": Gain("tips sideways {} later", "tips sideways {} sooner", "tipping sideways"),
    "tip_brake_mps2": Gain(
        "tips {} later when braking", "tips {} sooner when braking", "tipping when braking"
    ),
    "legal_mass_kg": Gain("is {} lighter", "is {} heavier", "the mass"),
    "top_speed_mps": Gain("has {} more top speed", "has {} less top speed", "the top speed"),
}
"""The figures on which a candidate is weighed against the baseline, weightiest first."""

FEATS: dict[str, str] = {
    "sprint_stop_time_s": "the sprint and stop",
    "turn90_s": "a quarter turn",
    "push_force_n": "a push",
    "side_hold_force_n": "holding against a sideways shove",
    "min_bus_voltage_v": "sparing the battery",
    "tip_side_mps2": "staying upright sideways",
    "legal_mass_kg": "low mass",
}
"""What a candidate is best at, by figure."""


def listed(words: Sequence[str], *, last: str = "and") -> str:
    """Return words as a list in a sentence.

    >>> listed(["A", "B", "C"]), listed(["A"])
    ('A, B and C', 'A')
    """
    if len(words) < 2:
        return "".join(words)
    return f"{', '.join(words[:-1])} {last} {words[-1]}"


def capitalised(text: str) -> str:
    """Return a sentence with a capital first letter, the rest as it is.

    >>> capitalised("today's A fits.")
    "Today's A fits."
    """
    return text[:1].upper() + text[1:]


class Names:
    """How sentences call the candidates: 'Mecanum (D)' the first time, then 'D'.

    The baseline is always 'today's A', so that nobody has to look up which one it is.
    """

    def __init__(self, candidates: Iterable[Mapping[str, Any]], baseline: str) -> None:
        """Remember names and letters by key; nobody has been named yet."""
        self._of = {str(one["key"]): one for one in candidates}
        self._baseline = baseline
        self._named: set[str] = set()

    def __call__(self, key: str) -> str:
        """Return what to call a candidate here."""
        letter = str(self._of[key]["letter"])
        if key == self._baseline:
            return f"today's {letter}"
        if key in self._named:
            return letter
        self._named.add(key)
        return f"{self._of[key]['name']} ({letter})"

    def all(self, keys: Iterable[str]) -> str:
        """Return several candidates as a list."""
        return listed([self(key) for key in keys])

    def letters(self, keys: Iterable[str]) -> str:
        """Return several candidates by letter alone."""
        return listed([str(self._of[key]["letter"]) for key in keys])
