"""A match day: how many batteries the team needs between charges.

A simple count. With m matches on a charge, b minutes from match to match and c hours to charge, a
battery is away for c hours after its m matches; meanwhile the others serve:

    batteries = 1 + c/(m·b), rounded up, but never more than matches/m, rounded up

and m = (charge at the beginning − charge kept)/(charge that a match takes), rounded down, one at
least.

Contents
--------
DayCount, day_count: the count for one match.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from models.study.power import EventDay


class DayCount(NamedTuple):
    """Batteries of a day."""

    needed: int
    owned: int
    matches_on_a_charge: int
    known: bool
    """Whether the charge that a match takes is known; else one match on a charge is taken."""
    too_much: bool
    """Whether a single match already takes more than may be taken."""
    sentence: str


def day_count(day: EventDay, *, charge: float, taken: float | None) -> DayCount:
    """Return how many batteries a day of matches asks for.

    Parameters
    ----------
    day : EventDay
        Matches, minutes between them, hours to charge.
    charge : float
        Share that a battery holds at the beginning of its first match.
    taken : float or None
        Share that a match takes of what the battery gives, none where that is not known.

    Returns
    -------
    DayCount
        The count, and how it came about in words.

    >>> day = EventDay(matches=10, minutes_between=35, charge_hours=3, batteries_owned=4)
    >>> day_count(day, charge=1.0, taken=0.6).needed
    7
    """
    kept = float(day.charge_kept_share or 0.0)
    room = charge - kept
    known = taken is not None and taken > 0.0
    too_much = known and taken is not None and taken > room + 1e-9
    on_one = 1
    if known and taken is not None:
        on_one = max(int(room / taken + 1e-9), 1)
    between, away = float(day.minutes_between), 60.0 * float(day.charge_hours)
    by_time = 1 + math.ceil(away / (on_one * between) - 1e-9)
    by_matches = math.ceil(day.matches / on_one)
    needed = min(by_time, by_matches)
    each = "One match" if on_one == 1 else f"{on_one} matches"
    sentence = (
        f"{each} on a charge, {between:g} minutes from match to match, {float(day.charge_hours):g} "
        f"hours to charge: 1 + {away:g}/({on_one} × {between:g}) = {by_time} rounded up"
    )
    if by_matches < by_time:
        sentence += f", but {day.matches} matches never ask for more than {by_matches}"
    return DayCount(needed, day.batteries_owned, on_one, known, too_much, sentence + ".")
