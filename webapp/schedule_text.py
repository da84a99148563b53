"""The plan of a study as text for a terminal."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from models.trade.plan_words import chance_words, date_words, whole_hours

WIDTH = 78
MOST_BLAMED = 6
LEAST_BLAME = 0.05
BEYOND = "after the calendar ends"
NO_BREAK = "\N{NO-BREAK SPACE}"
_HELD = re.compile(r"(?<=\d) (?=%|h\b|[A-Z][a-z]{2}\b)|(?<=\b[A-Z][a-z]{2}) (?=\d)")


def schedule_text(payload: Mapping[str, Any]) -> str:
    """Return each candidate's chance and dates, then what sets the end and what to order by when.

    A candidate has a heading and a few lines; the last line tells of how many runs they are.
    """
    schedule = payload["schedule"]
    lines = [payload["study"]]
    if schedule is not None:
        lines.append(
            f"Work begins {date_words(schedule['start'])}; ready by "
            f"{date_words(schedule['ready_by'])}, after {whole_hours(schedule['meeting_hours'])} "
            "of meetings."
        )
    for candidate in payload["candidates"]:
        lines += ["", candidate["name"] + (" (today)" if candidate["baseline"] else "")]
        for line in _candidate(candidate, schedule):
            lines += _wrapped(line)
    lines += ["", f"{payload['runs']:,} runs, seed {payload['seed']}. Estimates only."]
    return "\n".join(lines) + "\n"


def _wrapped(line: str) -> list[str]:
    """Return a line as several, no number parted from its unit and no day from its month."""
    kept = _HELD.sub(NO_BREAK, line)
    wrapped = textwrap.wrap(kept, WIDTH, initial_indent="  ", subsequent_indent="    ")
    return [part.replace(NO_BREAK, " ") for part in wrapped]


def _candidate(plan: Mapping[str, Any], schedule: Mapping[str, Any] | None) -> Iterator[str]:
    yield from plan["notes"]
    if plan["state"] != "simulated" or schedule is None:
        yield from _money(plan["costs"])
        return
    chance = chance_words(plan["ready_probability"])
    yield f"Ready by {date_words(schedule['ready_by'])}: {chance}."
    dates = ", ".join(
        f"{percent} % by {_date(plan[f'date_p{percent}'])}" for percent in (10, 50, 90)
    )
    yield f"Of the runs are ready: {dates}."
    yield from _gates(plan)
    yield from _practice(plan["practice"])
    yield from _blame(plan["blame_list"])
    yield from _latest(plan, schedule)
    yield from _money(plan["costs"])


def _date(day: str | None) -> str:
    return BEYOND if day is None else date_words(day)


def _gates(plan: Mapping[str, Any]) -> Iterator[str]:
    for gate in plan["gates"]:
        if gate["chance"] is not None:
            passed = f"{gate['name']}, {date_words(gate['on'])}: {chance_words(gate['chance'])}"
            met = gate["ready_if_met"]
            missed = gate["ready_if_missed"]
            then = [
                f"{chance_words(met)} to be ready in time if met" if met is not None else "",
                f"{chance_words(missed)} if missed" if missed is not None else "",
            ]
            yield f"{passed}; then {', '.join(filter(None, then))}."


def _practice(practice: Mapping[str, Any]) -> Iterator[str]:
    line = f"Driving before the event: {whole_hours(practice['hours_p50'])} in half of the runs"
    if practice["wanted"] is not None:
        wanted = whole_hours(practice["wanted"])
        line += f"; at least {wanted}: {chance_words(practice['chance'])}"
    yield line + "."


def _blame(blamed: list[Mapping[str, Any]]) -> Iterator[str]:
    great = [entry for entry in blamed if entry["share"] >= LEAST_BLAME][:MOST_BLAMED]
    if great:
        words = [
            f"{entry['name']}{' to arrive' if entry['kind'] == 'purchase' else ''} "
            f"{chance_words(entry['share'])}"
            for entry in great
        ]
        yield f"What sets the end, share of the runs: {', '.join(words)}."


def _latest(plan: Mapping[str, Any], schedule: Mapping[str, Any]) -> Iterator[str]:
    wanted = chance_words(schedule["wanted_chance"])
    start = plan["latest_start"]
    if start["date"] is not None:
        yield f"For {wanted} begin by {date_words(start['date'])}."
    elif any(part["latest_order_on"] for part in plan["purchases"]):
        yield f"Short of {wanted} as planned."
    else:
        yield f"Short of {wanted}, however early any one part is ordered."
    for part in plan["purchases"]:
        if part["latest_order_on"] is not None:
            yield f"For {wanted} order {part['name']} by {date_words(part['latest_order_on'])}."


def _money(costs: Mapping[str, Any]) -> Iterator[str]:
    if costs["to_buy"]:
        line = f"To buy: {_sum(costs['to_buy'], costs)}"
        if costs["over_by"] is not None:
            line += f", {_sum(costs['over_by'], costs)} over the budget"
        elif costs["left"] is not None:
            line += f"; the budget leaves {_sum(costs['left'], costs)}"
        yield line + "."


def _sum(amount: float, costs: Mapping[str, Any]) -> str:
    return f"{amount:,.2f}".removesuffix(".00") + (f" {costs['currency']}".rstrip())
