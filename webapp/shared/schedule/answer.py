"""The answer of the schedule in sentences: who is ready in time, and how one candidate stands."""

from __future__ import annotations

from typing import Any

from webapp.shared.candidates import CandidateMark
from webapp.shared.schedule.words import (
    chance_words,
    day_words,
    hours_words,
    is_tie,
    listed,
    share_words,
)

LEAST_SHARE = 0.25
"""What sets the end in a smaller share of the runs is not named in a sentence."""


def answer_lines(
    candidates: list[dict[str, Any]], schedule: dict[str, Any], marks: dict[str, CandidateMark]
) -> list[str]:
    """Return who is ready by the date, who is likeliest, and what cannot be told apart."""
    known = [one for one in candidates if one["state"] == "simulated"]
    known = [one for one in known if not one["baseline"]] or known
    by, wanted = (
        day_words(schedule["ready_by"], schedule["ready_by"]),
        float(schedule["wanted_chance"]),
    )
    if not known:
        return [f"No candidate has tasks yet, so nothing can be said about {by}."]
    letters = {one["key"]: marks[one["key"]].letter for one in known}
    ranked = sorted(known, key=lambda one: -one["ready_probability"])
    reached = [one for one in ranked if one["ready_probability"] >= wanted]
    ask = f"the {chance_words(wanted)} you ask for"
    if reached:
        names = listed([letters[one["key"]] for one in reached])
        verb = "reach" if len(reached) > 1 else "reaches"
        lines = [f"{names} {verb} {ask} by {by}."]
    elif len(known) == 1:
        lines = [f"{letters[known[0]['key']]} does not reach {ask} by {by}."]
    else:
        lines = [f"No candidate reaches {ask} by {by}."]
    return [*lines, _ranking(ranked, letters)]


def _ranking(ranked: list[dict[str, Any]], letters: dict[str, str]) -> str:
    """Return the candidates from the likeliest on; what the runs cannot tell apart stands so."""
    best = ranked[0]
    tied = [one for one in ranked if is_tie(one, best)]
    rest = [one for one in ranked if one not in tied]
    said = [f"{letters[one['key']]} {chance_words(one['ready_probability'])}" for one in tied]
    alone = len(ranked) == 1
    if alone:
        chance = chance_words(best["ready_probability"])
        words = f"It is ready in time in {chance} of the runs"
    elif len(tied) == 1:
        words = f"The likeliest is {said[0]}"
    else:
        words = f"{listed(said)} are a tie that the runs cannot tell apart"
    if rest:
        after = [f"{letters[one['key']]} {chance_words(one['ready_probability'])}" for one in rest]
        words += f", then {listed(after)}"
    return f"{words}."


def candidate_lines(one: dict[str, Any], schedule: dict[str, Any]) -> list[str]:
    """Return how one candidate stands, a sentence or two a line."""
    state = one["state"]
    if state == "nothing to do":
        return ["There is nothing to do: it drives today, so it is ready from the start."]
    if state == "no tasks":
        return ["It has no tasks yet, so nothing is known about when it would be ready."]
    if state != "simulated":
        return []
    return [
        line
        for line in (
            _dates(one, schedule),
            _culprit(one),
            _latest(one, schedule),
            _practice(one, schedule),
            _give_up(one, schedule),
        )
        if line
    ]


def _dates(one: dict[str, Any], schedule: dict[str, Any]) -> str:
    chance = chance_words(one["ready_probability"])
    words = f"Ready by {_day(schedule['ready_by'], schedule)} in {chance} of the runs"
    if one["date_p50"] is None:
        return f"{words}; in half of them the calendar ends before it is done."
    if one["date_p90"] is None:
        return (
            f"{words}; half of them by {_day(one['date_p50'], schedule)}, the slowest not at all."
        )
    half, late = (
        day_words(one["date_p50"], schedule["ready_by"]),
        day_words(one["date_p90"], schedule["ready_by"]),
    )
    return f"{words}: half of them by {half}, nine in ten by {late}."


def _culprit(one: dict[str, Any]) -> str:
    named = [each for each in one["blame_list"] if each["share"] >= LEAST_SHARE]
    waits = [each for each in named if each["kind"] == "purchase"]
    if waits:
        first = waits[0]
        return f"In {share_words(first['share'])} the wait for {first['name']} sets the date."
    if named:
        first = named[0]
        return f"In {share_words(first['share'])} “{first['name']}” is on the chain that sets it."
    return ""


def _latest(one: dict[str, Any], schedule: dict[str, Any]) -> str:
    latest = one["latest_start"]
    if latest is None:
        return ""
    wanted = chance_words(schedule["wanted_chance"])
    if latest["date"] is None:
        chance = chance_words(latest["chance"])
        return f"Even begun on the first day it reaches {chance}, not {wanted}."
    line = f"For {wanted}, work has to begin by {_day(latest['date'], schedule)}"
    dated = [part for part in one["purchases"] if part["latest_order_on"]]
    if dated:
        first = min(dated, key=lambda part: str(part["latest_order_on"]))
        by = _day(first["latest_order_on"], schedule)
        line += f" and the order for {first['name']} to leave by {by}"
    return f"{line}."


def _practice(one: dict[str, Any], schedule: dict[str, Any]) -> str:
    practice = one["practice"]
    if practice is None:
        return ""
    half = hours_words(practice["hours_p50"])
    line = f"Half of the runs leave the drivers at least {half} before the date"
    if practice["wanted"] is not None and practice["chance"] is not None:
        chance = chance_words(practice["chance"])
        line += f"; the {hours_words(practice['wanted'])} you want come in {chance} of them"
    return f"{line}."


def _give_up(one: dict[str, Any], schedule: dict[str, Any]) -> str:
    if one["give_up"] is None:
        return ""
    on, chance = (
        day_words(one["give_up"]["on"], schedule["ready_by"]),
        chance_words(one["give_up"]["chance"]),
    )
    return f"After {on} there is no way back; by then it is ready in {chance} of the runs."


def _day(text: str | None, schedule: dict[str, Any]) -> str:
    return day_words(text, schedule["ready_by"])
